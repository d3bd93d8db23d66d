//! Why: what the verdict rests on, finding by finding, with the numbers.

use super::class::{Class, ClassProbabilities};
use crate::draw::Draw;
use crate::identify::{Identified, IdentifyError, SoilBasis};
use crate::inputs::{Input, MeasuredLoads};
use crate::unbelievable::Unbelievable;
use ingest::plow::{Limits, Plow, ShareCondition};
use ingest::quantity::{Force, Length};
use schemars::JsonSchema;
use serde::Serialize;
use stats::Estimate;

/// What the verdict takes from the signals besides the statics.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Indicators {
    /// Share of the working part with the load that the pass is judged by under 5 % of its static value; `None`
    /// where there is no such load, or none that the plow would have standing.
    pub lifted_share: Option<f64>,
    /// Whether that load is the front's, not the tail's.
    pub front_lifted: bool,
    /// Low-frequency gain from pull to tail load, N per N of pull along the drawbar; `None` where coherence
    /// does not support one.
    pub measured_gain: Option<Estimate>,
    /// What of the readings themselves cannot be.
    pub stray: Option<Unbelievable>,
}

impl Indicators {
    /// The measured gain where it says something of the plow: a wheel that is in the air for more than `lifted_limit`
    /// follows nothing, and its gain is too small for a reason already told.
    pub fn gain_on_the_ground(&self, lifted_limit: f64) -> Option<Estimate> {
        self.measured_gain.filter(|_| self.lifted_over(lifted_limit).is_none())
    }

    /// The lifted share where it is shown to be over a limit.
    pub fn lifted_over(&self, limit: f64) -> Option<f64> {
        self.lifted_share.filter(|share| *share > limit)
    }
}

/// The measured low-frequency gain against the one that the statics gives for this plow.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum GainAgreement {
    /// The interval of their difference holds 0, and would not for a plow of quite another class.
    Agrees,
    /// It holds 0, but it is so wide that a balanced plow and one too flat or too steep would both agree.
    TooWide,
    /// The measured one is lower: the tail wheel loses more load with pull than the statics says.
    MeasuredLower,
    /// The measured one is higher.
    MeasuredHigher,
    /// There was none to compare, or the tail wheel was off the ground for part of the time.
    #[default]
    NotCompared,
}

/// A finding that the verdict rests on.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Reason {
    /// The statics gave no figures.
    NoStatics {
        /// Why.
        why: IdentifyError,
    },
    /// One of [`Verdict::suspects`](super::Verdict::suspects) alone would explain a contradiction.
    Suspects,
    /// The draws support no class.
    Undecided {
        /// What leaves it open, the weightiest first.
        widest: Vec<Input>,
    },
    /// The load is balanced on the mean, but its carrier lifts too often to call it that.
    Bobs {
        /// Whether the carrier is the front's, not the tail's.
        front: bool,
    },
    /// The balance index b.
    BalanceIndex {
        /// b, within ±1.
        balance_index: Estimate,
    },
    /// What the tail carries.
    TailCarries {
        /// V_t.
        #[serde(rename = "tail_load_n")]
        tail_load: Estimate<Force>,
        /// V_t / V.
        tail_share: f64,
        /// What V_t / V would be on the steady point.
        standing_tail_share: f64,
    },
    /// Where the line of pull passes the steady point.
    LineOfPull {
        /// e; above is +.
        #[serde(rename = "offset_m")]
        offset: Estimate<Length>,
    },
    /// What carries the tail or the front carried next to nothing for longer than a balanced run can have.
    Lifted {
        /// Whether it is the front's, not the tail's.
        front: bool,
        /// Share of the working part.
        share: f64,
        /// The share over which a run cannot be balanced.
        #[serde(rename = "limit_share")]
        limit: f64,
    },
    /// The soil is shown to lift the plow.
    SoilLifts {
        /// σ.
        soil_slope: Estimate,
    },
    /// The measured gain of the tail load on the pull beside that of the statics, N per N.
    Gain {
        /// As measured.
        #[serde(rename = "measured_n_per_n")]
        measured: f64,
        /// By the statics.
        #[serde(rename = "expected_n_per_n")]
        expected: Estimate,
        /// How they agree.
        agreement: GainAgreement,
    },
    /// What was measured, and what of the soil was assumed.
    RestsOnSoil {
        /// Which loads were measured.
        measured: MeasuredLoads,
        /// What stands for the one that was not.
        #[serde(rename = "evidence")]
        soil_basis: SoilBasis,
        /// Condition of the shares.
        share: ShareCondition,
    },
    /// Many draws within the measuring errors cannot be: a wheel would pull on the ground.
    ImpossibleDraws {
        /// Share of the draws tried.
        rejected_share: f64,
    },
    /// The entries of [`Verdict::rests_on`](super::Verdict::rests_on), off by a usual slip, would make it another.
    Slips {
        /// [`Verdict::other_by_slip`](super::Verdict::other_by_slip).
        other_share: f64,
        /// Whether what is shown is that the soil lifts the plow, not the class.
        soil_lifts: bool,
    },
}

/// Rejected draws over this share are a reason to doubt.
pub const REJECTED_SHARE_TOLD: f64 = 0.10;

/// Inputs named that leave a class open.
const WIDEST_NAMED: usize = 2;

pub(super) fn gain_agreement(found: &Identified, signs: &Indicators, limits: &Limits) -> GainAgreement {
    let Some(measured) = signs.gain_on_the_ground(limits.lifted_share) else {
        return GainAgreement::NotCompared;
    };
    let difference = measured.minus(found.expected_gain_n_per_n);
    match (difference.low > 0.0, difference.high < 0.0) {
        (true, _) => GainAgreement::MeasuredHigher,
        (_, true) => GainAgreement::MeasuredLower,
        _ if (difference.high - difference.low) / 2.0 > limits.leaning * gain_per_index(found) => {
            GainAgreement::TooWide
        }
        _ => GainAgreement::Agrees,
    }
}

/// How much the expected gain falls when b grows by 1: e is V(x_f−x_w)/P_x at b = 1 and β falls by e/L, so
/// V(x_f−x_w)/(P_x L), the mean over the draws.
fn gain_per_index(found: &Identified) -> f64 {
    let one = |draw: &Draw| {
        let (side, loads) = (&draw.side, &draw.loads);
        loads.ground_load.n() * (side.front.at.x.m() - side.weight_x.m())
            / (loads.pull_x.n() * side.wheelbase().m())
    };
    found.draws.iter().map(one).sum::<f64>() / found.draws.len().max(1) as f64
}

/// Of a run whose statics gave no figures.
pub(super) fn without_statics(error: &IdentifyError, signs: &Indicators, limits: &Limits) -> Vec<Reason> {
    let mut reasons = vec![Reason::NoStatics { why: error.clone() }];
    reasons.extend(lifted(signs, limits));
    if matches!(error, IdentifyError::Contradiction { suspects, .. } if !suspects.is_empty()) {
        reasons.push(Reason::Suspects);
    }
    reasons
}

/// Of a run with statics, the weightiest first.
pub(super) fn with_statics(
    plow: &Plow,
    found: &Identified,
    signs: &Indicators,
    (class, chances, agreement): (Class, &ClassProbabilities, GainAgreement),
) -> Vec<Reason> {
    let mut reasons = Vec::new();
    if class == Class::NotShown {
        reasons.push(match chances.stated() {
            Class::Balanced => Reason::Bobs { front: signs.front_lifted },
            _ => Reason::Undecided {
                widest: found.ranking.iter().take(WIDEST_NAMED).map(|share| share.input).collect(),
            },
        });
    }
    reasons.extend([
        Reason::BalanceIndex { balance_index: found.balance_index },
        Reason::TailCarries {
            tail_load: found.tail_load,
            tail_share: found.tail_share.value,
            standing_tail_share: found.standing_tail_share,
        },
        Reason::LineOfPull { offset: found.pull_line_offset },
    ]);
    reasons.extend(lifted(signs, &plow.limits));
    if found.lifts_shown() {
        reasons.push(Reason::SoilLifts { soil_slope: found.soil_slope });
    }
    if let Some(measured) = signs.measured_gain.filter(|_| agreement != GainAgreement::NotCompared) {
        let expected = found.expected_gain_n_per_n;
        reasons.push(Reason::Gain { measured: measured.value, expected, agreement });
    }
    let (measured, soil_basis) = (found.measured, found.soil_basis);
    reasons.push(Reason::RestsOnSoil { measured, soil_basis, share: plow.bottoms.share });
    if found.rejected_share > REJECTED_SHARE_TOLD {
        reasons.push(Reason::ImpossibleDraws { rejected_share: found.rejected_share });
    }
    reasons
}

fn lifted(signs: &Indicators, limits: &Limits) -> Option<Reason> {
    let limit = limits.lifted_share;
    signs.lifted_over(limit).map(|share| Reason::Lifted { front: signs.front_lifted, share, limit })
}

//! How far what the readings ask for lies from what was known before them.

use crate::distribution::Distribution;
use crate::draw::asked;
use crate::inputs::{FromLinks, Input, Inputs, MeasuredLoads, RunFigures};
use crate::plow_model::PlowModel;
use crate::refusal::{Contradiction, Impossible};
use crate::soil::SoilHeight;
use ingest::plow::{LoadTable, Plow, Setting};
use ingest::quantity::{Force, Length, SpringRate};
use stats::Estimate;

/// What a run shows besides its means.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Witness {
    /// Low-frequency gain from pull to tail load, N per N of pull along the drawbar; `None` where there is none,
    /// or where the tail wheel was off the ground for part of the time.
    pub measured_gain: Option<Estimate>,
    /// The readings of the tail's spring against its load table; `None` without one.
    pub table: Option<TableReadings>,
}

/// Readings of a spring against its load table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TableReadings {
    /// Share of the working part clearly below its first line.
    pub below_share: f64,
    /// Share clearly beyond its last.
    pub beyond_share: f64,
    /// Mean deflection.
    pub mean: Length,
    /// Deflection of the first and of the last line.
    pub ends: (Length, Length),
    /// Load per deflection at the mean.
    pub rate: SpringRate,
    /// Mean load if the sensor read with its sign turned.
    pub reversed_load: Force,
}

/// Noise and play at an end of the table are no readings outside it: this share of what it spans.
const WITHIN_SHARE: f64 = 0.05;

/// [`TableReadings`] as they add up, reading by reading.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct TableTally {
    readings: f64,
    below: f64,
    beyond: f64,
    deflections_m: f64,
    reversed_n: f64,
}

impl TableTally {
    /// Counts one deflection, in mm.
    pub fn take(&mut self, table: &LoadTable, deflection_mm: f64) {
        let (deflection_m, ends_m) = (deflection_mm / 1000.0, table.ends_m());
        let slack_m = WITHIN_SHARE * (ends_m.1 - ends_m.0);
        self.readings += 1.0;
        self.below += f64::from(u8::from(deflection_m < ends_m.0 - slack_m));
        self.beyond += f64::from(u8::from(deflection_m > ends_m.1 + slack_m));
        self.deflections_m += deflection_m;
        self.reversed_n += table.load_n(-deflection_m);
    }

    /// Both together.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        Self {
            readings: self.readings + other.readings,
            below: self.below + other.below,
            beyond: self.beyond + other.beyond,
            deflections_m: self.deflections_m + other.deflections_m,
            reversed_n: self.reversed_n + other.reversed_n,
        }
    }

    /// What was counted.
    #[must_use]
    pub fn of_table(&self, table: &LoadTable) -> TableReadings {
        let mean = |sum: f64| sum / self.readings.max(1.0);
        let (ends_m, mean_m) = (table.ends_m(), mean(self.deflections_m));
        TableReadings {
            below_share: mean(self.below),
            beyond_share: mean(self.beyond),
            mean: Length::from_m(mean_m),
            ends: (Length::from_m(ends_m.0), Length::from_m(ends_m.1)),
            rate: SpringRate::from_n_per_m(table.rate_n_per_m(mean_m)),
            reversed_load: Force::from_n(mean(self.reversed_n)),
        }
    }
}

/// Readings outside the table for this share of the time are not those of that spring and that zero.
const OUTSIDE_SHARE: f64 = 0.5;

impl Witness {
    /// Whether the tail's readings are below its load table rather than beyond; `None` unless they are outside for much
    /// of the time.
    pub(super) fn outside_table(&self) -> Option<bool> {
        let TableReadings { below_share, beyond_share, .. } = self.table?;
        (below_share.max(beyond_share) > OUTSIDE_SHARE).then_some(below_share > beyond_share)
    }
}

impl TableReadings {
    pub(super) fn holds(&self, mean_m: f64) -> bool {
        (self.ends.0.m()..=self.ends.1.m()).contains(&mean_m)
    }
}

/// One thing that the readings ask for and that was known before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Part {
    /// z_s, in m.
    SoilHeight,
    /// The load that was not measured, in N; it contradicts only below 0.
    OtherLoad,
    /// σ, where both loads were measured.
    SoilSlope,
    /// β, N per N.
    Gain,
}

const PARTS: [Part; 4] = [Part::SoilHeight, Part::OtherLoad, Part::SoilSlope, Part::Gain];

/// What the readings ask for less what was most likely, in the order of [`PARTS`]; `None` where nothing is asked.
type Off = [Option<f64>; PARTS.len()];
type Covariance = [[f64; PARTS.len()]; PARTS.len()];

/// How much the gain of a sound run differs from that of the closed form beyond what the inputs leave open:
/// springs, wheels and a soil force that moves. By choice.
const GAIN_MODEL_SD: f64 = 0.08;

/// Squared distance from which description and readings are said to contradict each other: by choice, over the
/// largest of sound runs of nineteen virtual plows drawn at random (2.5; all others were below 0.7, for the widths of
/// the soil's priors are wide on purpose). Other plows than those it was chosen on test it.
pub const DISTANCE_2_MAX: f64 = 3.5;

/// A run held against its description.
#[derive(Clone, Debug)]
pub(super) struct PriorPredictive {
    pub plow_model: PlowModel,
    pub distributions: Inputs<Distribution>,
    pub witness: Witness,
    measured: MeasuredLoads,
    from_links: Option<FromLinks>,
    height: SoilHeight,
    /// Covariance of the parts.
    covariance: Covariance,
}

impl PriorPredictive {
    /// `None` where the plow cannot be solved even for what is most likely.
    pub fn of(plow: &Plow, setting: &Setting, run: &RunFigures, witness: Witness) -> Option<Self> {
        let distributions = Inputs::of_plow(plow, setting).with_run(plow, run);
        // A line of pull alone asks nothing of the soil.
        let measured = run.measured(plow).filter(|measured| *measured != MeasuredLoads::LineOfPull)?;
        let mut held = Self {
            plow_model: PlowModel::of(plow),
            distributions,
            witness,
            measured,
            from_links: run.from_links(plow),
            height: SoilHeight::of(plow, run.depth_or_described(plow)),
            covariance: Default::default(),
        };
        held.covariance = held.propagated();
        Some(held)
    }

    fn propagated(&self) -> Covariance {
        let centres = self.distributions.centres();
        let mut sum = Covariance::default();
        for input in Input::ALL {
            let u = self.distributions[input].standard_uncertainty();
            if input == Input::SoilHeight || u == 0.0 {
                continue;
            }
            let at = |steps: f64| {
                let mut moved = centres;
                moved[input] = centres[input] + steps * u;
                self.off(&moved, self.witness.measured_gain)
            };
            let (Some(up), Some(down)) = (at(0.5), at(-0.5)) else { continue };
            // A part that is not asked for has no width of its own.
            let slopes: [f64; PARTS.len()] =
                std::array::from_fn(|i| up[i].zip(down[i]).map_or(0.0, |(up, down)| up - down));
            for (row, slope) in sum.iter_mut().zip(slopes) {
                for (cell, other) in row.iter_mut().zip(slopes) {
                    *cell += slope * other;
                }
            }
        }
        let own = |part: Part| match part {
            Part::SoilHeight => self.height.sd.m(),
            // Already in what it was propagated from.
            Part::OtherLoad => 0.0,
            Part::SoilSlope => self.distributions.soil_slope.standard_uncertainty(),
            Part::Gain => {
                let gain = self.witness.measured_gain;
                gain.map_or(0.0, |gain| gain.standard_uncertainty().hypot(GAIN_MODEL_SD))
            }
        };
        for (i, (row, part)) in sum.iter_mut().zip(PARTS).enumerate() {
            row[i] += own(part).powi(2);
        }
        sum
    }

    /// What is asked for less what was most likely; `None` where nothing can be solved.
    pub fn off(&self, inputs: &Inputs<f64>, measured_gain: Option<Estimate>) -> Option<Off> {
        let mut inputs = *inputs;
        if let Some(from) = self.from_links {
            self.plow_model.load_from_links(&mut inputs, from).ok()?;
        }
        let asked = asked(&self.plow_model, &inputs, self.measured).ok()?;
        let other_n = match self.measured {
            MeasuredLoads::Tail => Some(asked.front_n),
            MeasuredLoads::Front => Some(asked.tail_n),
            MeasuredLoads::Both | MeasuredLoads::LineOfPull => None,
        };
        let slope_was = self.distributions.soil_slope.centre();
        let gain = measured_gain
            .and_then(|measured| Some(measured.value - asked.side.loads().ok()?.expected_gain_n_per_n));
        Some([
            Some(asked.side.soil_at.z.m() - self.height.mean.m()),
            other_n,
            (self.measured == MeasuredLoads::Both).then_some(asked.side.soil_slope - slope_was),
            gain,
        ])
    }

    /// What is farthest off, where description and readings cannot both be right; `None` too where nothing can be
    /// solved.
    pub fn contradiction(&self) -> Option<Contradiction> {
        let off = self.off(&self.distributions.centres(), self.witness.measured_gain)?;
        if let Some(below) = self.witness.outside_table() {
            return Some(Contradiction::OutsideTable { below });
        }
        if self.distance_2(&off) <= DISTANCE_2_MAX {
            return None;
        }
        let each = PARTS.into_iter().zip(active(&off)).enumerate();
        let widths = each.filter_map(|(i, (part, off))| Some((part, off? / self.covariance[i][i].sqrt())));
        Some(match widths.max_by(|one, other| one.1.abs().total_cmp(&other.1.abs())) {
            Some((Part::OtherLoad, _)) => Contradiction::Impossible(Impossible::FrontLoadBelowZero),
            Some((Part::Gain, off)) => Contradiction::Gain { too_high: off > 0.0 },
            Some((Part::SoilSlope, off)) => Contradiction::SoilSlope { too_high: off > 0.0 },
            Some((Part::SoilHeight, off)) => Contradiction::SoilHeight { too_high: off > 0.0 },
            None => Contradiction::SoilHeight { too_high: false },
        })
    }

    /// Squared Mahalanobis distance of those parts that ask for something; a load above 0 asks for nothing.
    pub fn distance_2(&self, off: &Off) -> f64 {
        let asked: Vec<(usize, f64)> =
            active(off).into_iter().enumerate().filter_map(|(i, off)| Some((i, off?))).collect();
        let row = |i: usize| asked.iter().map(|(k, _)| self.covariance[i][*k]).collect();
        let matrix = asked.iter().map(|(i, _)| row(*i)).collect();
        quadratic_form(matrix, asked.iter().map(|(_, off)| *off).collect())
    }
}

fn active(off: &Off) -> Off {
    let [soil_height, other_load, soil_slope, gain] = *off;
    [soil_height, other_load.filter(|load_n| *load_n < 0.0), soil_slope, gain]
}

/// xᵀ A⁻¹ x of a positive definite A, by elimination: each pivot is the variance of a part given those before it.
fn quadratic_form(mut matrix: Vec<Vec<f64>>, mut x: Vec<f64>) -> f64 {
    let mut sum = 0.0;
    while let (Some((row, lines)), Some((first, others))) = (matrix.split_first(), x.split_first()) {
        let Some((pivot, above)) = row.split_first().filter(|(pivot, _)| **pivot > 0.0) else {
            return f64::INFINITY;
        };
        sum += first * first / pivot;
        let below = |line: &Vec<f64>| {
            let (head, rest) = line.split_first()?;
            let factor = head / pivot;
            Some(rest.iter().zip(above).map(|(value, above)| value - factor * above).collect())
        };
        let others = others.iter().zip(above).map(|(value, above)| value - above / pivot * first).collect();
        (matrix, x) = (lines.iter().filter_map(below).collect(), others);
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A worked by hand: A = [[4, 2], [2, 3]], x = (2, 3): A⁻¹ = [[3, -2], [-2, 4]]/8, xᵀA⁻¹x = (12 − 24 + 36)/8.
    #[test]
    fn the_quadratic_form_is_that_of_the_inverse() {
        let form = quadratic_form(vec![vec![4.0, 2.0], vec![2.0, 3.0]], vec![2.0, 3.0]);
        assert!((form - 3.0).abs() < 1e-12, "{form}");
        assert_eq!(quadratic_form(vec![vec![0.0]], vec![1.0]), f64::INFINITY);
    }
}

//! The numbers, tables and picture of the handbook, each taken from the code that works with it.

use super::statics_page::statics_diagram;
use super::units::{Units, percent, signed};
use super::words::causes::check;
use super::words::glossary::GLOSSARY;
use crate::causes::CauseKind;
use crate::compare::ALPHA;
use crate::summary::{COHERENCE_MIN, SLOW_HZ, STILL_SHARE};
use ingest::CLOCK_BEND_MAX;
use ingest::calibration::{NON_LINEARITY_PERCENT_MAX, UNCERTAINTY_PERCENT_MAX};
use ingest::passes::{rule, usual};
use ingest::plow::{Limits, Plow, Setting, ShareCondition, SoilClass};
use ingest::quantity::{Force, Length, Speed, Unit};
use ingest::safety::CAUTIONS;
use jiff::civil::Date;
use page::handbook_content::{BookCell, HandbookContent};
use page::text::Cell;
use signals::{
    GAP_STEPS, SPIKE_BACK_SHARE, SPIKE_BLOCK, SPIKE_BOUND_SD, SPIKE_SD_PER_MEDIAN, SPIKE_WIDTH_MAX, STUCK_S,
};
use spectra::bobbing::{BROADEST_DAMPING, FALSE_ALARM, LEAST_RATIO};
use spectra::modes::{FALSE_FURTHER_MODE, MOST_MODES, POOR_FIT};
use spectra::welch::SEGMENT_S_MAX;
use statics::advice::{BETTER_CHANCE_MIN, FARTHEST_M, USUAL_TRACTOR_HITCH};
use statics::believable::{DEPTH_ASKED, DEPTH_REFUSED, PULL_OUTSIDE};
use statics::contradiction::DISTANCE_2_MAX;
use statics::distribution::WIDE_DOF;
use statics::draft::{MOLDBOARD, MOLDBOARD_RANGE_SHARE, moldboard_draft, soil_factor};
use statics::draw::solve_backwards;
use statics::identify::{Contradiction, DRAWS, IdentifyError, KEPT_SHARE_MIN, LIFTS_PROBABILITY_SHOWN};
use statics::inputs::{
    HOLE_HALF_WIDTH_M, Inputs, MeasuredLoads, POINT_HALF_WIDTH_M, PULL_CALIBRATION_SHARE,
    RESISTANCE_HALF_RANGE_SHARE, TAIL_TABLE_SHARE, WEIGHT_HALF_WIDTH_SHARE,
};
use statics::plow_model::LIFTED_SHARE_OF_STATIC;
use statics::predict::{CANNOT_BE_MAX, Nominal, nominal};
use statics::report::statics_report;
use statics::soil::{HEIGHT_SD_OVER_DEPTH, SLOPE_PASS_SD, soil_slope_prior};
use statics::verdict::{CHANCE_MIN, FIRM_OTHER_SHARE_MAX, NEIGHBOURHOOD_CHANCE_MIN, SIDE_CHANCE_MIN};
use stats::bins::MAX_BINS;
use stats::long_run::{COSINES, LENGTHS, LONGEST, SHARES, SHORTEST};
use stats::permutation::{EXACT_LIMIT, RANDOM_SPLITS};
use stats::two_samples::RUNS_MIN;
use std::collections::BTreeMap;
use strum::VariantArray;

/// Safe load of a load cell over the largest draft to be expected: stones and roots (by choice; common practice, no
/// source, has two to three).
const SHOCK_FACTOR: f64 = 2.5;
/// Cut of a bottom, depth and speed that load cells are chosen for.
const BUY_CUT: Length = Length::from_m(14.0 * Unit::INCH.factor);
const BUY_DEPTH: Length = Length::from_m(8.0 * Unit::INCH.factor);
const BUY_SPEED: Speed = Speed::from_mps(5.0 * Unit::MILE_PER_HOUR.factor);
/// Change of the balance index that an error is asked for.
const INDEX_CHANGE: f64 = 0.1;
/// Two and a half of a hundred lie beyond this deviate of a standard normal.
const NORMAL_97_5: f64 = 1.959_963_985;

type Numbers = BTreeMap<&'static str, Cell>;
type Rows = Vec<Vec<BookCell>>;

/// The handbook of this program, with `plow` in `setting`, near balance, as its example.
///
/// # Errors
/// Where the example cannot be solved.
pub fn handbook_content(
    plow: &Plow,
    setting: (&str, &Setting),
    pull: Force,
    date: Date,
) -> Result<HandbookContent, IdentifyError> {
    let report = statics_report(plow, setting, pull, None, 0)?;
    let mut numbers = settings();
    numbers.extend([
        ("example", plow.name.as_str().into()),
        ("example_setting", setting.0.into()),
        ("example_weight", both(|units| units.force_n(plow.weight.total.si())).into()),
        ("example_pull", both(|units| units.force_n(pull.n())).into()),
    ]);
    let words = |rows: &[(&str, &str)]| rows.iter().map(|(word, text)| row([*word, *text])).collect();
    let causes: Vec<_> = CauseKind::VARIANTS.iter().map(|kind| (kind.label(), check(*kind))).collect();
    let tables = BTreeMap::from([
        ("causes", words(&causes)),
        ("words", words(&GLOSSARY)),
        ("load_cells", load_cells()),
        ("resolve", errors_that_count(&nominal(plow, setting.1, pull)?, plow.bottoms.share)?),
        ("slopes", slopes()),
    ]);
    Ok(HandbookContent {
        title: "Setting up a plow by what it measures: handbook and methods of hitchwright".into(),
        date: Some(date),
        version: env!("CARGO_PKG_VERSION").into(),
        numbers,
        tables,
        safety: CAUTIONS.to_vec().into(),
        forces: statics_diagram(plow, &report, Units::Us),
    })
}

fn row<const N: usize>(cells: [&str; N]) -> Vec<BookCell> {
    cells.map(Into::into).to_vec()
}

/// A size in both systems, US customary before.
fn both(shown: impl Fn(Units) -> String) -> String {
    format!("{} ({})", shown(Units::Us), shown(Units::Si))
}

fn seconds(s: f64) -> Cell {
    format!("{s} s").into()
}

/// A share that is a whole or half number of per cent.
fn share(share: f64) -> Cell {
    format!("{} %", (share * 1e4).round() / 1e2).into()
}

fn number(value: f64) -> Cell {
    value.to_string().into()
}

/// What the program works with, by the names that the chapters use.
fn settings() -> Numbers {
    let limits = Limits::default();
    let (lowest, highest) = USUAL_TRACTOR_HITCH;
    let usual_hitch = |units: Units| format!("{} to {}", units.height(lowest.m()), units.height(highest.m()));
    let height = |m: f64| Cell::from(both(|units| units.height(m)));
    let small = |m: f64| Cell::from(both(|units| units.small_height(m)));
    BTreeMap::from([
        ("balanced", number(limits.balanced)),
        ("leaning", number(limits.leaning)),
        ("lifted_share", share(limits.lifted_share)),
        ("lifted_of_static", share(LIFTED_SHARE_OF_STATIC)),
        ("before_s", seconds(rule::BEFORE_S)),
        ("after_s", seconds(rule::AFTER_S)),
        ("trim_s", seconds(rule::TRIM_S)),
        ("smooth_s", seconds(rule::SMOOTH_S)),
        ("hop_s", seconds(rule::HOP_S)),
        ("working_min", seconds(rule::WORKING_S_MIN)),
        ("depth_min", height(rule::DEPTH_MM_MIN / 1000.0)),
        ("depth_in", share(usual::DEPTH_IN)),
        ("work_in", share(usual::WORK_IN)),
        ("depth_out", share(usual::DEPTH_OUT)),
        ("work_out", share(usual::WORK_OUT)),
        ("seldom", format!("{} %", usual::SELDOM_PERCENT).into()),
        ("unclear", seconds(rule::UNCLEAR_S_MAX)),
        ("unseen", seconds(rule::UNSEEN_S_MAX)),
        ("clock_bend", format!("{} millionths", CLOCK_BEND_MAX * 1e6).into()),
        ("gap_steps", number(GAP_STEPS)),
        ("spike_sd", number(SPIKE_BOUND_SD)),
        ("spike_scale", number(SPIKE_SD_PER_MEDIAN)),
        ("spike_block", SPIKE_BLOCK.to_string().into()),
        ("spike_width", SPIKE_WIDTH_MAX.to_string().into()),
        ("spike_back", share(SPIKE_BACK_SHARE)),
        ("stuck_s", seconds(STUCK_S)),
        ("still_share", share(STILL_SHARE)),
        ("cosines", COSINES.to_string().into()),
        ("lengths", LENGTHS.to_string().into()),
        ("longest", number(LONGEST)),
        ("shortest", number(SHORTEST)),
        ("shares_count", SHARES.len().to_string().into()),
        ("shares", SHARES.map(|share| share.to_string()).join(", ").into()),
        ("shapes", (LENGTHS + LENGTHS * (LENGTHS - 1) / 2 * SHARES.len()).to_string().into()),
        ("steps", (LENGTHS - 1).to_string().into()),
        ("most_bins", MAX_BINS.to_string().into()),
        ("segment_s", seconds(SEGMENT_S_MAX)),
        ("false_alarm", number(FALSE_ALARM)),
        ("least_ratio", number(LEAST_RATIO)),
        ("broadest", number(BROADEST_DAMPING)),
        ("most_modes", MOST_MODES.to_string().into()),
        ("further_mode", number(FALSE_FURTHER_MODE)),
        ("poor_fit", number(POOR_FIT)),
        ("slow_hz", format!("{SLOW_HZ} Hz").into()),
        ("coherence_min", number(COHERENCE_MIN)),
        ("weight_share", share(WEIGHT_HALF_WIDTH_SHARE)),
        ("point", small(POINT_HALF_WIDTH_M)),
        ("hole", small(HOLE_HALF_WIDTH_M)),
        ("resistance_share", share(RESISTANCE_HALF_RANGE_SHARE)),
        ("pull_share", share(PULL_CALIBRATION_SHARE)),
        ("tail_table_share", share(TAIL_TABLE_SHARE)),
        ("height_sd", number(HEIGHT_SD_OVER_DEPTH)),
        ("slope_dof", WIDE_DOF.to_string().into()),
        ("slope_pass_sd", number(SLOPE_PASS_SD)),
        ("draws", DRAWS.to_string().into()),
        ("kept_min", share(KEPT_SHARE_MIN)),
        ("lifts_min", share(LIFTS_PROBABILITY_SHOWN)),
        ("neighborhood", share(NEIGHBOURHOOD_CHANCE_MIN)),
        ("chance_min", share(CHANCE_MIN)),
        ("side_min", share(SIDE_CHANCE_MIN)),
        ("depth_asked", number(DEPTH_ASKED)),
        ("depth_refused", number(DEPTH_REFUSED)),
        ("pull_outside", number(PULL_OUTSIDE)),
        ("firm_max", share(FIRM_OTHER_SHARE_MAX)),
        ("distance_max", number(DISTANCE_2_MAX)),
        ("usual_hitch", both(usual_hitch).into()),
        ("better_min", share(BETTER_CHANCE_MIN)),
        ("cannot_be_max", share(CANNOT_BE_MAX)),
        ("farthest", height(FARTHEST_M)),
        ("draft_a", number(MOLDBOARD.a)),
        ("draft_b", number(MOLDBOARD.b)),
        ("draft_c", number(MOLDBOARD.c)),
        ("draft_fine", number(soil_factor(SoilClass::Fine))),
        ("draft_medium", number(soil_factor(SoilClass::Medium))),
        ("draft_coarse", number(soil_factor(SoilClass::Coarse))),
        ("draft_range", share(MOLDBOARD_RANGE_SHARE)),
        ("runs_min", RUNS_MIN.to_string().into()),
        ("exact_limit", EXACT_LIMIT.to_string().into()),
        ("random_splits", RANDOM_SPLITS.to_string().into()),
        ("alpha", share(ALPHA)),
        ("non_linearity", format!("{NON_LINEARITY_PERCENT_MAX} %").into()),
        ("uncertainty_max", format!("{UNCERTAINTY_PERCENT_MAX} %").into()),
        ("shock", number(SHOCK_FACTOR)),
        ("buy_cut", height(BUY_CUT.m())),
        ("buy_depth", height(BUY_DEPTH.m())),
        ("buy_speed", both(|units| units.speed(BUY_SPEED.mps())).into()),
    ])
}

/// Draft of plows of one to six bottoms, and the load cell that it asks for.
fn load_cells() -> Rows {
    let row = |count: u32| {
        let cut = Length::from_m(f64::from(count) * BUY_CUT.m());
        let draft = |soil| moldboard_draft(soil, BUY_SPEED, cut, BUY_DEPTH);
        let soils = [SoilClass::Coarse, SoilClass::Medium, SoilClass::Fine];
        let safe_n = SHOCK_FACTOR * draft(SoilClass::Fine).high.n();
        let force = |n: f64| format!("{} ({:.1} kN)", Units::Us.force_n(n), n / 1000.0);
        let drafts = soils.map(|soil| force(draft(soil).draft.n()));
        let cells = std::iter::once(count.to_string()).chain(drafts);
        cells.chain([force(safe_n)]).map(BookCell::from).collect()
    };
    (1..=6).map(row).collect()
}

/// Middle and 95 % of the soil slope that is taken for each condition of the shares.
fn slopes() -> Rows {
    let row = |share: ShareCondition| {
        let of = soil_slope_prior(share);
        let [low, middle, high] = [-NORMAL_97_5, 0.0, NORMAL_97_5].map(|u| signed(of.at(u)));
        row([&share.to_string(), &middle, &format!("{low} to {high}")])
    };
    [ShareCondition::Sharp, ShareCondition::Blunt, ShareCondition::Worn].map(row).to_vec()
}

/// How a figure of the statics is changed, and what it is known to where nothing is stated.
struct Reading {
    name: &'static str,
    field: fn(&mut Inputs<f64>) -> &mut f64,
    /// Half of a 95 % interval, of the value or in SI.
    usual: Known,
}

enum Known {
    Share(f64),
    Length(f64),
    Slope,
}

const READINGS: [Reading; 7] = [
    Reading {
        name: "mean tail load",
        field: |inputs| &mut inputs.tail_load,
        usual: Known::Share(TAIL_TABLE_SHARE),
    },
    Reading {
        name: "mean pull",
        field: |inputs| &mut inputs.pull,
        usual: Known::Share(PULL_CALIBRATION_SHARE),
    },
    Reading {
        name: "weight of the plow",
        field: |inputs| &mut inputs.weight,
        usual: Known::Share(WEIGHT_HALF_WIDTH_SHARE),
    },
    Reading {
        name: "place of the weight, along the plow",
        field: |inputs| &mut inputs.weight_place,
        usual: Known::Length(POINT_HALF_WIDTH_M),
    },
    Reading {
        name: "height of the hole at the plow",
        field: |inputs| &mut inputs.plow_hole_height,
        usual: Known::Length(HOLE_HALF_WIDTH_M),
    },
    Reading {
        name: "height of the hole at the tractor",
        field: |inputs| &mut inputs.tractor_hole_height,
        usual: Known::Length(HOLE_HALF_WIDTH_M),
    },
    Reading { name: "soil slope σ", field: |inputs| &mut inputs.soil_slope, usual: Known::Slope },
];

/// For each reading the error that alone moves b by [`INDEX_CHANGE`], from differences over a thousandth.
fn errors_that_count(nominal: &Nominal, shares: ShareCondition) -> Result<Rows, IdentifyError> {
    let loads = nominal.side.loads()?;
    let mut inputs = nominal.state.inputs;
    (inputs.pull, inputs.tail_load) = (loads.pull.n(), loads.tail_load.n());
    let index = |inputs: &Inputs<f64>| {
        let solved = solve_backwards(&nominal.plow_model, inputs, MeasuredLoads::Tail);
        let index = solved.map(|draw| draw.loads.balance_index);
        index.map_err(|why| IdentifyError::Contradiction {
            kept: 0,
            tried: 1,
            cause: Contradiction::Impossible(why),
            suspects: Vec::new(),
        })
    };
    let middle = index(&inputs)?;
    let length = |m: f64| both(|units| units.small_height(m));
    let mut rows = Rows::new();
    for Reading { name, field, usual } in READINGS {
        let mut moved = inputs;
        let value = *field(&mut moved);
        let step = if matches!(usual, Known::Share(_)) { 1e-3 * value } else { 1e-3 };
        *field(&mut moved) += step;
        let error = (INDEX_CHANGE * step / (index(&moved)? - middle)).abs();
        let (error, usual) = match usual {
            Known::Share(usual) => {
                let size = both(|units| units.force_n(error));
                (format!("{}: {size}", percent(error / value)), percent(usual))
            }
            Known::Length(usual) => (length(error), length(usual)),
            Known::Slope => {
                let prior = soil_slope_prior(shares);
                (format!("{error:.3}"), format!("{:.2}", prior.at(NORMAL_97_5) - prior.centre()))
            }
        };
        rows.push(row([name, &error, &usual]));
    }
    Ok(rows)
}

#[cfg(test)]
mod tests;

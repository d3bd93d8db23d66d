//! The table of figures of a run: one list serves the terminal and the page.

use crate::report::units::{PSI_N_PER_CM2, Units};
use crate::summary::{Summary, TailLoadFigures};
use ingest::quantity::Unit;
use page::content::FigureRow;
use stats::Estimate;

/// What a figure measures, and so the unit and the decimals it is shown with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum FigureKind {
    /// N inside.
    Force,
    /// mm inside.
    SmallLength,
    /// mm² inside.
    SmallArea,
    /// mm/min inside.
    Drift,
    /// m inside.
    Place,
    /// 0 to 1 inside.
    Share,
    /// s inside.
    Time,
    /// m/s inside.
    Speed,
    /// Hz inside.
    Frequency,
    /// N/cm² inside.
    SpecificDraft,
    /// No unit.
    Number,
}

/// One inch in mm.
const INCH_MM: f64 = Unit::INCH.per(Unit::MILLIMETRE);

impl FigureKind {
    /// Unit as shown, one of it in the unit inside, and decimals.
    fn shown(self, units: Units) -> (&'static str, f64, usize) {
        match (self, units) {
            (Self::Force, Units::Si) => ("N", 1.0, 0),
            (Self::Force, Units::Us) => ("lbf", Unit::POUND_FORCE.factor, 0),
            (Self::SmallLength, Units::Si) => ("mm", 1.0, 1),
            (Self::SmallLength, Units::Us) => ("in", INCH_MM, 2),
            (Self::SmallArea, Units::Si) => ("mm²", 1.0, 0),
            (Self::SmallArea, Units::Us) => ("in²", INCH_MM * INCH_MM, 3),
            (Self::Drift, Units::Si) => ("mm/min", 1.0, 1),
            (Self::Drift, Units::Us) => ("in/min", INCH_MM, 2),
            (Self::Place, Units::Si) => ("m", 1.0, 2),
            (Self::Place, Units::Us) => ("ft", Unit::FOOT.factor, 2),
            (Self::Speed, Units::Si) => ("km/h", Unit::KILOMETRE_PER_HOUR.factor, 2),
            (Self::Speed, Units::Us) => ("mph", Unit::MILE_PER_HOUR.factor, 2),
            (Self::Share, _) => ("%", 0.01, 1),
            (Self::Time, _) => ("s", 1.0, 1),
            (Self::SpecificDraft, Units::Si) => ("N/cm²", 1.0, 2),
            (Self::SpecificDraft, Units::Us) => ("psi", PSI_N_PER_CM2, 2),
            (Self::Frequency, _) => ("Hz", 1.0, 2),
            (Self::Number, _) => ("", 1.0, 2),
        }
    }

    /// The unit as shown.
    pub(super) fn unit(self, units: Units) -> &'static str {
        self.shown(units).0
    }

    /// A value in the unit as shown.
    pub(super) fn value(self, inside: f64, units: Units) -> f64 {
        inside / self.shown(units).1
    }

    /// A number without its unit.
    pub(super) fn number(self, inside: f64, units: Units) -> String {
        if self == Self::Force {
            return units.force_number(inside);
        }
        let (_, one, decimals) = self.shown(units);
        let text = format!("{:.decimals$}", inside / one);
        // A rounded-away minus is no sign.
        let is_zero = text.trim_start_matches('-').bytes().all(|byte| matches!(byte, b'0' | b'.'));
        if is_zero { text.trim_start_matches('-').to_owned() } else { text }
    }

    /// A bound above 0 with as many digits: rounded up, for what is shown to be under it is not shown to be under less.
    pub(super) fn upper_bound(self, inside: f64, units: Units) -> String {
        let in_unit = inside / self.shown(units).1;
        let is_bound = |text: &String| text.parse::<f64>().is_ok_and(|shown| shown >= in_unit * (1.0 - 1e-9));
        let mut larger = (0..4000).map(|step| self.number(inside * 1.001_f64.powi(step), units));
        larger.find(is_bound).unwrap_or_else(|| self.number(inside, units))
    }

    /// The two ends of an interval.
    pub(super) fn interval(self, figure: &Estimate, units: Units) -> String {
        format!("{} to {}", self.number(figure.low, units), self.number(figure.high, units))
    }
}

fn row(name: &str, kind: FigureKind, figure: Option<&Estimate>, units: Units) -> FigureRow {
    let (value, interval) = match figure {
        Some(figure) if figure.low == figure.high => (kind.number(figure.value, units), String::new()),
        Some(figure) => (kind.number(figure.value, units), kind.interval(figure, units)),
        None => ("not shown".to_owned(), String::new()),
    };
    let unit = if figure.is_some() { kind.unit(units) } else { "" };
    FigureRow { name: name.into(), value: value.into(), interval: interval.into(), unit: unit.into() }
}

fn lifted_time(load: &TailLoadFigures, units: Units) -> FigureRow {
    row("lifted time", FigureKind::Share, load.lifted_share.as_ref(), units)
}

fn mean_depth(summary: &Summary, units: Units) -> FigureRow {
    row("depth, mean", FigureKind::SmallLength, Some(&summary.depth.mean_mm), units)
}

/// The figures that are asked for between two passes: lifted time, where a load on wheels was measured, and depth.
pub(super) fn brief_rows(summary: &Summary, units: Units) -> Vec<FigureRow> {
    let load = summary.tail_load.as_ref().or(summary.front_load.as_ref());
    load.map(|load| lifted_time(load, units)).into_iter().chain([mean_depth(summary, units)]).collect()
}

/// The rows of the load that the pass is judged by, and of its bobbing.
fn load_rows(summary: &Summary, units: Units) -> Vec<FigureRow> {
    let Some(name) = summary.judged_by else { return Vec::new() };
    let bobbing = summary.bobbing.as_ref();
    let make = |name: &str, kind: FigureKind, figure: Option<&Estimate>| row(name, kind, figure, units);
    let of = |what: &str| format!("{name}, {what}");
    let mut rows = Vec::new();
    if let Some(load) = summary.tail_load.as_ref().or(summary.front_load.as_ref()) {
        rows.extend([
            make(&of("mean"), FigureKind::Force, Some(&load.mean_n)),
            make(&of("SD"), FigureKind::Force, Some(&load.sd_n)),
            make(&of("SD/mean"), FigureKind::Number, load.cv.as_ref()),
            lifted_time(load, units),
            make("longest lift", FigureKind::Time, load.longest_lift_s.as_ref()),
        ]);
    }
    if let Some(force) = &summary.top_link {
        rows.extend([
            make(&of("mean"), FigureKind::Force, Some(&force.mean_n)),
            make(&of("SD"), FigureKind::Force, Some(&force.sd_n)),
        ]);
    }
    // Of another load than the tail's it is said of which.
    let of_which = if summary.tail_load.is_some() { String::new() } else { format!(" of the {name}") };
    let of_bobbing = |what: &str| format!("bobbing{of_which}, {what}");
    rows.extend([
        make(&of_bobbing("frequency"), FigureKind::Frequency, bobbing.map(|b| &b.frequency_hz)),
        make(&of_bobbing("RMS of its octave"), FigureKind::Force, bobbing.map(|b| &b.rms_n)),
        make("bobbing, damping ratio", FigureKind::Number, bobbing.and_then(|b| b.damping_ratio.as_ref())),
    ]);
    rows
}

/// The figures of a summary, in the order in which they are read.
pub(super) fn figure_rows(summary: &Summary, units: Units) -> Vec<FigureRow> {
    let Summary { pull, depth, pull_to_tail, statics, .. } = summary;
    let (statics, draft) = (statics.as_ref(), summary.draft.as_ref());
    let make = |name: &str, kind: FigureKind, figure: Option<&Estimate>| row(name, kind, figure, units);
    let wheel_load_at_mm = statics.map(|found| found.wheel_load_at_m.scaled(1000.0));
    let mut rows = vec![
        make("pull, mean", FigureKind::Force, Some(&pull.mean_n)),
        make("pull, SD", FigureKind::Force, Some(&pull.sd_n)),
        make("specific draft", FigureKind::SpecificDraft, draft.map(|draft| &draft.specific_draft_n_per_cm2)),
        mean_depth(summary, units),
        make("depth, SD", FigureKind::SmallLength, Some(&depth.sd_mm)),
        make("depth, variance", FigureKind::SmallArea, Some(&depth.variance_mm2)),
        make("depth, 5th percentile", FigureKind::SmallLength, Some(&depth.p5_mm)),
        make("depth, 95th percentile", FigureKind::SmallLength, Some(&depth.p95_mm)),
        make("depth, drift", FigureKind::Drift, Some(&depth.drift_mm_per_min)),
    ];
    rows.extend(load_rows(summary, units));
    rows.extend([
        make("soil slope σ", FigureKind::Number, statics.map(|s| &s.soil_slope)),
        make("pull-line offset e", FigureKind::SmallLength, statics.map(|s| &s.pull_line_offset_mm)),
        make("balance index b", FigureKind::Number, statics.map(|s| &s.balance_index)),
        make("wheel load at x", FigureKind::SmallLength, wheel_load_at_mm.as_ref()),
        make("tail share", FigureKind::Share, statics.map(|s| &s.tail_share)),
        make("front load", FigureKind::Force, statics.map(|s| &s.front_load_n)),
        make("gain, measured", FigureKind::Number, pull_to_tail.as_ref().map(|g| &g.gain_n_per_n)),
        make("gain, by the statics", FigureKind::Number, statics.map(|s| &s.expected_gain_n_per_n)),
    ]);
    for mode in summary.bobbing.iter().flat_map(|bobbing| &bobbing.further_modes) {
        rows.push(make("further mode, frequency", FigureKind::Frequency, Some(&mode.frequency_hz)));
        rows.push(make("further mode, RMS", FigureKind::Force, Some(&mode.rms_n)));
        rows.push(make("further mode, damping ratio", FigureKind::Number, mode.damping_ratio.as_ref()));
    }
    // Rows of what no sensor was there for would only be in the way.
    if let Some(travel) = &summary.travel {
        let distance_m = Estimate::exact(travel.distance_m);
        let wavelength_m = summary.per_metre.as_ref().and_then(|found| found.wavelength_m);
        rows.extend([
            make("speed, mean", FigureKind::Speed, travel.mean_mps.as_ref()),
            make("distance along the pass", FigureKind::Place, distance_m.as_ref()),
            make("bobbing, cycle length", FigureKind::Place, wavelength_m.as_ref()),
        ]);
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Found in a comparison: a difference of 0.12 mm was "shown to be under 0.1 mm", and under "0.00 in".
    #[test]
    fn a_bound_is_rounded_up() {
        let bound = |kind: FigureKind, inside, units| kind.upper_bound(inside, units);
        assert_eq!(bound(FigureKind::SmallLength, 0.1227, Units::Si), "0.2");
        assert_eq!(bound(FigureKind::SmallLength, 0.1227, Units::Us), "0.01");
        assert_eq!(bound(FigureKind::SmallLength, 0.2, Units::Si), "0.2");
        assert_eq!(bound(FigureKind::Number, 0.031, Units::Si), "0.04");
        assert_eq!(bound(FigureKind::Share, 0.0, Units::Si), "0.0");
    }

    #[test]
    fn figures_are_shown_in_the_readers_units_without_a_minus_zero() {
        let figure = Estimate { value: 25.4, low: -0.01, high: 50.8 };
        assert_eq!(FigureKind::SmallLength.number(figure.value, Units::Us), "1.00");
        assert_eq!(FigureKind::SmallLength.interval(&figure, Units::Us), "0.00 to 2.00");
        assert_eq!(FigureKind::Force.number(4_448.221_615, Units::Us), "1000");
        assert_eq!(FigureKind::Share.number(0.0125, Units::Si), "1.2");
        // Found on the page: m/s in the table, km/h in the sentences beside it.
        assert_eq!(
            (FigureKind::Speed.number(2.0, Units::Si), FigureKind::Speed.unit(Units::Si)),
            ("7.20".to_owned(), "km/h")
        );
        let row = row("x", FigureKind::Number, None, Units::Si);
        assert_eq!((&*row.value, &*row.unit), ("not shown", ""));
    }
}

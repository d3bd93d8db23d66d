//! The charts of a run, in the reader's units.

use super::figure_rows::FigureKind;
use crate::report::units::Units;
use crate::summary::{Analysed, LoadSpectrum, WheelTurn, lifted_stretches};
use ingest::plow::ChannelRole;
use page::chart_content::{LineLook, Mark, Scatter, SlopeLine, Spectrum, Strip, Trace};
use spectra::bobbing::wheel_turn_hz;
use statics::draw::Draw;

/// Points kept for the scatter: more are only ink.
const SCATTER_POINTS: usize = 600;

fn traces(values: &[f64], analysed: &Analysed, kind: FigureKind, units: Units) -> Vec<Trace> {
    let step_s = 1.0 / analysed.signals.rate_hz;
    let one = |segment: &signals::Segment| {
        let values = values.get(segment.rows.clone()).unwrap_or(&[]);
        Trace {
            t_s: (0..values.len()).map(|row| segment.start_s + row as f64 * step_s).collect(),
            values: values.iter().map(|value| kind.value(*value, units)).collect(),
        }
    };
    analysed.segments.iter().map(one).collect()
}

/// Depth against time.
pub(super) fn depth_strip(analysed: &Analysed, units: Units) -> Option<Strip> {
    let values = analysed.signals.channels.get(&ChannelRole::Depth)?;
    let kind = FigureKind::SmallLength;
    let depth = &analysed.summary.depth;
    let shown = |inside: f64| Some(kind.value(inside, units));
    Some(Strip {
        name: "depth".to_owned(),
        unit: kind.unit(units).to_owned(),
        traces: traces(values, analysed, kind, units),
        mean: shown(depth.mean_mm.value),
        p5: shown(depth.p5_mm.value),
        p95: shown(depth.p95_mm.value),
        downward: true,
        ..Strip::default()
    })
}

/// The load that the pass is judged by against time, lifted stretches hatched.
pub(super) fn load_strip(analysed: &Analysed, units: Units) -> Option<Strip> {
    let kind = FigureKind::Force;
    let carried = analysed.carried.as_ref()?;
    let mean_n = analysed.summary.judged_mean_n()?.value;
    let rate_hz = analysed.signals.rate_hz;
    let lifted = |threshold_n| lifted_stretches(&carried.values_n, &analysed.segments, rate_hz, threshold_n);
    Some(Strip {
        name: load_name(analysed),
        unit: kind.unit(units).to_owned(),
        traces: traces(&carried.values_n, analysed, kind, units),
        mean: Some(kind.value(mean_n, units)),
        hatched_s: carried.lifted_under_n().map(lifted).unwrap_or_default(),
        hatch_name: "lifted".to_owned(),
        zero_line: true,
        ..Strip::default()
    })
}

fn load_name(analysed: &Analysed) -> String {
    analysed.summary.judged_by.unwrap_or("load").to_owned()
}

/// Spectrum of that load.
pub(super) fn spectrum(analysed: &Analysed, units: Units) -> Option<Spectrum> {
    let found = analysed.load_spectrum.as_ref()?;
    let LoadSpectrum { spectrum, search } = found;
    let kind = FigureKind::Force;
    let unit = kind.unit(units);
    let squared = |inside: f64| kind.value(kind.value(inside, units), units);
    let (low, high) = spectrum.band_factors()?;
    // Only what was searched is drawn: the background is known there and nowhere else.
    let density: Vec<f64> = found.searched()?.iter().map(|d| squared(*d)).collect();
    let summary = &analysed.summary;
    let mark = |name: &str, frequency_hz: f64| {
        let label = format!("{name} {frequency_hz:.2} Hz");
        Mark { frequency_hz, label }
    };
    let bobbing = summary.bobbing.as_ref();
    let turn = |turn: &WheelTurn| {
        let label = format!("{} turns", turn.wheel.label());
        Mark { frequency_hz: turn.frequency_hz.value, label }
    };
    let mut wheel_turns: Vec<Mark> = summary.wheel_turns.iter().map(turn).collect();
    if wheel_turns.is_empty() {
        wheel_turns.extend(expected_tail_turn(analysed));
    }
    let further = bobbing.iter().flat_map(|bobbing| &bobbing.further_modes);
    wheel_turns.extend(further.map(|mode| mark("further mode", mode.frequency_hz.value)));
    Some(Spectrum {
        name: load_name(analysed),
        unit: format!("{unit}²/Hz"),
        low: density.iter().map(|d| d * low).collect(),
        high: density.iter().map(|d| d * high).collect(),
        background: search.background.iter().map(|b| squared(*b)).collect(),
        frequency_hz: search.frequency_hz.clone(),
        density,
        bobbing: bobbing.map(|bobbing| mark("bobbing", bobbing.frequency_hz.value)),
        no_bobbing: "no bobbing shown".to_owned(),
        wheel_turns,
    })
}

/// Where the tail wheel turns, if the speed is known.
fn expected_tail_turn(analysed: &Analysed) -> Option<Mark> {
    let mean_mps = analysed.summary.travel.as_ref()?.mean_mps?.value;
    let wheel = analysed.description.plow.tail.wheel()?;
    let frequency_hz = wheel_turn_hz(mean_mps, wheel.diameter.m());
    frequency_hz.is_finite().then(|| Mark { frequency_hz, label: "tail wheel turns".to_owned() })
}

/// Tail load against pull, with the lines that the statics expects for b = +1, 0 and −1; `None` without a tail load.
pub(super) fn scatter(analysed: &Analysed, draw: Option<&Draw>, units: Units) -> Option<Scatter> {
    let pull = analysed.signals.channels.get(&ChannelRole::Pull)?;
    let tail = analysed.carried.as_ref().filter(|carried| carried.is_tail())?;
    let tail_mean_n = analysed.summary.judged_mean_n()?.value;
    let kind = FigureKind::Force;
    let shown = |inside: f64| kind.value(inside, units);
    let rows: usize = analysed.segments.iter().map(|segment| segment.rows.len()).sum();
    let every = rows.div_ceil(SCATTER_POINTS).max(1);
    let points = analysed
        .segments
        .iter()
        .flat_map(|segment| segment.rows.clone())
        .step_by(every)
        .filter_map(|row| Some((shown(*pull.get(row)?), shown(*tail.values_n.get(row)?))))
        .collect();
    let summary = &analysed.summary;
    let means = (shown(summary.pull.mean_n.value), shown(tail_mean_n));
    let measured = summary.pull_to_tail.as_ref().map(|found| SlopeLine {
        label: "measured".to_owned(),
        look: LineLook::Measured,
        through: means,
        slope: found.gain_n_per_n.value,
    });
    let expected = draw.map(|draw| expected_lines(draw, units)).unwrap_or_default();
    let setting = &summary.run.setting;
    // A name of any length must leave room for what is said.
    let setting: String = setting.chars().take(40).collect();
    let note = if expected.is_empty() {
        format!("Measured in setting {setting}; the statics gives no lines.")
    } else {
        format!(
            "Statics lines: this plow at the pull of setting {setting}, were it too flat, balanced or too steep. The \
             measured line may lie beside them: they take the soil force to grow in one place, and the load lags."
        )
    };
    Some(Scatter {
        x: "pull".to_owned(),
        y: load_name(analysed),
        unit: kind.unit(units).to_owned(),
        points,
        expected,
        measured,
        note: note.into(),
    })
}

/// With a soil force that only grows and shrinks along its line, the tail load is a straight line in the
/// pull: from the standing plow's to nothing at the mean pull (b = +1), to its standing share of what the
/// wheels carry (b = 0), or to all of it (b = −1).
fn expected_lines(draw: &Draw, units: Units) -> Vec<SlopeLine> {
    let (side, loads) = (&draw.side, &draw.loads);
    let standing_share = (side.front.at.x.m() - side.weight_x.m()) / side.wheelbase().m();
    let standing_n = side.weight.n() * standing_share;
    let line = |label: &str, look: LineLook, share: f64| SlopeLine {
        label: label.to_owned(),
        look,
        through: (0.0, FigureKind::Force.value(standing_n, units)),
        slope: (share * loads.ground_load.n() - standing_n) / loads.pull.n(),
    };
    vec![
        line("too flat", LineLook::Flat, 0.0),
        line("balanced", LineLook::Balanced, standing_share),
        line("too steep", LineLook::Steep, 1.0),
    ]
}

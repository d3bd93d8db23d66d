//! Power spectral density of one channel on logarithmic axes, with its 95 % band, the fitted background, the
//! bobbing peak and the frequencies at which a wheel turns.

use super::axes::{Axis, Plot, Range, Room, decade_ticks, round_ticks, with_unit};
use super::canvas::{self, Canvas, Dash, GREY, INK, LABEL, MEASURED, PAPER, Pen, RULE_BAND, Stand};
use super::region::Region;
use super::{Size, blank_on};
use crate::Result;
use crate::chart_content::{Mark, Spectrum};

const ROOM: Room = Room { left: 13.0, top: 5.2, right: 4.0, bottom: 7.4 };
/// What lies further below the peak than this carries nothing.
const MOST_DECADES: f64 = 7.0;
/// Frequencies over at least this many decades get a logarithmic axis.
const LOG_FROM_DECADES: f64 = 1.5;
/// Most points of a line: more cannot be seen.
const MOST_POINTS: usize = 1500;

/// Draws the spectrum.
pub fn draw(spectrum: Option<&Spectrum>, size: Size) -> Result<String> {
    canvas::picture(size, |canvas| match spectrum {
        Some(spectrum) => paint(canvas, spectrum),
        None => blank_on(canvas, "spectrum: not shown"),
    })
}

/// Place of a frequency on its axis.
type Across = fn(f64) -> f64;

fn paint(canvas: &Canvas, s: &Spectrum) -> Result {
    let used = || s.frequency_hz.iter().zip(&s.density).filter(|(f, d)| positive(**f) && positive(**d));
    let frequencies = Range::of(used().map(|(f, _)| *f));
    let Some((f, d)) = frequencies.zip(Range::of(used().map(|(_, d)| d.log10()))) else {
        return blank_on(canvas, &format!("spectrum of {}: nothing that can be drawn", s.name));
    };
    let logarithmic = f.low > 0.0 && (f.high / f.low).log10() >= LOG_FROM_DECADES;
    let across: Across = if logarithmic { f64::log10 } else { |hz| hz };
    let x_range = Range::of([across(f.low), across(f.high)].into_iter());
    let top =
        s.high.iter().filter(|v| positive(**v)).fold(d.high, |top, v| top.max(v.log10()).min(d.high + 1.0));
    let y_range = Range::of([d.low.max(d.high - MOST_DECADES), top + 0.15].into_iter());
    let Some((x_range, y_range)) = x_range.zip(y_range) else {
        return blank_on(canvas, &format!("spectrum of {}: nothing that can be drawn", s.name));
    };
    let (x_wanted, y_wanted) = (canvas.width_mm / 14.0, (canvas.height_mm - 10.0) / 6.0);
    let x_ticks = if logarithmic { decade_ticks(x_range, x_wanted) } else { round_ticks(x_range, x_wanted) };
    let x = Axis { range: x_range, ticks: x_ticks, name: "frequency, Hz".to_owned(), reversed: false };
    let y = Axis {
        range: y_range,
        ticks: decade_ticks(y_range, y_wanted),
        name: with_unit(&s.name, &s.unit),
        reversed: false,
    };
    let plot = Plot::new(canvas, ROOM, x, y)?;
    band(&plot, s, across)?;
    curves(&plot, s, across)?;
    marks(&plot, s, across)?;
    key(&plot, s)
}

fn positive(value: f64) -> bool {
    value.is_finite() && value > 0.0
}

/// One curve as places on the two axes, thinned by keeping the highest of each group so that no peak is lost.
fn curve(frequency_hz: &[f64], values: &[f64], across: Across) -> Vec<(f64, f64)> {
    let all: Vec<(f64, f64)> = frequency_hz
        .iter()
        .zip(values)
        .filter(|(f, v)| positive(**f) && positive(**v))
        .map(|(f, v)| (across(*f), v.log10()))
        .collect();
    let group = all.len().div_ceil(MOST_POINTS).max(1);
    all.chunks(group).filter_map(|part| part.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1))).collect()
}

fn band(plot: &Plot, s: &Spectrum, across: Across) -> Result {
    let mut outline: Vec<_> =
        curve(&s.frequency_hz, &s.low, across).into_iter().map(|p| plot.inside(p)).collect();
    let upper = curve(&s.frequency_hz, &s.high, across);
    if outline.len() < 2 || upper.len() < 2 {
        return Ok(());
    }
    outline.extend(upper.into_iter().rev().map(|p| plot.inside(p)));
    plot.canvas.fill(&outline, RULE_BAND)
}

fn curves(plot: &Plot, s: &Spectrum, across: Across) -> Result {
    plot.line(&curve(&s.frequency_hz, &s.density, across), Pen(MEASURED, 1.0), Dash::Solid)?;
    let background = curve(&s.frequency_hz, &s.background, across);
    plot.line(&background, Pen(PAPER, 1.8), Dash::Solid)?;
    plot.line(&background, Pen(INK, 0.9), Dash::Broken(1.6, 0.9))
}

fn marks(plot: &Plot, s: &Spectrum, across: Across) -> Result {
    let canvas = plot.canvas;
    let mut taken = Region { corner: (0.0, plot.corner.1), far: plot.far }.labels(canvas);
    for values in [&s.density, &s.high, &s.background] {
        let points: Vec<_> =
            curve(&s.frequency_hz, values, across).into_iter().map(|point| plot.inside(point)).collect();
        for line in points.windows(2) {
            taken.take_line(line[0], line[1]);
        }
    }
    let shown = |mark: &&Mark| positive(mark.frequency_hz);
    for mark in s.wheel_turns.iter().filter(shown) {
        let x = plot.x_mm(across(mark.frequency_hz));
        taken.take_line((x, plot.corner.1), (x, plot.far.1));
    }
    if let Some(mark) = s.bobbing.as_ref().filter(shown) {
        let at = across(mark.frequency_hz);
        plot.upright(at, Pen(INK, 0.9), Dash::Solid)?;
        let tip = (plot.x_mm(at), plot.corner.1);
        canvas.fill(&[(tip.0, tip.1 + 0.2), (tip.0 - 1.1, tip.1 - 1.7), (tip.0 + 1.1, tip.1 - 1.7)], INK)?;
        taken.take_line((tip.0, plot.corner.1), (tip.0, plot.far.1));
        let lettering = LABEL.bold().sized(8.0);
        let placed = taken.place(&mark.label, (tip.0, plot.corner.1 + 2.6), lettering);
        canvas.text(&mark.label, placed.at, lettering.standing(placed.stand))?;
    }
    for mark in s.wheel_turns.iter().filter(shown).take(4) {
        let at = across(mark.frequency_hz);
        plot.upright(at, Pen(GREY, 0.9), Dash::Broken(0.5, 0.9))?;
        let x = plot.x_mm(at);
        if (plot.corner.0..=plot.far.0).contains(&x) {
            // A small chart may have no room for the name: the terminal has every one.
            if let Some(placed) = taken.place_if_free(&mark.label, (x, plot.far.1 - 2.6), LABEL) {
                canvas.text(&mark.label, placed.at, LABEL.standing(placed.stand))?;
            }
        }
    }
    Ok(())
}

fn key(plot: &Plot, s: &Spectrum) -> Result {
    let canvas = plot.canvas;
    let middle = 1.5;
    let mut left = plot.corner.0;
    let words = LABEL.standing(Stand::Right);
    if s.low.len() == s.density.len() && s.high.len() == s.density.len() {
        canvas.fill_box((left, middle - 1.0), (left + 5.0, middle + 1.0), RULE_BAND)?;
    }
    for (name, pen, dash) in [
        ("measured, 95 % band", Pen(MEASURED, 1.0), Dash::Solid),
        ("background", Pen(INK, 0.9), Dash::Broken(1.6, 0.9)),
    ] {
        canvas.broken(&[(left, middle), (left + 5.0, middle)], pen, dash)?;
        canvas.text(name, (left + 6.0, middle), words)?;
        left += 6.0 + words.width_mm(name) + 2.0;
    }
    if s.bobbing.is_none() {
        let words = LABEL.bold().standing(Stand::Left).within(&s.no_bobbing, plot.far.0 - left);
        canvas.text(&s.no_bobbing, (plot.far.0, middle), words)?;
    }
    Ok(())
}

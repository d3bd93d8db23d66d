//! Axes: ranges that are always finite and never empty, ticks at round numbers, labels that fit, clipping.

use super::canvas::{Canvas, Dash, INK, LABEL, Mm, PALE, Pen, Stand};
use crate::Result;

/// Most ticks on any axis, whatever is asked for.
const MOST_TICKS: i64 = 24;
/// Least distance between two labels, mm.
const APART_MM: f64 = 0.8;

/// A range of values that can be drawn: finite, `low < high`, wide enough to tell its ends apart.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    pub low: f64,
    pub high: f64,
}

impl Range {
    /// The range of all finite values; a constant gets some room about it. `None` if there is nothing that
    /// can be drawn: no finite value, or values so large that their difference overflows.
    pub fn of(values: impl Iterator<Item = f64>) -> Option<Self> {
        let (low, high) = values
            .filter(|v| v.is_finite())
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)));
        if low > high {
            return None;
        }
        let size = low.abs().max(high.abs());
        if high - low > size * 1e-9 {
            return Self { low, high }.checked();
        }
        let room = if size > 1e-12 { size * 0.05 } else { 1.0 };
        Self { low: low - room, high: high + room }.checked()
    }

    /// Wider by a share of itself at both ends.
    pub fn with_room(self, share: f64) -> Option<Self> {
        let room = (self.high - self.low) * share;
        Self { low: self.low - room, high: self.high + room }.checked()
    }

    /// Also holding `value`, if that can be drawn.
    pub fn holding(self, value: f64) -> Self {
        Self { low: self.low.min(value), high: self.high.max(value) }.checked().unwrap_or(self)
    }

    /// True if `value` lies in the range.
    pub fn has(self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }

    fn checked(self) -> Option<Self> {
        // A quarter of the largest number: room for the arithmetic of ticks and mapping.
        let drawable = |v: f64| v.is_finite() && v.abs() < f64::MAX / 4.0;
        (drawable(self.low) && drawable(self.high) && self.low < self.high).then_some(self)
    }

    fn share(self, value: f64) -> f64 {
        (value - self.low) / (self.high - self.low)
    }
}

/// A tick: its place on the axis and what stands there.
#[derive(Clone, Debug, PartialEq)]
pub struct Tick {
    /// Place, in the unit of the axis.
    pub at: f64,
    /// Label; empty for a line without a label.
    pub label: String,
}

/// Ticks at 1, 2 or 5 times a power of ten, about `wanted` of them.
pub fn round_ticks(range: Range, wanted: f64) -> Vec<Tick> {
    let rough = (range.high - range.low) / wanted.max(1.0);
    let power = rough.log10().floor();
    let unit = 10f64.powf(power);
    let step =
        [1.0, 2.0, 5.0, 10.0].into_iter().map(|m| m * unit).find(|s| *s >= rough * 0.999).unwrap_or(rough);
    let (first, last) = ((range.low / step).ceil(), (range.high / step + 1e-9).floor());
    if !(step > 0.0 && first.abs() < 1e12 && last.abs() < 1e12) {
        return Vec::new();
    }
    let (first, last) = (first as i64, last as i64);
    let decimals = (-step.log10() - 1e-9).ceil().max(0.0) as usize;
    let plain = range.low.abs().max(range.high.abs()) < 1e6 && decimals <= 4;
    let label = |at: f64| if plain { plain_number(at, decimals) } else { short_power(at) };
    (first..=last.min(first + MOST_TICKS))
        .map(|k| k as f64 * step)
        .map(|at| Tick { at, label: label(at) })
        .collect()
}

/// Ticks of an axis whose values are logarithms to base 10: labels at whole decades, at 2 and 5 too if there
/// are few.
pub fn decade_ticks(range: Range, wanted: f64) -> Vec<Tick> {
    let (first, last) = (range.low.ceil() as i64, range.high.floor() as i64);
    let decades = range.high - range.low;
    if decades > 60.0 {
        return round_ticks(range, wanted)
            .into_iter()
            .map(|t| Tick { label: format!("1e{}", t.label), ..t })
            .collect();
    }
    let every = ((decades / wanted.max(1.0)).ceil() as i64).max(1);
    let factors: &[f64] = if decades < wanted / 2.0 { &[1.0, 2.0, 5.0] } else { &[1.0] };
    let mut ticks = Vec::new();
    for decade in first - 1..=last {
        for &factor in factors {
            let at = decade as f64 + factor.log10();
            if range.has(at) && decade.rem_euclid(every) == 0 {
                ticks.push(Tick { at, label: decade_label(decade, factor) });
            }
        }
    }
    ticks
}

fn decade_label(decade: i64, factor: f64) -> String {
    if (-3..=4).contains(&decade) {
        plain_number(factor * 10f64.powi(decade as i32), (-decade).max(0) as usize)
    } else if factor > 1.0 {
        format!("{factor:.0}e{decade}").replace('-', "−")
    } else {
        format!("1e{decade}").replace('-', "−")
    }
}

fn plain_number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    if text.trim_start_matches(['-', '0', '.']).is_empty() {
        return format!("{:.decimals$}", 0.0);
    }
    text.replace('-', "−")
}

fn short_power(value: f64) -> String {
    if value == 0.0 { "0".to_owned() } else { format!("{value:.1e}").replace(".0e", "e").replace('-', "−") }
}

/// An axis: its range, its ticks, its name with the unit.
pub struct Axis {
    pub range: Range,
    pub ticks: Vec<Tick>,
    /// "depth, mm".
    pub name: String,
    /// The higher the value, the further down (y) or left (x).
    pub reversed: bool,
}

/// "name, unit", or the name alone for a bare number.
pub fn with_unit(name: &str, unit: &str) -> String {
    if unit.is_empty() { name.to_owned() } else { format!("{name}, {unit}") }
}

/// Room about the plot, mm.
#[derive(Clone, Copy)]
pub struct Room {
    /// For tick labels and the name of the y axis.
    pub left: f64,
    pub top: f64,
    /// Right; at least half a tick label.
    pub right: f64,
    /// For tick labels and the name of the x axis.
    pub bottom: f64,
}

/// A plot with axes on a canvas; maps values to places and clips.
pub struct Plot<'c, 'a> {
    pub canvas: &'c Canvas<'a>,
    x: Axis,
    y: Axis,
    /// Left and top end of the plot, mm.
    pub corner: Mm,
    /// Right and bottom end, mm.
    pub far: Mm,
}

impl<'c, 'a> Plot<'c, 'a> {
    /// Draws grid, frame, labels and names.
    pub fn new(canvas: &'c Canvas<'a>, room: Room, x: Axis, y: Axis) -> Result<Self> {
        let corner = (room.left, room.top);
        let far = (canvas.width_mm - room.right, canvas.height_mm - room.bottom);
        let plot = Self { canvas, x, y, corner, far };
        plot.draw_x()?;
        plot.draw_y()?;
        canvas.frame_box(corner, far, Pen(INK, 0.5))?;
        Ok(plot)
    }

    fn draw_x(&self) -> Result {
        let under = self.far.1 + 0.6 + LABEL.height_mm() / 2.0;
        let mut free = 0.0;
        for tick in &self.x.ticks {
            let x = self.x_mm(tick.at);
            self.canvas.line(&[(x, self.corner.1), (x, self.far.1)], Pen(PALE, 0.35))?;
            let half = LABEL.width_mm(&tick.label) / 2.0;
            // A label that would leave the picture or touch its neighbor is left out; the line stays.
            if x - half < free || x + half > self.canvas.width_mm {
                continue;
            }
            self.canvas.text(&tick.label, (x, under), LABEL)?;
            free = x + half + APART_MM;
        }
        if self.x.name.is_empty() {
            return Ok(());
        }
        let middle = (self.corner.0 + self.far.0) / 2.0;
        self.canvas.text(&self.x.name, (middle, under + LABEL.height_mm() * 1.1), LABEL)
    }

    fn draw_y(&self) -> Result {
        let mut last: Option<f64> = None;
        let name_mm = if self.y.name.is_empty() { 0.0 } else { LABEL.height_mm() * 1.2 };
        for tick in &self.y.ticks {
            let y = self.y_mm(tick.at);
            self.canvas.line(&[(self.corner.0, y), (self.far.0, y)], Pen(PALE, 0.35))?;
            let half = LABEL.height_mm() / 2.0;
            let touches = last.is_some_and(|last| (y - last).abs() < 2.0 * half + APART_MM / 2.0);
            if touches || y < half * 0.7 || y > self.canvas.height_mm - half * 0.7 {
                continue;
            }
            let words = LABEL.standing(Stand::Left).within(&tick.label, self.corner.0 - 0.8 - name_mm);
            self.canvas.text(&tick.label, (self.corner.0 - 0.8, y), words)?;
            last = Some(y);
        }
        let middle = (self.corner.1 + self.far.1) / 2.0;
        // On a low chart the whole picture's height is the name's, in smaller letters if need be.
        let high = self.canvas.height_mm - 0.4;
        let words = LABEL.within(&self.y.name, high);
        let half = words.width_mm(&self.y.name) / 2.0;
        let at = (
            LABEL.height_mm() * 0.6,
            middle.clamp(half + 0.2, (self.canvas.height_mm - half - 0.2).max(half + 0.2)),
        );
        self.canvas.text_upwards(&self.y.name, at, words)
    }

    /// Place of an x value, mm, not clipped.
    pub fn x_mm(&self, value: f64) -> f64 {
        let share = if self.x.reversed { 1.0 - self.x.range.share(value) } else { self.x.range.share(value) };
        self.corner.0 + share * (self.far.0 - self.corner.0)
    }

    /// Place of a y value, mm, not clipped.
    pub fn y_mm(&self, value: f64) -> f64 {
        let share = if self.y.reversed { self.y.range.share(value) } else { 1.0 - self.y.range.share(value) };
        self.corner.1 + share * (self.far.1 - self.corner.1)
    }

    /// The place of a point held inside the plot.
    pub fn inside(&self, (x, y): (f64, f64)) -> Mm {
        (
            self.x_mm(x).clamp(self.corner.0, self.far.0.max(self.corner.0)),
            self.y_mm(y).clamp(self.corner.1, self.far.1.max(self.corner.1)),
        )
    }

    /// A level line across the plot, if it is in range.
    pub fn level(&self, value: f64, pen: Pen, dash: Dash) -> Result {
        if !self.y.range.has(value) {
            return Ok(());
        }
        let y = self.y_mm(value);
        self.canvas.broken(&[(self.corner.0, y), (self.far.0, y)], pen, dash)
    }

    /// An upright line across the plot, if it is in range.
    pub fn upright(&self, value: f64, pen: Pen, dash: Dash) -> Result {
        if !self.x.range.has(value) {
            return Ok(());
        }
        let x = self.x_mm(value);
        self.canvas.broken(&[(x, self.corner.1), (x, self.far.1)], pen, dash)
    }

    /// A line through values; what leaves the plot is held at its edge. A single value is drawn as a dot.
    pub fn line(&self, points: &[(f64, f64)], pen: Pen, dash: Dash) -> Result {
        let places: Vec<Mm> = points.iter().map(|&p| self.inside(p)).collect();
        match places.as_slice() {
            [] => Ok(()),
            [only] => self.canvas.disc(*only, 0.3, pen.0),
            _ => self.canvas.broken(&places, pen, dash),
        }
    }

    /// A straight line through `through` with the given slope, cut off where it leaves the plot.
    pub fn slope(&self, through: (f64, f64), slope: f64, pen: Pen, dash: Dash) -> Result {
        let (mut from, mut to) = (self.x.range.low, self.x.range.high);
        let at = |x: f64| through.1 + slope * (x - through.0);
        if slope.abs() > 1e-12 {
            let cross = |y: f64| through.0 + (y - through.1) / slope;
            let (a, b) = (cross(self.y.range.low), cross(self.y.range.high));
            (from, to) = (from.max(a.min(b)), to.min(a.max(b)));
        }
        if !(from < to && at(from).is_finite() && at(to).is_finite()) {
            return Ok(());
        }
        self.canvas.broken(&[from, to].map(|x| self.inside((x, at(x)))), pen, dash)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(low: f64, high: f64) -> Vec<String> {
        round_ticks(Range { low, high }, 5.0).into_iter().map(|t| t.label).collect()
    }

    #[test]
    fn ticks_are_round_numbers() {
        assert_eq!(labels(0.0, 10.0), ["0", "2", "4", "6", "8", "10"]);
        assert_eq!(labels(-0.15, 0.31), ["−0.1", "0.0", "0.1", "0.2", "0.3"]);
        assert_eq!(labels(0.0, 4e7), ["0", "1e7", "2e7", "3e7", "4e7"]);
    }

    #[test]
    fn no_range_makes_endless_or_unreadable_ticks() {
        for (low, high) in [(1e16, 1e16 + 4.0), (0.0, 1e307), (-1e-300, 1e-300), (0.0, 5e-324)] {
            let ticks = round_ticks(Range { low, high }, 5.0);
            assert!(ticks.len() <= 25, "{low} {high}");
            assert!(ticks.iter().all(|t| !t.label.contains("NaN") && !t.label.contains("inf")));
        }
    }

    #[test]
    fn ranges_are_finite_and_never_empty() {
        assert_eq!(Range::of([].into_iter()), None);
        assert_eq!(Range::of([f64::NAN, f64::INFINITY].into_iter()), None);
        assert_eq!(Range::of([f64::MAX, f64::MIN].into_iter()), None);
        assert_eq!(Range::of([3.0, f64::NAN, 1.0].into_iter()), Some(Range { low: 1.0, high: 3.0 }));
        let constant = Range::of([180.0, 180.0].into_iter()).unwrap();
        assert!(constant.low < 180.0 && constant.high > 180.0);
        let zero = Range::of([0.0].into_iter()).unwrap();
        assert!(zero.low < 0.0 && zero.high > 0.0);
    }

    #[test]
    fn decades_are_labelled_even_under_one_decade() {
        let few = decade_ticks(Range { low: 3.08, high: 3.75 }, 4.0);
        assert_eq!(few.iter().map(|t| t.label.as_str()).collect::<Vec<_>>(), ["2000", "5000"]);
        let many = decade_ticks(Range { low: -2.0, high: 2.0 }, 6.0);
        assert!(many.iter().any(|t| t.label == "0.01") && many.iter().any(|t| t.label == "100"));
        assert!(decade_ticks(Range { low: -300.0, high: 300.0 }, 5.0).len() <= 25);
    }
}

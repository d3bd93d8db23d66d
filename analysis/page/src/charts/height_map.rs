//! The balance index over the heights of both pins: lines of equal index, the holes, the holes in use, the move
//! that is advised, and in grey where both carriers keep enough load.

use super::axes::{Axis, Plot, Range, Room, round_ticks, with_unit};
use super::canvas::{self, Canvas, Dash, GREY, INK, LABEL, Mm, Pen, SENTENCE, Stand, WASH};
use super::labels::{Occupied, crosses};
use super::region::Region;
use super::{Size, blank_on};
use crate::Result;
use crate::chart_content::{Level, MapContent};

const ROOM: Room = Room { left: 14.0, top: 21.0, right: 4.0, bottom: 8.0 };

pub fn draw(map: &MapContent, size: Size) -> Result<String> {
    canvas::picture(size, |canvas| paint(canvas, map))
}

fn paint(canvas: &Canvas, map: &MapContent) -> Result {
    let ranges = Range::of(map.x.iter().copied()).zip(Range::of(map.y.iter().copied()));
    let Some((x, y)) = ranges else { return blank_on(canvas, "map of heights: nothing can be drawn") };
    let axis = |range, wanted, name: &str| Axis {
        range,
        ticks: round_ticks(range, wanted),
        name: with_unit(name, &map.unit),
        reversed: false,
    };
    let plot = Plot::new(
        canvas,
        ROOM,
        axis(x, canvas.width_mm / 18.0, "pin at the plow, above the land"),
        axis(y, canvas.height_mm / 14.0, &format!("pin at the {}", map.puller)),
    )?;
    kept(&plot, map)?;
    // Labels stay inside the frame, and off it.
    let mut taken = Region { corner: plot.corner, far: plot.far }.within((0.5, 0.5)).labels(canvas);
    for hole in map.holes.iter().chain([&map.now]).chain(&map.advised) {
        taken.take_about(plot.inside(*hole), 1.5);
    }
    if let Some(to) = map.advised {
        taken.take_line(plot.inside(map.now), plot.inside(to));
    }
    let strokes: Vec<Vec<Vec<(f64, f64)>>> =
        map.levels.iter().map(|level| joined(lines_at(map, level))).collect();
    for (i, level) in map.levels.iter().enumerate() {
        // A label stands on its own line, off all the others.
        let (own, others): (Vec<_>, Vec<_>) = strokes.iter().enumerate().partition(|(j, _)| *j == i);
        let others: Vec<(Mm, Mm)> =
            others.into_iter().flat_map(|(_, of)| of).flat_map(|one| sides(&plot, one)).collect();
        let own: Vec<&Vec<(f64, f64)>> = own.into_iter().flat_map(|(_, of)| of).collect();
        let label = label(&plot, &mut taken, level.index, &own, &others)?;
        for stroke in own {
            for part in apart(&plot, stroke, label) {
                plot.line(&part, pen(level.index, map), dash(level.index))?;
            }
        }
    }
    for hole in &map.holes {
        canvas.ring(plot.inside(*hole), 0.7, Pen(INK, 0.6))?;
    }
    if let Some(to) = map.advised {
        canvas.arrow(plot.inside(map.now), plot.inside(to), Pen(INK, 1.4))?;
    }
    canvas.disc(plot.inside(map.now), 1.3, INK)?;
    key(&plot, map)
}

/// The region where both carriers keep enough load, run by run of each row.
fn kept(plot: &Plot, map: &MapContent) -> Result {
    for (j, row) in map.keeps.iter().enumerate() {
        let (Some(low), Some(high)) = (map.y.get(j), map.y.get(j + 1)) else { continue };
        let mut begun: Option<f64> = None;
        for (i, keeps) in row.iter().chain(std::iter::once(&false)).enumerate() {
            let Some(&x) = map.x.get(i).or(map.x.last()) else { continue };
            match (begun, *keeps) {
                (None, true) => begun = Some(x),
                (Some(from), false) => {
                    let (a, b) = (plot.inside((from, *high)), plot.inside((x, *low)));
                    plot.canvas.fill_box(a, b, WASH)?;
                    begun = None;
                }
                _ => {}
            }
        }
    }
    Ok(())
}

fn pen(level: f64, map: &MapContent) -> Pen {
    let outer = map.levels.iter().fold(0.0f64, |most, level| most.max(level.index.abs()));
    if level == 0.0 {
        Pen(INK, 1.8)
    } else if level.abs() < outer {
        Pen(INK, 0.9)
    } else {
        Pen(GREY, 1.1)
    }
}

/// Flat and steep sides differ in their dashes, so that they are told apart without colour.
fn dash(level: f64) -> Dash {
    match (level > 0.0, level < 0.0) {
        (true, _) => Dash::Broken(3.0, 1.2),
        (_, true) => Dash::Broken(0.7, 0.9),
        _ => Dash::Solid,
    }
}

/// The sides of a stroke on the paper.
fn sides(plot: &Plot, stroke: &[(f64, f64)]) -> Vec<(Mm, Mm)> {
    stroke
        .iter()
        .zip(stroke.iter().skip(1))
        .map(|(from, to)| (plot.inside(*from), plot.inside(*to)))
        .collect()
}

/// Writes the level on its line: as high on the paper as it is free of holes, other lines and other labels. Gives back
/// its box, which the line leaves out.
fn label(
    plot: &Plot,
    taken: &mut Occupied,
    level: f64,
    own: &[&Vec<(f64, f64)>],
    others: &[(Mm, Mm)],
) -> Result<Option<(Mm, Mm)>> {
    let words = if level == 0.0 { "b = 0".to_owned() } else { format!("{level:+}") };
    let lettering = LABEL.bold();
    let (half, tall) = (lettering.width_mm(&words) / 2.0 + 0.6, lettering.height_mm() * 0.65);
    let mut best: Option<(f64, Mm, (Mm, Mm))> = None;
    for point in own.iter().flat_map(|stroke| stroke.iter()) {
        let (x, y) = plot.inside(*point);
        let letters = ((x - half, y - tall), (x + half, y + tall));
        let struck = others.iter().filter(|side| crosses(**side, letters)).count();
        // A little lower costs less than anything that is covered.
        let cost = taken.covered(letters) + 10.0 * struck as f64 + 1e-3 * y;
        if best.is_none_or(|best| cost < best.0) {
            best = Some((cost, (x, y), letters));
        }
    }
    let Some((_, at, letters)) = best else { return Ok(None) };
    taken.take_letters(letters);
    plot.canvas.text(&words, at, lettering.standing(Stand::Middle))?;
    Ok(Some(letters))
}

/// A stroke without what lies in a box.
fn apart(plot: &Plot, stroke: &[(f64, f64)], letters: Option<(Mm, Mm)>) -> Vec<Vec<(f64, f64)>> {
    let mut parts: Vec<Vec<(f64, f64)>> = vec![Vec::new()];
    for (from, to) in stroke.iter().zip(stroke.iter().skip(1)) {
        let hidden = letters.is_some_and(|letters| crosses((plot.inside(*from), plot.inside(*to)), letters));
        match parts.last_mut() {
            Some(part) if !hidden => {
                if part.is_empty() {
                    part.push(*from);
                }
                part.push(*to);
            }
            _ => parts.push(Vec::new()),
        }
    }
    parts.retain(|part| part.len() > 1);
    parts
}

/// Pieces of the line on which the index is `level`: each square of the grid is cut where its edges cross it
/// (marching squares; a saddle is cut along both pairs of neighbours).
fn lines_at(map: &MapContent, level: &Level) -> Vec<[(f64, f64); 2]> {
    let mut pieces = Vec::new();
    for (j, (low, high)) in level.above.iter().zip(level.above.iter().skip(1)).enumerate() {
        let (Some(y0), Some(y1)) = (map.y.get(j), map.y.get(j + 1)) else { continue };
        for i in 0..low.len().saturating_sub(1) {
            let corner = |row: &[Option<f64>], i: usize| row.get(i).copied().flatten();
            let (Some(a), Some(b), Some(c), Some(d)) =
                (corner(low, i), corner(low, i + 1), corner(high, i + 1), corner(high, i))
            else {
                continue;
            };
            let (Some(x0), Some(x1)) = (map.x.get(i), map.x.get(i + 1)) else { continue };
            let corners = [(*x0, *y0, a), (*x1, *y0, b), (*x1, *y1, c), (*x0, *y1, d)];
            let cuts: Vec<(f64, f64)> = (0..4)
                .filter_map(|edge| {
                    let (from, to) = (corners.get(edge)?, corners.get((edge + 1) % 4)?);
                    let crosses = (from.2 < 0.0) != (to.2 < 0.0);
                    let share = from.2 / (from.2 - to.2);
                    crosses.then_some((from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1)))
                })
                .collect();
            pieces.extend(cuts.chunks_exact(2).filter_map(|cut| Some([*cut.first()?, *cut.last()?])));
        }
    }
    pieces
}

/// Pieces that end where others begin, as whole strokes: only so do dashes run through.
fn joined(mut pieces: Vec<[(f64, f64); 2]>) -> Vec<Vec<(f64, f64)>> {
    let mut strokes = Vec::new();
    while let Some([a, b]) = pieces.pop() {
        let mut stroke = std::collections::VecDeque::from([a, b]);
        // Neighbouring squares cut their common edge by the same arithmetic, but from its other end.
        let touches = |p: (f64, f64), q: (f64, f64)| (p.0 - q.0).abs() + (p.1 - q.1).abs() < 1e-6;
        while let Some(next) = pieces.iter().position(|piece| {
            let ends = [stroke.front(), stroke.back()];
            ends.into_iter().flatten().any(|end| piece.iter().any(|point| touches(*end, *point)))
        }) {
            let [p, q] = pieces.swap_remove(next);
            let at_back = stroke.back().is_some_and(|end| touches(*end, p) || touches(*end, q));
            let end = if at_back { stroke.back() } else { stroke.front() }.copied().unwrap_or(p);
            let far = if touches(end, p) { q } else { p };
            if at_back { stroke.push_back(far) } else { stroke.push_front(far) }
        }
        strokes.push(stroke.into());
    }
    strokes
}

fn key(plot: &Plot, map: &MapContent) -> Result {
    let canvas = plot.canvas;
    let words = LABEL.standing(Stand::Right);
    canvas.text(&map.title, (plot.corner.0, 2.2), words.bold().sized(9.0))?;
    let (mut left, mut row) = (plot.corner.0, 6.0);
    // A sign is drawn from its left end to its right one.
    let mut entry = |text: &str, sign: &dyn Fn(Mm, Mm) -> Result| {
        // Outside a page another typeface may take the place of ours: a wider one has room, too.
        let wide = 7.0 + 1.2 * words.width_mm(text) + 2.0;
        if left + wide > canvas.width_mm && left > plot.corner.0 {
            (left, row) = (plot.corner.0, row + 4.0);
        }
        sign((left, row), (left + 5.5, row))?;
        canvas.text(text, (left + 6.5, row), words)?;
        left += wide;
        Ok(())
    };
    entry("in use", &|(x, y), _| canvas.disc((x + 3.0, y), 1.3, INK))?;
    // Where nothing is moved there is no such arrow.
    if map.advised.is_some() {
        entry("the move", &|from, to| canvas.arrow(from, to, Pen(INK, 1.4)))?;
    }
    entry("a pair of holes", &|(x, y), _| canvas.ring((x + 3.0, y), 0.7, Pen(INK, 0.6)))?;
    entry("balance index b: + flat, − steep", &|from, to| {
        canvas.broken(&[from, to], Pen(INK, 0.9), Dash::Broken(3.0, 1.2))
    })?;
    entry(&map.kept_words, &|(left, y), (right, _)| {
        canvas.fill_box((left, y - 1.4), (right, y + 1.4), WASH)?;
        canvas.frame_box((left, y - 1.4), (right, y + 1.4), Pen(GREY, 0.3))
    })?;
    canvas.text(&map.caution, (plot.corner.0, row + 4.0), SENTENCE.bold())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An index that is a plane: the line of a level is the straight line of the plane at that level.
    #[test]
    fn the_line_of_a_level_lies_where_the_index_has_it() {
        let x: Vec<f64> = (0..11).map(f64::from).collect();
        let y: Vec<f64> = (0..9).map(f64::from).collect();
        let index = |x: f64, y: f64| 0.1 * x - 0.07 * y;
        let at = |level: f64| Level {
            index: level,
            above: y.iter().map(|y| x.iter().map(|x| Some(index(*x, *y) - level)).collect()).collect(),
        };
        let map = MapContent { x: x.clone(), y: y.clone(), ..MapContent::default() };
        let pieces = lines_at(&map, &at(0.253));
        assert!(pieces.len() > 8, "{pieces:?}");
        let many = pieces.len();
        let strokes = joined(pieces);
        assert!(
            strokes.len() == 1 && strokes[0].len() == many + 1,
            "{many} pieces are one line: {strokes:?}"
        );
        for (x, y) in &strokes[0] {
            assert!((index(*x, *y) - 0.253).abs() < 1e-12, "{x} {y}");
        }
        assert!(lines_at(&map, &at(5.0)).is_empty());
    }
}

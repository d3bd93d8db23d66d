//! Where the tape is held for a measurement of a kind of plow: one drawing, which a terminal and a page show.

use super::questions::{End, Tape};
use super::shapes::{Carrier, Shape, Side};
use page::measuring::{Drawing, Mark, Part, Place};

/// Rows of the side view: frame, land, floor, letters, and the tape along the floor.
const FRAME: i16 = 3;
const LAND: i16 = 7;
const FLOOR: i16 = 9;
const LETTERS: i16 = 10;
const ALONG: i16 = 11;
/// Column of their names.
const NAMES: i16 = 62;
/// A wheel's hub over what it runs on.
const HUB: i16 = 2;
/// A bottom's leg behind the point of its share, and the top of the bottom over the floor.
const LEG: (i16, i16) = (3, 3);

/// The drawing; `None` where nothing is measured.
pub(super) fn drawing(shape: &Shape, tape: Tape) -> Option<Drawing> {
    let side = &shape.side;
    let (tail, hub) = (side.tail.1, (side.tail.1, FLOOR - HUB));
    let along = |to: i16| vec![Mark::Along(ALONG, (side.origin, to))];
    let [plow, tractor] = [(side.plow.0, side.plow.1[1]), (side.tractor.0, side.tractor.1[1])];
    let marks = match tape {
        Tape::None => return None,
        Tape::Depth => return Some(depth()),
        Tape::RunsIn => return Some(runs_in()),
        Tape::Width => return Some(width(side.points.len() > 1)),
        Tape::Washer => return Some(washer()),
        Tape::HitchPlace => along(side.plow.0),
        Tape::BottomsPlace => along(side.middle),
        Tape::TailPlace => along(tail),
        Tape::WeightPlace => {
            // Anywhere but on another letter.
            let ahead = side.middle + 5;
            let place = if ahead + 4 < side.origin { ahead } else { side.middle - 4 };
            [along(place), vec![Mark::Number((place, LETTERS), "W")]].concat()
        }
        Tape::Holes(end) => {
            let (column, rows) = side.holes(end);
            let height = Mark::Upright(column + 4, (rows[2], LAND));
            numbers(side, end).into_iter().chain([height]).collect()
        }
        Tape::Hole(end) => numbers(side, end),
        Tape::Clearance => vec![Mark::Upright(side.plow.0 + 3, (side.plow.1[0], LAND))],
        Tape::Link => vec![Mark::Pins(plow, tractor)],
        Tape::LowerLinks => {
            let [plow, tractor] = side.pins.unwrap_or([plow, tractor]);
            vec![Mark::Pins(plow, tractor)]
        }
        Tape::LinkPin(end) => {
            let (column, row) = side.pins.map_or(plow, |[plow, tractor]| match end {
                End::Plow => plow,
                End::Tractor => tractor,
            });
            vec![Mark::Upright(column + 3, (row, LAND))]
        }
        Tape::FrontWheel => vec![Mark::Diameter((side.origin, LAND - HUB), side.origin + 5)],
        Tape::TailWheel => vec![Mark::Diameter(hub, tail + 5)],
        Tape::Spring => {
            vec![Mark::Press((tail, FRAME - 1), "known weights"), Mark::Upright(tail + 5, (FRAME, FRAME + 2))]
        }
        Tape::SoilForce => vec![Mark::Upright(side.middle, (LAND, FLOOR - 1))],
        Tape::Count => {
            let bottoms = side.points.iter().rev().zip(["1", "2", "3", "4"]);
            bottoms.map(|(point, number)| Mark::Number((point - LEG.0, LETTERS), number)).collect()
        }
        Tape::Scales => vec![Mark::Scale((side.origin, ALONG), "front"), Mark::Scale((tail, ALONG), "tail")],
    };
    let lettered = !matches!(tape, Tape::Count);
    Some(Drawing { parts: from_the_right(side, lettered), marks })
}

impl Side {
    const fn holes(&self, end: End) -> (i16, [i16; 3]) {
        match end {
            End::Plow => self.plow,
            End::Tractor => self.tractor,
        }
    }
}

fn numbers(side: &Side, end: End) -> Vec<Mark> {
    let (column, rows) = side.holes(end);
    rows.into_iter()
        .zip(["1", "2", "3"])
        .map(|(row, number)| Mark::Number((column + 2, row), number))
        .collect()
}

fn from_the_right(side: &Side, lettered: bool) -> Vec<Part> {
    let (carrier, tail) = side.tail;
    let ((plow, plow_rows), (tractor, tractor_rows)) = (side.plow, side.tractor);
    let mut parts = vec![Part::Dotted(LAND, (0, 75)), Part::Name((NAMES, LAND + 1), "land")];
    if side.front_wheel {
        parts.push(Part::Block((side.origin - 3, LAND), (side.origin + 3, FLOOR)));
    }
    parts.extend([Part::Ground(FLOOR, (0, 75)), Part::Name((NAMES, LETTERS), "floor")]);
    // Frame, with what hangs on it.
    let foremost = side.points.iter().fold(tail, |front, point| front.max(*point));
    let rear = if side.handles { foremost - LEG.0 } else { tail };
    parts.push(Part::Beam((rear, FRAME), (plow, FRAME)));
    let lowest = plow_rows[0].max(FRAME);
    parts.push(Part::Rod((plow, plow_rows[2].min(FRAME)), (plow, lowest)));
    for point in side.points {
        parts.push(Part::Rod((point - LEG.0, FRAME), (point - LEG.0, FLOOR - LEG.1)));
        parts.push(Part::Bottom((*point, FLOOR)));
    }
    if side.handles {
        parts.push(Part::Rod((rear, FRAME), (rear - 19, 0)));
        parts.push(Part::Rod((foremost - 6, FLOOR - 1), (tail, FLOOR - 1)));
    }
    match carrier {
        Carrier::Wheel => parts
            .extend([Part::Spring((tail, FRAME + 1), (tail, FRAME + 2)), Part::Wheel((tail, FLOOR - HUB))]),
        Carrier::InclinedWheel | Carrier::Heel if side.handles => parts.push(Part::Heel((tail, FLOOR))),
        Carrier::InclinedWheel => {
            parts.extend([Part::Rod((tail, FRAME), (tail, FLOOR - 2)), Part::InclinedWheel((tail, FLOOR))])
        }
        Carrier::Heel => {
            parts.extend([Part::Rod((tail, FRAME), (tail, FLOOR - 1)), Part::Heel((tail, FLOOR))]);
        }
    }
    if side.front_wheel {
        parts.push(Part::Rod((side.origin, FRAME), (side.origin, LAND - HUB)));
        parts.push(Part::Wheel((side.origin, LAND - HUB)));
    }
    // What pulls.
    let foot = side.pins.map_or(tractor_rows[0], |[_, pin]| pin.1);
    let bar = tractor_rows[2] - 1;
    parts.extend([Part::Rod((tractor, bar), (tractor, foot)), Part::Beam((tractor, bar), (75, bar))]);
    parts.push(Part::Name((72, bar - 1), side.puller));
    if let Some([at_plow, at_tractor]) = side.pins {
        parts.extend([Part::Rod((at_plow.0, FRAME), at_plow), Part::Rod(at_plow, at_tractor)]);
        parts.extend([at_plow, at_tractor].map(Part::Hole));
    }
    parts.push(Part::Rod((plow, plow_rows[1]), (tractor, tractor_rows[1])));
    parts.extend(plow_rows.map(|row| Part::Hole((plow, row))));
    parts.extend(tractor_rows.map(|row| Part::Hole((tractor, row))));
    if lettered {
        let mut letters = vec![(tail, "C"), (side.middle, "B"), (plow, "H"), (tractor, "T")];
        match side.origin == plow {
            true => letters[2].1 = "0=H",
            false => letters.push((side.origin, "0")),
        }
        parts.extend(letters.into_iter().map(|(column, letter)| Part::Letter((column, LETTERS), letter)));
    }
    parts
}

/// Land, furrow wall and furrow from behind: a plow throws to the right, so the land not plowed is on the left.
fn from_behind(title: i16) -> Vec<Part> {
    vec![
        Part::Name((38, title), "seen from behind"),
        Part::Ground(4, (4, 34)),
        Part::Rod((34, 4), (34, 8)),
        Part::Ground(8, (34, 56)),
        Part::Rod((57, 8), (59, 5)),
        Part::Turned(5, (59, 74)),
        Part::Name((18, 5), "land, not plowed"),
        Part::Name((45, 9), "furrow floor"),
        Part::Name((66, 6), "turned soil"),
    ]
}

fn depth() -> Drawing {
    let mut parts = from_behind(2);
    parts.push(Part::Dotted(4, (35, 43)));
    parts.push(Part::Name((27, 7), "furrow wall"));
    Drawing { parts, marks: vec![Mark::Upright(40, (4, 8))] }
}

fn runs_in() -> Drawing {
    let mut parts = from_behind(1);
    let (on_land, in_furrow): (Place, Place) = ((18, 4), (40, 8));
    parts.extend([Part::Tread(on_land), Part::Tread(in_furrow)]);
    Drawing { parts, marks: vec![Mark::Number((24, 2), "land ?"), Mark::Number((48, 6), "furrow ?")] }
}

/// From above, one bottom beside the next; what lies more to the left of the plow is higher.
fn width(several: bool) -> Drawing {
    let mut parts = vec![Part::Name((38, 1), "seen from above, travel to the right")];
    let (rear, front) = ((32, 3), (52, 6));
    if several {
        parts.extend([Part::Share(rear), Part::Share(front)]);
        parts.extend([Part::Dotted(3, (34, 62)), Part::Dotted(6, (54, 62))]);
    } else {
        parts.extend([Part::Share((45, 4)), Part::Dotted(4, (47, 62)), Part::Dotted(7, (40, 62))]);
        return Drawing { parts, marks: vec![Mark::Upright(59, (4, 7))] };
    }
    Drawing { parts, marks: vec![Mark::Upright(59, (3, 6))] }
}

fn washer() -> Drawing {
    let parts = vec![
        Part::Rod((36, 1), (36, 8)),
        Part::Rod((41, 1), (41, 8)),
        Part::Name((46, 1), "pin"),
        Part::Block((30, 3), (47, 5)),
        Part::Name((24, 4), "washer"),
    ];
    Drawing { parts, marks: vec![Mark::Upright(52, (3, 5))] }
}

//! A drawing in the letters of a terminal.

use page::measuring::{COLUMNS, Drawing, Mark, Part, Place, ROWS};

/// A blank that hides what is behind it.
const HIDING: char = '\u{a0}';

/// The drawing, without the empty lines above and below it.
pub(super) fn text(drawing: &Drawing) -> String {
    let mut sheet = Letters { rows: vec![vec![' '; COLUMNS as usize]; ROWS as usize] };
    drawing.parts.iter().for_each(|part| sheet.part(*part));
    drawing.marks.iter().for_each(|mark| sheet.mark(*mark));
    let lines: Vec<String> =
        sheet.rows.iter().map(|row| row.iter().collect::<String>().replace(HIDING, " ")).collect();
    let empty = |line: &&String| line.trim().is_empty();
    let first = lines.iter().take_while(empty).count();
    let last = lines.len() - lines.iter().rev().take_while(empty).count();
    lines
        .get(first..last)
        .unwrap_or_default()
        .iter()
        .map(|line| format!("  {line}").trim_end().to_owned() + "\n")
        .collect()
}

struct Letters {
    rows: Vec<Vec<char>>,
}

impl Letters {
    fn put(&mut self, (column, row): Place, letter: char) {
        let place = usize::try_from(row).ok().and_then(|row| self.rows.get_mut(row));
        let place = place.zip(usize::try_from(column).ok()).and_then(|(row, column)| row.get_mut(column));
        if let Some(place) = place.filter(|_| letter != ' ') {
            *place = letter;
        }
    }

    /// Lines from a place on; what is blank in them hides nothing.
    fn stamp(&mut self, (column, row): Place, lines: &[&str]) {
        for (line, row) in lines.iter().zip(row..) {
            line.chars().zip(column..).for_each(|(letter, column)| self.put((column, row), letter));
        }
    }

    /// A word about its middle; its blanks hide what is behind.
    fn word(&mut self, (column, row): Place, word: &str) {
        let half = i16::try_from(word.chars().count() / 2).unwrap_or_default();
        for (letter, column) in word.chars().zip(column - half..) {
            self.put((column, row), if letter == ' ' { HIDING } else { letter });
        }
    }

    fn level(&mut self, row: i16, (from, to): (i16, i16), letter: impl Fn(i16) -> char) {
        (from..=to).for_each(|column| self.put((column, row), letter(column)));
    }

    /// A straight line: level strokes at the height within the row that they have there, or upright ones.
    fn line(&mut self, (a, b): (Place, Place), level: char) {
        let (from, to) = if a.0 <= b.0 { (a, b) } else { (b, a) };
        let (across, down) = (f64::from(to.0 - from.0), f64::from(to.1 - from.1));
        if across < 2.0 * down.abs() {
            let letter = if across == 0.0 {
                '|'
            } else if down > 0.0 {
                '\\'
            } else {
                '/'
            };
            for row in from.1.min(to.1)..=from.1.max(to.1) {
                let column = f64::from(from.0) + across * f64::from(row - from.1) / down;
                self.put((column.round() as i16, row), letter);
            }
            return;
        }
        for column in from.0..=to.0 {
            let y = f64::from(from.1) + 0.5 + down * f64::from(column - from.0) / across;
            let letter = match y.fract() {
                share if share < 0.3 => '\'',
                share if share > 0.7 => '_',
                _ => level,
            };
            self.put((column, y.floor() as i16), letter);
        }
    }

    fn part(&mut self, part: Part) {
        match part {
            Part::Ground(row, reach) => self.level(row, reach, |_| '-'),
            Part::Dotted(row, reach) => {
                self.level(row, reach, |column| if column % 2 == 0 { '.' } else { ' ' })
            }
            Part::Turned(row, reach) => self.level(row, reach, |_| '~'),
            Part::Block((left, top), (right, foot)) => {
                (top..=foot).for_each(|row| self.level(row, (left, right), |_| '#'));
            }
            Part::Wheel((x, y)) => {
                self.stamp((x - 3, y - 1), &[" .---. ", "(\u{a0}\u{a0}o\u{a0}\u{a0})", " '---' "])
            }
            Part::InclinedWheel((x, y)) => self.stamp((x - 1, y - 2), &[".-.", "(o)"]),
            Part::Heel((x, y)) => self.stamp((x - 2, y - 1), &["[___]"]),
            Part::Tread((x, y)) => self.stamp((x - 1, y - 3), &[".-.", "|\u{a0}|", "|_|"]),
            Part::Bottom((x, y)) => {
                self.stamp((x - 8, y - 3), &[".____|   ", " \\\u{a0}\u{a0}\u{a0}\u{a0}\\  ", "  \\____\\_"])
            }
            Part::Share((x, y)) => {
                self.stamp((x - 11, y), &["===========>", " \\        / ", "  \\    ./", "   \\__/"]);
            }
            Part::Beam(from, to) => self.line((from, to), '='),
            Part::Rod(from, to) => self.line((from, to), '-'),
            Part::Spring((x, top), (_, foot)) => {
                (top..=foot).for_each(|row| self.put((x, row), if (row - top) % 2 == 0 { '>' } else { '<' }));
            }
            Part::Hole(at) => self.put(at, 'o'),
            Part::Name(at, word) | Part::Letter(at, word) => self.word(at, word),
        }
    }

    fn mark(&mut self, mark: Mark) {
        match mark {
            Mark::Along(row, (from, to)) => self.along(row, (from.min(to), from.max(to))),
            Mark::Pins(from, to) => self.pins(from, to),
            Mark::Upright(column, (top, foot)) => self.upright(column, top, foot),
            Mark::Diameter((_, row), column) => self.upright(column, row - 1, row + 1),
            Mark::Press((x, y), word) => {
                self.stamp((x, y - 1), &["|", "v"]);
                self.stamp((x + 2, y - 1), &[word]);
            }
            Mark::Scale(at, word) => self.word(at, &format!("[{word}]")),
            Mark::Number(at, word) => self.word(at, word),
        }
    }

    fn along(&mut self, row: i16, (from, to): (i16, i16)) {
        if to - from < 8 {
            self.stamp((from - 4, row), &["--->|"]);
            self.stamp((to, row), &["|<--- ?"]);
            return;
        }
        self.level(row, (from, to), |_| '-');
        self.stamp((from, row), &["|<"]);
        self.stamp((to - 1, row), &[">|"]);
        self.word(((from + to) / 2, row), " ? ");
    }

    /// On the member itself, so that of two links it is the one that is meant.
    fn pins(&mut self, from: Place, to: Place) {
        let across = f64::from(to.0 - from.0).max(1.0);
        let middle = (from.0 + to.0) / 2;
        for (column, letter) in
            [(from.0 + 1, '<'), (to.0 - 1, '>'), (middle - 1, HIDING), (middle, '?'), (middle + 1, HIDING)]
        {
            let row =
                f64::from(from.1) + 0.5 + f64::from(to.1 - from.1) * f64::from(column - from.0) / across;
            self.put((column, row.floor() as i16), letter);
        }
    }

    fn upright(&mut self, column: i16, top: i16, foot: i16) {
        (top..=foot).for_each(|row| self.put((column, row), '|'));
        self.put((column, top), '^');
        self.put((column, foot), 'v');
        match foot - top {
            ..2 => self.put((column + 2, foot), '?'),
            _ => self.put((column, (top + foot) / 2), '?'),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::drawings::drawing;
    use super::super::questions::{QUESTIONS, Tape};
    use super::super::shapes::SHAPES;
    use super::*;

    #[test]
    fn the_tape_lies_under_the_points_that_it_is_held_at() {
        for shape in SHAPES {
            for (tape, point) in [
                (Tape::TailPlace, 'C'),
                (Tape::BottomsPlace, 'B'),
                (Tape::HitchPlace, 'H'),
                (Tape::WeightPlace, 'W'),
            ] {
                // Where the holes are those of the shaft at 0, one name stands for both.
                let text = text(&drawing(shape, tape).unwrap()).replace("0=H", " @ ");
                let lines: Vec<&str> = text.lines().rev().take(2).collect();
                let place = |name: char| lines[1].find(name).or_else(|| lines[1].find('@')).unwrap();
                for end in [place('0'), place(point)] {
                    assert_eq!(lines[0].chars().nth(end), Some('|'), "{}, {point}:\n{text}", shape.name);
                }
            }
        }
    }

    /// Wheels stand on the floor or on blocks, and nothing is wider than a terminal.
    #[test]
    fn wheels_stand_on_something() {
        for shape in SHAPES {
            for drawing in QUESTIONS.iter().filter_map(|question| drawing(shape, question.tape)) {
                let text = text(&drawing);
                let lines: Vec<&str> = text.lines().collect();
                assert!(lines.iter().all(|line| line.is_ascii() && line.len() <= 78), "{text}");
                for two in lines.windows(2) {
                    for (foot, _) in two[0].match_indices("'---'") {
                        assert!(matches!(&two[1][foot + 2..foot + 3], "#" | "-"), "{}:\n{text}", shape.name);
                    }
                }
            }
        }
    }
}

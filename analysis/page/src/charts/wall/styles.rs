//! Lines of the wall diagram. No two share pen and dash, so that any copier leaves them apart; a grey is never
//! the only difference.

use crate::charts::canvas::{Dash, GREY, INK, Ink, Pen};

/// What a line stands for: see [`WallLine::words`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, strum::VariantArray)]
pub enum WallLine {
    PullNow,
    PullAfter,
    Soil,
    Weight,
    Link,
    OffsetNow,
    OffsetAfter,
    Ground,
    Leader,
}

impl WallLine {
    /// Colour, width in pt, and drawn and left out in mm (0 left out is unbroken).
    pub fn style(self) -> (Ink, f64, (f64, f64)) {
        match self {
            Self::PullNow => (INK, 1.5, (6.0, 2.0)),
            Self::PullAfter => (INK, 1.9, (2.4, 1.6)),
            Self::Soil => (INK, 2.0, (0.7, 1.3)),
            Self::Weight => (INK, 0.6, (9.0, 1.2)),
            Self::Link => (INK, 0.6, (1.8, 1.0)),
            Self::OffsetNow => (INK, 4.5, (1.0, 0.0)),
            Self::OffsetAfter => (INK, 4.5, (1.2, 0.8)),
            Self::Ground => (GREY, 1.0, (1.0, 0.0)),
            Self::Leader => (INK, 0.4, (1.0, 0.0)),
        }
    }

    /// As the canvas takes it.
    pub fn pen(self) -> (Pen, Dash) {
        let (ink, width_pt, (on_mm, off_mm)) = self.style();
        let dash = if off_mm > 0.0 { Dash::Broken(on_mm, off_mm) } else { Dash::Solid };
        (Pen(ink, width_pt), dash)
    }

    /// In the words of the legend.
    pub fn words(self) -> &'static str {
        match self {
            Self::PullNow => "line of pull now",
            Self::PullAfter => "line of pull after the move",
            Self::Soil => "line of the soil force",
            Self::Weight => "line of the weight",
            Self::Link => "link carried on to where links meet",
            Self::OffsetNow => "e: pull line over steady point, now",
            Self::OffsetAfter => "e after the move",
            Self::Ground => "land, and furrow bottom below it",
            Self::Leader => "from a name to its place",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use strum::VariantArray;

    /// Width and dash alone, without the colour, tell all lines apart: by a fifth at least.
    #[test]
    fn no_two_lines_look_alike_in_grey() {
        let apart = |a: f64, b: f64| (a - b).abs() > 0.2 * a.max(b);
        for (i, one) in WallLine::VARIANTS.iter().enumerate() {
            for other in &WallLine::VARIANTS[..i] {
                let ((_, a, (a_on, a_off)), (_, b, (b_on, b_off))) = (one.style(), other.style());
                let broken = a_off != 0.0 || b_off != 0.0;
                let broken_apart = broken && (apart(a_on, b_on) || apart(a_off, b_off));
                assert!(broken_apart || apart(a, b), "{one:?} and {other:?}");
            }
        }
    }
}

//! The load of a tail wheel by the deflection of its spring.

use crate::quantity::{Force, Length};

/// Deflection and load.
type TablePoint = (Length, Force);

/// Deflection and load of a spring, at least two lines, both rising; straight between them and beyond them.
#[derive(Clone, Debug, PartialEq)]
pub struct LoadTable {
    first: Piece,
    more: Vec<Piece>,
}

/// A straight piece between two lines of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Piece {
    from: TablePoint,
    to: TablePoint,
}

impl Piece {
    /// Load per deflection, N/m.
    fn rate_n_per_m(&self) -> f64 {
        (self.to.1.n() - self.from.1.n()) / (self.to.0.m() - self.from.0.m())
    }
}

impl LoadTable {
    /// The table of these lines.
    ///
    /// # Errors
    /// What is wrong with them.
    pub(super) fn of(lines: &[TablePoint]) -> Result<Self, &'static str> {
        let rises =
            |two: &[TablePoint]| matches!(two, [(x0, y0), (x1, y1)] if x0.m() < x1.m() && y0.n() < y1.n());
        if !lines.windows(2).all(rises) {
            return Err("deflection and load must both rise from line to line");
        }
        let mut pieces =
            lines.iter().zip(lines.iter().skip(1)).map(|(from, to)| Piece { from: *from, to: *to });
        let first = pieces.next().ok_or("at least two lines of deflection and load")?;
        Ok(Self { first, more: pieces.collect() })
    }

    /// Its lines.
    pub fn lines(&self) -> impl Iterator<Item = TablePoint> {
        [self.first.from, self.first.to].into_iter().chain(self.more.iter().map(|piece| piece.to))
    }

    /// Deflection of the first and of the last line, in m.
    #[must_use]
    pub fn ends_m(&self) -> (f64, f64) {
        (self.first.from.0.m(), self.more.last().unwrap_or(&self.first).to.0.m())
    }

    /// Load at a deflection in m, in N; never below 0, for a wheel cannot pull.
    #[must_use]
    pub fn load_n(&self, deflection_m: f64) -> f64 {
        let piece = self.piece(|(x, _)| x.m() < deflection_m);
        (piece.from.1.n() + piece.rate_n_per_m() * (deflection_m - piece.from.0.m())).max(0.0)
    }

    /// Deflection at a load in N, the other way round, in m.
    #[must_use]
    pub fn deflection_m(&self, load_n: f64) -> f64 {
        let Piece { from: (x0, y0), to: (x1, y1) } = self.piece(|(_, y)| y.n() < load_n);
        x0.m() + (load_n - y0.n()) * (x1.m() - x0.m()) / (y1.n() - y0.n())
    }

    /// Load per deflection there, N/m.
    #[must_use]
    pub fn rate_n_per_m(&self, deflection_m: f64) -> f64 {
        self.piece(|(x, _)| x.m() < deflection_m).rate_n_per_m()
    }

    /// The piece around the place sought, which begins before it; the outer ones go on.
    fn piece(&self, before: impl Fn(&TablePoint) -> bool) -> &Piece {
        self.more.iter().rfind(|piece| before(&piece.from)).unwrap_or(&self.first)
    }
}

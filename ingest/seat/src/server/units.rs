//! The units that the page shows figures in: the recorder's own factors.

use ingest::quantity::Unit;
use serde::Serialize;

/// A unit for figures that come in N, mm or m/s.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
struct Shown {
    symbol: &'static str,
    /// One of it in the unit in which figures come.
    one: f64,
    decimals: u8,
}

impl Shown {
    const fn of(unit: Unit, comes_in: Unit, decimals: u8) -> Self {
        Self { symbol: unit.symbol, one: unit.per(comes_in), decimals }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
struct System {
    force: Shown,
    depth: Shown,
    speed: Shown,
}

/// All systems of units.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Systems {
    si: System,
    us: System,
}

/// What people read in the field.
pub const SYSTEMS: Systems = Systems {
    si: System {
        force: Shown::of(Unit::NEWTON, Unit::NEWTON, 0),
        depth: Shown::of(Unit::MILLIMETRE, Unit::MILLIMETRE, 0),
        speed: Shown::of(Unit::KILOMETRE_PER_HOUR, Unit::METRE_PER_SECOND, 1),
    },
    us: System {
        force: Shown::of(Unit::POUND_FORCE, Unit::NEWTON, 0),
        depth: Shown::of(Unit::INCH, Unit::MILLIMETRE, 1),
        speed: Shown::of(Unit::MILE_PER_HOUR, Unit::METRE_PER_SECOND, 1),
    },
};

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_of_each_unit_is_what_the_tables_say() {
        let json = serde_json::to_value(SYSTEMS).unwrap();
        let one = |system: &str, what: &str| json[system][what]["one"].as_f64().unwrap();
        // NIST SP 811, Appendix B.
        assert!((one("us", "force") - 4.448_221_615_260_5).abs() < 1e-12);
        assert!((one("us", "depth") - 25.4).abs() < 1e-12);
        assert!((one("us", "speed") - 0.447_04).abs() < 1e-12);
        assert!((one("si", "speed") - 1.0 / 3.6).abs() < 1e-12);
        assert_eq!((one("si", "force"), one("si", "depth")), (1.0, 1.0));
    }
}

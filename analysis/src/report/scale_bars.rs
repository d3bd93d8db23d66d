//! The bars that say how long a length or a force is drawn, in the reader's units.

use crate::report::units::Units;
use ingest::quantity::Unit;
use page::force_diagram::ScaleBar;

/// Bars for lengths and forces.
pub(super) fn scales(units: Units) -> (ScaleBar, ScaleBar) {
    match units {
        Units::Si => (
            ScaleBar { size: 0.5, label: "0.5 m".to_owned() },
            ScaleBar { size: 2000.0, label: "2 kN".to_owned() },
        ),
        Units::Us => (
            ScaleBar { size: 0.609_6, label: "2 ft".to_owned() },
            ScaleBar { size: 500.0 * Unit::POUND_FORCE.factor, label: "500 lbf".to_owned() },
        ),
    }
}

/// A bar for forces of a third of the largest one or less, by a round number of the reader's unit: long enough to
/// measure with, whatever the plow.
pub(super) fn force_scale(largest_n: f64, units: Units) -> ScaleBar {
    let unit_n = match units {
        Units::Si => 1.0,
        Units::Us => Unit::POUND_FORCE.factor,
    };
    let third = (largest_n / 3.0 / unit_n).max(1e-9);
    let ten = 10_f64.powf(third.log10().floor());
    let round = [5.0, 2.0, 1.0].into_iter().map(|lead| lead * ten).find(|size| *size <= third);
    let size = unit_n * round.unwrap_or(ten);
    ScaleBar { size, label: units.force_n(size) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Found on the sheet of six bottoms: the arrow of the scale was too short to have a shaft.
        #[test]
        fn the_bar_of_forces_can_be_measured_with(largest_n in 20.0_f64..500_000.0, us in any::<bool>()) {
            let units = if us { Units::Us } else { Units::Si };
            let share = force_scale(largest_n, units).size / largest_n;
            prop_assert!((0.13..0.334).contains(&share), "{share}");
        }
    }

    #[test]
    fn the_bar_of_forces_says_a_round_number() {
        assert_eq!(force_scale(7_480.0, Units::Si).label, "2000 N");
        assert_eq!(force_scale(32_770.0, Units::Si).label, "10000 N");
        assert_eq!(force_scale(7_480.0, Units::Us).label, "500 lbf");
    }
}

//! The cautions, each in one place: before a recording, on the page, in the README, and beside each order that brings
//! hands near the plow, in these words everywhere.

/// Before pins, wheels or cables are touched: stands beside each move of a hitch that is ordered.
pub const BEFORE_HANDS: &str =
    "Engine off, plow lowered and blocked before touching hitch, wheels or cables.";

/// One caution a line.
pub const CAUTIONS: [&str; 6] = [
    "Nobody rides on or walks beside a moving plow to read a sensor.",
    BEFORE_HANDS,
    "Engine off, plow raised and on stands before reaching under it.",
    "Keep hands off a turning tail wheel.",
    "Load cells and pins must be rated for shock load, with a safety chain beside them.",
    "Figures support, and do not replace, the operator's manual, local rules and qualified judgment.",
];

/// Cautions of a calibration, one a line: shown before the first load, in these words everywhere.
pub const CALIBRATION_CAUTIONS: [&str; 4] = [
    concat!(
        crate::engine_off_and_blocked!(),
        "; nobody stands or reaches under a hung load, or in line with a tight chain."
    ),
    "Cell, pins, hooks and chain must be rated for more than the highest load, with a safety chain beside them.",
    "Load slowly; keep hands away from the tail wheel's linkage while it is under load.",
    "Figures support, and do not replace, the operator's manual, local rules and qualified judgment.",
];

/// How a plow is made safe before hands go to it, as the beginning of an order.
pub const BLOCKED: &str = crate::engine_off_and_blocked!();

/// How a plow is made safe before hands go under it.
pub const ON_STANDS: &str = crate::raised_on_stands!();

/// What goes with a slack drawbar.
pub const NOBODY_BETWEEN: &str = crate::nobody_between!();

/// [`BLOCKED`](crate::safety::BLOCKED), before an order if one is given: a literal, for sentences that are constants.
#[macro_export]
macro_rules! engine_off_and_blocked {
    () => {
        "Engine off, plow lowered and blocked"
    };
    ($order:literal) => {
        concat!($crate::engine_off_and_blocked!(), ": ", $order)
    };
}

/// [`ON_STANDS`](crate::safety::ON_STANDS), before an order if one is given.
#[macro_export]
macro_rules! raised_on_stands {
    () => {
        "Engine off, plow raised and on stands, never under hydraulics alone"
    };
    ($order:literal) => {
        concat!($crate::raised_on_stands!(), ": ", $order)
    };
}

/// [`NOBODY_BETWEEN`](crate::safety::NOBODY_BETWEEN).
#[macro_export]
macro_rules! nobody_between {
    () => {
        "nobody between tractor and plow"
    };
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The words that an order begins with are those of the caution that stands on every page.
    #[test]
    fn an_order_begins_as_the_caution_does() {
        assert!(BEFORE_HANDS.starts_with(BLOCKED), "{BEFORE_HANDS}");
        assert_eq!(crate::engine_off_and_blocked!("jack it."), format!("{BLOCKED}: jack it."));
        assert_eq!(crate::raised_on_stands!("look."), format!("{ON_STANDS}: look."));
    }
}

//! Figures that have a side: told by side and size, never by a sign.

use stats::Estimate;

/// A figure, left +, as `5.5° to the right (4.2° to 6.8°)`; ends on different sides each say theirs. `size` prints
/// a size that is not below 0, with its unit.
pub fn sided(figure: &Estimate, size: impl Fn(f64) -> String) -> String {
    let side = |value: f64| if value < 0.0 { "right" } else { "left" };
    let told = |value: f64| format!("{} to the {}", size(value.abs()), side(value));
    let (near, far) = if figure.value < 0.0 { (figure.high, figure.low) } else { (figure.low, figure.high) };
    if side(near) == side(far) || size(near.abs()) == size(0.0) {
        format!("{} ({} to {})", told(figure.value), size(near.abs()), size(far.abs()))
    } else {
        format!("{} ({}, to {})", told(figure.value), told(near), told(far))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn degrees(value: f64, low: f64, high: f64) -> String {
        sided(&Estimate { value, low, high }, |deg| format!("{deg:.1}°"))
    }

    #[test]
    fn a_side_is_said_in_words() {
        assert_eq!(degrees(-5.5, -6.8, -4.2), "5.5° to the right (4.2° to 6.8°)");
        assert_eq!(degrees(5.5, 4.2, 6.8), "5.5° to the left (4.2° to 6.8°)");
        assert_eq!(degrees(-1.0, -3.0, 2.0), "1.0° to the right (2.0° to the left, to 3.0° to the right)");
        assert_eq!(degrees(1.0, -3.0, 2.0), "1.0° to the left (3.0° to the right, to 2.0° to the left)");
        assert_eq!(degrees(-1.0, -3.0, 0.01), "1.0° to the right (0.0° to 3.0°)");
    }

    proptest! {
        /// Found on the sheet of the wide plow: "left by -5.5".
        #[test]
        fn no_sign_is_printed(value in -90.0..90.0f64, below in 0.0..50.0f64, above in 0.0..50.0f64) {
            let text = degrees(value, value - below, value + above);
            prop_assert!(!text.contains('-') && !text.contains('−'), "{}", text);
        }
    }
}

//! Whether bobbing is the plow on its own springs.

use super::Peaks;
use statics::natural_frequencies::SwingsAs;

/// `None` without bobbing, or without frequencies to be expected.
pub(super) fn told(peaks: &Peaks) -> Option<SwingsAs> {
    Some(peaks.expected?.told(&peaks.bobbing_interval_hz?))
}

/// The same in a sentence.
pub(super) fn words(peaks: &Peaks) -> Option<String> {
    let (bobbing, expected) = (peaks.bobbing_interval_hz?, peaks.expected?);
    let of = match told(peaks)? {
        SwingsAs::OnTailSpring => "the plow on its tail spring",
        SwingsAs::OnFrontWheels => "the plow on its front wheels",
        SwingsAs::OnEither => "the plow on its tail spring or on its front wheels",
        SwingsAs::Neither => "neither the plow on its springs nor the turn of a wheel that is known",
    };
    let (lower, upper) = (expected.lower_hz, expected.upper_hz);
    Some(format!(
        "bobbing at {:.2} Hz agrees with {of}: by weight, geometry and springs it would swing at {:.1} to {:.1} Hz \
         on the tail spring and at {:.1} to {:.1} Hz on the front wheels",
        bobbing.value, lower.low, lower.high, upper.low, upper.high
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use statics::natural_frequencies::ExpectedFrequencies;
    use stats::Estimate;

    #[test]
    fn bobbing_is_told_by_what_is_to_be_expected_and_not_without_it() {
        let around = |hz: f64, half: f64| Estimate::around(hz, half);
        let expected = around(3.0, 0.5)
            .zip(around(6.0, 1.0))
            .map(|(lower_hz, upper_hz)| ExpectedFrequencies { lower_hz, upper_hz });
        let at = |hz: f64| Peaks { bobbing_interval_hz: around(hz, 0.1), expected, ..Peaks::default() };
        assert!(words(&at(3.1)).unwrap().contains("on its tail spring:"));
        assert!(words(&at(1.5)).unwrap().contains("neither"));
        assert_eq!(words(&Peaks { expected: None, ..at(3.1) }), None);
        assert_eq!(told(&Peaks::default()), None);
    }
}

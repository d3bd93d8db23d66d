//! Calibrations at their edges: steps that no sensor gives, and sensors that are too bad.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use ingest::calibration::{CalibrationError, CalibrationLine, CalibrationReport, Fit, Observation, report};
use ingest::plow::ChannelRole;

fn steps(pairs: &[(f64, &str)]) -> Vec<Observation> {
    pairs.iter().map(|(count, value)| Observation::pair(*count, *value)).collect()
}

fn of(pairs: &[(f64, &str)]) -> Result<CalibrationReport, CalibrationError> {
    report(ChannelRole::Pull, &steps(pairs), Fit::Line, None)
}

#[test]
fn steps_that_are_no_numbers_or_give_no_line_are_refused() {
    for (pairs, error) in [
        (&[(f64::NAN, "0 N"), (1.0, "9 N")][..], CalibrationError::NotFinite),
        (&[(0.0, "0 N"), (f64::INFINITY, "9 N")], CalibrationError::NotFinite),
        (&[(1e300, "0 N"), (-1e300, "9 N")], CalibrationError::NotFinite),
        (&[(5.0, "0 N"), (5.0, "9 N")], CalibrationError::OneCount),
        (&[(0.0, "9 N"), (5.0, "0.009 kN")], CalibrationError::OneValue),
        (&[(0.0, "9 N")], CalibrationError::OneCount),
        (&[], CalibrationError::OneCount),
    ] {
        assert_eq!(of(pairs).map(|_| ()), Err(error), "{pairs:?}");
    }
    assert!(matches!(of(&[(0.0, "9 mm"), (1.0, "0 N")]), Err(CalibrationError::Value(_))));
    assert_eq!(CalibrationLine::through(&[]).map(|_| ()), Err(CalibrationError::OneCount));
    assert_eq!(CalibrationLine::through(&[(1.0, 2.0)]).map(|_| ()), Err(CalibrationError::OneCount));
}

/// Four loads up and down, of which one is read wrongly by a third.
#[test]
fn a_calibration_that_is_too_bad_says_by_how_much() {
    let good = [(0.0, "0 N"), (1000.0, "1 kN"), (2000.0, "2 kN"), (3001.0, "3 kN")];
    assert_eq!(of(&good).unwrap().absurdities(), Vec::<String>::new());
    let bad = of(&[(0.0, "0 N"), (2000.0, "1 kN"), (2000.5, "2 kN"), (3001.0, "3 kN")]).unwrap();
    let said = bad.absurdities();
    assert_eq!(said.len(), 2, "{said:?}");
    assert!(said[0].starts_with("a non-linearity of ") && said[0].contains(" % of full scale"), "{said:?}");
    assert!(said[1].starts_with("an uncertainty of "), "{said:?}");
    assert!(bad.figures.non_linearity.is_some_and(|off| off.percent > 15.0), "{:?}", bad.figures);
}

/// The same load hung several times: its spread is the repeatability, pooled over the loads.
#[test]
fn loads_that_are_hung_again_show_how_well_they_repeat() {
    let again = [
        (0.0, "0 N"),
        (1000.0, "1 kN"),
        (2000.0, "2 kN"),
        (4.0, "0 N"),
        (1000.0, "1 kN"),
        (2002.0, "2000 N"),
    ];
    let figures = of(&again).unwrap().figures;
    let spread = figures.repeatability.unwrap();
    assert!((spread.size - 4.0).abs() < 0.01 && spread.at.abs() < 1e-9, "{spread:?}");
    // Two each of three loads, in the column's unit: √(((2·2² + 0 + 2·1²) / 3), about the line's slope.
    let sd = figures.repeat_sd.unwrap();
    assert!((sd - (10.0f64 / 3.0).sqrt()).abs() < 0.01, "{sd}");
    assert_eq!(figures.repeat_freedom, 3);
    assert!(
        figures.zero_return.is_some_and(|zero| (zero.size - 4.0).abs() < 0.01),
        "{:?}",
        figures.zero_return
    );
}

/// Counts and values that fall below 0: the largest value by its size is the full scale's end.
#[test]
fn a_sensor_that_pushes_is_judged_at_its_far_end() {
    let pushes = of(&[(0.0, "0 N"), (1000.0, "-1 kN"), (2000.0, "-2 kN")]).unwrap();
    assert!((pushes.figures.full_scale - 2000.0).abs() < 1e-9);
    let (far, zero) = (pushes.uncertainty_at_full_scale.expanded, pushes.uncertainty_at_zero.expanded);
    // 0.5 % of the value is taken for the loads: 10 N at the far end, nothing at 0.
    assert!(far > 9.0 && zero < 1.0, "{far} {zero}");
    let held = [-2000.1, -2000.0, -5.0, 0.0, 0.1].map(|reading| pushes.figures.range.holds(reading));
    assert_eq!(held, [false, true, true, true, false]);
}

/// Counts beyond what TOML takes for a whole number are written so that they are read again.
#[test]
fn huge_counts_are_written_as_numbers_of_their_own_kind() {
    #[derive(serde::Deserialize)]
    struct Sensors {
        sensors: Vec<ingest::calibration::Sensor>,
    }
    let report = of(&[(0.0, "0 N"), (4e15, "1 kN"), (8e15, "2 kN")]).unwrap();
    let sensor = report.to_sensor("pull", "2027-04-11", None);
    let read: Sensors = toml::from_str(&sensor.to_toml_entry()).unwrap();
    assert_eq!(read.sensors, [sensor]);
}

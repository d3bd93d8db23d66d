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
        (&[(1e10, "0 N"), (10_000_000_001.0, "1e305 N")], CalibrationError::NotFinite),
        (&[(5.0, "0 N"), (5.0, "9 N")], CalibrationError::OneCount),
        (&[(0.0, "9 N"), (5.0, "0.009 kN")], CalibrationError::OneValue),
        (&[(0.0, "9 N")], CalibrationError::OneCount),
        (&[], CalibrationError::OneCount),
    ] {
        assert_eq!(of(pairs).map(|_| ()), Err(error), "{pairs:?}");
    }
    // A length that is a number in m and none in mm.
    let deep = report(ChannelRole::Depth, &steps(&[(0.0, "0 mm"), (5.0, "1e306 m")]), Fit::Line, None);
    assert_eq!(deep.map(|_| ()), Err(CalibrationError::NotFinite));
    for value in ["9 mm", "1e306 kN"] {
        assert!(matches!(of(&[(0.0, value), (1.0, "0 N")]), Err(CalibrationError::Value(_))), "{value}");
    }
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

/// How well the loads are known, as a share or as a load; what is neither, or without end, is refused as it was typed.
#[test]
fn a_reference_that_says_nothing_is_refused() {
    let good = steps(&[(0.0, "0 N"), (1000.0, "1 kN"), (2000.0, "2 kN")]);
    let with = |text: &str| report(ChannelRole::Pull, &good, Fit::Line, Some(text)).map(|_| ());
    assert_eq!([with("0.2 %"), with("1 lbf"), with("0 N")], [Ok(()), Ok(()), Ok(())]);
    let depth = steps(&[(0.0, "0 mm"), (1000.0, "100 mm")]);
    let far = report(ChannelRole::Depth, &depth, Fit::Line, Some("1e306 m"));
    assert!(matches!(far, Err(CalibrationError::Reference { .. })));
    for wrong in ["-1 %", "100 %", "NaN %", "-1 N", "1e306 kN", "2 mm", "good"] {
        assert!(
            matches!(with(wrong), Err(CalibrationError::Reference { text, .. }) if text == wrong),
            "{wrong}"
        );
    }
}

/// Loads that are taken off again in steps: what reads otherwise on the way down is hysteresis, in one cycle only; a load
/// that was not hung on the way up is held against none.
#[test]
fn the_way_down_is_held_against_the_way_up_of_its_cycle() {
    let up = [(0.0, "0 N"), (1000.0, "1 kN"), (2000.0, "2 kN"), (4000.0, "4 kN")];
    let down = [(3050.0, "3 kN"), (2010.0, "2 kN"), (1004.0, "1 kN"), (0.0, "0 N")];
    let one = of(&[&up[..], &down].concat()).unwrap();
    let figures = one.figures;
    assert_eq!((figures.series_up, figures.series_down), (1, 1));
    let hysteresis = figures.hysteresis.unwrap();
    assert!((hysteresis.size - 10.0).abs() < 0.2 && hysteresis.at == 2000.0, "{hysteresis:?}");
    // The next cycle has crept by 100 counts, up and down alike.
    let crept = |steps: &[(f64, &'static str)]| -> Vec<_> {
        steps.iter().map(|(count, value)| (count + 100.0, *value)).collect()
    };
    let two = of(&[&up[..], &down, &crept(&up[1..]), &crept(&down)].concat()).unwrap().figures;
    assert_eq!((two.series_up, two.series_down), (2, 2));
    assert!(two.hysteresis.is_some_and(|off| (off.size - 10.0).abs() < 0.3), "{:?}", two.hysteresis);
    assert!(two.repeatability.is_some_and(|off| off.size > 90.0), "{:?}", two.repeatability);
    assert!(one.text().contains("hysteresis      0.249 %"), "{}", one.text());
}

/// A sensor that bends: the table goes through its steps, and the report says how far straight lines between may be off.
#[test]
fn the_report_of_a_table_says_what_lies_between_its_values() {
    let bent = steps(&[(0.0, "0 N"), (1000.0, "1 kN"), (2200.0, "2 kN"), (3600.0, "3 kN")]);
    let table = report(ChannelRole::Pull, &bent, Fit::Table, None).unwrap();
    assert!((table.curve.reading(1600.0) - 1500.0).abs() < 1e-9);
    let text = table.text();
    for part in [" N per count of the best-fit line", "between values"] {
        assert!(text.contains(part), "no {part:?} in {text}");
    }
    assert!(!report(ChannelRole::Pull, &bent, Fit::Line, None).unwrap().text().contains("between values"));
}

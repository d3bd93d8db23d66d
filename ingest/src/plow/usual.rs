//! What is usual for an entry of a description, by the kind of plow: shown where it is asked for, and doubted where it is
//! outside. Common practice, no source.

use super::ranges::{entries, short, what_of};
use super::{Doubt, Kind, Plow, Tail};
use crate::quantity::{Dimension, Unit};

/// By key: in inches or pounds-force where it has a unit.
const USUAL: [(&str, f64, f64); 25] = [
    ("front_wheels.diameter", 14.0, 40.0),
    ("lower_links.length", 20.0, 50.0),
    ("lower_links.pins.plow_z", 6.0, 36.0),
    ("lower_links.pins.tractor_z", 8.0, 36.0),
    ("top_link.length", 16.0, 48.0),
    ("plow_hitch.x", 0.0, 40.0),
    ("plow_hitch.holes", 0.0, 24.0),
    ("plow_hitch.clearance_z", -2.0, 20.0),
    ("plow_hitch.washer", 0.05, 1.0),
    ("drawbar.length", 20.0, 120.0),
    ("tractor_hitch.holes", 6.0, 30.0),
    ("tractor_hitch.washer", 0.05, 1.0),
    ("bottoms.count", 1.0, 8.0),
    ("bottoms.cut_width", 8.0, 24.0),
    ("bottoms.depth", 4.0, 14.0),
    ("bottoms.x", -120.0, -6.0),
    ("bottoms.soil_force_z", -14.0, -0.5),
    ("tail_wheel.x", -200.0, -30.0),
    ("tail_wheel.diameter", 10.0, 36.0),
    ("rolling_landside.x", -200.0, -20.0),
    ("rolling_landside.resistance", 0.05, 0.25),
    ("heel.x", -200.0, -20.0),
    ("heel.resistance", 0.2, 0.6),
    ("sole.friction", 0.2, 0.6),
    ("rolling.coefficient", 0.02, 0.25),
];
/// The weight, and where it is: too much hangs on the kind for a range of all.
const WEIGHT: [(&str, f64, f64); 2] = [("weight.total", 150.0, 4000.0), ("weight.x", -100.0, -4.0)];

/// Where a kind has its own.
const SEMI_MOUNTED: [(&str, f64, f64); 8] = [
    ("plow_hitch.x", -6.0, 6.0),
    ("plow_hitch.holes", 6.0, 30.0),
    ("plow_hitch.clearance_z", 2.0, 24.0),
    ("tractor_hitch.holes", 10.0, 36.0),
    ("bottoms.x", -180.0, -20.0),
    ("tail_wheel.x", -360.0, -50.0),
    ("weight.total", 1000.0, 16000.0),
    ("weight.x", -180.0, -15.0),
];
const MOUNTED: [(&str, f64, f64); 7] = [
    ("plow_hitch.x", -12.0, 12.0),
    ("plow_hitch.holes", 20.0, 60.0),
    ("plow_hitch.clearance_z", 0.0, 60.0),
    ("tractor_hitch.holes", 16.0, 56.0),
    ("bottoms.x", -120.0, -12.0),
    ("weight.total", 250.0, 6000.0),
    ("weight.x", -110.0, -8.0),
];
const WALKING: [(&str, f64, f64); 12] = [
    ("plow_hitch.x", 18.0, 60.0),
    ("plow_hitch.holes", -2.0, 20.0),
    ("plow_hitch.clearance_z", -2.0, 12.0),
    ("drawbar.length", 48.0, 168.0),
    ("tractor_hitch.holes", 12.0, 48.0),
    ("bottoms.count", 1.0, 2.0),
    ("bottoms.cut_width", 6.0, 18.0),
    ("bottoms.depth", 3.0, 9.0),
    ("bottoms.x", -20.0, -1.0),
    ("heel.x", -48.0, -10.0),
    ("weight.total", 50.0, 400.0),
    ("weight.x", -30.0, 0.0),
];

/// What is usual for an entry: lowest and highest, in inches or pounds-force where it has a unit.
#[must_use]
pub fn usual(kind: Kind, key: &str) -> Option<(f64, f64)> {
    let own: &[_] = match kind {
        Kind::Trailed => &[],
        Kind::SemiMounted => &SEMI_MOUNTED,
        Kind::Mounted => &MOUNTED,
        Kind::Walking => &WALKING,
    };
    let found = own.iter().chain(&USUAL).chain(&WEIGHT).find(|(known, ..)| *known == key);
    found.map(|&(_, low, high)| (low, high))
}

/// The same in a unit: where that is not the unit in which it was chosen, to two digits, for a range is no measurement.
#[must_use]
pub fn usual_in(kind: Kind, key: &str, unit: Unit) -> Option<(f64, f64)> {
    let chosen = match unit.dimension {
        Dimension::Force => Unit::POUND_FORCE,
        _ => Unit::INCH,
    };
    let (low, high) = usual(kind, key)?;
    let within =
        |value: f64| if unit == chosen { value } else { two_digits(value * chosen.factor / unit.factor) };
    Some((within(low), within(high)))
}

fn two_digits(value: f64) -> f64 {
    if value == 0.0 {
        return 0.0;
    }
    let places = 1 - value.abs().log10().floor() as i32;
    let rounded = (value * 10f64.powi(places)).round();
    if places > 0 { rounded / 10f64.powi(places) } else { rounded * 10f64.powi(-places) }
}

/// Every entry outside of what is usual for it.
pub(super) fn beyond_usual(plow: &Plow) -> Vec<Doubt> {
    let kind = plow.kind();
    // A last bit of a change of unit is none of the person's.
    let is_outside = |value: f64, (low, high): (f64, f64)| value < low - 1e-9 || value > high + 1e-9;
    let doubt = |key: &str, (what, value): (String, String), (low, high): (f64, f64), symbol: &str| {
        let sentence =
            format!("{value}, where {low} to {high}{symbol} is usual (common practice, no source)");
        Doubt::of(&[key], format!("{what}, {value}"), sentence)
    };
    let measured = entries(plow).into_iter().filter_map(|entry| {
        let number = entry.value / entry.unit.factor;
        let range = usual_in(kind, entry.key, entry.unit).filter(|range| is_outside(number, *range))?;
        let symbol = format!(" {}", entry.unit.symbol);
        let of = if entry.which.is_empty() { String::new() } else { format!(" ({})", entry.which) };
        let what = format!("{}{of}", what_of(entry.key)?);
        Some(doubt(entry.key, (what, short(number) + &symbol), range, &symbol))
    });
    let resistance = match &plow.tail {
        Tail::Wheel(_) => None,
        Tail::RollingLandside(of) => Some(("rolling_landside.resistance", of.resistance)),
        Tail::Heel(of) => Some(("heel.resistance", of.resistance)),
    };
    let sole = match plow.front {
        super::Front::Sole(sole) => Some(("sole.friction", sole.friction)),
        _ => None,
    };
    let numbers = [
        Some(("bottoms.count", f64::from(plow.bottoms.count))),
        resistance,
        sole,
        Some(("rolling.coefficient", plow.rolling.coefficient)),
    ];
    let counted = numbers.into_iter().flatten().filter_map(|(key, value)| {
        let range = usual(kind, key).filter(|range| is_outside(value, *range))?;
        let what = match key {
            "bottoms.count" => "the number of bottoms",
            "rolling.coefficient" => "the rolling resistance",
            _ => "the friction or resistance over load",
        };
        Some(doubt(key, (what.to_owned(), short(value)), range, ""))
    });
    measured.chain(counted).collect()
}

#[cfg(test)]
mod tests {
    use crate::plow::{read_plow, read_plow_text};
    use std::path::Path;

    #[test]
    fn no_example_is_doubted() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-runs/plows");
        for file in std::fs::read_dir(folder).unwrap() {
            let plow = read_plow(&file.unwrap().path()).unwrap();
            assert_eq!(plow.questions(), [], "{}", plow.name);
        }
    }

    /// In the unit in which it was written; one doubt of an entry, that which says most.
    #[test]
    fn what_is_outside_is_doubted_once() {
        let sound = include_str!("../../../sample-runs/plows/two-bottom.toml");
        for (from, to, wanted) in [
            ("depth = \"180 mm\"", "depth = \"17 in\"", "17 in is deeper than a bottom is wide (355 mm)"),
            ("depth = \"180 mm\"", "depth = \"355 mm\"", ""),
            ("depth = \"180 mm\"", "depth = \"361 mm\"", "361 mm is deeper"),
            ("\"355 mm\"", "\"28 in\"", "28 in is wide for one bottom"),
            ("\"355 mm\"", "\"7.5 in\"", "7.5 in, where 8 to 24 in is usual (common practice, no source)"),
            ("\"355 mm\"", "\"190 mm\"", "190 mm, where 200 to 610 mm is usual (common practice, no source)"),
            ("coefficient = 0.06", "coefficient = 0.3", "0.3, where 0.02 to 0.25 is usual"),
            ("z = \"4 in ± 5 mm\"", "z = \"2 1/2 in\"", "is not above hole"),
        ] {
            assert!(sound.contains(from), "{from}");
            let plow = read_plow_text(&sound.replacen(from, to, 1), Path::new("p.toml")).unwrap();
            let said = plow.doubts().collect::<Vec<_>>().join("\n");
            assert!(
                said.contains(wanted) && said.lines().count() == usize::from(!wanted.is_empty()),
                "{to}: {said}"
            );
        }
    }
}

//! What the quantities of a description can be: a number outside is a slip of unit or of the pen.
//!
//! All ranges are common practice, no source, and widely chosen: from a walking plow to one of eight bottoms and
//! more. They say what cannot be meant; what is usual, and asked back, is in `usual.rs`.

use super::{Front, Plow, Tail};
use crate::description_file::KeyFault;
use crate::quantity::{Dimension, Force, Length, Measured, Quantity, ReadQuantity, UNITS, Unit};

/// One quantity of a description, in its SI unit; what is said of it is in the unit in which it was written.
pub(super) struct Entry {
    /// Dotted key.
    pub key: &'static str,
    /// Where it stands: the key, and within it which one of several.
    place: String,
    /// Which one of several that is, as people call it; empty where there is one.
    pub which: String,
    pub value: f64,
    half_width: Option<f64>,
    pub unit: Unit,
}

/// Ranges by key: lowest and highest in the SI unit, and what the quantity is.
const RANGES: [(&str, f64, f64, &str); 33] = [
    ("weight.total", 50.0, 200e3, "the weight of a plow"),
    ("weight.x", -20.0, 3.0, "the place of a plow's weight"),
    ("front_wheels.diameter", 0.1, 2.5, "the diameter of a plow's wheel"),
    ("tail_wheel.diameter", 0.1, 2.5, "the diameter of a plow's wheel"),
    ("tail_wheel.x", -25.0, 0.0, "the place of a tail wheel"),
    ("tail_wheel.load_table deflection", -1.0, 1.0, "the deflection of a tail wheel"),
    ("tail_wheel.load_table load", -100e3, 100e3, "the load of a tail wheel"),
    ("rolling_landside.x", -25.0, 0.0, "the place of a rolling landside"),
    ("heel.x", -25.0, 0.0, "the place of a heel"),
    ("bottoms.cut_width", 0.05, 1.2, "the width of cut of one bottom"),
    ("bottoms.depth", 0.02, 1.2, "the working depth of a plow"),
    ("bottoms.x", -20.0, 3.0, "the place of the bottoms"),
    ("bottoms.soil_force_z", -1.25, 0.0, "the height of the soil force"),
    ("plow_hitch.x", -5.0, 8.0, "the place of a plow's hitch"),
    ("plow_hitch.holes", -0.5, 2.5, "the height of a hole"),
    ("plow_hitch.clearance_z", -1.0, 2.0, "the height that clears the ground"),
    ("plow_hitch.washer", 0.0002, 0.15, "the thickness of a washer"),
    ("tractor_hitch.holes", -0.5, 2.5, "the height of a hole"),
    ("tractor_hitch.washer", 0.0002, 0.15, "the thickness of a washer"),
    ("drawbar.length", 0.1, 15.0, "the length of a drawbar or chain"),
    ("lower_links.length", 0.1, 4.0, "the length of lower links"),
    ("lower_links.pins.plow_z", -0.5, 2.5, "the height of a pin"),
    ("lower_links.pins.tractor_z", -0.5, 2.5, "the height of a pin"),
    ("top_link.length", 0.1, 4.0, "the length of a top link"),
    ("tractor.front_axle_load", 100.0, 400e3, "the load of a tractor's axle"),
    ("tractor.rear_axle_load", 100.0, 400e3, "the load of a tractor's axle"),
    ("tractor.wheelbase", 0.4, 8.0, "the wheelbase of a tractor"),
    ("tractor.track", 0.3, 6.0, "the track of a tractor"),
    ("tractor.rear_tyre_width", 0.03, 2.0, "the width of a tyre"),
    ("tractor.hitch_behind_rear_axle", 0.0, 4.0, "the place of a tractor's pin"),
    ("tractor.furrow_wall_offset", -3.0, 6.0, "the way from furrow wall to tyre"),
    ("tractor.centre_of_gravity_height", 0.1, 4.0, "the height of a tractor's centre of gravity"),
    ("tractor.pin_step", 0.0002, 1.0, "the sideways step of a pin"),
];
/// Range of a setting's lateral offset, m: its key holds the setting's name.
const LATERAL_OFFSET_M: (f64, f64) = (-4.0, 4.0);
/// A ± of more than this is no measurement of a length, m.
const HALF_WIDTH_M_MAX: f64 = 0.5;

/// Every quantity of a description that is outside of what can be, and every ± that says that nothing was
/// measured: more than half a meter, or more than the force itself.
pub(super) fn unusual(plow: &Plow) -> Vec<KeyFault> {
    let mut faults: Vec<KeyFault> = entries(plow).iter().filter_map(fault).collect();
    for (name, setting) in &plow.settings {
        let Some(offset) = setting.lateral_offset else { continue };
        let (low, high) = LATERAL_OFFSET_M;
        if !(low..=high).contains(&offset.m()) {
            faults.push(KeyFault::at(
                format!("settings.{name}.lateral_offset"),
                outside((offset.m(), unit_of(offset)), (low, high), "the pin's place across"),
            ));
        }
    }
    faults
}

fn fault(entry: &Entry) -> Option<KeyFault> {
    let Entry { key, place, which, value, half_width, unit } = entry;
    let (_, low, high, what) = RANGES.iter().find(|(known, ..)| known == key)?;
    let which = if which.is_empty() { String::new() } else { format!("{which}: ") };
    if !(*low..=*high).contains(value) {
        let sentence = which + &outside((*value, *unit), (*low, *high), what);
        return Some(KeyFault::at(place, sentence));
    }
    let half_width = (*half_width)?;
    let most = if unit.dimension == Dimension::Force { value.abs() } else { HALF_WIDTH_M_MAX };
    let sound = (0.0..=most).contains(&half_width);
    (!sound).then(|| {
        let said = |inside: f64| short(inside / unit.factor);
        let (unit, half_width, value, most) = (unit.symbol, said(half_width), said(*value), said(most));
        let sentence = format!(
            "{which}a ± of {half_width} {unit} leaves nothing of {value} {unit}: it is half of the interval that \
             holds the true value in 95 of 100 cases, here at most {most} {unit}"
        );
        KeyFault::at(place, sentence)
    })
}

fn outside((value, unit): (f64, Unit), (low, high): (f64, f64), what: &str) -> String {
    // A bound is by choice: two digits of it are enough where the unit is another than that in which it was chosen.
    let bound = |inside: f64| {
        let about: f64 = format!("{:.1e}", inside / unit.factor).parse().unwrap_or(inside / unit.factor);
        short(about)
    };
    let Unit { symbol, factor, .. } = unit;
    format!(
        "{} {symbol} cannot be {what}: none is outside of {} to {} {symbol}; check the number and its unit",
        short(value / factor),
        bound(low),
        bound(high)
    )
}

/// The unit in which a quantity was written, or else its SI unit.
fn unit_of<Q: ReadQuantity>(quantity: Q) -> Unit {
    let in_si = || UNITS.iter().find(|unit| unit.dimension == Q::DIMENSION && unit.factor == 1.0);
    quantity.written_unit().or_else(in_si).copied().unwrap_or(Unit::METRE)
}

/// What an entry is, by its key.
pub(super) fn what_of(key: &str) -> Option<&'static str> {
    RANGES.iter().find(|(known, ..)| *known == key).map(|(.., what)| *what)
}

/// A number without the hundreds of digits that a slip of the pen can have.
pub(super) fn short(value: f64) -> String {
    let size = value.abs();
    if size == 0.0 || (1e-4..1e7).contains(&size) {
        // Six digits: what was typed, without the last bit of its change of unit.
        let text = format!("{value:.6}");
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        format!("{value:.3e}")
    }
}

struct Entries(Vec<Entry>);

impl Entries {
    fn plain<Q: ReadQuantity>(&mut self, key: &'static str, value: Option<Q>) {
        self.measured(key, value.map(Measured::exactly_as_read));
    }

    fn measured<Q: ReadQuantity>(&mut self, key: &'static str, value: Option<Measured<Q>>) {
        self.one_of(key, (key.to_owned(), String::new()), value);
    }

    fn one_of<Q: ReadQuantity>(
        &mut self,
        key: &'static str,
        (place, which): (String, String),
        value: Option<Measured<Q>>,
    ) {
        self.0.extend(value.map(|value| Entry {
            key,
            place,
            which,
            value: value.si(),
            half_width: value.half_width.map(Quantity::si),
            unit: unit_of(value.value),
        }));
    }
}

pub(super) fn entries(plow: &Plow) -> Vec<Entry> {
    let mut all = Entries(Vec::new());
    all.measured::<Force>("weight.total", Some(plow.weight.total));
    all.measured::<Length>("weight.x", Some(plow.weight.x));
    all.plain("front_wheels.diameter", plow.front.wheels().map(|wheels| wheels.diameter));
    match &plow.tail {
        Tail::Wheel(wheel) => {
            all.measured("tail_wheel.x", Some(wheel.x));
            all.plain("tail_wheel.diameter", Some(wheel.diameter));
            for (at, (deflection, load)) in wheel.load_table.lines().enumerate() {
                let which = |part| {
                    (format!("tail_wheel.load_table[{at}][{part}]"), format!("line {} of the table", at + 1))
                };
                let (deflection, load) =
                    (Measured::exactly_as_read(deflection), Measured::exactly_as_read(load));
                all.one_of("tail_wheel.load_table deflection", which(0), Some(deflection));
                all.one_of("tail_wheel.load_table load", which(1), Some(load));
            }
        }
        Tail::RollingLandside(heel) => all.measured("rolling_landside.x", Some(heel.x)),
        Tail::Heel(heel) => all.measured("heel.x", Some(heel.x)),
    }
    all.plain("bottoms.cut_width", Some(plow.bottoms.cut_width));
    all.plain("bottoms.depth", Some(plow.bottoms.depth));
    all.measured("bottoms.x", Some(plow.bottoms.x));
    all.measured("bottoms.soil_force_z", plow.bottoms.soil_force_z);
    all.measured("plow_hitch.x", Some(plow.plow_hitch.x));
    for (key, holes) in
        [("plow_hitch.holes", &plow.plow_hitch.holes), ("tractor_hitch.holes", &plow.tractor_hitch.holes)]
    {
        for (at, hole) in holes.iter().enumerate() {
            all.one_of(key, (format!("{key}[{at}].z"), format!("hole \"{}\"", hole.name)), Some(hole.z));
        }
    }
    all.plain("plow_hitch.clearance_z", plow.plow_hitch.clearance_z);
    all.plain("plow_hitch.washer", plow.plow_hitch.washer);
    all.plain("tractor_hitch.washer", plow.tractor_hitch.washer);
    let link = match plow.front {
        Front::Wheels(_) | Front::Sole(_) => "drawbar.length",
        Front::LowerLinks => "lower_links.length",
        Front::MeetingLinks(lower) => {
            all.measured("lower_links.length", Some(lower.length));
            all.measured("lower_links.pins.plow_z", Some(lower.pins.plow_z));
            all.measured("lower_links.pins.tractor_z", Some(lower.pins.tractor_z));
            "top_link.length"
        }
    };
    all.measured(link, Some(plow.link.length));
    if let Some(tractor) = &plow.tractor {
        all.measured("tractor.front_axle_load", Some(tractor.front_axle_load));
        all.measured("tractor.rear_axle_load", Some(tractor.rear_axle_load));
        all.measured("tractor.wheelbase", Some(tractor.wheelbase));
        all.measured("tractor.track", Some(tractor.track));
        all.measured("tractor.rear_tyre_width", Some(tractor.rear_tyre_width));
        all.measured("tractor.hitch_behind_rear_axle", Some(tractor.hitch_behind_rear_axle));
        all.measured("tractor.furrow_wall_offset", tractor.furrow_wall_offset);
        all.measured("tractor.centre_of_gravity_height", tractor.centre_of_gravity_height);
        all.plain("tractor.pin_step", tractor.pin_step);
    }
    all.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plow::read_plow_text;
    use std::path::Path;

    const SOUND: &str = include_str!("../../../sample-runs/plows/two-bottom.toml");

    /// The sentence that refuses the example with the value of a key, in a table, changed; the line counts.
    fn refused(table: &str, key: &str, value: &str) -> String {
        let mut in_table = false;
        let (mut changed, mut at) = (String::new(), 0);
        for (index, line) in SOUND.lines().enumerate() {
            if line.starts_with('[') {
                in_table = line == format!("[{table}]");
            }
            if in_table && at == 0 && line.starts_with(&format!("{key} ")) {
                at = index + 1;
                changed += &format!("{key} = \"{value}\"\n");
            } else {
                changed += &format!("{line}\n");
            }
        }
        assert!(at > 0, "no {key} in [{table}]");
        let error = read_plow_text(&changed, Path::new("p.toml")).unwrap_err().to_string();
        assert!(error.starts_with(&format!("p.toml, line {at}: ")), "{at}: {error}");
        assert!(error.len() < 400, "{error}");
        error
    }

    #[test]
    fn nonsense_is_refused_with_its_line_and_the_range() {
        for (table, key, value, parts) in [
            ("bottoms", "cut_width", "1e30 m", ["bottoms.cut_width", "1.000e30 m", "0.05 to 1.2 m"]),
            ("bottoms", "depth", "1800 mm", ["bottoms.depth", "1800 mm", "20 to 1200 mm"]),
            ("weight", "total", "5 N", ["weight.total", "5 N cannot be", "50 to 200000 N"]),
            ("weight", "total", "5 lbf", ["weight.total", "5 lbf cannot be", "11 to 45000 lbf"]),
            ("bottoms", "cut_width", "48 in", ["bottoms.cut_width", "48 in cannot be", "2 to 47 in"]),
            ("tail_wheel", "diameter", "1e308 mm", ["tail_wheel.diameter", "e308 mm", "100 to 2500 mm"]),
            ("front_wheels", "diameter", "24 m", ["front_wheels.diameter", "24 m", "0.1 to 2.5 m"]),
            ("drawbar", "length", "1500 m", ["drawbar.length", "1500 m", "0.1 to 15 m"]),
            ("weight", "total", "3400 N ± 5000 N", ["weight.total", "± of 5000 N", "at most 3400 N"]),
            ("weight", "x", "-600 mm ± 15 m", ["weight.x", "± of 15000 mm", "at most 500 mm"]),
            ("weight", "x", "-600 mm ± -15 mm", ["below 0", "-15 mm", "±"]),
        ] {
            let error = refused(table, key, value);
            for part in parts {
                assert!(error.contains(part), "{key} = {value}: {part:?} is not in: {error}");
            }
        }
    }

    #[test]
    fn every_entry_has_its_range_and_every_range_its_entry() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-runs/plows");
        let mut seen = std::collections::BTreeSet::new();
        for file in std::fs::read_dir(folder).unwrap() {
            let plow = crate::plow::read_plow(&file.unwrap().path()).unwrap();
            assert!(unusual(&plow).is_empty());
            seen.extend(entries(&plow).into_iter().map(|entry| entry.key));
        }
        let known: std::collections::BTreeSet<_> = RANGES.iter().map(|(key, ..)| *key).collect();
        assert_eq!(known.len(), RANGES.len());
        assert!(seen.is_subset(&known), "{:?}", seen.difference(&known));
    }

    /// A plow of one bottom behind a horse, and one of eight: half and twice of the examples' sizes pass too.
    #[test]
    fn small_and_large_plows_pass() {
        for (weight, cut, depth) in [("300 N", "6 in", "3 in"), ("60 kN", "20 in", "16 in")] {
            let set = |key: &str, value: &str, text: &str| {
                let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
                let line = lines.iter_mut().find(|line| line.starts_with(&format!("{key} "))).unwrap();
                *line = format!("{key} = \"{value}\"");
                lines.join("\n")
            };
            let text = set("depth", depth, &set("cut_width", cut, &set("total", weight, SOUND)));
            let plow = read_plow_text(&text, Path::new("p.toml")).map_err(|error| error.to_string());
            assert!(plow.is_ok(), "{plow:?}");
        }
    }
}

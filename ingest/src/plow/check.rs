//! Errors in a description that would make nonsense of the statics or the readings.

use super::fault::PlowFault;
use super::{Hole, Kind, Plow, RightWheel, Tail, Tractor};
use crate::calibration::CalibrationReport;
use crate::quantity::{Length, Measured};
use std::collections::BTreeSet;

struct Faults(Vec<PlowFault>);

impl Faults {
    fn unless(&mut self, right: bool, key: &str, sentence: impl Into<String>) {
        if !right {
            self.0.push(PlowFault { key: key.to_owned(), sentence: sentence.into() });
        }
    }
}

/// Everything that is wrong with a plow, the gravest first; empty if it can be used.
#[must_use]
pub fn check(plow: &Plow) -> Vec<PlowFault> {
    let mut faults = Faults(Vec::new());
    parts(plow, &mut faults);
    geometry(plow, &mut faults);
    tail_spring(plow, &mut faults);
    hitches(plow, &mut faults);
    if let Some(on) = &plow.tractor {
        tractor(on, &mut faults);
    }
    sensors(plow, &mut faults);
    let limits = plow.limits;
    faults.unless(
        0.0 < limits.balanced && limits.balanced < limits.leaning && limits.leaning < 1.0,
        "limits",
        "0 < balanced < leaning < 1 must hold",
    );
    faults.unless(
        (0.0..1.0).contains(&limits.lifted_share),
        "limits.lifted_share",
        "a share lies between 0 and 1",
    );
    // Last: what is wrong with one quantity beside another says more than a range.
    faults.0.extend(super::ranges::unusual(plow));
    faults.0
}

/// The parts that a kind of plow has to have, and those that belong to another kind.
fn parts(plow: &Plow, faults: &mut Faults) {
    let has = [
        ("front_wheels", plow.front_wheels.is_some()),
        ("sole", plow.sole.is_some()),
        ("drawbar", plow.drawbar.is_some()),
        ("lower_links", plow.lower_links.is_some()),
        ("top_link", plow.top_link.is_some()),
    ];
    let wanted: &[&str] = match plow.kind() {
        Kind::Trailed => &["front_wheels", "drawbar"],
        Kind::SemiMounted => &["lower_links"],
        Kind::Mounted => &["lower_links", "top_link"],
        Kind::Walking => &["sole", "drawbar"],
    };
    let kind = plow.part_names().kind;
    for (table, there) in has {
        let right = there == wanted.contains(&table);
        let sentence = if there {
            format!("a {kind} plow has no such part: take [{table}] out, or the part that makes it {kind}")
        } else {
            format!("missing: a {kind} plow needs [{table}]")
        };
        faults.unless(right, table, sentence);
    }
    let tails =
        [plow.tail_wheel.is_some(), plow.rolling_landside.is_some(), plow.heel.is_some()].map(usize::from);
    faults.unless(
        tails.iter().sum::<usize>() == 1,
        "tail_wheel",
        "the tail is carried by one of [tail_wheel], [rolling_landside] and [heel]: describe that one",
    );
    if let Some(links) = plow.lower_links {
        let own_pins = plow.kind() == Kind::Mounted;
        faults.unless(
            links.pins.is_some() == own_pins,
            "lower_links.pins",
            if own_pins {
                "missing: the holes of a mounted plow are those of its top link, so the lower links' pins \
                 stand here"
            } else {
                "the holes of this plow are those of its lower links already: leave this out"
            },
        );
    }
}

fn geometry(plow: &Plow, faults: &mut Faults) {
    let (weight, bottoms) = (plow.weight.total, plow.bottoms.x.si());
    faults.unless(
        weight.si() > 0.0,
        "weight.total",
        "the weight must be above 0: weigh the plow, or add up its wheel loads",
    );
    faults.unless(
        plow.weight.x.si() < 0.0,
        "weight.x",
        "the weight is ahead of the front axle: the plow would stand on its nose; measure x backwards as a \
         negative length",
    );
    if let Some(tail) = plow.tail() {
        let key = match tail {
            Tail::Wheel(_) => "tail_wheel.x",
            Tail::RollingLandside(_) => "rolling_landside.x",
            Tail::Heel(_) => "heel.x",
        };
        let name = plow.part_names().tail;
        faults.unless(
            tail.x().si() < 0.0,
            key,
            format!("the {name} is behind where x is measured from, so its x is below 0"),
        );
        faults.unless(
            plow.weight.x.si() > tail.x().si(),
            "weight.x",
            format!("the weight is behind the {name}: compare its x with {key}"),
        );
    }
    faults.unless(
        bottoms < plow.plow_hitch.x.si(),
        "bottoms.x",
        "the bottoms are ahead of the plow hitch: x is forward of the front axle, so they are below 0",
    );
    if let Some(z) = plow.bottoms.soil_force_z {
        faults.unless(
            z.si() < 0.0 && z.si() > -plow.bottoms.depth.m() - 0.05,
            "bottoms.soil_force_z",
            "the soil acts between the land surface (0) and the working depth below it",
        );
    }
    faults.unless(
        plow.bottoms.landside_friction.is_none_or(|mu| (0.0..=1.0).contains(&mu)),
        "bottoms.landside_friction",
        "friction of steel on soil lies between 0 and 1",
    );
    let lengths = [
        ("front_wheels.diameter", plow.front_wheels.as_ref().map(|wheels| wheels.diameter)),
        ("tail_wheel.diameter", plow.tail_wheel.as_ref().map(|wheel| wheel.diameter)),
        ("bottoms.cut_width", Some(plow.bottoms.cut_width)),
        ("bottoms.depth", Some(plow.bottoms.depth)),
        ("drawbar.length", plow.drawbar.as_ref().map(|drawbar| drawbar.length.value)),
        ("lower_links.length", plow.lower_links.map(|links| links.length.value)),
        ("plow_hitch.washer", plow.plow_hitch.washer),
        ("tractor_hitch.washer", plow.tractor_hitch.washer),
        ("top_link.length", plow.top_link.map(|link| link.length.value)),
    ];
    for (key, length) in lengths {
        faults.unless(length.is_none_or(|length| length.m() > 0.0), key, "must be above 0");
    }
    faults.unless((1..=24).contains(&plow.bottoms.count), "bottoms.count", "must be 1 to 24");
    let resistances = [
        ("rolling.coefficient", Some(plow.rolling.coefficient), 0.5, "rolling resistance"),
        ("sole.friction", plow.sole.map(|sole| sole.friction), 1.0, "friction"),
        ("heel.resistance", plow.heel.map(|heel| heel.resistance), 1.0, "friction"),
        (
            "rolling_landside.resistance",
            plow.rolling_landside.map(|heel| heel.resistance),
            0.5,
            "rolling resistance",
        ),
    ];
    for (key, resistance, below, what) in resistances {
        faults.unless(
            resistance.is_none_or(|resistance| (0.0..below).contains(&resistance)),
            key,
            format!("{what} over load lies between 0 and {below}"),
        );
    }
}

fn tractor(tractor: &Tractor, faults: &mut Faults) {
    for (key, load) in [
        ("tractor.front_axle_load", tractor.front_axle_load),
        ("tractor.rear_axle_load", tractor.rear_axle_load),
    ] {
        faults.unless(load.si() > 0.0, key, "must be above 0: weigh each axle, the tractor level");
    }
    let (track_m, tyre_m) = (tractor.track.si(), tractor.rear_tyre_width.si());
    for (key, length_m) in [
        ("tractor.wheelbase", tractor.wheelbase.si()),
        ("tractor.track", track_m),
        ("tractor.rear_tyre_width", tyre_m),
        ("tractor.hitch_behind_rear_axle", tractor.hitch_behind_rear_axle.si()),
        ("tractor.centre_of_gravity_height", tractor.centre_of_gravity_height.map_or(1.0, |z| z.si())),
        ("tractor.pin_step", tractor.pin_step.map_or(1.0, Length::m)),
    ] {
        faults.unless(length_m > 0.0, key, "must be above 0");
    }
    faults.unless(
        tyre_m < track_m,
        "tractor.track",
        "the track is measured from the middle of one tire to the middle of the other, so it is wider than a tire",
    );
    let offset_m = tractor.furrow_wall_offset.map(|offset| offset.si());
    let (key, in_furrow) = ("tractor.furrow_wall_offset", tractor.right_wheel == RightWheel::Furrow);
    faults.unless(
        in_furrow || offset_m.is_some(),
        "tractor",
        "with right_wheel = \"land\", furrow_wall_offset is needed: from the wall of the open furrow to the \
         inside of the right rear tire",
    );
    faults.unless(
        in_furrow || offset_m.is_none_or(|offset_m| offset_m >= tyre_m),
        key,
        "a tire on the land has its inside at least its own width left of the furrow wall",
    );
    faults.unless(
        !in_furrow || offset_m.is_none_or(|offset_m| offset_m < tyre_m / 2.0),
        key,
        "a tire in the furrow has its inside at the wall or right of it (below 0)",
    );
    faults.unless(
        tractor.right_pull_share.is_none_or(|share| (0.0..=1.0).contains(&share)),
        "tractor.right_pull_share",
        "a share lies between 0 and 1",
    );
}

fn tail_spring(plow: &Plow, faults: &mut Faults) {
    let Some(wheel) = &plow.tail_wheel else { return };
    let table = &wheel.load_table;
    faults.unless(table.len() >= 2, "tail_wheel.load_table", "at least two lines of deflection and load");
    let rising = table
        .windows(2)
        .all(|pair| matches!(pair, [(x0, y0), (x1, y1)] if x0.m() < x1.m() && y0.n() < y1.n()));
    faults.unless(rising, "tail_wheel.load_table", "deflection and load must both rise from line to line");
}

fn hitches(plow: &Plow, faults: &mut Faults) {
    for (key, holes) in
        [("plow_hitch.holes", &plow.plow_hitch.holes), ("tractor_hitch.holes", &plow.tractor_hitch.holes)]
    {
        faults.unless(!holes.is_empty(), key, "at least one hole with its height");
        let names: BTreeSet<_> = holes.iter().map(|hole| &hole.name).collect();
        faults.unless(names.len() == holes.len(), key, "two holes have the same name");
        faults.unless(
            holes.iter().all(|hole| (-0.5..2.5).contains(&hole.z.si())),
            key,
            "a hole's height above the land surface lies between -0.5 m and 2.5 m",
        );
    }
    faults.unless(!plow.settings.is_empty(), "settings", "at least one named setting is needed");
    for (name, setting) in &plow.settings {
        let key = format!("settings.{name}");
        let known = |holes: &[Hole]| -> String {
            holes.iter().map(|hole| format!("\"{}\"", hole.name)).collect::<Vec<_>>().join(", ")
        };
        let has = |holes: &[Hole], wanted: &str| holes.iter().any(|hole| hole.name == wanted);
        let (plow_holes, tractor_holes) = (&plow.plow_hitch.holes, &plow.tractor_hitch.holes);
        faults.unless(
            has(plow_holes, &setting.plow_hole),
            &key,
            format!("plow_hitch has no hole \"{}\" (it has {})", setting.plow_hole, known(plow_holes)),
        );
        faults.unless(
            has(tractor_holes, &setting.tractor_hole),
            &key,
            format!(
                "tractor_hitch has no hole \"{}\" (it has {})",
                setting.tractor_hole,
                known(tractor_holes)
            ),
        );
        if let (Some(pins), Some(length)) = (plow.pins(setting), plow.member_length()) {
            let member = plow.part_names().member;
            faults.unless(
                steepness(pins.plow_z, pins.tractor_z) < length.si() * 0.7,
                &key,
                format!(
                    "the {member} would stand steeper than 45 degrees: check the two heights and its length"
                ),
            );
        }
    }
}

fn steepness(plow_z: Measured<Length>, tractor_z: Measured<Length>) -> f64 {
    (tractor_z.si() - plow_z.si()).abs()
}

fn sensors(plow: &Plow, faults: &mut Faults) {
    let mut channels = BTreeSet::new();
    let mut roles = BTreeSet::new();
    for sensor in &plow.sensors {
        let what = format!("channel \"{}\"", sensor.channel);
        faults.unless(channels.insert(&sensor.channel), "sensors", format!("{what} stands there twice"));
        faults.unless(
            roles.insert(sensor.measures),
            "sensors",
            format!("two channels measure {}", sensor.measures.column()),
        );
        let date = &sensor.calibration.date;
        faults.unless(
            date.parse::<jiff::civil::Date>().is_ok(),
            "sensors",
            format!("{what}: calibration date '{date}' is not a day like 2027-03-01"),
        );
        if let Err(error) = CalibrationReport::of(&sensor.calibration, sensor.measures) {
            faults.unless(false, "sensors", format!("{what}: calibration: {error}"));
        }
        if let Some((low, high)) = sensor.count_limits {
            faults.unless(low < high, "sensors", format!("{what}: count_limits must rise"));
        }
    }
}

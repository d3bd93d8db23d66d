//! From what a description says to what a plow is: its parts sorted out, its settings with their holes, and errors
//! for what would make nonsense of the statics or the readings.

use super::{
    Front, Heel, HitchLink, Hole, Kind, LoadTable, LowerLinks, LowerLinksToml, Plow, PlowToml, RightWheel,
    SensorEntry, Setting, SettingToml, Tail, TailWheel, TailWheelToml, Tractor,
};
use crate::calibration::CalibrationReport;
use crate::description_file::{KeyFault, KeyFaults};
use crate::quantity::{Length, Measured};
use std::collections::{BTreeMap, BTreeSet};

/// Tables of what makes the kind.
const KIND_TABLES: [&str; 5] = ["front_wheels", "sole", "drawbar", "lower_links", "top_link"];
/// Tables of what carries the tail.
const TAIL_TABLES: [&str; 3] = ["tail_wheel", "rolling_landside", "heel"];

impl TryFrom<PlowToml> for Plow {
    type Error = KeyFaults;

    /// The plow that was described; all that is wrong with it if it cannot be used, of one key the gravest.
    fn try_from(said: PlowToml) -> Result<Self, KeyFaults> {
        let mut wrong = KeyFaults::default();
        // What a kind does not make is taken to be anything: what is held against it is not asked then.
        let mut unknown: Vec<&str> = Vec::new();
        let (front, link) = front_and_link(&said).unwrap_or_else(|fault| {
            wrong.push(fault);
            unknown.extend(KIND_TABLES);
            (Front::LowerLinks, HitchLink { length: Measured::exactly_as_read(Length::from_m(1.0)) })
        });
        let tail = tail(&said).unwrap_or_else(|fault| {
            wrong.push(fault);
            unknown.extend(TAIL_TABLES);
            Tail::Heel(Heel { x: said.weight.x, resistance: 0.0 })
        });
        let settings = BTreeMap::new();
        let PlowToml { name, units, weight, rolling, bottoms, plow_hitch, tractor_hitch, tractor, .. } = said;
        let ((sensors, own_sensors), limits) = (SensorEntry::apart(said.sensors), said.limits);
        let mut plow = Self {
            name,
            units,
            weight,
            front,
            tail,
            rolling,
            bottoms,
            plow_hitch,
            tractor_hitch,
            link,
            tractor,
            settings,
            sensors,
            own_sensors,
            limits,
        };
        let mut beyond = KeyFaults::default();
        geometry(&plow, &mut beyond);
        holes(&plow, &mut beyond);
        beyond.unless(!said.settings.is_empty(), "settings", "at least one named setting is needed");
        for (name, setting) in said.settings {
            match plow.setting(&format!("settings.{name}"), setting) {
                Ok(setting) => drop(plow.settings.insert(name, setting)),
                Err(faults) => faults.0.into_iter().for_each(|fault| beyond.push(fault)),
            }
        }
        if let Some(tractor) = &plow.tractor {
            tractor_of(tractor, &mut beyond);
        }
        sensors_of(&plow, &mut beyond);
        super::sensors::check_own(&plow).err().into_iter().for_each(|fault| beyond.push(fault));
        beyond.unless(
            0.0 < limits.balanced && limits.balanced < limits.leaning && limits.leaning < 1.0,
            "limits",
            "0 < balanced < leaning < 1 must hold",
        );
        beyond.unless(
            (0.0..1.0).contains(&limits.lifted_share),
            "limits.lifted_share",
            "a share lies between 0 and 1",
        );
        // Last: what is wrong with one quantity beside another says more than a range.
        super::ranges::unusual(&plow).into_iter().for_each(|fault| beyond.push(fault));
        beyond
            .0
            .into_iter()
            .filter(|fault| fault.holds_without(&unknown))
            .for_each(|fault| wrong.push(fault));
        if wrong.0.is_empty() { Ok(plow) } else { Err(wrong) }
    }
}

/// What carries the front and what the plow is pulled by: the parts of one kind of plow, and none of another.
fn front_and_link(said: &PlowToml) -> Result<(Front, HitchLink), KeyFault> {
    let PlowToml { front_wheels, sole, drawbar, lower_links, top_link, .. } = *said;
    match (front_wheels, sole, drawbar, lower_links, top_link) {
        (Some(wheels), None, Some(drawbar), None, None) => Ok((Front::Wheels(wheels), drawbar)),
        (None, Some(sole), Some(chain), None, None) => Ok((Front::Sole(sole), chain)),
        (None, None, None, Some(LowerLinksToml { length, pins: None }), None) => {
            Ok((Front::LowerLinks, HitchLink { length }))
        }
        (None, None, None, Some(LowerLinksToml { length, pins: Some(pins) }), Some(top)) => {
            Ok((Front::MeetingLinks(LowerLinks { length, pins }), top))
        }
        _ => Err(no_kind(said)),
    }
}

/// Why the parts are those of no kind of plow: by those that make a kind, which others are missing or do not belong.
fn no_kind(said: &PlowToml) -> KeyFault {
    let (kind, wanted): (Kind, &[&str]) = match (&said.top_link, &said.lower_links, &said.sole) {
        (Some(_), _, _) => (Kind::Mounted, &["lower_links", "top_link"]),
        (None, Some(_), _) => (Kind::SemiMounted, &["lower_links"]),
        (None, None, Some(_)) => (Kind::Walking, &["sole", "drawbar"]),
        (None, None, None) => (Kind::Trailed, &["front_wheels", "drawbar"]),
    };
    let has = [
        ("front_wheels", said.front_wheels.is_some()),
        ("sole", said.sole.is_some()),
        ("drawbar", said.drawbar.is_some()),
        ("lower_links", said.lower_links.is_some()),
        ("top_link", said.top_link.is_some()),
    ];
    let name = kind.name();
    match has.into_iter().find(|(table, there)| *there != wanted.contains(table)) {
        Some((table, true)) => KeyFault::at(
            table,
            format!("a {name} plow has no such part: take [{table}] out, or the part that makes it {name}"),
        ),
        Some((table, false)) => KeyFault::at(table, format!("missing: a {name} plow needs [{table}]")),
        // All parts are there, so what is left is whether the lower links have pins of their own.
        None if kind == Kind::Mounted => KeyFault::at(
            "lower_links.pins",
            "missing: the holes of a mounted plow are those of its top link, so the lower links' pins stand here",
        ),
        None => KeyFault::at(
            "lower_links.pins",
            "the holes of this plow are those of its lower links already: leave this out",
        ),
    }
}

fn tail(said: &PlowToml) -> Result<Tail, KeyFault> {
    match (&said.tail_wheel, said.rolling_landside, said.heel) {
        (Some(wheel), None, None) => {
            let TailWheelToml { x, diameter, runs_in, ref load_table } = *wheel;
            let load_table =
                LoadTable::of(load_table).map_err(|why| KeyFault::at("tail_wheel.load_table", why))?;
            Ok(Tail::Wheel(TailWheel { x, diameter, runs_in, load_table }))
        }
        (None, Some(heel), None) => Ok(Tail::RollingLandside(heel)),
        (None, None, Some(heel)) => Ok(Tail::Heel(heel)),
        _ => Err(KeyFault::at(
            "tail_wheel",
            "the tail is carried by one of [tail_wheel], [rolling_landside] and [heel]: describe that one",
        )),
    }
}

fn holes(plow: &Plow, wrong: &mut KeyFaults) {
    for (key, holes) in
        [("plow_hitch.holes", &plow.plow_hitch.holes), ("tractor_hitch.holes", &plow.tractor_hitch.holes)]
    {
        wrong.unless(!holes.is_empty(), key, "at least one hole with its height");
        let mut names = BTreeSet::new();
        for (at, hole) in holes.iter().enumerate() {
            wrong.unless(
                names.insert(&hole.name),
                format!("{key}[{at}]"),
                format!("two holes have the same name, \"{}\": give each its own", hole.name),
            );
        }
    }
}

fn hole_named(holes: &[Hole], name: &str, (key, hitch): (&str, &str)) -> Result<Hole, KeyFault> {
    holes.iter().find(|hole| hole.name == name).cloned().ok_or_else(|| {
        let known: Vec<String> = holes.iter().map(|hole| format!("\"{}\"", hole.name)).collect();
        let sentence = format!("{hitch} has no hole \"{name}\" (it has {})", known.join(", "));
        KeyFault::at(key, sentence).beside([format!("{hitch}.holes").as_str()])
    })
}

impl Plow {
    /// A setting of this plow: the holes that it names; `key` is where it stands.
    ///
    /// # Errors
    /// Holes that the plow does not have, and a link that would stand steeper than 45 degrees.
    pub fn setting(&self, key: &str, said: SettingToml) -> Result<Setting, KeyFaults> {
        let (plow_key, tractor_key) = (format!("{key}.plow_hole"), format!("{key}.tractor_hole"));
        let plow_hole = hole_named(&self.plow_hitch.holes, &said.plow_hole, (&plow_key, "plow_hitch"));
        let tractor_hole =
            hole_named(&self.tractor_hitch.holes, &said.tractor_hole, (&tractor_key, "tractor_hitch"));
        let (plow_hole, tractor_hole) = match (plow_hole, tractor_hole) {
            (Ok(plow_hole), Ok(tractor_hole)) => (plow_hole, tractor_hole),
            (one, other) => return Err(KeyFaults(one.err().into_iter().chain(other.err()).collect())),
        };
        let rise_m = (tractor_hole.z.si() - plow_hole.z.si()).abs();
        if rise_m >= self.link.length.si() * 0.7 {
            let member = self.part_names().member;
            let sentence = format!(
                "the {member} would stand steeper than 45 degrees: check the two heights and its length"
            );
            let others = ["plow_hitch.holes", "tractor_hitch.holes", self.link_key()];
            return Err(KeyFault::at(key, sentence).beside(others).into());
        }
        Ok(Setting { plow_hole, tractor_hole, lateral_offset: said.lateral_offset })
    }

    const fn link_key(&self) -> &'static str {
        match self.front {
            Front::Wheels(_) | Front::Sole(_) => "drawbar.length",
            Front::LowerLinks => "lower_links.length",
            Front::MeetingLinks(_) => "top_link.length",
        }
    }
}

fn geometry(plow: &Plow, wrong: &mut KeyFaults) {
    let (weight, bottoms) = (plow.weight.total, plow.bottoms.x.si());
    wrong.unless(
        weight.si() > 0.0,
        "weight.total",
        "the weight must be above 0: weigh the plow, or add up its wheel loads",
    );
    let (parts, origin) = (plow.part_names(), plow.part_names().origin);
    wrong.unless(
        plow.weight.x.si() < 0.0,
        "weight.x",
        format!(
            "the weight is ahead of {origin}: the plow would stand on its nose. Was the tape held at the tail? Measure from \
             {origin}; what lies behind it has a minus"
        ),
    );
    let key = plow.tail_key();
    let (tail_x_m, name) = (plow.tail.x().si(), parts.tail);
    wrong.unless(
        tail_x_m < 0.0,
        key,
        format!("the {name} is behind where x is measured from, so its x is below 0"),
    );
    // A tail ahead of that place says so itself.
    if tail_x_m < 0.0 && plow.weight.x.si() <= tail_x_m {
        let sentence = format!("the weight is behind the {name}: compare its x with {key}");
        wrong.push(KeyFault::at("weight.x", sentence).beside([key]));
    }
    if bottoms >= plow.plow_hitch.x.si() {
        let sentence =
            "the bottoms are ahead of the plow hitch: x is forward of the front axle, so they are below 0";
        wrong.push(KeyFault::at("bottoms.x", sentence).beside(["plow_hitch.x"]));
    }
    let depth_m = plow.bottoms.depth.m();
    if plow.bottoms.soil_force_z.is_some_and(|z| z.si() >= 0.0 || z.si() <= -depth_m - 0.05) {
        let sentence = "the soil acts between the land surface (0) and the working depth below it";
        wrong.push(KeyFault::at("bottoms.soil_force_z", sentence).beside(["bottoms.depth"]));
    }
    wrong.unless(
        plow.bottoms.landside_friction.is_none_or(|mu| (0.0..=1.0).contains(&mu)),
        "bottoms.landside_friction",
        "friction of steel on soil lies between 0 and 1",
    );
    let (lower_links, sole) = match plow.front {
        Front::Wheels(_) | Front::LowerLinks => (None, None),
        Front::Sole(sole) => (None, Some(sole.friction)),
        Front::MeetingLinks(links) => (Some(links), None),
    };
    let lengths = [
        ("front_wheels.diameter", plow.front.wheels().map(|wheels| wheels.diameter)),
        ("tail_wheel.diameter", plow.tail.wheel().map(|wheel| wheel.diameter)),
        ("bottoms.cut_width", Some(plow.bottoms.cut_width)),
        ("bottoms.depth", Some(plow.bottoms.depth)),
        ("lower_links.length", lower_links.map(|links| links.length.value)),
        (plow.link_key(), Some(plow.link.length.value)),
        ("plow_hitch.washer", plow.plow_hitch.washer),
        ("tractor_hitch.washer", plow.tractor_hitch.washer),
    ];
    for (key, length) in lengths {
        wrong.unless(length.is_none_or(|length| length.m() > 0.0), key, "must be above 0");
    }
    wrong.unless((1..=24).contains(&plow.bottoms.count), "bottoms.count", "must be 1 to 24");
    let resistances = [
        ("rolling.coefficient", Some(plow.rolling.coefficient), 0.5, "rolling resistance"),
        ("sole.friction", sole, 1.0, "friction"),
        match &plow.tail {
            Tail::Wheel(_) => ("rolling.coefficient", None, 0.5, ""),
            Tail::Heel(heel) => ("heel.resistance", Some(heel.resistance), 1.0, "friction"),
            Tail::RollingLandside(heel) => {
                ("rolling_landside.resistance", Some(heel.resistance), 0.5, "rolling resistance")
            }
        },
    ];
    for (key, resistance, below, what) in resistances {
        wrong.unless(
            resistance.is_none_or(|resistance| (0.0..below).contains(&resistance)),
            key,
            format!("{what} over load lies between 0 and {below}"),
        );
    }
}

fn tractor_of(tractor: &Tractor, wrong: &mut KeyFaults) {
    for (key, load) in [
        ("tractor.front_axle_load", tractor.front_axle_load),
        ("tractor.rear_axle_load", tractor.rear_axle_load),
    ] {
        wrong.unless(load.si() > 0.0, key, "must be above 0: weigh each axle, the tractor level");
    }
    let (track_m, tyre_m) = (tractor.track.si(), tractor.rear_tyre_width.si());
    for (key, length_m) in [
        ("tractor.wheelbase", Some(tractor.wheelbase.si())),
        ("tractor.track", Some(track_m)),
        ("tractor.rear_tyre_width", Some(tyre_m)),
        ("tractor.hitch_behind_rear_axle", Some(tractor.hitch_behind_rear_axle.si())),
        ("tractor.centre_of_gravity_height", tractor.centre_of_gravity_height.map(|z| z.si())),
        ("tractor.pin_step", tractor.pin_step.map(Length::m)),
    ] {
        wrong.unless(length_m.is_none_or(|length_m| length_m > 0.0), key, "must be above 0");
    }
    let mut beside_tyre = |right: bool, key: &str, sentence: &str| {
        if !right {
            wrong
                .push(KeyFault::at(key, sentence).beside(["tractor.rear_tyre_width", "tractor.right_wheel"]));
        }
    };
    beside_tyre(
        tyre_m < track_m,
        "tractor.track",
        "the track is measured from the middle of one tire to the middle of the other, so it is wider than a tire",
    );
    let offset_m = tractor.furrow_wall_offset.map(|offset| offset.si());
    let (key, in_furrow) = ("tractor.furrow_wall_offset", tractor.right_wheel == RightWheel::Furrow);
    beside_tyre(
        in_furrow || offset_m.is_some(),
        "tractor",
        "with right_wheel = \"land\", furrow_wall_offset is needed: from the wall of the open furrow to the \
         inside of the right rear tire",
    );
    beside_tyre(
        in_furrow || offset_m.is_none_or(|offset_m| offset_m >= tyre_m),
        key,
        "a tire on the land has its inside at least its own width left of the furrow wall",
    );
    beside_tyre(
        !in_furrow || offset_m.is_none_or(|offset_m| offset_m < tyre_m / 2.0),
        key,
        "a tire in the furrow has its inside at the wall or right of it (below 0)",
    );
    wrong.unless(
        tractor.right_pull_share.is_none_or(|share| (0.0..=1.0).contains(&share)),
        "tractor.right_pull_share",
        "a share lies between 0 and 1",
    );
}

fn sensors_of(plow: &Plow, wrong: &mut KeyFaults) {
    let mut channels = BTreeSet::new();
    let mut roles = BTreeSet::new();
    for (at, sensor) in plow.sensors.iter().enumerate() {
        let key = |part: &str| format!("sensors[{at}].{part}");
        let what = format!("channel \"{}\"", sensor.channel);
        wrong.unless(channels.insert(&sensor.channel), key("channel"), format!("{what} stands there twice"));
        let is_first = roles.insert(sensor.measures);
        wrong.unless(is_first, key("measures"), format!("two channels measure {}", sensor.measures.column()));
        let date = &sensor.calibration.date;
        wrong.unless(
            date.parse::<jiff::civil::Date>().is_ok(),
            key("calibration.date"),
            format!("{what}: calibration date '{date}' is not a day like 2027-03-01"),
        );
        let report = CalibrationReport::of(&sensor.calibration, sensor.measures);
        if let Some(error) = report.err().filter(|_| is_first) {
            let fault = KeyFault::at(key("calibration"), format!("{what}: calibration: {error}"));
            wrong.push(fault.beside([key("measures").as_str()]));
        }
        if let Some((low, high)) = sensor.count_limits {
            wrong.unless(low < high, key("count_limits"), format!("{what}: count_limits must rise"));
        }
    }
}

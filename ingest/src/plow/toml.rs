//! What `plow.toml` may say, key by key. [`Plow`] is what a plow is, once that has been parsed.

use super::{
    Bottoms, Front, FrontWheels, Heel, Hitch, HitchLink, Limits, LinkPins, LowerLinks, Plow, Rolling, RunsIn,
    SensorEntry, Setting, Sole, Tail, TailWheel, Tractor, TractorHitch, Weight,
};
use crate::quantity::{Force, Length, Measured, UnitSystem};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Everything that `plow.toml` may say.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlowToml {
    /// What the plow is called.
    pub name: String,
    /// Units of reports: si or us.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub units: Option<UnitSystem>,
    /// Its weight.
    pub weight: Weight,
    /// The front wheels of a trailed plow.
    pub front_wheels: Option<FrontWheels>,
    /// The sole of a walking plow.
    pub sole: Option<Sole>,
    /// What carries the tail, if it is a wheel.
    pub tail_wheel: Option<TailWheelToml>,
    /// What carries the tail, if it is a rolling landside in the furrow.
    pub rolling_landside: Option<Heel>,
    /// What carries the tail, if it is a heel that slides on the furrow bottom.
    pub heel: Option<Heel>,
    /// Rolling resistance of the wheels.
    #[serde(default)]
    pub rolling: Rolling,
    /// The bottoms and where the soil acts on them.
    pub bottoms: Bottoms,
    /// Where the member that is moved from hole to hole is pinned to the plow.
    pub plow_hitch: Hitch,
    /// Where it is pinned to the tractor.
    pub tractor_hitch: TractorHitch,
    /// The drawbar, or the chain of a walking plow, between the two.
    pub drawbar: Option<HitchLink>,
    /// The lower links of a semi-mounted or mounted plow.
    pub lower_links: Option<LowerLinksToml>,
    /// The top link of a mounted plow.
    pub top_link: Option<HitchLink>,
    /// The tractor, for the top view.
    pub tractor: Option<Tractor>,
    /// Named hitch settings.
    pub settings: BTreeMap<String, SettingToml>,
    /// What each channel of a sensor box measures.
    #[serde(default)]
    pub sensors: Vec<SensorEntry>,
    /// Bounds of the verdict.
    #[serde(default)]
    pub limits: Limits,
}

/// A tail wheel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TailWheelToml {
    /// Place of its axle, behind the origin and so below 0.
    pub x: Measured<Length>,
    /// Rolling diameter.
    pub diameter: Length,
    /// What it runs on.
    pub runs_in: Option<RunsIn>,
    /// Deflection and load, at least two lines, both rising.
    pub load_table: Vec<(Length, Force)>,
}

/// The tractor's lower links.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LowerLinksToml {
    /// Pin to pin.
    pub length: Measured<Length>,
    /// Their pins, on a mounted plow, whose holes are those of the top link.
    pub pins: Option<LinkPins>,
}

/// One hitch setting.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SettingToml {
    /// Name of the hole at the plow.
    pub plow_hole: String,
    /// Name of the hole at the tractor.
    pub tractor_hole: String,
    /// Pin at the tractor, left of the middle of the cut (+), if it was set.
    pub lateral_offset: Option<Length>,
}

impl From<Setting> for SettingToml {
    fn from(setting: Setting) -> Self {
        let Setting { plow_hole, tractor_hole, lateral_offset } = setting;
        Self { plow_hole: plow_hole.name, tractor_hole: tractor_hole.name, lateral_offset }
    }
}

impl From<Plow> for PlowToml {
    fn from(plow: Plow) -> Self {
        let (mut front_wheels, mut sole) = (None, None);
        let (mut drawbar, mut lower_links, mut top_link) = (None, None, None);
        match plow.front {
            Front::Wheels(wheels) => (front_wheels, drawbar) = (Some(wheels), Some(plow.link)),
            Front::Sole(own) => (sole, drawbar) = (Some(own), Some(plow.link)),
            Front::LowerLinks => {
                lower_links = Some(LowerLinksToml { length: plow.link.length, pins: None });
            }
            Front::MeetingLinks(LowerLinks { length, pins }) => {
                (lower_links, top_link) =
                    (Some(LowerLinksToml { length, pins: Some(pins) }), Some(plow.link));
            }
        }
        let (mut tail_wheel, mut rolling_landside, mut heel) = (None, None, None);
        match plow.tail {
            Tail::Wheel(TailWheel { x, diameter, runs_in, load_table }) => {
                let load_table = load_table.lines().collect();
                tail_wheel = Some(TailWheelToml { x, diameter, runs_in, load_table });
            }
            Tail::RollingLandside(own) => rolling_landside = Some(own),
            Tail::Heel(own) => heel = Some(own),
        }
        Self {
            name: plow.name,
            units: plow.units,
            weight: plow.weight,
            front_wheels,
            sole,
            tail_wheel,
            rolling_landside,
            heel,
            rolling: plow.rolling,
            bottoms: plow.bottoms,
            plow_hitch: plow.plow_hitch,
            tractor_hitch: plow.tractor_hitch,
            drawbar,
            lower_links,
            top_link,
            tractor: plow.tractor,
            settings: plow.settings.into_iter().map(|(name, one)| (name, one.into())).collect(),
            sensors: SensorEntry::together(plow.sensors, plow.own_sensors),
            limits: plow.limits,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plow::{Kind, read_plow, read_plow_text};
    use std::path::Path;

    fn examples() -> Vec<Plow> {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-runs/plows");
        std::fs::read_dir(folder).unwrap().map(|file| read_plow(&file.unwrap().path()).unwrap()).collect()
    }

    #[test]
    fn every_kind_is_written_as_it_was_read() {
        let mut kinds = Vec::new();
        for plow in examples() {
            let text = ::toml::to_string(&plow).unwrap();
            assert_eq!(read_plow_text(&text, Path::new("p.toml")).unwrap(), plow, "{text}");
            kinds.push(plow.kind());
        }
        for kind in [Kind::Trailed, Kind::SemiMounted, Kind::Mounted, Kind::Walking] {
            assert!(kinds.contains(&kind), "no example is {kind:?}");
        }
    }

    /// Parts of no kind, half a load table and holes that are not there are refused where they stand.
    #[test]
    fn what_is_no_plow_is_refused_by_its_key() {
        let refused = |plow: &Plow, change: &dyn Fn(&mut PlowToml)| {
            let mut said = PlowToml::from(plow.clone());
            change(&mut said);
            Plow::try_from(said).unwrap_err().to_string()
        };
        for plow in examples() {
            let hole = refused(&plow, &|said| {
                said.settings.values_mut().for_each(|setting| setting.tractor_hole = "none".to_owned());
            });
            assert!(hole.contains("tractor_hitch has no hole \"none\" (it has \""), "{hole}");
            let linkless = refused(&plow, &|said| (said.drawbar, said.lower_links) = (None, None));
            assert!(
                linkless.contains(&format!("a {} plow needs [", plow.kind().name()))
                    || plow.kind() == Kind::SemiMounted,
                "{linkless}"
            );
            let two_tails = refused(&plow, &|said| {
                said.heel = Some(Heel { x: plow.tail.x(), resistance: 0.3 });
                said.rolling_landside = said.heel;
            });
            assert!(two_tails.starts_with("tail_wheel: the tail is carried by one of"), "{two_tails}");
            if plow.tail.wheel().is_some() {
                let table = |lines: usize, turned: bool| {
                    refused(&plow, &|said| {
                        let table = &mut said.tail_wheel.as_mut().unwrap().load_table;
                        table.truncate(lines);
                        table.iter_mut().filter(|_| turned).for_each(|line| line.1 = Force::from_n(5.0));
                    })
                };
                assert!(table(1, false).starts_with("tail_wheel.load_table: at least two lines"));
                assert!(table(2, true).contains("must both rise"), "{}", table(2, true));
            }
        }
    }
}

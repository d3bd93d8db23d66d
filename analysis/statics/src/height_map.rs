//! The balance index over the heights of both pins, and where both carriers keep enough load.

use super::predict::{Nominal, PinShift};
use super::side::SideView;
use ingest::plow::{Plow, Setting};
use ingest::quantity::{Force, Length, in_si};
use schemars::JsonSchema;
use serde::Serialize;

/// Points along each height.
const POINTS: usize = 81;

/// Share of its static load that a carrier should keep.
pub const KEPT_SHARE: f64 = 0.2;

/// Draft from the 5th to the 95th percentile of a pass, over its mean, where no run says how much it varies: by
/// choice.
pub const DRAFT_RANGE: (f64, f64) = (0.85, 1.15);

/// Room beyond the outermost holes, over the span of the holes.
const ROOM_SHARE: f64 = 0.08;

/// A plow at one pair of heights.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct MapPoint {
    /// b, not bounded.
    pub balance_index: f64,
    /// Tail share on the steady point, (x_f − x_w)/L.
    pub standing_tail_share: f64,
    /// Whether both carriers keep [`KEPT_SHARE`] of their static load over [`DRAFT_RANGE`].
    pub keeps_load: bool,
}

impl MapPoint {
    /// How far b is above a level, on the scale that b has on the level's side of 0. b itself has a kink at 0,
    /// where its scale changes from the way to the front carrier to the way to the tail's; this has none, so a
    /// line of level between points of a grid comes out smooth.
    pub fn above(&self, level: f64) -> f64 {
        // b is 1 − τ/τ_0 on the flat side and (τ_0 − τ)/(1 − τ_0) on the steep one.
        let steep_over_flat = self.standing_tail_share / (1.0 - self.standing_tail_share);
        let b = self.balance_index;
        match (level >= 0.0, b >= 0.0) {
            (true, false) => b / steep_over_flat - level,
            (false, true) => b * steep_over_flat - level,
            (true, true) | (false, false) => b - level,
        }
    }
}

/// The map: points row by row with the height at the tractor.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct HeightMap {
    /// Heights at the plow, rising.
    #[serde(rename = "plow_z_m", serialize_with = "in_si")]
    pub plow_z: Vec<Length>,
    /// Heights at the tractor, rising.
    #[serde(rename = "tractor_z_m", serialize_with = "in_si")]
    pub tractor_z: Vec<Length>,
    /// One row for each height at the tractor; `None` where the plow cannot be.
    pub rows: Vec<Vec<Option<MapPoint>>>,
}

/// Works out the map about the holes of a plow in a setting, with the soil force as it is there.
pub fn height_map(plow: &Plow, setting: &Setting, nominal: &Nominal) -> HeightMap {
    let heights = |holes: &[ingest::plow::Hole]| {
        let z_m = || holes.iter().map(|hole| hole.z.si());
        let (low_m, high_m) = (z_m().fold(f64::INFINITY, f64::min), z_m().fold(f64::NEG_INFINITY, f64::max));
        // A single hole still gets some height about it.
        let room_m = (ROOM_SHARE * (high_m - low_m)).max(0.02);
        let step_m = (high_m - low_m + 2.0 * room_m) / (POINTS - 1) as f64;
        (0..POINTS).map(|i| low_m - room_m + i as f64 * step_m).map(Length::from_m).collect::<Vec<Length>>()
    };
    let (plow_z, tractor_z) = (heights(&plow.plow_hitch.holes), heights(&plow.tractor_hitch.holes));
    let row = |tractor_z: &Length| {
        let tractor = *tractor_z - setting.tractor_hole.z.value;
        let plow = plow_z.iter().map(|plow_z| *plow_z - setting.plow_hole.z.value);
        plow.map(|plow| point(nominal, PinShift { plow, tractor })).collect()
    };
    HeightMap { rows: tractor_z.iter().map(row).collect(), plow_z, tractor_z }
}

fn point(nominal: &Nominal, shift: PinShift) -> Option<MapPoint> {
    let side = nominal.state.with_pins(&nominal.plow_model, shift).ok()?;
    let standing_tail_n = side.standing_tail_load().n();
    let standing_front_n = side.weight.n() - standing_tail_n;
    let keeps = |factor: f64| {
        let soil_draft = Force::from_n(side.soil_draft.n() * factor);
        SideView { soil_draft, ..side }.loads().is_ok_and(|loads| {
            loads.tail_load.n() >= KEPT_SHARE * standing_tail_n
                && loads.front_load.n() >= KEPT_SHARE * standing_front_n
        })
    };
    // The loads are linear in the draft, so what holds at both ends holds between them.
    let keeps_load = keeps(DRAFT_RANGE.0) && keeps(DRAFT_RANGE.1);
    let standing_tail_share = standing_tail_n / side.weight.n();
    Some(MapPoint { balance_index: side.loads().ok()?.balance_index, standing_tail_share, keeps_load })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::invented_plow::{plow, setting};
    use crate::predict::nominal;

    /// At a hole the map has what the plow in that hole has; b rises with the pin at the plow and falls with
    /// that at the tractor; near balance both wheels keep their load and at the corners they do not.
    #[test]
    fn the_map_is_the_plow_at_each_pair_of_heights() {
        let plow = plow();
        let holes = setting("4", "4");
        let now = nominal(&plow, &holes, Force::from_n(8_000.0)).unwrap();
        let map = height_map(&plow, &holes, &now);
        let nearest = |heights: &[Length], z_m: f64| {
            let distance = |i: &usize| (heights[*i].m() - z_m).abs();
            (0..heights.len()).min_by(|a, b| distance(a).total_cmp(&distance(b))).unwrap()
        };
        for (plow_hole, tractor_hole) in [("4", "4"), ("6", "3"), ("8", "7")] {
            let there = setting(plow_hole, tractor_hole);
            let i = nearest(&map.plow_z, there.plow_hole.z.si());
            let j = nearest(&map.tractor_z, there.tractor_hole.z.si());
            let tractor = map.tractor_z[j] - holes.tractor_hole.z.value;
            let shift = PinShift { plow: map.plow_z[i] - holes.plow_hole.z.value, tractor };
            let b = now.with_pins(shift).unwrap().0.loads().unwrap().balance_index;
            assert_eq!(map.rows[j][i].unwrap().balance_index, b);
        }
        for row in &map.rows {
            let b: Vec<f64> = row.iter().flatten().map(|point| point.balance_index).collect();
            assert!(b.windows(2).all(|pair| pair[0] < pair[1]), "{b:?}");
        }
        // Without a kink: the second differences across b = 0 are as small as elsewhere.
        for level in [-0.25, 0.0, 0.25] {
            let above: Vec<f64> = map.rows[40].iter().flatten().map(|point| point.above(level)).collect();
            let bends = above.windows(3).map(|three| (three[2] - 2.0 * three[1] + three[0]).abs());
            let steps = above.windows(2).map(|two| (two[1] - two[0]).abs());
            assert!(bends.fold(0.0, f64::max) < 0.2 * steps.fold(f64::INFINITY, f64::min), "{level}");
        }
        let last = POINTS - 1;
        let (i, j) = (nearest(&map.plow_z, 4.0 * 0.0254), nearest(&map.tractor_z, 13.0 * 0.0254));
        assert!(map.rows[j][i].unwrap().keeps_load, "{:?}", map.rows[j][i]);
        assert!(!map.rows[0][last].unwrap().keeps_load && map.rows[0][last].unwrap().balance_index > 0.8);
        assert!(!map.rows[last][0].unwrap().keeps_load && map.rows[last][0].unwrap().balance_index < -0.3);
    }
}

//! Whether the means of a stretch at work can be those of this plow at all: before any figure is made of them.
//!
//! The statics takes whatever it is given: a mean pull below 0 or a depth in the wrong unit comes out as a balance like any
//! other, and a bold word of it is worse than none.

use super::draft::{MOLDBOARD, MOLDBOARD_RANGE_SHARE, soil_factor, specific_draft_n_per_cm2};
use super::plow_model::described_drawbar_slope;
use super::run_figures::RunFigures;
pub use super::unbelievable::Unbelievable;
use ingest::plow::{Plow, Setting, SoilClass};
use ingest::quantity::{Dimension, Force, Length, Speed, UnitSlip};

/// A mean depth so many times the described one, or as many times less, is asked about: pins and wheels were measured for
/// that depth, and at half as much again the hitch sits elsewhere by more than a hole or two. By choice.
pub const DEPTH_ASKED: f64 = 1.5;
/// From here on no verdict is given: no pass is driven so far from what the plow was measured for, and every usual slip of
/// a unit is beyond it (the smallest is inches for centimeters, 2.54). By choice.
pub const DEPTH_REFUSED: f64 = 2.0;
/// A depth or pull differs from what it should be by more than its unit: within this share the slip is named.
const SLIP_WITHIN: f64 = 0.25;
/// The pull is doubted where it is so many times outside of what is published for any soil, at any speed that plows are
/// pulled at. By choice: the published range is ±40 %.
pub const PULL_OUTSIDE: f64 = 1.5;
/// Speeds that plows are pulled at, in km/h, by choice.
const SPEEDS_KMH: (f64, f64) = (3.0, 10.0);

/// Why these means cannot be believed; `None` where nothing speaks against them.
pub fn unbelievable((plow, setting): (&Plow, &Setting), run: &RunFigures) -> Option<Unbelievable> {
    let pull = run.pull.mean.value;
    if pull.n() <= 0.0 {
        return Some(Unbelievable::PullNotAboveZero { pull });
    }
    let of_depth = run.depth.and_then(|depth| depth_refused(plow, depth));
    of_depth.or_else(|| pull_refused((plow, setting), pull, run.depth_or_described(plow)))
}

fn depth_refused(plow: &Plow, depth: Length) -> Option<Unbelievable> {
    if depth.m() <= 0.0 {
        return Some(Unbelievable::DepthNotAboveZero { depth });
    }
    depth_off(plow, depth, DEPTH_REFUSED)
}

/// A depth that many times the described one or more, or as many times less.
pub fn depth_off(plow: &Plow, depth: Length, times: f64) -> Option<Unbelievable> {
    let described = plow.bottoms.depth;
    let factor = depth.m() / described.m();
    (factor > 0.0 && factor.max(1.0 / factor) >= times).then(|| Unbelievable::DepthOff {
        depth,
        described,
        factor,
        slip: UnitSlip::of_factor(Dimension::Length, factor, SLIP_WITHIN),
    })
}

/// A pull far outside of what is published for any soil that a slip of the unit would bring into that range.
pub fn pull_refused((plow, setting): (&Plow, &Setting), pull: Force, depth: Length) -> Option<Unbelievable> {
    let slope = described_drawbar_slope(plow, setting).ok()?;
    let draft = Force::from_n(pull.n() / slope.hypot(1.0));
    let found = specific_draft_n_per_cm2(draft, Length::from_m(plow.total_cut_m()), depth)?;
    let (low, high) = published_n_per_cm2()?;
    let holds = |specific: f64| (low..=high).contains(&specific);
    let is_positive = found > 0.0;
    if !is_positive || (low / PULL_OUTSIDE..=high * PULL_OUTSIDE).contains(&found) {
        return None;
    }
    let off = |slip: &UnitSlip| (found / slip.factor / (low * high).sqrt()).ln().abs();
    let fitting = UnitSlip::all(Dimension::Force).filter(|slip| holds(found / slip.factor));
    let slip = fitting.min_by(|one, other| off(one).total_cmp(&off(other)))?;
    let times = |specific: f64| Force::from_n(pull.n() * specific / found);
    Some(Unbelievable::PullOff { pull, low: times(low), high: times(high), slip })
}

/// Ends of what is published for any soil at any speed, in N/cm².
fn published_n_per_cm2() -> Option<(f64, f64)> {
    let at = |soil, kmh: f64| {
        let (one_m, ten_cm) = (Length::from_m(1.0), Length::from_m(0.1));
        let draft = MOLDBOARD.draft(soil_factor(soil), Speed::from_mps(kmh / 3.6), 1.0, ten_cm);
        specific_draft_n_per_cm2(draft, one_m, ten_cm)
    };
    Some((
        at(SoilClass::Coarse, SPEEDS_KMH.0)? * (1.0 - MOLDBOARD_RANGE_SHARE),
        at(SoilClass::Fine, SPEEDS_KMH.1)? * (1.0 + MOLDBOARD_RANGE_SHARE),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::invented_plow::{figures, plow, setting};

    fn found(pull_n: f64, depth_mm: f64) -> Option<Unbelievable> {
        let plow = plow();
        let mut run = figures(pull_n, 900.0, &plow);
        run.depth = Some(Length::from_m(depth_mm / 1000.0));
        unbelievable((&plow, &setting("4", "4")), &run)
    }

    fn usual_mm() -> f64 {
        plow().bottoms.depth.m() * 1000.0
    }

    #[test]
    fn a_sound_pass_is_believed_in_soft_and_hard_soil_and_somewhat_deeper_or_shallower() {
        for pull_n in [4_000.0, 8_000.0, 16_000.0] {
            for depth in [0.7, 1.0, 1.4] {
                assert_eq!(found(pull_n, depth * usual_mm()), None, "{pull_n} {depth}");
            }
        }
    }

    #[test]
    fn means_that_no_plow_at_work_has_are_refused() {
        assert!(matches!(found(-8_740.0, usual_mm()), Some(Unbelievable::PullNotAboveZero { .. })));
        assert!(matches!(found(0.0, usual_mm()), Some(Unbelievable::PullNotAboveZero { .. })));
        assert!(matches!(found(8_000.0, -207.9), Some(Unbelievable::DepthNotAboveZero { .. })));
    }

    /// Found: inches for centimeters gave a verdict of a plow that worked 450 mm deep.
    #[test]
    fn a_depth_in_the_wrong_unit_is_refused_with_the_slip_named() {
        for (factor, units) in
            [(2.54, ("cm", "in")), (25.4, ("mm", "in")), (0.1, ("cm", "mm")), (1000.0, ("mm", "m"))]
        {
            match found(8_000.0, 1.03 * factor * usual_mm()) {
                Some(Unbelievable::DepthOff { slip: Some(slip), .. }) => {
                    assert_eq!((slip.really, slip.taken_for), units);
                }
                other => panic!("{factor}: {other:?}"),
            }
        }
        assert!(matches!(found(8_000.0, 5.0 * usual_mm()), Some(Unbelievable::DepthOff { slip: None, .. })));
        assert!(depth_off(&plow(), Length::from_m(1.6 * usual_mm() / 1000.0), DEPTH_ASKED).is_some());
    }

    /// Found: kilonewtons read as newtons were put down to the setting's name and the sign of the tail.
    #[test]
    fn a_pull_in_the_wrong_unit_is_refused_with_the_slip_named() {
        for (factor, units) in [(0.001, ("kN", "N")), (1000.0, ("N", "kN")), (1.0 / 4.448, ("lbf", "N"))] {
            match found(6_000.0 * factor, usual_mm()) {
                Some(Unbelievable::PullOff { slip, .. }) => assert_eq!((slip.really, slip.taken_for), units),
                other => panic!("{factor}: {other:?}"),
            }
        }
    }
}

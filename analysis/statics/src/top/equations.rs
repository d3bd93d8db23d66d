//! Laws that the top view must keep, whatever plow and tractor: random ones, no numbers from outside.

use super::plow::PulledPlow;
use super::tractor::{TopForces, TopView, Tractor};
use super::{TopError, TopForce, TopPoint};
use ingest::quantity::{Force, Length};
use proptest::prelude::*;

prop_compose! {
    /// From one bottom behind a garden tractor to six behind a large one, in the furrow or not.
    fn any_view()(
        centre in (-3.0..-0.3f64, -0.3..0.5f64),
        pin in (0.5..2.5f64, -0.6..0.6f64, 0.2..0.6f64),
        soil in (-0.2..0.4f64, 500.0..30_000.0f64, 0.0..0.6f64, 0.0..0.6f64),
        wall_off_m in 0.1..1.5f64,
        axles in (0.5..1.5f64, 1.0..3.0f64),
        tractor in (1.5..3.5f64, 0.9..2.2f64, 0.2..1.2f64, -0.8..0.8f64),
        ground in (-0.1..0.1f64, -0.35..0.1f64),
        right_share in 0.2..0.8f64,
        gravity_z_m in proptest::option::of(0.5..1.2f64),
    ) -> TopView {
        TopView {
            plow: PulledPlow {
                centre: TopPoint::from_m(centre.0, centre.1),
                pin: TopPoint::from_m(pin.0, pin.1),
                pull_slope: soil.0,
                soil_draft: Force::from_n(soil.1),
                side_share: soil.2,
                landside_friction: soil.3,
                wall_y: Length::from_m(centre.1 + wall_off_m),
            },
            pin_z: Length::from_m(pin.2),
            tractor: Tractor {
                front_axle: Force::from_n(axles.0 * soil.1),
                rear_axle: Force::from_n(axles.1 * soil.1),
                wheelbase: Length::from_m(tractor.0),
                track: Length::from_m(tractor.1),
                hitch_behind: Length::from_m(tractor.2),
                middle_y: Length::from_m(tractor.3),
                left_ground_z: Length::from_m(ground.0),
                right_ground_z: Length::from_m(ground.1),
                right_share,
                gravity_z: gravity_z_m.map(Length::from_m),
            },
        }
    }
}

/// The view seen in a mirror along the way.
fn mirrored(view: &TopView) -> TopView {
    let flip = |p: TopPoint| TopPoint { y: Length::from_m(-p.y.m()), ..p };
    let tractor = &view.tractor;
    TopView {
        plow: PulledPlow {
            centre: flip(view.plow.centre),
            pin: flip(view.plow.pin),
            wall_y: Length::from_m(-view.plow.wall_y.m()),
            ..view.plow
        },
        tractor: Tractor {
            middle_y: Length::from_m(-tractor.middle_y.m()),
            left_ground_z: tractor.right_ground_z,
            right_ground_z: tractor.left_ground_z,
            right_share: 1.0 - tractor.right_share,
            ..*tractor
        },
        ..*view
    }
}

/// Every length times `length`, then the origin moved, then every force times `force`.
fn changed(view: &TopView, length: f64, origin: (f64, f64, f64), force: f64) -> TopView {
    let point = |p: TopPoint| TopPoint::from_m(length * p.x.m() + origin.0, length * p.y.m() + origin.1);
    let (plow, tractor) = (&view.plow, &view.tractor);
    TopView {
        plow: PulledPlow {
            centre: point(plow.centre),
            pin: point(plow.pin),
            wall_y: Length::from_m(length * plow.wall_y.m() + origin.1),
            soil_draft: Force::from_n(force * plow.soil_draft.n()),
            ..*plow
        },
        pin_z: Length::from_m(length * view.pin_z.m() + origin.2),
        tractor: Tractor {
            front_axle: Force::from_n(force * tractor.front_axle.n()),
            rear_axle: Force::from_n(force * tractor.rear_axle.n()),
            wheelbase: Length::from_m(length * tractor.wheelbase.m()),
            track: Length::from_m(length * tractor.track.m()),
            hitch_behind: Length::from_m(length * tractor.hitch_behind.m()),
            middle_y: Length::from_m(length * tractor.middle_y.m() + origin.1),
            left_ground_z: Length::from_m(length * tractor.left_ground_z.m() + origin.2),
            right_ground_z: Length::from_m(length * tractor.right_ground_z.m() + origin.2),
            gravity_z: tractor.gravity_z.map(Length::m).map(|z| length * z).map(Length::from_m),
            ..*tractor
        },
    }
}

/// All that a mirror leaves as it is, then all that it turns around; forces, then lengths, then the moment.
fn kept_and_turned(f: &TopForces) -> (Vec<f64>, Vec<f64>) {
    let (plow, tractor) = (&f.plow, &f.tractor);
    let on_plow = [plow.pull.x, plow.pull.z, plow.soil_side, plow.landside, plow.friction];
    let kept = on_plow.into_iter().chain([tractor.front_axle, tractor.rear_axle]).map(Force::n);
    let sideways = [plow.pull.y, tractor.front_side, tractor.rear_side, tractor.held_over].map(Force::n);
    let shift_y = tractor.across.map_or(Length::from_m(0.0), |across| across.shift_y);
    let offsets = [tractor.line_offset, tractor.target_offset, shift_y].map(Length::m);
    (
        kept.chain([tractor.dynamic_centre.m(), tractor.standing_centre.m()]).collect(),
        sideways.into_iter().chain(offsets).chain([tractor.turning.n_m()]).collect(),
    )
}

fn near(a: f64, b: f64, scale: f64) -> bool {
    (a - b).abs() <= 1e-9 * scale
}

/// What is left of the forces when they are added up: forward and left, in N, and about the origin, in N·m.
fn imbalance(forces: &[TopForce]) -> [f64; 3] {
    let sum = |part: fn(&TopForce) -> f64| forces.iter().map(part).sum();
    [sum(|f| f.x.n()), sum(|f| f.y.n()), sum(|f| f.at.x.m() * f.y.n() - f.at.y.m() * f.x.n())]
}

/// The largest force of a view, in N.
fn scale_n(view: &TopView) -> f64 {
    view.plow.soil_draft.n() + view.tractor.front_axle.n() + view.tractor.rear_axle.n()
}

proptest! {
    #[test]
    fn all_forces_on_each_body_add_up_to_nothing(view in any_view()) {
        let Ok(forces) = view.forces() else { return Ok(()) };
        let scale = scale_n(&view) * 10.0;
        let (plow, tractor) = view.force_lists(&forces);
        let (on_plow, on_tractor) = (imbalance(&plow), imbalance(&tractor));
        prop_assert!(near(on_plow[0], 0.0, scale) && near(on_tractor[0], 0.0, scale), "{on_plow:?}");
        prop_assert!(near(on_tractor[1], 0.0, scale), "{on_tractor:?}");
        prop_assert!(near(on_tractor[2], 0.0, scale), "{on_tractor:?}");
        if forces.plow.landside_holds {
            prop_assert!(near(on_plow[1], 0.0, scale) && near(on_plow[2], 0.0, scale), "{on_plow:?}");
        } else {
            // What is missing is what would hold the plow, and the wall cannot pull.
            prop_assert!(on_plow[1] < 0.0 && forces.plow.landside.n() == 0.0, "{on_plow:?}");
        }
    }

    #[test]
    fn a_mirror_turns_what_is_sideways_and_nothing_else(view in any_view()) {
        let (Ok(seen), Ok(mirror)) = (view.forces(), mirrored(&view).forces()) else { return Ok(()) };
        let ((kept, turned), (kept_too, turned_too)) = (kept_and_turned(&seen), kept_and_turned(&mirror));
        let scale = scale_n(&view) * 10.0;
        for (a, b) in kept.into_iter().zip(kept_too) {
            prop_assert!(near(a, b, scale), "{a} {b}");
        }
        for (a, b) in turned.into_iter().zip(turned_too) {
            prop_assert!(near(a, -b, scale), "{a} {b}");
        }
        if let (Some(a), Some(b)) = (seen.tractor.across, mirror.tractor.across) {
            prop_assert!(near(a.left_rear.n(), b.right_rear.n(), scale), "{a:?} {b:?}");
        }
    }

    #[test]
    fn units_and_origin_are_a_matter_of_words(
        view in any_view(),
        length in 0.5..50.0f64,
        origin in (-5.0..5.0f64, -5.0..5.0f64, -1.0..1.0f64),
        force in 0.1..10.0f64,
    ) {
        let (Ok(one), Ok(other)) = (view.forces(), changed(&view, length, origin, force).forces()) else {
            return Ok(());
        };
        let ((kept, turned), (kept_too, turned_too)) = (kept_and_turned(&one), kept_and_turned(&other));
        let scale = scale_n(&view) * 1000.0 * length.max(1.0) * force.max(1.0);
        for (at, (a, b)) in kept.into_iter().zip(kept_too).enumerate() {
            prop_assert!(near(a * if at < 7 { force } else { length }, b, scale), "{at}: {a} {b}");
        }
        for (at, (a, b)) in turned.into_iter().zip(turned_too).enumerate() {
            let factor = if at < 4 { force } else if at < 7 { length } else { force * length };
            prop_assert!(near(a * factor, b, scale), "{at}: {a} {b}");
        }
    }

    #[test]
    fn the_pin_for_the_target_leaves_nothing_to_steer_against(view in any_view()) {
        let Ok(forces) = view.pin_y_for_target().and_then(|y| view.with_pin_y(y).forces()) else {
            return Ok(());
        };
        let off_m = forces.tractor.line_offset.m() - forces.tractor.target_offset.m();
        prop_assert!(off_m.abs() < 1e-9, "{off_m}");
        prop_assert!(near(forces.tractor.held_over.n(), 0.0, scale_n(&view)), "{forces:?}");
        // Only the side pull itself is left, shared as the axles are loaded.
        let tractor = forces.tractor;
        let by_load_n = forces.plow.pull.y.n() * tractor.front_axle.n() / (tractor.front_axle.n() + tractor.rear_axle.n());
        prop_assert!(near(tractor.front_side.n(), by_load_n, scale_n(&view)), "{tractor:?}");
    }

    #[test]
    fn the_soil_draft_of_a_draft_gives_that_draft(view in any_view(), pull_x_n in 100.0..30_000.0f64) {
        let Ok(plow) = view.plow.with_draft(Force::from_n(pull_x_n)) else { return Ok(()) };
        let forces = plow.forces().unwrap();
        prop_assert!(near(forces.pull.x.n(), pull_x_n, pull_x_n * 10.0), "{forces:?}");
    }

    /// Leading left raises the press on the wall and the draft, leading right lowers both;
    /// and the press grows by draft over distance, as on a rigid plow on its pin.
    #[test]
    fn leading_left_presses_harder(view in any_view()) {
        let step_m = 1e-6;
        let plow = view.plow;
        let (Ok(now), Ok(left)) = (plow.forces(), plow.with_pin_y(Length::from_m(plow.pin.y.m() + step_m)).forces()) else {
            return Ok(());
        };
        if !now.landside_holds {
            return Ok(());
        }
        prop_assert!(left.landside.n() > now.landside.n() && left.pull.x.n() >= now.pull.x.n());
        let straight = PulledPlow { landside_friction: 0.0, ..plow };
        let (a, b) = (straight.forces().unwrap(), straight.with_pin_y(Length::from_m(plow.pin.y.m() + step_m)).forces().unwrap());
        if a.landside_holds {
            let per_m = (b.landside.n() - a.landside.n()) / step_m;
            let expected = a.pull.x.n() / (plow.pin.x.m() - plow.centre.x.m());
            prop_assert!((per_m / expected - 1.0).abs() < 1e-4, "{per_m} {expected}");
        }
    }
}

/// One plow behind one tractor, for the limits.
fn plain() -> TopView {
    TopView {
        plow: PulledPlow {
            centre: TopPoint::from_m(-1.0, 0.1),
            pin: TopPoint::from_m(1.0, 0.1),
            pull_slope: 0.1,
            soil_draft: Force::from_n(8_000.0),
            side_share: 0.25,
            landside_friction: 0.4,
            wall_y: Length::from_m(0.6),
        },
        pin_z: Length::from_m(0.35),
        tractor: Tractor {
            front_axle: Force::from_n(8_000.0),
            rear_axle: Force::from_n(16_000.0),
            wheelbase: Length::from_m(2.0),
            track: Length::from_m(1.4),
            hitch_behind: Length::from_m(0.5),
            middle_y: Length::from_m(0.1),
            left_ground_z: Length::from_m(0.0),
            right_ground_z: Length::from_m(0.0),
            right_share: 0.5,
            gravity_z: Some(Length::from_m(0.8)),
        },
    }
}

#[test]
fn without_draft_the_tractor_stands_as_it_was_weighed() {
    let mut view = plain();
    view.plow.soil_draft = Force::from_n(0.0);
    let forces = view.forces().unwrap();
    assert_eq!((forces.plow.pull.total().n(), forces.plow.landside.n()), (0.0, 0.0));
    assert_eq!((forces.tractor.front_axle.n(), forces.tractor.rear_axle.n()), (8_000.0, 16_000.0));
    assert_eq!(forces.tractor.dynamic_centre.m(), forces.tractor.standing_centre.m());
    assert_eq!(forces.tractor.turning.n_m(), 0.0);
    assert_eq!(forces.tractor.across.unwrap().shift_y.m(), 0.0);
}

#[test]
fn a_straight_pull_without_side_force_of_the_soil_touches_no_wall() {
    let mut view = plain();
    view.plow.side_share = 0.0;
    let forces = view.forces().unwrap();
    let (plow, pull) = (&forces.plow, forces.plow.pull);
    assert_eq!((plow.landside.n(), pull.y.n(), pull.x.n()), (0.0, 0.0, 8_000.0));
    assert_eq!((forces.tractor.held_over.n(), forces.tractor.front_side.n()), (0.0, 0.0));
}

/// Parallel to the way: the wall takes the soil's push alone, and d is the distance between the two lines.
#[test]
fn a_parallel_pull_has_its_own_offset_everywhere() {
    let mut view = plain();
    view.tractor.middle_y = Length::from_m(-0.15);
    let forces = view.forces().unwrap();
    assert_eq!(forces.plow.landside.n(), forces.plow.soil_side.n());
    assert_eq!(forces.plow.pull.x.n(), 8_000.0 * (1.0 + 0.4 * 0.25));
    assert_eq!(forces.tractor.line_offset.m(), 0.25);
}

#[test]
fn what_cannot_be_is_refused_by_name() {
    let mut behind = plain();
    behind.plow.pin.x = Length::from_m(-1.0);
    assert_eq!(behind.forces(), Err(TopError::PinNotAhead { ahead: Length::from_m(0.0) }));
    let aside = plain().with_pin_y(Length::from_m(2.2));
    assert!(matches!(aside.forces(), Err(TopError::SidewaysPull { lead }) if lead.deg() > 45.0));
    let mut high = plain();
    high.pin_z = Length::from_m(2.5);
    assert!(matches!(high.forces(), Err(TopError::FrontLifts { front }) if front.n() < 0.0));
    let mut broken = plain();
    broken.tractor.track = Length::from_m(f64::NAN);
    assert_eq!(broken.forces(), Err(TopError::NotFinite));
}

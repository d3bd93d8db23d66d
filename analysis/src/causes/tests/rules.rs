//! From evidence to likelihood: each rule, and the order.

use crate::causes::{
    CannotTell, Cause, CauseKind, Causes, ChannelIndicators, Likelihood, Peaks, RunEvidence, WorkStep, causes,
};
use crate::invented_plow::QUIET;
use crate::invented_plow::{figures, plow, setting};
use ingest::plow::{CarriedLoad, ChannelRole, Plow, Setting, ShareCondition};
use statics::identify::{Contradiction, Identified, IdentifyError, identify};
use statics::verdict::{GainAgreement, Verdict, verdict};
use stats::Estimate;

/// A run as the rules see it; a test changes what it is about.
struct Run {
    plow: Plow,
    identified: Result<Identified, IdentifyError>,
    verdict: Verdict,
    channels: ChannelIndicators,
}

impl Run {
    /// Tail load at 8 kN of pull in the middle holes; 900 N or so is near the steady point.
    fn of(share: ShareCondition, tail_n: f64) -> Self {
        Self::in_holes(share, tail_n, &setting("4", "4"))
    }

    /// A flat drawbar and a tail wheel that hardly carries.
    fn flat() -> Self {
        Self::in_holes(ShareCondition::Sharp, 120.0, &setting("8", "3"))
    }

    fn in_holes(share: ShareCondition, tail_n: f64, holes: &Setting) -> Self {
        let mut plow = plow();
        plow.bottoms.share = share;
        let identified = identify(&plow, holes, &figures(8_000.0, tail_n, &plow), 2_000, 5);
        let verdict = Verdict { firm: true, ..verdict(&plow, &identified, &QUIET) };
        Self { plow, identified, verdict, channels: ChannelIndicators::default() }
    }

    fn lifting_with(share: ShareCondition, chance: f64) -> Self {
        let mut run = Self::of(share, 900.0);
        run.identified.as_mut().unwrap().lifts_probability = chance;
        run
    }

    fn evidence(&self) -> RunEvidence<'_> {
        RunEvidence {
            plow: &self.plow,
            share: self.plow.bottoms.share,
            identified: &self.identified,
            verdict: &self.verdict,
            judged_by: Some(CarriedLoad::TailSpring),
            lifted_share: Some(0.0),
            lifted_load_n: Some(50.0),
            deflection: None,
            deflection_saturated_share: Some(0.0),
            peaks: Peaks { band_hz: Some((0.2, 15.0)), ..Peaks::default() },
            depth_mm: Estimate::around(180.0, 3.0).unwrap(),
            pull_n: Estimate::around(8_000.0, 100.0).unwrap(),
            side_n: None,
            depth_on_pull: None,
            front_at_peaks: None,
            channels: &self.channels,
        }
    }
}

fn of(causes: &Causes, kind: CauseKind) -> Cause {
    causes.ranked.iter().find(|cause| cause.kind == kind).unwrap().clone()
}

fn step(run: &RunEvidence<'_>, kind: CauseKind) -> Likelihood {
    of(&causes(run), kind).likelihood
}

/// Nothing wrong and nothing to see: nothing stands out.
#[test]
fn a_sound_run_has_no_cause_that_stands_out() {
    let run = Run::of(ShareCondition::Sharp, 1_000.0);
    let found = causes(&run.evidence());
    assert!(!found.stands_out && !found.shares_first, "{found:?}");
    let landside = of(&found, CauseKind::Landside);
    assert_eq!(landside.likelihood, Likelihood::NotShown);
    assert_eq!(landside.cannot_tell, Some(CannotTell::NoSideForce));
    let round = of(&found, CauseKind::TailOutOfRound);
    assert_eq!(round.cannot_tell, Some(CannotTell::NoSpeed));
}

#[test]
fn the_hitch_stands_by_the_chances_of_the_verdict() {
    let flat = Run::flat();
    let found = causes(&flat.evidence());
    assert_eq!(found.ranked[0].kind, CauseKind::HitchTooFlat, "{:?}", flat.verdict);
    assert_eq!(found.ranked[0].likelihood, Likelihood::Shown);
    assert_eq!(of(&found, CauseKind::HitchTooSteep).likelihood, Likelihood::SpokenAgainst);
}

/// What a usual slip of one entry would overturn is not as good as certain.
#[test]
fn nothing_is_shown_that_is_not_firm() {
    let mut flat = Run::flat();
    flat.verdict.firm = false;
    assert_eq!(step(&flat.evidence(), CauseKind::HitchTooFlat), Likelihood::Likely);
    let mut lifting = Run::lifting_with(ShareCondition::Sharp, 0.97);
    lifting.verdict.firm = false;
    assert_eq!(step(&lifting.evidence(), CauseKind::Shares), Likelihood::Likely);
}

#[test]
fn shares_go_by_the_chance_that_the_soil_lifts() {
    let with = |share, chance| {
        let run = Run::lifting_with(share, chance);
        let found = causes(&run.evidence());
        (of(&found, CauseKind::Shares).likelihood, found.shares_first)
    };
    for share in [ShareCondition::Sharp, ShareCondition::Blunt] {
        assert_eq!(with(share, 0.97), (Likelihood::Shown, true));
        assert_eq!(with(share, 0.85), (Likelihood::Likely, true));
        assert_eq!(with(share, 0.6), (Likelihood::Possible, false));
        assert_eq!(with(share, 0.3), (Likelihood::NotShown, false));
        assert_eq!(with(share, 0.02), (Likelihood::SpokenAgainst, false));
    }
    // Stated to be worn: in question until the run speaks against it.
    assert_eq!(with(ShareCondition::Worn, 0.3), (Likelihood::Possible, true));
    assert_eq!(with(ShareCondition::Worn, 0.02), (Likelihood::SpokenAgainst, false));
    assert_eq!(with(ShareCondition::Worn, 0.97), (Likelihood::Shown, true));
}

/// Four in five of the draws lift for no other reason than that somebody said "worn": that is not likely, that is
/// hearsay.
#[test]
fn what_only_the_statement_says_is_possible_and_no_more() {
    let run = Run::lifting_with(ShareCondition::Worn, 0.81);
    let shares = of(&causes(&run.evidence()), CauseKind::Shares);
    assert_eq!(shares.likelihood, Likelihood::Possible, "{shares:?}");
    assert_eq!(shares.cannot_tell, Some(CannotTell::NothingAdded { share: ShareCondition::Worn }));
}

#[test]
fn a_side_force_is_judged_where_the_hitch_is_balanced() {
    let balanced = Run::of(ShareCondition::Sharp, 1_000.0);
    assert_eq!(balanced.verdict.class, statics::verdict::Class::Balanced);
    let flat = Run::flat();
    let with = |run: &Run, side_n: f64, half_width_n: f64| {
        let side_n = Estimate::around(side_n, half_width_n);
        step(&RunEvidence { side_n, ..run.evidence() }, CauseKind::Landside)
    };
    assert_eq!(with(&balanced, 2_000.0, 200.0), Likelihood::Likely);
    assert_eq!(with(&balanced, -2_000.0, 200.0), Likelihood::Likely);
    assert_eq!(with(&flat, 2_000.0, 200.0), Likelihood::Possible);
    assert_eq!(with(&balanced, 800.0, 200.0), Likelihood::Possible);
    assert_eq!(with(&balanced, 400.0, 600.0), Likelihood::NotShown);
    assert_eq!(with(&balanced, 100.0, 100.0), Likelihood::SpokenAgainst);
}

#[test]
fn a_wheel_that_is_out_of_round_is_shown_where_bobbing_is_another_peak() {
    let run = Run::of(ShareCondition::Sharp, 1_000.0);
    let with = |tail_turn_hz, bobbing_hz: Option<f64>, expected| {
        let base = run.evidence();
        let bobbing_hz = bobbing_hz.and_then(Estimate::exact);
        let peaks = Peaks { tail_turn_hz, bobbing_hz, tail_turn_expected_hz: expected, ..base.peaks };
        step(&RunEvidence { peaks, ..base }, CauseKind::TailOutOfRound)
    };
    assert_eq!(with(Some(1.13), Some(3.0), Some(1.13)), Likelihood::Shown);
    assert_eq!(with(Some(1.13), None, Some(1.13)), Likelihood::Likely);
    assert_eq!(with(None, Some(3.0), Some(1.13)), Likelihood::SpokenAgainst);
    assert_eq!(with(None, Some(3.0), Some(0.1)), Likelihood::NotShown, "below what was searched");
    assert_eq!(with(None, Some(3.0), None), Likelihood::NotShown);
}

#[test]
fn a_gain_that_disagrees_makes_the_tail_wheel_possible_and_no_more() {
    let mut run = Run::of(ShareCondition::Sharp, 1_000.0);
    let mut with = |gain| {
        run.verdict.gain = gain;
        step(&run.evidence(), CauseKind::TailFollows)
    };
    assert_eq!(with(GainAgreement::MeasuredLower), Likelihood::Possible);
    assert_eq!(with(GainAgreement::MeasuredHigher), Likelihood::Possible);
    assert_eq!(with(GainAgreement::Agrees), Likelihood::SpokenAgainst);
    assert_eq!(with(GainAgreement::TooWide), Likelihood::NotShown);
    assert_eq!(with(GainAgreement::NotCompared), Likelihood::NotShown);
}

#[test]
fn sensors_come_first_among_what_is_as_well_supported() {
    let run = Run::of(ShareCondition::Sharp, 1_000.0);
    let with = |find: fn(&mut ChannelIndicators)| {
        let mut channels = ChannelIndicators::default();
        find(&mut channels);
        step(&RunEvidence { channels: &channels, ..run.evidence() }, CauseKind::Sensors)
    };
    assert_eq!(with(|of| of.zero_moved = vec![ChannelRole::Pull]), Likelihood::Likely);
    assert_eq!(with(|of| of.bad = vec![ChannelRole::Tail]), Likelihood::Likely);
    assert_eq!(with(|of| of.beyond_range = vec![(ChannelRole::Pull, 0.3)]), Likelihood::Possible);
    // Found on a stored run: a few of the largest readings extrapolated made the sensor a possible cause.
    assert_eq!(with(|of| of.beyond_range = vec![(ChannelRole::Pull, 0.005)]), Likelihood::NotShown);
    assert_eq!(with(|of| of.calibration_old = vec!["pull".into()]), Likelihood::Possible);
    let mut contradicted = Run::of(ShareCondition::Worn, 1_000.0);
    let cause = Contradiction::SoilHeight { too_high: true };
    contradicted.identified =
        Err(IdentifyError::Contradiction { kept: 1, tried: 100, cause, suspects: Vec::new() });
    let found = causes(&contradicted.evidence());
    assert_eq!((found.ranked[0].kind, found.ranked[0].likelihood), (CauseKind::Sensors, Likelihood::Shown));
    // Nothing else can be told then, but what was stated of the shares still stands.
    assert_eq!(of(&found, CauseKind::Shares).likelihood, Likelihood::Possible);
    assert_eq!(of(&found, CauseKind::HitchTooFlat).likelihood, Likelihood::NotShown);
}

/// The order is that of support, and within it that of the work.
#[test]
fn the_list_falls_from_shown_to_spoken_against() {
    let run = Run::lifting_with(ShareCondition::Worn, 0.99);
    let found = causes(&run.evidence());
    assert!(found.ranked.is_sorted_by_key(|cause| (cause.likelihood, cause.kind)), "{found:?}");
    assert_eq!(found.order_of_work[0], WorkStep::Shares);
    assert!(found.shares_first);
}

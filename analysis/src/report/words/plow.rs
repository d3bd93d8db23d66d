//! What is said of a plow before any run: where its lines pass, what its links carry, what its draft should be, and
//! what moving something would do.

use super::load_change;
use crate::report::units::{Units, percent, probability_percent, signed};
use ingest::plow::PartNames;
use ingest::quantity::Length;
use statics::predict::{Along, CANNOT_BE_MAX, Prediction};
use statics::report::{DraftCheck, LinksReport, STEP, StaticsReport};
use statics::sensitivity::Change;
use statics::side::StaticsErrorKind;
use statics::what_if::WhatIf;
use std::collections::BTreeSet;

/// The name of a hole as far as a sentence has room for it: an order is whole on every page, however long the names.
pub fn hole_named(name: &str) -> String {
    const MOST: usize = 24;
    if name.chars().count() <= MOST {
        return name.to_owned();
    }
    name.chars().take(MOST - 1).chain(['…']).collect()
}

/// Cases that cannot be are told from this share on, by choice: of fewer the draws do not say well how many they are.
const TOLD_FROM: f64 = 0.005;

/// What a balance index means on a plow that hangs on links.
const LEANS_ON_TRACTOR: &str = "A mounted plow is meant to lean on the tractor, so an index above 0 is usual \
    (common practice, no source); near +1 nothing holds its depth.";

/// A page without a run says what it is made from.
pub(in crate::report) const FROM_THE_DESCRIPTION: &str =
    "Worked out from the description, with every figure at its middle; no run was measured.";

/// What the reader of a page without a run must not conclude; its table has `shown` pairs of holes.
pub(in crate::report) fn cautions(report: &StaticsReport, shown: usize, units: Units) -> Vec<String> {
    let mut cautions = vec![
        "The soil's share of the load is a wide guess from the condition of the shares; a test pass narrows it."
            .to_owned(),
    ];
    if report.links.is_some() {
        cautions.push(LEANS_ON_TRACTOR.to_owned());
    }
    let pairs = report.pairs();
    if pairs > shown {
        cautions.push(format!(
            "The table has up to {shown} pairs of holes nearest to balance, the one in use and the one advised, of \
             {pairs}."
        ));
    }
    cautions.extend(pairs_left_out(report));
    let now = report.holes.iter().find(|hole| hole.is_now);
    let tried = report.what_if.as_ref().map(|asked| &asked.then);
    cautions
        .extend(now.into_iter().chain(tried).filter_map(|hole| may_not_stand(hole, &report.parts, units)));
    cautions
}

/// Where the pull comes from.
pub(in crate::report) const fn pull_from(along: Along) -> &'static str {
    match along {
        Along::Pull(_) => "given",
        Along::SoilDraft(_) => "not measured: from the published draft",
    }
}

/// What stays when pins are moved: the same soil, and so not the same pull.
pub(in crate::report) fn soil_stays(report: &StaticsReport, units: Units) -> String {
    let draft = units.force_n(report.side.soil_draft.n());
    match report.along {
        Along::Pull(_) => format!(
            "the soil's draft stays {draft}, as the pull that was given has it in the holes of the setting; the pull changes"
        ),
        Along::SoilDraft(_) => {
            format!("the soil's draft stays the published {draft}; the pull changes")
        }
    }
}

/// That a plow would not stand in some holes, and how often.
pub(in crate::report) fn would_not_stand(why: Option<StaticsErrorKind>, probability: f64) -> String {
    let what = why.map_or("the plow would not stand", StaticsErrorKind::would_be);
    format!("in {} of the cases {what}", probability_percent(probability))
}

/// Said with the figures of holes in which some cases cannot be.
pub(in crate::report) fn may_not_stand(hole: &Prediction, parts: &PartNames, units: Units) -> Option<String> {
    (hole.cannot_be_probability >= TOLD_FROM).then(|| {
        format!(
            "With hole {} ({}) at the plow and {} ({}) at the {}, {}; the intervals are of the other cases.",
            hole.plow_hole,
            units.given_height(hole.plow_z),
            hole.tractor_hole,
            units.given_height(hole.tractor_z),
            parts.puller,
            would_not_stand(hole.cannot_be, hole.cannot_be_probability)
        )
    })
}

/// How many pairs of holes no move leads to, and why.
pub(in crate::report) fn pairs_left_out(report: &StaticsReport) -> Option<String> {
    let unsure = report.holes.iter().filter(|hole| hole.cannot_be_probability > CANNOT_BE_MAX);
    let whys: Vec<_> = unsure
        .filter_map(|hole| hole.cannot_be)
        .chain(report.no_choice.iter().map(|pair| pair.cannot_be))
        .collect();
    let kinds: BTreeSet<_> = whys.iter().collect();
    let kinds: Vec<_> = kinds.into_iter().map(|kind| kind.would_be()).collect();
    (!whys.is_empty()).then(|| {
        let pairs = whys.len();
        let most = match report.no_choice.len() {
            0 => String::new(),
            most => format!(" (with {most} of them in most)"),
        };
        format!(
            "{pairs} of the {} pairs of holes {} left out, for in more than {} of the cases{most} {}. statics --all-holes \
             lists them.",
            report.pairs(),
            if pairs == 1 { "is" } else { "are" },
            percent(CANNOT_BE_MAX),
            kinds.join(", or ")
        )
    })
}

/// Carriers that would carry nothing, the steady point, the balance index, and the links if there are any.
pub(in crate::report) fn balance(report: &StaticsReport, units: Units) -> Vec<String> {
    let (loads, parts) = (&report.loads, &report.parts);
    let offset_m = loads.pull_line_offset.m();
    let mut lines = vec![
        format!(
            "Steady point {} on the line of the weight; the line of pull passes {} {} it.",
            above_or_below_land(loads.steady_point.z, units),
            units.height(offset_m.abs()),
            if offset_m < 0.0 { "below" } else { "above" }
        ),
        format!(
            "Balance index {} (0 on the steady point, +1 nothing on the {}, -1 nothing on the {}).",
            signed(loads.bounded_balance_index()),
            parts.tail,
            parts.front
        ),
    ];
    if let Some(of) = &report.links {
        lines.extend([links(of, units), LEANS_ON_TRACTOR.to_owned()]);
    }
    lines
}

/// A carrier that the lines alone would lift.
pub(in crate::report) fn carries_nothing(carrier: &str) -> String {
    format!("The {carrier} would carry nothing: the lines alone ask for a load below zero.")
}

/// Where the links meet, and what they carry.
fn links(LinksReport { links, lower, top }: &LinksReport, units: Units) -> String {
    format!(
        "The links meet {} ahead of the lower pins, {}: there the tractor pulls and carries. The lower links together \
         pull with {}; the top link {} {}.",
        units.height(links.meet.x.m()),
        above_or_below_land(links.meet.z, units),
        units.force_n(lower.n()),
        if top.n() < 0.0 { "pushes with" } else { "pulls with" },
        units.force_n(top.n().abs())
    )
}

/// The published draft, and whether that of this calculation is within its range.
pub(in crate::report) fn draft(check: &DraftCheck, report: &StaticsReport, units: Units) -> String {
    let (expected, pull_x_n) = (check.expected, report.loads.pull_x.n());
    let verdict = if pull_x_n < expected.low.n() {
        "below that range: check the pull sensor, the depth and the soil class"
    } else if pull_x_n > expected.high.n() {
        "above that range: check the pull sensor, the depth, the shares and the soil class"
    } else {
        "within it"
    };
    format!(
        "Draft to be expected in {}-textured soil at {}, {} deep: {} ({} to {}, ASABE D497.7). This draft, {}, is \
         {verdict}.",
        check.soil,
        units.speed(check.speed.mps()),
        units.height(check.depth.m()),
        units.force_n(expected.draft.n()),
        units.force_n(expected.low.n()),
        units.force_n(expected.high.n()),
        units.force_n(pull_x_n)
    )
}

/// The holes that were asked about: `hole 6 (20.5 in) at the tractor`.
pub(in crate::report) fn tried_holes(
    WhatIf { now, then, .. }: &WhatIf,
    parts: &PartNames,
    units: Units,
) -> String {
    let at = |name: &str, z, end: &str| {
        format!("hole {} ({}) at the {end}", hole_named(name), units.given_height(z))
    };
    let moved = [
        (then.plow_z != now.plow_z).then(|| at(&then.plow_hole, then.plow_z, "plow")),
        (then.tractor_z != now.tractor_z).then(|| at(&then.tractor_hole, then.tractor_z, parts.puller)),
    ];
    let moved: Vec<String> = moved.into_iter().flatten().collect();
    if moved.is_empty() { "the holes as they are".to_owned() } else { moved.join(" and ") }
}

/// What the moves that were asked about would give and take.
pub(in crate::report) fn price(
    WhatIf { now, then, .. }: &WhatIf,
    report: &StaticsReport,
    units: Units,
) -> String {
    let parts = &report.parts;
    let bears = if parts.puller == "tractor" { "tractor's drive wheels" } else { parts.puller };
    format!(
        "Nearer to balance than now with a chance of {}. The price: {} on the {bears}, {} on the {}.",
        probability_percent(then.better_probability),
        load_change(then.tractor_load.value.n() - now.tractor_load.value.n(), units),
        load_change(then.tail_load.value.n() - now.tail_load.value.n(), units),
        parts.tail
    )
}

/// What would be left under the hitch at the plow; below 0 it would drag.
pub(in crate::report) fn clearance(left: Length, units: Units) -> String {
    let size = units.height(left.m().abs());
    match left.m() < 0.0 {
        true => format!("The hitch at the plow would be {size} too low: it would drag."),
        false => format!("Under the hitch at the plow {size} would be left."),
    }
}

/// A change in the table of what changes with each thing.
pub(in crate::report) fn change(of: Change, report: &StaticsReport, units: Units) -> String {
    let step = units.height(STEP.m());
    match of {
        Change::TractorPin => format!("pin at the {} {step} higher", report.parts.puller),
        Change::PlowPin => format!("pin at the plow {step} higher"),
        Change::BothPins => format!("both pins {step} higher"),
        Change::LongerMember => format!("{} {} longer", report.parts.member, units.height(2.0 * STEP.m())),
        Change::WeightBack => format!("weight {step} further back"),
        Change::MoreWeight => "5 % more weight".to_owned(),
        Change::SoilDeeper => format!("soil force {step} deeper"),
        Change::DullerShares => "duller shares: soil slope +0.05".to_owned(),
        Change::MoreDraft => "10 % more draft".to_owned(),
    }
}

fn above_or_below_land(z: Length, units: Units) -> String {
    format!("{} {} the land", units.height(z.m().abs()), if z.m() < 0.0 { "below" } else { "above" })
}

//! The top view: what a plowman does about it, and the facts of the trade beside it.

use crate::report::units::{Units, probability_percent, sided};
use ingest::quantity::Length;
use ingest::safety::BEFORE_HANDS;
use statics::top::report::{AtPin, TopReport, Turn};
use statics::top::resistance::{Condition, Side};
use stats::Estimate;

/// ClassProbabilities from here on are told in a sentence.
const CHANCE_TOLD: f64 = 0.05;

/// Stands whatever the figures say: a tail wheel that does not carry lets the rear swing. Common practice, no source.
pub const VERTICAL_FIRST: &str = "A plow that runs toward the land is not cured sideways: vertical hitch, shares, \
                                  landsides and tail wheel first.";

/// Which way, what to do, and what that does: one sentence or two each.
pub fn sentences(report: &TopReport, units: Units) -> Vec<String> {
    let where_to = place(&report.now.off_target.si(), units);
    let mut told = vec![match report.turn {
        Turn::Left => format!(
            "The pull passes {where_to} of where this tractor runs straight: it turns the tractor to the left, \
             toward the land, and the front wheels are held over to the right."
        ),
        Turn::Right => format!(
            "The pull passes {where_to} of where this tractor runs straight: it turns the tractor to the right, \
             toward the plowed ground, and the front wheels are held over to the left."
        ),
        Turn::NotShown => format!(
            "Not shown: the pull passes {where_to} of where this tractor runs straight, and may as well pass on the \
             other side of it."
        ),
    }];
    told.push(format!("{} {}", the_move(report, units), if moves(report) { BEFORE_HANDS } else { "" }));
    if moves(report) {
        told.extend(what_it_does(report, units));
    }
    told.extend(warnings("As it is now", &report.now));
    if !report.pin_given {
        told.push(format!(
            "The setting has no lateral_offset, so the pin is taken in the tractor's middle, {} of the middle of \
             the cut.",
            place(&report.now.pin_y.si(), units)
        ));
    }
    told.push(VERTICAL_FIRST.to_owned());
    told.iter().map(|sentence| sentence.trim_end().to_owned()).collect()
}

/// Whether a move of the pin is advised.
fn moves(report: &TopReport) -> bool {
    report.turn != Turn::NotShown && report.advised_move.m() != 0.0
}

/// How far to move the pin, with its interval, and what goes with it; or why it stays.
pub fn the_move(report: &TopReport, units: Units) -> String {
    if report.turn == Turn::NotShown {
        return "No sideways move is advised.".to_owned();
    }
    let step = report.pin_step.map(Length::m).map_or_else(String::new, |step_m| {
        let steps = (report.advised_move.m() / step_m).abs().round();
        let ending = if steps == 1.0 { "" } else { "s" };
        format!(", the nearest whole step being {steps:.0} step{ending} of {}", units.height(step_m))
    });
    let moved = format!(
        "Moving the pin at the tractor {} would bring it there{step}",
        place(&report.pin_move.si(), units)
    );
    if report.advised_move.m() == 0.0 {
        return format!("{moved}: that is less than half a step, so leave the pin where it is.");
    }
    format!(
        "{moved}; the clevis at the plow goes with it, so that the frame still runs straight. Move in parts and \
         look at each pass."
    )
}

fn what_it_does(report: &TopReport, units: Units) -> Vec<String> {
    let changes = report.landside_change.zip(report.draft_change);
    let (Some(after), Some((press, draft))) = (&report.after, changes) else {
        return vec![
            "The pin cannot go so far: the pull would lead more than 45 degrees sideways, or lift the tractor's \
             front."
                .to_owned(),
        ];
    };
    let mut told = vec![format!(
        "What that move does: the landsides press {} on the furrow wall than now, and the draft is {}, which is \
         {} at {}. Front wheels held over take {} instead of {}.",
        more_or_less(&press.si(), |change| units.force_interval(change)),
        more_or_less(&draft.si(), |change| units.force_interval(change)),
        more_or_less(&draft.si().scaled(report.speed.mps()), |change| units.power_interval(change)),
        units.speed(report.speed.mps()),
        units.power_w(after.held_over_power.value.w()),
        units.power_w(report.now.held_over_power.value.w())
    )];
    told.extend(warnings("After that move", after));
    told
}

fn warnings(when: &str, at: &AtPin) -> impl Iterator<Item = String> {
    let off = "the landsides leave the furrow wall: nothing then keeps the plow from swinging toward the plowed ground";
    let slides = "the front wheels cannot hold the tractor straight: they slide";
    [(at.landside_off_probability, off), (at.front_slides_probability, slides)]
        .into_iter()
        .filter(|(probability, _)| *probability >= CHANCE_TOLD)
        .map(move |(probability, what)| {
            format!("{when}, by {} of the draws, {what}.", probability_percent(probability))
        })
}

/// Once in an output, before the facts that it is true of.
const FACTS_HEAD: &str = "Facts of the trade (common practice, no source), with this plow's own figures:";

/// What the trade knows of a plow seen from above, beside this plow's own figures.
pub fn facts(report: &TopReport, units: Units) -> Vec<String> {
    let now = &report.now;
    let straight_n = units.force_interval(&now.straight_landside.si());
    let (lead_n, friction_n) = (now.lead_landside.value.n(), now.lead_draft.value.n());
    let adds = if lead_n < 0.0 { "takes" } else { "adds" };
    let at_the_landsides = format!(
        "Pulled straight ahead, the landsides would still press on the furrow wall with {straight_n}; this pull leads \
         {} and {adds} {} {} that, and {} {} its friction.",
        angle(&now.lead.si()),
        units.force_n(lead_n.abs()),
        if lead_n < 0.0 { "from" } else { "to" },
        units.force_n(friction_n.abs()),
        if lead_n < 0.0 { "from" } else { "to" }
    );
    let loads = &report.loads;
    let of_the_tractor = format!(
        "Pulling down at the hitch moves the tractor's center of gravity back: {} ahead of the rear axle under this \
         pull, {} standing. The line of pull is to pass it {}, as the land wheel usually has less grip.",
        units.height(loads.dynamic_centre.value.m()),
        units.height(loads.standing_centre.value.m()),
        place(&report.target_offset.si(), units)
    );
    let [left, right] = [Side::Left, Side::Right].map(|side| {
        let words: Vec<&str> = report
            .resistance_movers
            .iter()
            .filter(|mover| mover.moves == side)
            .map(|mover| condition(mover.condition))
            .collect();
        words.join(", ")
    });
    let of_the_soil = format!(
        "The center of resistance moves left, toward the unplowed land, {left}; right, toward the plowed ground, \
         {right}."
    );
    vec![FACTS_HEAD.to_owned(), at_the_landsides, of_the_tractor, of_the_soil]
}

/// What the intervals hold, and what they do not.
pub const fn what_is_guessed() -> [&'static str; 2] {
    [
        "Side push of the soil, friction of the landsides (unless measured), grip of the front wheels and how the \
         drive wheels share the pull (unless stated) are wide guesses by choice; the intervals hold them.",
        "The intervals do not hold that the landsides are taken to press abreast of the center of resistance: farther \
         back they press less for the same lead.",
    ]
}

/// As the end of a sentence.
const fn condition(of: Condition) -> &'static str {
    match of {
        Condition::MellowSoil => "in mellow or coarse soil",
        Condition::LowSpeed => "at low speed",
        Condition::ShortMoldboard => "with a short moldboard",
        Condition::HeavySoil => "in heavy or hard soil",
        Condition::HighSpeed => "at high speed",
        Condition::LongMoldboard => "with a long moldboard",
    }
}

/// `120 mm to the left (60 mm to 180 mm)`.
fn place(figure_m: &Estimate, units: Units) -> String {
    sided(figure_m, |m| units.height(m))
}

fn angle(figure_deg: &Estimate) -> String {
    sided(figure_deg, |deg| format!("{deg:.1}°"))
}

fn more_or_less(change: &Estimate, shown: impl Fn(&Estimate) -> String) -> String {
    if change.value < 0.0 {
        format!("{} less", shown(&change.scaled(-1.0)))
    } else {
        format!("{} more", shown(change))
    }
}

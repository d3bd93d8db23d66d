//! The view from above: its sentences and figures as text for a terminal and as the content of a page, and its drawing.

use super::columns::{indented, text};
use super::foot;
use super::wall::top_panel;
use super::words::top_view::{facts, sentences, what_is_guessed};
use crate::report::units::{Units, sided};
use ingest::plow::Plow;
use ingest::safety::BEFORE_HANDS;
use jiff::civil::Date;
use page::content::{Fact, Head, Section, TopContent};
use page::wall_content::TopPanel;
use statics::report::StaticsReport;
use statics::top::report::{TopReport, Turn};
use stats::Estimate;

/// Rows of name and figure.
type Rows = Vec<(&'static str, String)>;

/// The whole top view; lines end with a newline.
pub fn top_text(report: &TopReport, units: Units) -> String {
    let mut lines = vec!["\nTop view: which way the pull turns the tractor".to_owned()];
    lines.extend(indented(sentences(report, units).into_iter().chain(facts(report, units))));
    lines.push("\n  Figures of the top view (95 % intervals; at this pull)".to_owned());
    for (title, rows) in figures(report, units) {
        lines.extend((!title.is_empty()).then(|| format!("  {title}:")));
        lines.extend(rows.into_iter().map(|(name, figure)| format!("    {name:<50} {figure}")));
    }
    lines.extend(indented(what_is_guessed()));
    text(lines)
}

/// All figures, in order: sections with a title, which may be empty.
fn figures(report: &TopReport, units: Units) -> Vec<(&'static str, Rows)> {
    let places = |figure: &Estimate| sided(figure, |m| units.height(m));
    let forces = |figure: &Estimate| sided(figure, |n| units.force_n(n));
    let degrees = |figure: &Estimate| sided(figure, |deg| format!("{deg:.1}°"));
    let mut sections: Vec<(&str, Rows)> = vec![(
        "",
        vec![
            (
                "center of resistance from open furrow wall",
                units.height_interval(&report.resistance_from_furrow_wall.si()) + " by the rule n*w/2 + w/4",
            ),
            ("  from the middle of the cut", places(&report.resistance_y.si())),
            ("tractor's middle, from the middle of the cut", places(&report.tractor_middle_y.si())),
            ("where the pull should pass, from tractor's middle", places(&report.target_offset.si())),
        ],
    )];
    let moved =
        report.after.as_ref().filter(|_| report.turn != Turn::NotShown && report.advised_move.m() != 0.0);
    let pins = [Some((&report.now, "as it is now")), moved.map(|after| (after, "after the move advised"))];
    for (at, when) in pins.into_iter().flatten() {
        let slip = &at.held_over_slip.si();
        let slip = format!("{:.1}° ({:.1} to {:.1})", slip.value + 0.0, slip.low, slip.high);
        let lead_draft = at.lead_draft.si();
        let (lead_words, lead_draft) = if lead_draft.value < 0.0 {
            ("lead alone takes from the draft", lead_draft.scaled(-1.0))
        } else {
            ("lead alone adds to the draft", lead_draft)
        };
        sections.push((
            when,
            vec![
                ("pin, from the middle of the cut", places(&at.pin_y.si())),
                ("pin, from the tractor's middle", places(&at.pin_from_tractor_middle.si())),
                ("pull leads", degrees(&at.lead.si())),
                ("pull passes the center of gravity, from middle", places(&at.line_offset.si())),
                ("side part of the pull on the plow", forces(&at.pull_y.si())),
                ("landsides press on the furrow wall", units.force_interval(&at.landside.si())),
                ("  pulled straight ahead", units.force_interval(&at.straight_landside.si())),
                ("  friction there, part of the draft", units.force_interval(&at.friction.si())),
                ("  power it takes", units.power_interval(&at.friction_power.si())),
                (lead_words, units.force_interval(&lead_draft)),
                ("front wheels held over for", forces(&at.held_over.si())),
                ("  slipping sideways by", slip),
                ("  power it takes", units.power_interval(&at.held_over_power.si())),
            ],
        ));
    }
    sections.push(("tractor", tractor(report, units)));
    sections
}

fn tractor(report: &TopReport, units: Units) -> Rows {
    let loads = &report.loads;
    let mut rows: Rows = [
        ("front axle", &loads.standing_front.si(), &loads.front_axle.si()),
        ("rear axle", &loads.standing_rear.si(), &loads.rear_axle.si()),
    ]
    .into_iter()
    .map(|(name, standing, pulling)| {
        (name, format!("{}, standing {}", units.force_interval(pulling), units.force_n(standing.value)))
    })
    .collect();
    rows.push((
        "center of gravity ahead of rear axle",
        format!(
            "{}, standing {}",
            units.height_interval(&loads.dynamic_centre.si()),
            units.height(loads.standing_centre.value.m())
        ),
    ));
    if let (Some(shift), Some(left), Some(right)) = (loads.shift_y, loads.left_rear, loads.right_rear) {
        rows.push(("  its shift", sided(&shift.si(), |m| units.height(m))));
        rows.push(("left rear wheel", units.force_interval(&left.si())));
        rows.push(("right rear wheel", units.force_interval(&right.si())));
    } else {
        rows.push(("left and right rear wheel", "needs [tractor] centre_of_gravity_height".to_owned()));
    }
    rows
}

/// The content of the page; `date` is the day it was made for.
pub fn top_content(
    plow: &Plow,
    report: &StaticsReport,
    top: &TopReport,
    date: Date,
    units: Units,
) -> TopContent {
    let mut reasons = facts(top, units);
    reasons.extend(what_is_guessed().map(str::to_owned));
    TopContent {
        head: Head {
            title: (&report.setting).into(),
            plow: (&plow.name).into(),
            facts: vec![
                Fact::new("from above, at a pull of", units.force_n(report.loads.pull.n())),
                Fact::new("speed", units.speed(top.speed.mps())),
            ],
            date: Some(date),
        },
        // What the drawing says is said beside it, so that there is nothing below it.
        panel: TopPanel { sentences: Vec::new(), ..top_panel(plow, top, units) },
        advice: sentences(top, units).into(),
        reasons: reasons.into(),
        sections: figures(top, units)
            .into_iter()
            .map(|(title, rows)| {
                let rows = rows.into_iter().map(|(name, figure)| (name.into(), figure.into()));
                Section { title: title.into(), rows: rows.collect() }
            })
            .collect(),
        foot: foot(vec![
            concat!("hitchwright ", env!("CARGO_PKG_VERSION"), " statics, from above"),
            "figures with their 95 % intervals; the drawing has every input at its middle",
        ]),
    }
}

/// The drawing for a file of its own, with the move and the caution that goes with it below.
pub fn top_diagram(plow: &Plow, top: &TopReport, units: Units) -> TopPanel {
    let mut panel = top_panel(plow, top, units);
    panel.sentences.push(BEFORE_HANDS.to_owned());
    panel
}

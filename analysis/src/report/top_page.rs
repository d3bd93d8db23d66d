//! The view from above as the content of a page.

use super::top_figures::figures;
use super::wall_top::top_panel;
use super::words::top_view::{facts, sentences, what_is_guessed};
use crate::report::units::Units;
use ingest::plow::Plow;
use ingest::safety::CAUTIONS;
use jiff::civil::Date;
use page::content::{Fact, Foot, Head};
use page::top_content::{Section, TopContent};
use page::wall_content::TopPanel;
use statics::report::StaticsReport;
use statics::top::report::TopReport;

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
        panel: top_view(plow, top, units),
        advice: sentences(top, units).into(),
        reasons: reasons.into(),
        sections: figures(top, units)
            .into_iter()
            .map(|(title, rows)| {
                let rows = rows.into_iter().map(|(name, figure)| (name.into(), figure.into()));
                Section { title: title.into(), rows: rows.collect() }
            })
            .collect(),
        foot: Foot {
            provenance: vec![
                concat!("hitchwright ", env!("CARGO_PKG_VERSION"), " statics, from above"),
                "figures with their 95 % intervals; the drawing has every input at its middle",
            ]
            .into(),
            safety: CAUTIONS.map(Into::into).to_vec(),
        },
    }
}

/// The drawing alone. What it says is said beside it, so that there is nothing below it.
fn top_view(plow: &Plow, top: &TopReport, units: Units) -> TopPanel {
    TopPanel { sentences: Vec::new(), ..top_panel(plow, top, units) }
}

/// The drawing for a file of its own, with the move and the caution that goes with it below.
pub fn top_diagram(plow: &Plow, top: &TopReport, units: Units) -> TopPanel {
    let mut panel = top_panel(plow, top, units);
    panel.sentences.push(ingest::safety::BEFORE_HANDS.to_owned());
    panel
}

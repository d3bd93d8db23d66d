//! `statics`: what the description of a plow says, before anyone has driven.

use super::args::StaticsArgs;
use super::output::{self, PageTarget};
use super::{CommandError, Done, no_such_setting};
use crate::page::render_statics;
use crate::report::{StaticsReport, statics_content};
use crate::statics::draft::{ExpectedDraft, moldboard_draft, specific_draft_n_per_cm2};
use crate::statics::predict::{hole_table, nominal};
use crate::statics::text::{StaticsText, statics_text};
use crate::units_out::Units;
use ingest::plow::{Plow, Setting, SoilClass, read_plow};
use ingest::quantity::{Length, Quantity};

/// Seed of the Monte Carlo: the same plow gives the same table.
const DRAW_SEED: u64 = 0x57A7;

pub(super) fn statics(args: &StaticsArgs) -> Result<Done, CommandError> {
    let units = Units::from(args.report.units);
    let page = PageTarget::of(&args.page)?;
    let plow = read_plow(&args.plow).map_err(CommandError::failed)?;
    let (name, setting) = match &args.setting {
        Some(name) => plow
            .settings
            .get_key_value(name)
            .ok_or_else(|| CommandError::failed(no_such_setting(&plow, &args.plow, name)))?,
        None => plow.settings.first_key_value().ok_or_else(|| {
            CommandError::failed(format!("{}: there is no setting in it", args.plow.display()))
        })?,
    };
    let report = report(args, &plow, name, setting, units)?;
    let mut done = Done::report(if args.report.json {
        output::json(&report)?
    } else {
        statics_text(&StaticsText {
            plow: &plow,
            setting_name: name,
            setting,
            side: &report.side,
            loads: &report.loads,
            holes: &report.holes,
            expected_draft: &report.expected_draft,
            draft_check: &report.draft_check,
            units,
        })
    });
    if let Some(page) = page {
        let today = jiff::ZonedDateTime::now().date();
        let content = statics_content(&plow, setting, &report, today, units);
        let path = page.write(|paper, format| render_statics(&content, paper, format))?;
        done.remarks.push(format!("page: {path}"));
    }
    Ok(done)
}

fn report(
    args: &StaticsArgs,
    plow: &Plow,
    name: &str,
    setting: &Setting,
    units: Units,
) -> Result<StaticsReport, CommandError> {
    let (cut, depth) = (Length::from_si(plow.total_cut_m()), plow.bottoms.depth);
    let expected_draft = moldboard_draft(SoilClass::from(args.soil), args.speed, cut, depth);
    // The drawbar is flat enough for its pull and its draft to be within one per cent of each other.
    let pull_n = args.pull.map_or(expected_draft.draft_n, |pull| pull.n());
    let side = nominal(plow, setting, pull_n).map_err(CommandError::failed)?;
    let loads = side.loads().map_err(CommandError::failed)?;
    let holes = hole_table(plow, setting, pull_n, DRAW_SEED).map_err(CommandError::failed)?;
    Ok(StaticsReport {
        setting: name.to_owned(),
        pull_n,
        pull_is_expected_draft: args.pull.is_none(),
        side,
        loads,
        holes,
        expected_draft,
        specific_draft_n_per_cm2: specific_draft_n_per_cm2(loads.pull_x_n, cut, depth),
        draft_check: draft_check(&expected_draft, loads.pull_x_n, args.pull.is_none(), units),
    })
}

/// The pull beside the published range, in words.
fn draft_check(expected: &ExpectedDraft, draft_n: f64, is_expected: bool, units: Units) -> String {
    let range = format!("{} to {}", units.force_n(expected.low_n), units.force_n(expected.high_n));
    if is_expected {
        return format!("No --pull was given: the published draft is taken (range {range}).");
    }
    if (expected.low_n..=expected.high_n).contains(&draft_n) {
        format!("The draft lies within the published range, {range}.")
    } else {
        format!(
            "The draft lies outside the published range, {range}: check the load cell, the depth, and the soil \
             class."
        )
    }
}

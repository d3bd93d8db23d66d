//! `statics`: what the description of a plow says, before anyone has driven.

use super::args::StaticsArgs;
use super::outcome::{CommandError, Done, no_such_setting};
use super::output::{self, Target, WallTarget};
use super::statics_of_runs::statics_of_runs;
use crate::report::units::Units;
use crate::report::{
    HolesShown, map_content, statics_content, statics_diagram, statics_text, top_content, top_diagram,
    top_text, wall_content,
};
use ingest::plow::{Kind, Plow, Setting, read_plow};
use ingest::quantity::{Force, Speed, Unit};
use page::{Sheets, force_diagram_svg, height_map_svg, render, top_view_svg, wall_svg};
use statics::advice::{Expected, expect};
use statics::predict::plow_states;
use statics::report::{StaticsReport, draft_check, statics_report};
use statics::top::report::{TopReport, top_report};
use statics::what_if::what_if;
use std::path::Path;

/// Seed of the Monte Carlo: the same plow gives the same table.
const DRAW_SEED: u64 = 0x57A7;
/// 2 mph in m/s.
const TEAM_MPS: f64 = 2.0 * Unit::MILE_PER_HOUR.factor;

/// The report, what is expected and advised, and the top view beside it if it was asked for.
#[derive(serde::Serialize)]
struct WithTop<'a> {
    #[serde(flatten)]
    side: &'a StaticsReport,
    expected: &'a Expected,
    #[serde(skip_serializing_if = "Option::is_none")]
    top: Option<&'a TopReport>,
}

/// Speed where none is given: 6 km/h behind a tractor, 2 mph behind a team (common practice, no source).
fn usual_speed(plow: &Plow) -> Speed {
    match plow.kind() {
        Kind::Walking => Speed::from_mps(TEAM_MPS),
        Kind::Trailed | Kind::SemiMounted | Kind::Mounted => Speed::from_mps(6.0 / 3.6),
    }
}

fn top_view(
    plow: &Plow,
    args: &StaticsArgs,
    setting: &Setting,
    (pull_n, speed): (f64, Speed),
) -> Result<TopReport, CommandError> {
    top_report(plow, setting, Force::from_n(pull_n), speed, DRAW_SEED)
        .map_err(|error| CommandError::failed(format!("{}: {error}", args.plow.display())))
}

pub(super) fn statics(args: &StaticsArgs) -> Result<Done, CommandError> {
    let units = Units::from(args.report.units);
    if !args.runs.is_empty() {
        return statics_of_runs(args, units);
    }
    let page = Target::of(&args.page)?;
    args.map.iter().try_for_each(|path| output::svg_for_option("--map", path))?;
    let wall = WallTarget::of(args.wall.as_deref(), args.page.paper)?;
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
    let speed = args.speed.unwrap_or_else(|| usual_speed(&plow));
    let draft = draft_check(&plow, args.soil, speed, None);
    let mut remarks: Vec<String> = plow.runs_in_notice().map(str::to_owned).into_iter().collect();
    let pull_n = args.pull.map_or_else(
        || {
            // The drawbar is flat enough for its pull and its draft to be within some per cent of each other.
            remarks
                .push("no --pull was given: the published draft for --soil and --speed is taken".to_owned());
            draft.expected.draft.n()
        },
        |pull| pull.n(),
    );
    let mut report = statics_report(&plow, (name, setting), Force::from_n(pull_n), Some(draft), DRAW_SEED)
        .map_err(CommandError::failed)?;
    if !args.tries.is_empty() {
        let states =
            plow_states(&plow, setting, Force::from_n(pull_n), DRAW_SEED).map_err(CommandError::failed)?;
        let tried = what_if(&plow, setting, &states, &args.tries).map_err(CommandError::failed)?;
        report.what_if = Some(tried);
    }
    // The wall diagram shows every plow from above whose description has the tractor.
    let top = match args.top || (wall.is_some() && plow.tractor.is_some()) {
        true => Some(top_view(&plow, args, setting, (pull_n, speed))?),
        false => None,
    };
    let expected = expect(&plow, &report.holes);
    let told = top.as_ref().filter(|_| args.top);
    let mut done = Done::report(if args.report.json {
        output::json(&WithTop { side: &report, expected: &expected, top: told })?
    } else {
        let shown = if args.all_holes { HolesShown::All } else { HolesShown::Nearest };
        statics_text(&plow, &report, &expected, shown, units)
            + &told.map_or_else(String::new, |top| top_text(top, units))
    });
    if let Some(path) = &args.map {
        write_map(path, &plow, setting, (&report, &expected), units)?;
        remarks.push(format!("map: {}", path.display()));
    }
    match page {
        None => {}
        Some(Target::Page(page)) => {
            let today = jiff::ZonedDateTime::now().date();
            let path = page.write(|paper, format| match told {
                Some(top) => {
                    let content = top_content(&plow, &report, top, today, units);
                    render(&content, paper, format, Sheets::One)
                }
                None => {
                    let content = statics_content(&plow, &report, &expected, today, units);
                    render(&content, paper, format, Sheets::One)
                }
            })?;
            remarks.push(format!("page: {path}"));
        }
        Some(Target::Diagram(path)) => {
            let svg = match told {
                Some(top) => top_view_svg(&top_diagram(&plow, top, units), 180.0, 170.0),
                None => force_diagram_svg(&statics_diagram(&plow, &report, units), 180.0, 110.0),
            };
            let svg = svg.map_err(CommandError::failed)?;
            output::write(&path, svg.as_bytes())?;
            remarks.push(format!("diagram: {}", path.display()));
        }
    }
    if let Some(wall) = wall {
        remarks.push(write_wall(&wall, &plow, (&report, &expected), top.as_ref(), units)?);
    }
    done.remarks = remarks;
    Ok(done)
}

fn write_map(
    path: &Path,
    plow: &Plow,
    setting: &Setting,
    (report, expected): (&StaticsReport, &Expected),
    units: Units,
) -> Result<(), CommandError> {
    let svg = height_map_svg(&map_content(plow, setting, report, expected, units), 180.0, 130.0);
    output::write(path, svg.map_err(CommandError::failed)?.as_bytes())
}

/// Writes the wall diagram; gives back where it is.
fn write_wall(
    target: &WallTarget,
    plow: &Plow,
    (report, expected): (&StaticsReport, &Expected),
    top: Option<&TopReport>,
    units: Units,
) -> Result<String, CommandError> {
    let today = jiff::ZonedDateTime::now().date();
    let content = wall_content(plow, report, expected, top, today, units).map_err(CommandError::failed)?;
    let path = match target {
        WallTarget::Page(page) => page.write(|paper, format| render(&content, paper, format, Sheets::One))?,
        WallTarget::Svg(path, paper) => {
            let svg = wall_svg(&content, *paper).map_err(CommandError::failed)?;
            output::write(path, svg.as_bytes())?;
            path.display().to_string()
        }
    };
    Ok(format!("wall diagram: {path}"))
}

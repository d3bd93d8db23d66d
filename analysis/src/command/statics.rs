//! `statics`: what the description of a plow says, before anyone has driven; and `statics --runs`: one estimate of soil and
//! balance from several runs of it.

use super::args::StaticsArgs;
use super::output::{self, CommandError, Done, Target, setting_of};
use super::runs::{named_once, named_runs, rows_once};
use super::summary::all_analysed;
use crate::report::units::Units;
use crate::report::{
    HolesShown, joint_text, map_content, statics_content, statics_diagram, statics_text, top_content,
    top_diagram, top_text, wall_content,
};
use crate::summary::Analysed;
use ingest::plow::{Kind, Plow, Setting, SoilClass, read_plow};
use ingest::quantity::{Force, SaidIn, Speed, Unit};
use page::{Sheets, force_diagram_svg, height_map_svg, top_view_svg, wall_svg};
use statics::advice::{Expected, expect};
use statics::identify::IdentifyError;
use statics::joint::{JOINT_DRAWS, RunReadings, estimate_jointly};
use statics::predict::{Along, Predictor, plow_states};
use statics::report::{StaticsReport, draft_check, statics_report};
use statics::top::report::{TopReport, top_report};
use statics::what_if::{Move, what_if};
use std::path::Path;

/// Seed of the Monte Carlo: the same plow gives the same table.
const DRAW_SEED: u64 = 0x57A7;
/// 2 mph in m/s.
const TEAM_MPS: f64 = 2.0 * Unit::MILE_PER_HOUR.factor;

/// The report, what is expected and advised, and the top view beside it if it was asked for.
#[derive(serde::Serialize, schemars::JsonSchema)]
pub(super) struct WithTop<'a> {
    #[serde(flatten)]
    side: &'a StaticsReport,
    /// The class to expect, and what to do.
    expected: &'a Expected,
    /// From above, if it was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    top: Option<&'a TopReport>,
    /// Seed of the random draws behind holes and top view (ChaCha of 8 rounds).
    seed: u64,
}

/// Speed where none is given: 6 km/h behind a tractor, 2 mph behind a team (common practice, no source).
fn usual_speed(plow: &Plow) -> Speed {
    match plow.kind() {
        Kind::Walking => Speed::from_mps(TEAM_MPS),
        Kind::Trailed | Kind::SemiMounted | Kind::Mounted => Speed::from_mps(6.0 / 3.6),
    }
}

pub(super) fn statics(args: &StaticsArgs) -> Result<Done, CommandError> {
    if !args.runs.is_empty() {
        return statics_of_runs(args);
    }
    let page = Target::of("-o", args.page.output.as_ref(), args.page.paper)?;
    args.map.iter().try_for_each(|path| output::file_for_option("--map", path, "svg"))?;
    let wall = Target::of("--wall", args.wall.as_ref(), args.page.paper)?;
    let plow = read_plow(&args.plow)?;
    let units = args.report.units(Some(&plow))?;
    let (name, setting) = match &args.setting {
        Some(name) => setting_of(&plow, &args.plow, name)?,
        None => plow
            .settings
            .first_key_value()
            .ok_or_else(|| CommandError::at(&args.plow, "there is no setting in it"))?,
    };
    let speed = args.speed.unwrap_or_else(|| usual_speed(&plow));
    let draft = draft_check(&plow, args.soil, speed, None);
    let refused = |error: IdentifyError| CommandError::failed(error.said_in(units.into()));
    let mut remarks = described(&plow, units);
    let moves = args.tries.iter().map(|text| text.parse::<Move>());
    let moves = moves.collect::<Result<Vec<_>, _>>();
    let moves =
        moves.map_err(|error| CommandError::Usage(format!("--try: {}", error.said_in(units.into()))))?;
    if !moves.is_empty() && args.top && page.is_some() {
        let why = "-o with --top is the sheet from above, on which --try changes nothing: make one sheet with --top and \
                   one with --try";
        return Err(CommandError::Usage(why.to_owned()));
    }
    let along = args.pull.map_or_else(
        || {
            remarks.push(
                "no --pull was given: the published draft for --soil and --speed is taken, as what the soil asks for, \
                 whatever the holes"
                    .to_owned(),
            );
            Along::SoilDraft(draft.expected.draft)
        },
        |pull| Along::Pull(Force::from_n(pull.n())),
    );
    let mut report =
        statics_report(&plow, (name, setting), along, Some(draft), DRAW_SEED).map_err(refused)?;
    if !moves.is_empty() {
        let middle = report.nominal.state;
        let states = plow_states(&plow, setting, middle.soil_draft, DRAW_SEED);
        let tried = what_if(&plow, &Predictor::of(&plow, setting, &states, Some(&middle)), &moves);
        report.what_if = Some(tried.map_err(|error| CommandError::failed(error.said_in(units.into())))?);
    }
    // The wall diagram shows every plow from above whose description has the tractor.
    let from_above = args.top || (wall.is_some() && plow.tractor.is_some());
    let top = from_above
        .then(|| top_report(&plow, setting, report.loads.pull, speed, DRAW_SEED))
        .transpose()
        .map_err(|error| CommandError::at(&args.plow, error.said_in(units.into())))?;
    let expected = expect(&plow, &report.holes);
    let told = top.as_ref().filter(|_| args.top);
    let mut done = Done::report(if args.report.json {
        output::json(&WithTop { side: &report, expected: &expected, top: told, seed: DRAW_SEED })?
    } else {
        let shown = if args.all_holes { HolesShown::All } else { HolesShown::Nearest };
        statics_text(&plow, &report, &expected, shown, units)
            + &told.map_or_else(String::new, |top| top_text(top, units))
    });
    if let Some(path) = &args.map {
        let content = map_content(&plow, setting, &report, &expected, units);
        output::write(path, height_map_svg(&content, 180.0, 130.0)?.as_bytes())?;
        remarks.push(format!("map: {}", path.display()));
    }
    let today = jiff::ZonedDateTime::now().date();
    match page {
        None => {}
        Some(Target::Page(page)) => {
            let path = match told {
                Some(top) => page.write(&top_content(&plow, &report, top, today, units), Sheets::One)?,
                None => page.write(&statics_content(&plow, &report, &expected, today, units), Sheets::One)?,
            };
            remarks.push(format!("page: {path}"));
        }
        Some(Target::Svg(path)) => {
            let svg = match told {
                Some(top) => top_view_svg(&top_diagram(&plow, top, units), 180.0, 170.0)?,
                None => force_diagram_svg(&statics_diagram(&plow, &report, units), 180.0, 110.0)?,
            };
            output::write(&path, svg.as_bytes())?;
            remarks.push(format!("diagram: {}", path.display()));
        }
    }
    if let Some(wall) = wall {
        let content = wall_content(&plow, &report, &expected, top.as_ref(), today, units)?;
        let path = match wall {
            Target::Page(page) => page.write(&content, Sheets::One)?,
            Target::Svg(path) => {
                output::write(&path, wall_svg(&content, args.page.paper.into())?.as_bytes())?;
                path.display().to_string()
            }
        };
        remarks.push(format!("wall diagram: {path}"));
    }
    done.remarks = remarks;
    Ok(done)
}

/// What is to be told of the description itself.
fn described(plow: &Plow, units: Units) -> Vec<String> {
    plow.as_described(units.into()).into_iter().chain(plow.runs_in_notice().map(str::to_owned)).collect()
}

/// What a description gives to expect, in its first setting and usual soil and speed: the beginning of the report.
pub(super) fn expected_of_description(
    plow: &Plow,
    path: &Path,
    units: Units,
) -> Result<String, CommandError> {
    let first = plow.settings.first_key_value();
    let (name, setting) = first.ok_or_else(|| CommandError::at(path, "there is no setting in it"))?;
    let draft = draft_check(plow, SoilClass::Medium, usual_speed(plow), None);
    let along = Along::SoilDraft(draft.expected.draft);
    let report = statics_report(plow, (name, setting), along, Some(draft), DRAW_SEED)
        .map_err(|error| CommandError::failed(error.said_in(units.into())))?;
    let text = statics_text(plow, &report, &expect(plow, &report.holes), HolesShown::Nearest, units);
    // Forces and tables follow, for whoever asks `statics`; of them, only where the steady point is.
    let steady = text.lines().find(|line| line.starts_with("Steady point"));
    let told = text.split("\n\n").take(2).chain(steady).map(str::to_owned);
    Ok(described(plow, units).into_iter().chain(told).collect::<Vec<_>>().join("\n"))
}

/// Seed of the draws of [`statics_of_runs`]: the same runs give the same figures.
const RUNS_SEED: u64 = 0x1017;

/// One estimate of soil and balance from several runs of a plow.
fn statics_of_runs(args: &StaticsArgs) -> Result<Done, CommandError> {
    let mut plow = read_plow(&args.plow)?;
    let units = args.report.units(Some(&plow))?;
    let named = named_runs(&args.runs)?;
    named_once(&[&named])?;
    let analysed = all_analysed(&named, args.report.units)?;
    rows_once(&[&analysed])?;
    if let Some(first) = analysed.first() {
        plow.bottoms.share = first.description.run.share;
    }
    let runs = analysed.iter().map(|run| evidence(&plow, &args.plow, run)).collect::<Result<Vec<_>, _>>()?;
    let joint = estimate_jointly(&plow, &runs, JOINT_DRAWS, RUNS_SEED)?;
    let mut done = Done::report(match args.report.json {
        true => output::json(&joint)?,
        false => joint_text(&joint, &plow.part_names(), units),
    });
    done.remarks.extend(described(&plow, units));
    Ok(done)
}

/// What a run says of the plow of the description: its setting as that has it, its readings as they are.
fn evidence(plow: &Plow, path: &Path, run: &Analysed) -> Result<RunReadings, CommandError> {
    let facts = &run.description.run;
    if run.description.plow.name != plow.name {
        return Err(CommandError::failed(format!(
            "{}: it is a run of \"{}\", and {} describes \"{}\": name the description of the plow that was driven",
            facts.id,
            run.description.plow.name,
            path.display(),
            plow.name
        )));
    }
    if facts.share != plow.bottoms.share {
        return Err(CommandError::failed(format!(
            "{}: its shares were {}, those of the first run {}: take runs with the same shares together",
            facts.id, facts.share, plow.bottoms.share
        )));
    }
    let (_, setting) = setting_of(plow, path, &facts.setting_name)?;
    let driven = &run.description.setting;
    let names = |of: &Setting| (of.plow_hole.name.clone(), of.tractor_hole.name.clone());
    // Their heights may have been measured better since.
    if names(driven) != names(setting) {
        return Err(CommandError::failed(format!(
            "{}: setting {} was other holes then than in {}: give that setting a name of its own",
            facts.id,
            facts.setting_name,
            path.display()
        )));
    }
    // A wheel in the air follows nothing, so its gain says nothing of the plow.
    let lifted_share = run.summary.tail_load.as_ref().and_then(|load| load.lifted_share);
    let stays_down = lifted_share.is_some_and(|share| share.value <= plow.limits.lifted_share);
    let gain = run.summary.pull_to_tail.as_ref().map(|found| found.gain_n_per_n);
    Ok(RunReadings {
        name: facts.id.clone(),
        setting_name: facts.setting_name.clone(),
        setting: setting.clone(),
        figures: run.figures,
        gain_n_per_n: gain.filter(|_| stays_down),
    })
}

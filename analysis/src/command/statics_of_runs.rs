//! `statics --runs`: one estimate of soil and balance from several runs of a plow.

use super::args::StaticsArgs;
use super::output;
use super::output::{CommandError, Done, setting_of};
use super::summary::all_analysed;
use crate::report::joint_text;
use crate::report::units::Units;
use crate::summary::Analysed;
use ingest::plow::{Plow, Setting, read_plow};
use statics::joint::{JOINT_DRAWS, RunReadings, estimate_jointly};
use std::collections::BTreeSet;
use std::path::Path;

/// Seed of the draws: the same runs give the same figures.
const DRAW_SEED: u64 = 0x1017;

pub(super) fn statics_of_runs(args: &StaticsArgs, units: Units) -> Result<Done, CommandError> {
    let mut plow = read_plow(&args.plow)?;
    let mut folders = BTreeSet::new();
    for run in &args.runs {
        // A folder that is not there gets its own message when it is read.
        if !folders.insert(run.canonicalize().unwrap_or_else(|_| run.clone())) {
            return Err(CommandError::Usage(format!("{} is named twice", run.display())));
        }
    }
    let analysed = all_analysed(&args.runs)?;
    if let Some(first) = analysed.first() {
        plow.bottoms.share = first.description.run.share;
    }
    let runs = analysed.iter().map(|run| evidence(&plow, &args.plow, run)).collect::<Result<Vec<_>, _>>()?;
    let joint = estimate_jointly(&plow, &runs, JOINT_DRAWS, DRAW_SEED)?;
    let mut done = Done::report(match args.report.json {
        true => output::json(&joint)?,
        false => joint_text(&joint, &plow.part_names(), units),
    });
    done.remarks.extend(plow.runs_in_notice().map(str::to_owned));
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

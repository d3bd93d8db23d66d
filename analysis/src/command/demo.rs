//! `demo`: a virtual plow in an invented field, recorded through a pseudo-terminal in two hitch settings.
//!
//! Everything after the virtual sensor box is what a real one would meet: the same recorder, run folders,
//! analysis and pages.

use super::args::DemoArgs;
use super::compare::compared;
use super::output::{CommandError, Done, PageTarget, make_folder, progress};
use super::summary::all_analysed;
use crate::report::units::Units;
use crate::report::{comparison_content, comparison_text, run_content, verdict_line};
use crate::summary::Analysed;
use ingest::plow::{Plow, read_plow_text};
use ingest::recorder::{Begin, Destination, NoView, RecordConfig, RecordedRun, RunEnd, record};
use ingest::safety::CAUTIONS;
use page::Sheets;
use sample_runs::plow::Case;
use sample_runs::virtual_box::{BoxConfig, VirtualBox};
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Working part of each pass in s of the plow's time.
const WORKING_S: f64 = 60.0;
/// Standing before each pass, for the zero check.
const STANDING_S: f64 = 5.0;
/// The box runs this many times faster than real time.
const SPEED_UP: f64 = 80.0;
/// The two passes of a block lie beside each other, so they share their strip of the field.
const FIELD_SEED: u64 = 2027;
/// The settings that are compared.
const CASES: [Case; 2] = [Case::TooFlat, Case::Balanced];

pub(super) fn demo(args: &DemoArgs) -> Result<Done, CommandError> {
    let units = Units::of_reader(args.units, None).map_err(CommandError::Usage)?.unwrap_or(Units::Us);
    let folder = &args.out;
    make_folder(
        folder,
        ": this folder is there already, and nothing is written over; remove it, or choose another with --out",
    )?;
    let plow_file = folder.join("two-bottom.toml");
    std::fs::write(&plow_file, sample_runs::plow::Plow::TWO_BOTTOM_TOML)
        .map_err(|cause| CommandError::at(folder, cause))?;
    let mut plow = read_plow_text(sample_runs::plow::Plow::TWO_BOTTOM_TOML, &plow_file)?;
    // The virtual sensors do not age: they are as if calibrated on the day of the demo.
    let today = jiff::ZonedDateTime::now().date().to_string();
    plow.sensors.iter_mut().for_each(|sensor| sensor.calibration.date.clone_from(&today));
    let mut remarks = vec![
        "Plow, field and sensor box are invented; the recording and all after it are real.".to_owned(),
        "The box runs many times faster than a real one: that is why its clock and the computer's run apart."
            .to_owned(),
    ];
    remarks.extend(CAUTIONS.map(str::to_owned));
    remarks.iter().for_each(|remark| eprintln!("{remark}"));

    let runs = record_all(args, &plow, folder)?;
    let mut report = String::new();
    let [a, b] = runs.each_ref().map(|folders| all_analysed(folders, Some(units)));
    let (a, b) = (a?, b?);
    for analysed in a.iter().chain(&b) {
        push_run(&mut report, analysed);
    }
    let mut pages = Vec::new();
    for side in [&a, &b] {
        let Some(first) = side.first() else { continue };
        let name = format!("{}.pdf", ingest::run_folder::slug(&first.summary.run.setting));
        let content = run_content(first, units);
        let page = PageTarget::new("-o", &folder.join(name), args.paper)?;
        pages.push(page.write(&content, Sheets::One)?);
    }
    let comparison = compared(&a, &b)?;
    let day = a.first().and_then(|first| first.summary.run.day());
    let content = comparison_content(&comparison, &plow.name, day, units);
    let page = PageTarget::new("-o", &folder.join("comparison.pdf"), args.paper)?;
    pages.push(page.write(&content, Sheets::One)?);

    report.push('\n');
    report.push_str(&comparison_text(&comparison, units));
    report.push('\n');
    let _ = writeln!(report, "runs: {}", folder.join("runs").display());
    for page in pages {
        let _ = writeln!(report, "page: {page}");
    }
    Ok(Done::report(report))
}

fn push_run(report: &mut String, analysed: &Analysed) {
    let summary = &analysed.summary;
    let balance = summary.statics.as_ref().map_or("not shown".to_owned(), |statics| {
        crate::report::units::signed_interval(&statics.balance_index)
    });
    let verdict = verdict_line(&analysed.description.plow, summary).to_lowercase();
    let _ = writeln!(report, "{:<40} {verdict:<26} b {balance}", summary.run.id);
}

/// Records the passes block by block, the order of the two settings turning round from block to block.
fn record_all(args: &DemoArgs, plow: &Plow, folder: &Path) -> Result<[Vec<PathBuf>; 2], CommandError> {
    let runs = folder.join("runs");
    std::fs::create_dir(&runs).map_err(|cause| CommandError::at(&runs, cause))?;
    let progress = progress(2 * usize::from(args.passes), "recording");
    let mut recorded = [Vec::new(), Vec::new()];
    for block in 0..u64::from(args.passes) {
        let mut order: Vec<_> = CASES.into_iter().zip(&mut recorded).collect();
        if !block.is_multiple_of(2) {
            order.reverse();
        }
        for (case, folders) in order {
            folders.push(record_pass(case, block, plow, &runs)?);
            progress.inc(1);
        }
    }
    progress.finish_and_clear();
    Ok(recorded)
}

fn record_pass(case: Case, block: u64, plow: &Plow, runs: &Path) -> Result<PathBuf, CommandError> {
    let mut config = BoxConfig::of_case(case, FIELD_SEED + block, WORKING_S);
    config.pass.times.standing_s = STANDING_S;
    config.speed_up = SPEED_UP;
    config.seed = 2 * block + u64::from(case == Case::Balanced);
    let virtual_box = VirtualBox::open(config)?;
    let config = RecordConfig {
        ports: vec![virtual_box.path().to_owned()],
        baud: 921_600,
        gnss: None,
        plow: plow.clone(),
        begin: Begin::AtOnce,
        setting_name: Some(case.setting_name().to_owned()),
        setting_assumed: false,
        share: None,
        field: Some("demo field (invented)".to_owned()),
        soil: Some("virtual loam, two hardness scales".to_owned()),
        soil_class: None,
        note: Some(format!("demo, block {}", block + 1)),
        destination: Destination::In(runs.to_owned()),
        duration: None,
        stop_when_gone: Some(Duration::from_millis(300)),
        passes_before: 0,
        software: concat!("hitchwright ", env!("CARGO_PKG_VERSION")).to_owned(),
    };
    let run = record(&config, &mut NoView)?.last;
    virtual_box.join()?;
    match run {
        Some(RecordedRun { end: RunEnd::Signal(name), .. }) => {
            Err(CommandError::failed(format!("the demo was stopped by {name}")))
        }
        Some(run) => Ok(run.folder),
        None => Err(CommandError::failed("the demo recorded no run".to_owned())),
    }
}

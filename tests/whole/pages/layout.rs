//! Nothing is cut off, and nothing touches: pages of every example plow, in both unit systems, on both papers, with
//! names of three lengths, in the five classes.

use ingest::plow::{Plow, PlowToml};
use ingest::quantity::Speed;
use ingest::safety::CAUTIONS;
use std::thread;

use super::boxes::{faults, faults_of_svg};
use super::{PAPERS, SEED, report, stored_run};
use crate::{DATE, example_plows};
use analysis::command::describe::measuring_sheet;
use analysis::report::units::Units;
use analysis::report::{map_content, statics_content, top_content, top_diagram, wall_content};
use page::chart_content::Gauge;
use page::content::StaticsContent;
use page::content::{FigureRow, RunContent, VerdictLook};
use page::force_diagram::ForceDiagram;
use page::{Content, Paper, Sheets, height_map_svg, lay_out, top_view_svg, wall_svg};
use statics::advice::expect;
use statics::report::StaticsReport;
use statics::top::report::top_report;
use statics::verdict::Class;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Names {
    Short,
    Ordinary,
    Longest,
}

const LENGTHS: [Names; 3] = [Names::Short, Names::Ordinary, Names::Longest];
const UNITS: [Units; 2] = [Units::Si, Units::Us];

#[derive(Clone, Copy, Debug)]
struct Case {
    names: Names,
    units: Units,
    paper: Paper,
    class: Class,
}

/// The plow with names of this length, for itself, its first setting and its holes.
fn named(plow: &Plow, names: Names) -> (Plow, String) {
    let mut plow = PlowToml::from(plow.clone());
    let (mut name, mut setting) = plow.settings.pop_first().unwrap();
    let long = |what: &str, i: usize| format!("{i} {}", format!("{what} that somebody named ").repeat(12));
    match names {
        Names::Short => (plow.name, name) = ("P".to_owned(), "a".to_owned()),
        Names::Ordinary => {}
        Names::Longest => {
            (plow.name, name) = (long("plow", 1), long("setting", 1));
            for (holes, in_use) in [
                (&mut plow.plow_hitch.holes, &mut setting.plow_hole),
                (&mut plow.tractor_hitch.holes, &mut setting.tractor_hole),
            ] {
                for (i, hole) in holes.iter_mut().enumerate() {
                    let short = std::mem::replace(&mut hole.name, long("hole", i));
                    if short == *in_use {
                        in_use.clone_from(&hole.name);
                    }
                }
            }
        }
    }
    plow.settings = [(name.clone(), setting)].into();
    (Plow::try_from(plow).unwrap(), name)
}

/// The statics page of a case: the class is put in its place, with as much to do as a page can have.
fn statics_page(plow: &Plow, report: &StaticsReport, case: Case) -> StaticsContent {
    let mut expected = expect(plow, &report.holes);
    expected.class = case.class;
    let mut page = statics_content(plow, report, &expected, DATE, case.units);
    let place = Class::SHOWN.into_iter().position(|class| class == case.class).unwrap_or(2);
    let value = [0.9, 0.4, 0.05, -0.4, -0.9][place];
    page.gauge = page.gauge.map(|gauge| Gauge { value, low: value - 0.2, high: value + 0.2, ..gauge });
    if case.class == Class::Balanced && case.names == Names::Short {
        // As the page of worn shares is.
        page.gauge = page.gauge.map(|gauge| Gauge { set_aside: true, ..gauge });
        page.forces = page.forces.map(|forces| ForceDiagram { shares_first: true, ..forces });
    }
    if case.class != Class::Balanced {
        page.advice.push(stored_run(case.units).advice.remove(0));
    }
    page
}

/// A run's page with head, verdict, forces and advice of a statics page; its series are those of a stored run.
fn run_page(plow: &Plow, statics: &StaticsContent, case: Case) -> RunContent {
    let parts = plow.part_names();
    let told = match case.names {
        Names::Short => "ok",
        Names::Ordinary => {
            "the pull channel has 3 spikes in the working part, taken out: look for a loose plug"
        }
        Names::Longest => {
            "the zero of the pull channel was not checked: start the recording standing still, plow lifted, drawbar \
             slack, nobody between tractor and plow, for 5 s, and calibrate what does not read its zero"
        }
    };
    let mut base = stored_run(case.units);
    base.tail_load.as_mut().unwrap().name = parts.tail_load.to_owned();
    let spectrum = base.spectrum.as_mut().unwrap();
    spectrum.name = parts.tail_load.to_owned();
    spectrum.bobbing.take_if(|_| case.class == Class::Balanced);
    base.pull_tail.as_mut().unwrap().y = parts.tail_load.to_owned();
    let mut verdict = statics.verdict.clone().unwrap();
    if case.names != Names::Short {
        // As a class that is not firm is told.
        verdict.word = format!("looks {}", verdict.word).into();
        verdict.look = VerdictLook::Looks;
        verdict.note =
            Some("or leaning flat (39 %); if the height of the hole at the tractor is right".into());
        verdict.neighbor = verdict.neighbor.map(|said| format!("If the plow is as described, {said}").into());
    }
    let renamed =
        |row: FigureRow| FigureRow { name: row.name.replace("tail load", parts.tail_load).into(), ..row };
    RunContent {
        head: statics.head.clone(),
        verdict,
        gauge: statics.gauge.clone(),
        forces: statics.forces.clone(),
        figures: base.figures.into_iter().map(renamed).collect(),
        advice: statics.advice.clone(),
        quality: vec![told; 4].into(),
        foot: statics.foot.clone(),
        ..base
    }
}

/// Faults of drawings, each with its name.
fn faults_of_drawn(drawn: &[(impl std::fmt::Display, String)]) -> Vec<String> {
    let of = |(what, svg): &(_, String)| {
        faults_of_svg(svg).into_iter().map(|fault| format!("{what}: {fault}")).collect::<Vec<_>>()
    };
    drawn.iter().flat_map(of).collect()
}

/// Faults of a page in the layout that is taken for it, and of its charts in each layout that was tried.
fn faults_of_page(content: &impl Content, paper: Paper) -> Vec<String> {
    let page = match lay_out(content, paper, Sheets::One) {
        Ok(page) => page,
        Err(error) => return vec![error.to_string()],
    };
    let (width_mm, height_mm) = paper.size_mm();
    let size = (width_mm / 25.4 * 72.0, height_mm / 25.4 * 72.0);
    let mut found = faults_of_drawn(&page.charts);
    for boxes in &page.sheets {
        assert!(boxes.len() > 20, "a page has texts: {boxes:?}");
        found.extend(faults(boxes, size));
    }
    found.sort();
    found.dedup();
    found
}

fn faults_of_case(plow: &Plow, report: &StaticsReport, case: Case) -> Vec<String> {
    let statics = statics_page(plow, report, case);
    let run = run_page(plow, &statics, case);
    let found = faults_of_page(&statics, case.paper).into_iter().chain(faults_of_page(&run, case.paper));
    found.map(|fault| format!("{case:?}, {}: {fault}", plow.part_names().kind)).collect()
}

/// Faults of what is drawn whole: the map, the wall sheet and the view from above, in both units.
fn faults_of_drawings(plow: &Plow, report: &StaticsReport, names: Names) -> Vec<String> {
    let setting = plow.settings.values().next().unwrap();
    let expected = expect(plow, &report.holes);
    let from_above = || top_report(plow, setting, report.loads.pull, Speed::from_mps(1.6), SEED).unwrap();
    let top = plow.tractor.is_some().then(from_above);
    let mut all = Vec::new();
    for units in UNITS {
        let map = map_content(plow, setting, report, &expected, units);
        let mut drawn = vec![("map", height_map_svg(&map, 180.0, 130.0).unwrap())];
        let wall = wall_content(plow, report, &expected, top.as_ref(), DATE, units).unwrap();
        let mut found = Vec::new();
        if let Some(top) = &top {
            drawn.push(("from above", top_view_svg(&top_diagram(plow, top, units), 180.0, 170.0).unwrap()));
            let page = top_content(plow, report, top, DATE, units);
            found.extend(PAPERS.into_iter().flat_map(|paper| faults_of_page(&page, paper)));
        }
        drawn.extend(PAPERS.map(|paper| ("wall", wall_svg(&wall, paper).unwrap())));
        found.extend(faults_of_drawn(&drawn));
        all.extend(found.into_iter().map(|fault| format!("{names:?} {units:?}, {}: {fault}", plow.name)));
    }
    all
}

fn all_cases(names: Names) -> Vec<Case> {
    let sheets = UNITS.into_iter().flat_map(|units| PAPERS.map(|paper| (units, paper)));
    sheets.flat_map(|(units, paper)| Class::SHOWN.map(|class| Case { names, units, paper, class })).collect()
}

fn none(faults: &[String]) {
    let shown: Vec<&String> = faults.iter().take(40).collect();
    assert!(faults.is_empty(), "{} faults: {shown:#?}", faults.len());
}

/// The faults of all cases, on every core. Threads of our own: in a pool, one that waits for the stored run could be
/// the one that its analysis waits for.
fn on_every_core<C: Sync>(cases: &[C], faults_of: impl Fn(&C) -> Vec<String> + Sync) -> Vec<String> {
    let cores = thread::available_parallelism().map_or(1, usize::from);
    let of_every = |first| cases.iter().skip(first).step_by(cores).flat_map(&faults_of).collect::<Vec<_>>();
    thread::scope(|scope| {
        let workers: Vec<_> = (0..cores).map(|first| scope.spawn(move || of_every(first))).collect();
        workers.into_iter().flat_map(|worker| worker.join().unwrap()).collect()
    })
}

#[test]
fn drawings_of_every_plow_have_no_clipped_or_touching_word() {
    none(&on_every_core(&example_plows(), |(_, plow)| {
        let of = |names| {
            let (plow, setting) = named(plow, names);
            faults_of_drawings(&plow, &report(&plow, &setting), names)
        };
        LENGTHS.into_iter().flat_map(of).collect()
    }));
}

/// A sample: each plow once, names, units, paper and class in turn.
#[test]
fn pages_of_every_plow_have_no_clipped_or_touching_box() {
    let plows: Vec<_> = example_plows().into_iter().enumerate().collect();
    assert_eq!(plows.len(), 10);
    none(&on_every_core(&plows, |(i, (_, plow))| {
        let names = [Names::Longest, Names::Short, Names::Ordinary][i % 3];
        let (plow, setting) = named(plow, names);
        let case = all_cases(names)[i * 7 % 20];
        faults_of_case(&plow, &report(&plow, &setting), case)
    }));
}

#[test]
#[ignore = "540 statics pages and 540 run pages take many minutes"]
fn the_whole_grid_has_no_clipped_or_touching_box() {
    let mut found = Vec::new();
    for (file, plow) in example_plows() {
        for names in LENGTHS {
            let (plow, setting) = named(&plow, names);
            let report = report(&plow, &setting);
            found.extend(on_every_core(&all_cases(names), |case| faults_of_case(&plow, &report, *case)));
        }
        eprintln!("{file}: {} faults so far", found.len());
    }
    none(&found);
}

/// The measuring sheet of every kind: nothing is cut off or touches, and each page has the cautions.
#[test]
fn measuring_sheets_have_no_touching_box_and_all_cautions() {
    let content = measuring_sheet();
    for paper in PAPERS {
        let page = lay_out(&content, paper, Sheets::One).unwrap();
        assert_eq!(page.sheets.len(), content.kinds.iter().map(|kind| kind.pages.len()).sum::<usize>());
        let (width_mm, height_mm) = paper.size_mm();
        for (boxes, number) in page.sheets.iter().zip(1..) {
            let found = faults(boxes, (width_mm / 25.4 * 72.0, height_mm / 25.4 * 72.0));
            assert!(found.is_empty(), "{paper:?}, page {number}: {found:#?}");
            let words: Vec<_> = boxes.iter().flat_map(|text| text.what.split_whitespace()).collect();
            assert!(
                CAUTIONS.iter().all(|caution| words.join(" ").contains(caution)),
                "page {number}: {words:?}"
            );
        }
    }
}

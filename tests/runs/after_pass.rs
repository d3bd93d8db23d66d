//! From the stop to the verdict.

use std::sync::mpsc::Receiver;
use std::time::{Duration, Instant};

use crate::served::{Folder, analyst, get, serve};
use ingest::recorder::{BegunRun, RecordedRun, RunEnd, View};
use seat::live::{LastPass, PassState};

/// What is promised: the verdict within so long of the stop.
const PROMISED: Duration = Duration::from_secs(5);

/// The same on a machine that others are at work on, too: so much longer as more want to run than there are cores.
fn promised_now() -> Duration {
    let load = std::fs::read_to_string("/proc/loadavg").unwrap();
    let load: f64 = load.split_whitespace().next().unwrap().parse().unwrap();
    let cores = std::thread::available_parallelism().unwrap().get();
    PROMISED.mul_f64((load / cores as f64).max(1.0))
}
const LONG: Duration = Duration::from_secs(300);

/// The next that is told with this state.
fn wait_for(passes: &Receiver<LastPass>, ready: impl Fn(&LastPass) -> bool) -> LastPass {
    let end = Instant::now() + LONG;
    loop {
        let pass = passes.recv_timeout(end.saturating_duration_since(Instant::now())).unwrap();
        if ready(&pass) {
            return pass;
        }
    }
}

#[test]
fn the_verdict_is_there_in_time_even_while_a_page_is_made() {
    let folder = Folder::new();
    let [before, name] = [("balanced", 540), ("too-flat", 602)].map(|(stored, at)| folder.drive(stored, at));
    let served = serve(folder.path(), analyst());
    let address = served.address;
    let page = std::thread::spawn(move || get(address, &format!("/runs/{before}/page.pdf")));
    std::thread::sleep(Duration::from_millis(300));
    assert!(!page.is_finished());
    let stopped = Instant::now();
    served.runs.ended(&folder.path().join(&name));
    let first = served.passes.recv_timeout(LONG).unwrap();
    assert_eq!((first.run.as_str(), first.state), (name.as_str(), PassState::WorkingOut));
    let pass = wait_for(&served.passes, |pass| pass.state != PassState::WorkingOut);
    let took = stopped.elapsed();
    println!("from the stop to the verdict, while a page was made: {took:?}");
    assert_eq!((pass.state, pass.headline.as_str()), (PassState::Ready, "DRAWBAR TOO FLAT"));
    assert!(took < promised_now(), "{took:?}");
    let order = pass.lines.us.iter().find(|line| line.contains(" Move the ")).unwrap();
    assert!(order.contains(" in above the land)") && order.contains(ingest::safety::BEFORE_HANDS), "{order}");
    let pass = wait_for(&served.passes, |pass| !pass.comparison.si.is_empty());
    assert_eq!(
        pass.comparison.si,
        ["flat against middle is compared from 3 passes of each on: now 1 and 1."]
    );
    // What gave way is done after all.
    let page = page.join().unwrap();
    assert_eq!(page.status, 200, "{}", String::from_utf8_lossy(&page.body));
    assert!(page.body.starts_with(b"%PDF"));
}

#[test]
fn a_run_that_is_being_recorded_is_left_alone_until_it_has_ended() {
    let folder = Folder::new();
    let name = folder.drive("balanced", 540);
    folder.describe(&name, |toml| toml.replace("state = \"ended\"", "state = \"recording\""));
    let served = serve(folder.path(), analyst());
    let mut view = served.runs.view();
    let run = BegunRun {
        folder: folder.path().join(&name),
        setting_name: "middle".to_owned(),
        share: ingest::plow::ShareCondition::Sharp,
        began_us: 0,
    };
    view.began(&run);
    let listed = &served.get("/runs").json()["runs"][0];
    assert_eq!((&listed["recording"], &listed["trouble"]), (&true.into(), &serde_json::Value::Null));
    assert_eq!(listed["files"], serde_json::json!(["plow.csv", "events.csv"]));
    let told = served.get(&format!("/runs/{name}")).json();
    assert!(told["why"].as_str().unwrap().contains("still being recorded"), "{told}");
    assert_eq!(served.get(&format!("/runs/{name}/page.pdf")).status, 409);
    folder.describe(&name, |toml| toml.replace("state = \"recording\"", "state = \"ended\""));
    let ended = RecordedRun {
        folder: run.folder.clone(),
        end: RunEnd::Signal("test"),
        lasted_s: 66.0,
        counters: Vec::new(),
        gnss: None,
    };
    view.ended(&Ok(ended));
    let pass = wait_for(&served.passes, |pass| pass.state != PassState::WorkingOut);
    assert_eq!((pass.state, pass.headline.contains("LOOKS BALANCED")), (PassState::Ready, true), "{pass:?}");
}

#[test]
fn a_pass_that_shows_nothing_says_why() {
    let folder = Folder::new();
    let name = folder.drive("balanced", 540);
    let table = folder.path().join(&name).join("plow.csv");
    let rows = std::fs::read_to_string(&table).unwrap();
    std::fs::write(&table, rows.lines().take(150).map(|line| format!("{line}\n")).collect::<String>())
        .unwrap();
    let served = serve(folder.path(), analyst());
    served.runs.ended(&folder.path().join(&name));
    let pass = wait_for(&served.passes, |pass| pass.state != PassState::WorkingOut);
    assert_eq!(pass.state, PassState::Failed);
    // By the run's name, not by where it lies.
    let why = &pass.lines.si[0];
    assert!(!why.contains(&*name) && (why.contains("working") || why.contains("ground")), "{why}");
    served.runs.ended(&folder.path().join("no-such-run"));
    let pass = wait_for(&served.passes, |pass| pass.state != PassState::WorkingOut);
    assert_eq!(pass.lines.si, ["There is no such run."]);
}

/// Found: of a pass that was too short "no verdict" was all that stood on the page and in the list.
#[test]
fn a_pass_that_is_too_short_says_how_long_it_worked_and_how_long_it_has_to() {
    let folder = Folder::new();
    let name = folder.drive("balanced", 540);
    let table = folder.path().join(&name).join("plow.csv");
    let rows = std::fs::read_to_string(&table).unwrap();
    // The last eight seconds in the ground or so, and the time after it.
    let late = |at: usize| at == 0 || at > 2950;
    let kept: String =
        rows.lines().enumerate().filter(|(at, _)| late(*at)).map(|(_, line)| format!("{line}\n")).collect();
    std::fs::write(&table, kept).unwrap();
    let served = serve(folder.path(), analyst());
    served.runs.ended(&folder.path().join(&name));
    let pass = wait_for(&served.passes, |pass| pass.state != PassState::WorkingOut);
    let why = &pass.lines.si[0];
    assert!(why.starts_with("The plow worked for ") && why.contains("and a verdict needs 6 s"), "{why}");
    let listed = &served.get("/runs").json()["runs"][0];
    assert_eq!((&listed["no_verdict"], &listed["verdict"]), (&why.as_str().into(), &serde_json::Value::Null));
}

/// Found: a verdict in a setting that the recorder had taken by itself looked like any other.
#[test]
fn a_verdict_in_a_setting_that_nobody_confirmed_says_so_where_it_stands() {
    let folder = Folder::new();
    let name = folder.drive("too-flat", 540);
    let assumed = "[run]\nsetting_assumed = true";
    folder.describe(&name, |toml| toml.replacen("[run]", assumed, 1));
    let served = serve(folder.path(), analyst());
    served.runs.ended(&folder.path().join(&name));
    let pass = wait_for(&served.passes, |pass| pass.state != PassState::WorkingOut);
    assert_eq!(pass.headline, "DRAWBAR TOO FLAT, setting not confirmed");
    let first = &pass.lines.us[0];
    assert!(first.starts_with("Setting not confirmed: the recorder took \"flat\" by itself"), "{first}");
    assert!(first.ends_with("Verdict and move hold only if it was."), "{first}");
    assert_eq!(pass.lines.us.iter().filter(|line| line.contains("not confirmed")).count(), 1);
    assert!(pass.lines.us.contains(pass.order.us.as_ref().unwrap()));
    let listed = &served.get("/runs").json()["runs"][0];
    assert_eq!(listed["verdict"], pass.headline.as_str());
}

/// Found: after a restart of the recorder the page showed no verdict and no comparison until the next pass had ended.
#[test]
fn what_was_driven_before_a_restart_is_taken_up() {
    let folder = Folder::new();
    for pass in 0..3 {
        folder.drive("too-flat", 540 + 20 * pass);
    }
    let middle = [0, 1, 2].map(|pass| folder.drive("balanced", 550 + 20 * pass));
    // Of another plow, and later.
    let other_plow = folder.drive("too-flat", 700);
    folder
        .describe(&other_plow, |toml| toml.replace("Two-bottom demo plow (invented)", "Another (invented)"));
    let served = serve(folder.path(), analyst());
    served.runs.take_up("Two-bottom demo plow (invented)", "2027-04-10");
    served.runs.take_up("Two-bottom demo plow (invented)", "2027-04-11");
    let first = served.passes.recv_timeout(LONG).unwrap();
    assert_eq!((first.run.as_str(), first.state), (middle[2].as_str(), PassState::WorkingOut));
    let pass = wait_for(&served.passes, |pass| !pass.comparison.si.is_empty());
    assert!(pass.state == PassState::Ready && pass.headline.contains("BALANCED"), "{pass:?}");
    assert!(!pass.comparison.si[0].contains("is compared from"), "three passes are enough: {pass:?}");
    let verdicts = || {
        let runs = served.get("/runs").json()["runs"].clone();
        runs.as_array().unwrap().iter().filter(|run| !run["verdict"].is_null()).count()
    };
    let end = Instant::now() + LONG;
    while verdicts() < 6 && Instant::now() < end {
        std::thread::sleep(Duration::from_millis(50));
    }
    assert_eq!(verdicts(), 6, "of the day and the plow, and of no other");
    // A pass of now goes before, and is not put back by one of before.
    let name = folder.drive("too-flat", 800);
    served.runs.ended(&folder.path().join(&name));
    served.runs.take_up("Two-bottom demo plow (invented)", "2027-04-11");
    let pass = wait_for(&served.passes, |pass| !pass.comparison.si.is_empty());
    assert_eq!(pass.run, name);
}

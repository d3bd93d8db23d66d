//! Children that hang, flood, crash or are not there: a sentence, and nothing is left behind.

use std::fs;
use std::time::{Duration, Instant};

use crate::served::{Folder, Served, child, serve, try_get};
use hitchwright_tests::process::wait_until;
use seat::live::PassState;
use seat::runs::{Analyst, Limits};

const LONG: Duration = Duration::from_secs(60);

/// Why there is no verdict.
fn why(served: &Served, name: &str) -> String {
    served.get(&format!("/runs/{name}")).json()["why"].as_str().unwrap().to_owned()
}

fn is_alive(pid: &str) -> bool {
    // A dead process that nobody has waited for yet is no longer alive.
    let stat = fs::read_to_string(format!("/proc/{pid}/stat")).unwrap_or_default();
    stat.rsplit(") ").next().is_some_and(|rest| !rest.is_empty() && !rest.starts_with('Z'))
}

fn one_run() -> (Folder, String) {
    let folder = Folder::new();
    let name = folder.drive("balanced", 540);
    (folder, name)
}

/// The process numbers of the child that hangs and of its own child.
fn pids(folder: &Folder) -> Vec<String> {
    let path = folder.path().join("pids");
    let pids = wait_until("the child's process number", LONG, || {
        Ok(fs::read_to_string(&path).ok().filter(|text| text.ends_with('\n')))
    });
    let pids: Vec<String> = pids.unwrap().split_whitespace().map(str::to_owned).collect();
    assert!(pids.len() == 2 && pids.iter().all(|pid| is_alive(pid)), "{pids:?}");
    pids
}

fn all_are_gone(pids: &[String]) {
    wait_until("the end of the child", LONG, || Ok((!pids.iter().any(|pid| is_alive(pid))).then_some(())))
        .unwrap();
}

#[test]
fn one_that_hangs_is_ended_with_all_that_it_started() {
    let (folder, name) = one_run();
    let served = serve(folder.path(), child("hangs.sh", Duration::from_secs(2)));
    let began = Instant::now();
    served.runs.ended(&folder.path().join(&name));
    let pids = pids(&folder);
    let pass = loop {
        let pass = served.passes.recv_timeout(LONG).unwrap();
        if pass.state != PassState::WorkingOut {
            break pass;
        }
    };
    assert_eq!(pass.state, PassState::Failed);
    assert!(
        pass.lines.si[0].contains("longer than 2 s") && began.elapsed() >= Duration::from_secs(2),
        "{pass:?}"
    );
    all_are_gone(&pids);
}

#[test]
fn no_child_outlives_the_server() {
    let (folder, name) = one_run();
    let served = serve(folder.path(), child("hangs.sh", LONG));
    served.runs.ended(&folder.path().join(&name));
    let pids = pids(&folder);
    let began = Instant::now();
    drop(served);
    assert!(began.elapsed() < Duration::from_secs(5), "{:?}", began.elapsed());
    all_are_gone(&pids);
}

#[test]
fn one_that_floods_is_ended() {
    let (folder, name) = one_run();
    let served = serve(folder.path(), child("floods.sh", LONG));
    let began = Instant::now();
    assert!(why(&served, &name).contains("far more than it should"));
    assert!(began.elapsed() < LONG);
}

#[test]
fn one_that_crashes_or_is_of_another_version_is_told() {
    let (folder, name) = one_run();
    let said = why(&serve(folder.path(), child("crashes.sh", LONG)), &name);
    assert!(said.contains("broke off (signal: 11") && said.contains("recording is not touched"), "{said}");
    let said = why(&serve(folder.path(), child("answers-otherwise.sh", LONG)), &name);
    assert!(said.contains("both programs in the same version"), "{said}");
}

#[test]
fn one_that_fills_the_disk_is_ended_and_leaves_nothing() {
    let (folder, name) = one_run();
    let served = serve(folder.path(), child("fills-the-disk.sh", LONG));
    let page = served.get(&format!("/runs/{name}/page.pdf"));
    assert_eq!(page.status, 502);
    assert!(page.text().contains("broke off"), "{}", page.text());
}

#[test]
fn one_is_held_down() {
    let (folder, name) = one_run();
    let said = why(&serve(folder.path(), child("tells-its-limits.sh", LONG)), &name);
    // 16 MiB in blocks of 512 bytes.
    assert!(said.starts_with("nice 10, memory ") && said.contains("file 32768, oom 1000"), "{said}");
    let memory = said.split("memory ").nth(1).and_then(|rest| rest.split(',').next()).unwrap();
    assert!(memory.parse::<u64>().is_ok_and(|kb| kb > 0), "no limit of memory: {said}");
}

#[test]
fn without_one_everything_else_is_there() {
    let (folder, name) = one_run();
    for nobody in [Analyst::at(None, Limits::default()), child("no-such-child", LONG)] {
        let is_known = nobody.is_there();
        let served = serve(folder.path(), nobody);
        let said = why(&served, &name);
        assert!(
            said.contains(if is_known { "cannot be run" } else { "neither in the folder of this one nor" }),
            "{said}"
        );
        assert_eq!(served.get(&format!("/runs/{name}/plow.csv")).status, 200);
        assert_eq!(served.get(&format!("/runs/{name}/page.pdf")).status, if is_known { 502 } else { 503 });
        served.runs.ended(&folder.path().join(&name));
        let failed = |pass: &seat::live::LastPass| {
            pass.state == PassState::Failed && pass.lines.si == [seat::live::sentence(&said)]
        };
        assert!(served.passes.iter().take(2).any(|pass| failed(&pass)));
    }
}

/// One that hangs, 16 that wait, and the rest is told to try again; the list is there all the while.
#[test]
fn a_full_queue_says_so_at_once() {
    let (folder, name) = one_run();
    let served = serve(folder.path(), child("hangs.sh", LONG));
    let address = served.address;
    let path = format!("/runs/{name}/page.pdf");
    for _ in 0..40 {
        let path = path.clone();
        std::thread::spawn(move || try_get(address, &path));
    }
    let pids = pids(&folder);
    let busy = wait_until("a full queue", LONG, || {
        let (tell, told) = std::sync::mpsc::channel();
        let path = path.clone();
        std::thread::spawn(move || try_get(address, &path).map(|answer| tell.send(answer)));
        Ok(told.recv_timeout(Duration::from_millis(500)).ok())
    });
    let busy = busy.unwrap();
    assert_eq!((busy.status, busy.text().contains("try again")), (503, true));
    let began = Instant::now();
    assert_eq!(served.get("/runs").json()["runs"][0]["name"], name.as_str());
    assert!(began.elapsed() < Duration::from_secs(5));
    drop(served);
    all_are_gone(&pids);
}

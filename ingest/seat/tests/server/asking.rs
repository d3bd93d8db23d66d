//! What is answered, and to whom.

use crate::rig::{Rig, Told, Viewer, ask, get, post_wish};
use ingest::recorder::{PassChoice, Wish};
use std::path::PathBuf;
use std::time::{Duration, Instant};

#[test]
fn every_answer_has_the_headers_that_a_browser_keeps_to() {
    let rig = Rig::new();
    for path in ["/", "/seat.js", "/units", "/status", "/metrics", "/no-such"] {
        let answer = rig.get(path);
        assert_eq!(answer.status, if path == "/no-such" { 404 } else { 200 }, "{path}");
        let policy = answer.header("content-security-policy").unwrap();
        assert!(policy.starts_with("default-src 'none'; script-src 'self';"), "{policy}");
        assert!(!policy.contains("unsafe") && policy.contains("frame-ancestors 'none'"), "{policy}");
        for (name, value) in [("x-content-type-options", "nosniff"), ("referrer-policy", "no-referrer")] {
            assert_eq!(answer.header(name), Some(value), "{path}");
        }
        assert_eq!(answer.header("server"), None);
        assert_eq!(answer.header("access-control-allow-origin"), None);
    }
}

#[test]
fn who_looks_on_gets_the_last_seconds_first_and_then_what_comes() {
    let rig = Rig::new();
    std::thread::sleep(Duration::from_millis(700));
    let mut viewer = Viewer::new(rig.here());
    let strip = viewer.next_named("strip");
    let points = strip.data.as_array().unwrap();
    // Of a load that does not change one point a bin is enough.
    assert!(points.len() >= 12, "{} points", points.len());
    let last_s = points.last().unwrap()[0].as_f64().unwrap();
    let more = viewer.next_named("strip");
    let next_s = more.data[0][0].as_f64().unwrap();
    assert!(next_s > last_s && next_s - last_s < 0.1, "{last_s} then {next_s}");
    let snapshot = viewer.next_named("snapshot").data;
    assert_eq!(snapshot["may_control"], true);
    assert_eq!(snapshot["load"]["what"], "tail");
    assert!(snapshot["balance"].is_null() && snapshot["speed_mps"].is_null());
    assert!((snapshot["depth_mm"].as_f64().unwrap() - 180.0).abs() < 1e-9);
    assert!(
        (150.0..250.0).contains(&snapshot["boxes"][0]["rows_per_s"].as_f64().unwrap()) || {
            // Counted over whole seconds: of the first there is none yet.
            snapshot["boxes"][0]["rows_per_s"] == 0.0
        }
    );
    let (mut nows, mut snapshots) = (0, 0);
    let begun = std::time::Instant::now();
    while begun.elapsed() < Duration::from_secs(2) {
        match viewer.next().unwrap().name.as_str() {
            "now" => nows += 1,
            "snapshot" => snapshots += 1,
            _ => {}
        }
    }
    assert!((40..=55).contains(&nows) && (16..=24).contains(&snapshots), "{nows} and {snapshots} in 2 s");
}

#[test]
fn a_lift_is_told_at_once_and_one_of_a_single_row_shows() {
    let rig = Rig::new();
    let mut viewer = Viewer::new(rig.here());
    while viewer.next_named("now").data["load_n"].is_null() {}
    for _ in 0..10 {
        rig.feeder.tell(Told::Lift);
        let lifted = (0..8).any(|_| viewer.next_named("now").data["lifted"] == true);
        assert!(lifted, "within eight readings");
        while viewer.next_named("now").data["lifted"] == true {}
    }
}

#[test]
fn wishes_reach_the_recorder_when_they_make_sense() {
    let mut rig = Rig::new();
    let refused = rig.post_wish(r#"{"wish":"start"}"#);
    assert_eq!((refused.status, refused.text().as_str()), (409, "Not all boxes have answered yet."));
    rig.feeder.tell(Told::StandsBy);
    assert_eq!(rig.post_wish(r#"{"wish":"mark"}"#).status, 409);
    let setting = crate::rig::plow().settings.keys().next().unwrap().clone();
    let start = format!(r#"{{"wish":"start","setting":"{setting}","share":"worn","field":"by the brook"}}"#);
    let begun = Instant::now();
    let late = rig.post_wish(&start);
    assert!(late.status == 202 && begun.elapsed() < Duration::from_secs(2), "{late:?}");
    assert!(late.text().contains("has not done it yet"), "{}", late.text());
    let Ok(Wish::Start(choice)) = rig.wishes.try_recv() else { panic!("no start") };
    let PassChoice { setting_name, field, .. } = choice.clone();
    assert_eq!((setting_name, field.as_deref()), (Some(setting), Some("by the brook")));
    assert_eq!(
        rig.get("/status").json()["choice"]["field"],
        serde_json::Value::Null,
        "the recorder holds it"
    );
    assert_eq!(rig.post_wish(&start.replace("start", "choose")).status, 202);
    assert_eq!(rig.wishes.try_recv(), Ok(Wish::Choose(choice.clone())));
    rig.feeder.tell(Told::Chosen(choice));
    rig.feeder.tell(Told::Began);
    assert_eq!(rig.post_wish(&start).status, 409, "a run is being recorded");
    // Nobody presses faster than five times a second for long.
    std::thread::sleep(Duration::from_secs(1));
    assert_eq!(rig.post_wish(r#"{"wish":"mark"}"#).status, 202);
    assert_eq!(rig.post_wish(r#"{"wish":"stop"}"#).status, 202);
    assert_eq!(rig.wishes.try_recv(), Ok(Wish::Mark));
    assert_eq!(rig.wishes.try_recv(), Ok(Wish::Stop("the page")));
    let status = rig.get("/status").json();
    assert_eq!((&status["phase"], &status["run"]["name"]), (&"recording".into(), &"2027-03-01-pass".into()));
    assert_eq!(status["choice"]["field"], "by the brook");
}

#[test]
fn wishes_are_taken_as_json_and_not_by_the_hundred() {
    let mut rig = Rig::new();
    rig.feeder.tell(Told::StandsBy);
    rig.feeder.tell(Told::Began);
    let at = rig.here();
    let form = format!(
        "POST /wish HTTP/1.1\r\nhost: {at}\r\ncontent-type: text/plain\r\ncontent-length: 15\r\n\r\n"
    );
    assert_eq!(ask(at, (form + r#"{"wish":"mark"}"#).as_bytes()).status, 415);
    assert_eq!(rig.get("/wish").status, 405);
    // Each waits for an answer of its own, and nobody gives one.
    let taken = std::thread::scope(|scope| {
        let mark = || scope.spawn(|| post_wish(at, r#"{"wish":"mark"}"#, "").status == 202);
        let marks: Vec<_> = (0..100).map(|_| mark()).collect();
        marks.into_iter().filter_map(|mark| mark.join().unwrap().then_some(())).count()
    });
    assert!((5..20).contains(&taken), "{taken}");
    assert!(rig.wishes.try_recv().is_ok());
}

#[test]
fn to_look_on_is_not_to_control() {
    let mut rig = Rig::at("0.0.0.0:0", &[]);
    let Some(outside) = rig.address_outside() else {
        return println!("this computer has no network: not tried");
    };
    rig.feeder.tell(Told::StandsBy);
    let cookie = |token: &str| format!("cookie: hitchwright={token}\r\n");
    let (control, look_on) = (cookie(rig.tokens.control.text()), cookie(rig.tokens.look_on.text()));
    assert_eq!(get(outside, "/status", &look_on).json()["may_control"], false);
    assert_eq!(get(outside, "/status", &control).json()["may_control"], true);
    let refused = post_wish(outside, r#"{"wish":"start"}"#, &look_on);
    assert_eq!((refused.status, refused.text().as_str()), (403, "This link is to look on only."));
    assert!(rig.wishes.try_recv().is_err());
    assert_eq!(post_wish(outside, r#"{"wish":"start"}"#, &control).status, 202);
    let link = get(outside, &format!("/?token={}", rig.tokens.look_on.text()), "");
    assert_eq!(link.status, 200);
    let set = link.header("set-cookie").unwrap();
    for part in [rig.tokens.look_on.text(), "HttpOnly", "SameSite=Strict", "Path=/"] {
        assert!(set.contains(part), "{set}");
    }
    assert!(!link.text().contains(rig.tokens.look_on.text()));
}

/// As README says it: the token out of a link, in a header, from another computer.
#[test]
fn a_script_shows_the_token_of_a_link_in_a_header() {
    let readme = include_str!("../../../../README.md");
    assert!(readme.contains("`Authorization: Bearer TOKEN`"));
    let mut rig = Rig::at("0.0.0.0:0", &[]);
    let Some(outside) = rig.address_outside() else {
        return println!("this computer has no network: not tried");
    };
    rig.feeder.tell(Told::StandsBy);
    let links = seat::server::links(outside, Some(&rig.tokens));
    let [control, look_on] = &links[..] else { panic!("{links:?}") };
    let header = |url: &str| {
        let token = url.split_once("token=").unwrap().1;
        "Authorization: Bearer TOKEN\r\n".replace("TOKEN", token)
    };
    let (control, look_on) = (header(&control.url), header(&look_on.url));
    assert_eq!(get(outside, "/status", &look_on).json()["may_control"], false);
    assert_eq!(get(outside, "/status", &control).json()["may_control"], true);
    assert!(get(outside, "/metrics", &look_on).text().contains("hitchwright_"));
    assert_eq!(post_wish(outside, r#"{"wish":"start"}"#, &look_on).status, 403);
    assert!(rig.wishes.try_recv().is_err());
    assert_eq!(post_wish(outside, r#"{"wish":"start"}"#, &control).status, 202);
}

#[test]
fn names_from_outside_are_json_and_nothing_else() {
    let long = "x".repeat(300);
    let names =
        ["<script>alert(1)</script>", "\"quo'ted\\", "two\nlines\r\n\r\nevent: now", "\u{1b}[2J", &long];
    let ports: Vec<PathBuf> = names.iter().map(PathBuf::from).collect();
    let rig = Rig::at("127.0.0.1:0", &ports);
    let mut viewer = Viewer::new(rig.here());
    for name in names {
        rig.feeder.tell(Told::Notice(name.to_owned()));
        // As JSON it came through the parser of the viewer, one line an event.
        assert_eq!(viewer.next_named("notice").data["text"], name);
    }
    let snapshot = viewer.next_named("snapshot").data;
    for (number, name) in names.iter().enumerate() {
        assert_eq!(snapshot["boxes"][number]["port"], *name);
    }
    let status = rig.get("/status");
    assert_eq!(status.header("content-type"), Some("application/json"));
    assert_eq!(status.header("x-content-type-options"), Some("nosniff"));
    assert!(!status.body.contains(&0x1b));
    let metrics = rig.get("/metrics").text();
    assert!(!metrics.contains('\u{1b}') && metrics.contains(&long));
    let page = rig.get("/").text();
    assert!(names.iter().all(|name| !page.contains(name)));
}

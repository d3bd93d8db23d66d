//! The list of runs, their files and pages; names that lead elsewhere.

use std::fs;
use std::os::unix::fs::symlink;
use std::time::Duration;

use crate::served::{Folder, analyst, serve};
use hitchwright_tests::command::sample;
use seat::runs::{Analyst, Limits};
use serde_json::Value;

fn nobody() -> Analyst {
    Analyst::at(None, Limits::default())
}

#[test]
fn runs_are_listed_newest_first_and_what_is_damaged_is_named_with_why() {
    let folder = Folder::new();
    let [early, late, broken] = [("balanced", 540), ("too-flat", 600), ("too-steep", 570)]
        .map(|(stored, at)| folder.drive(stored, at));
    fs::write(folder.path().join(&broken).join("run.toml"), "[run]\nid = 3\n").unwrap();
    let linked = folder.drive("worn-shares", 660);
    let secret = folder.path().join("secret.csv");
    fs::write(&secret, "a secret\n").unwrap();
    let table = folder.path().join(&linked).join("plow.csv");
    fs::remove_file(&table).unwrap();
    symlink(&secret, &table).unwrap();
    symlink(sample("runs/balanced"), folder.path().join("elsewhere")).unwrap();
    fs::create_dir(folder.path().join("no-run")).unwrap();
    fs::create_dir(folder.path().join(".hidden")).unwrap();

    let served = serve(folder.path(), nobody());
    let list = served.get("/runs").json();
    let runs = list["runs"].as_array().unwrap();
    let names: Vec<&str> = runs.iter().map(|run| run["name"].as_str().unwrap()).collect();
    let (whole, damaged) = (&names[..2], &names[2..]);
    assert_eq!(whole, [&late, &early]);
    assert_eq!(damaged.len(), 2, "{names:?}");
    assert_eq!(runs[0]["when"], "2027-04-11 10:00");
    assert_eq!((&runs[0]["setting"], &runs[0]["share"]), (&"flat".into(), &"sharp".into()));
    assert_eq!(runs[0]["files"], serde_json::json!(["plow.csv", "events.csv"]), "no analyst, no pages");
    let trouble = |name: &str| {
        let run = runs.iter().find(|run| run["name"] == name).unwrap();
        run["trouble"].as_str().unwrap().to_owned()
    };
    let lacks = format!("{broken}/run.toml, line 1: run.started: missing");
    assert!(trouble(&broken).starts_with(&lacks), "{}", trouble(&broken));
    assert_eq!(trouble(&linked), format!("{linked}: plow.csv is no plain file"));
    let table = served.get(&format!("/runs/{linked}/plow.csv"));
    assert_eq!((table.status, table.text().contains("secret")), (422, false));
}

#[test]
fn tables_come_as_they_are_on_the_disk_and_whole_lines_only() {
    let folder = Folder::new();
    let name = folder.drive("balanced", 540);
    let path = folder.path().join(&name).join("plow.csv");
    let served = serve(folder.path(), nobody());
    let of = |file: &str| served.get(&format!("/runs/{name}/{file}"));
    let table = of("plow.csv");
    assert_eq!((table.status, &table.body), (200, &fs::read(&path).unwrap()));
    assert_eq!(table.header("content-type"), Some("text/csv; charset=utf-8"));
    assert_eq!(table.header("cache-control"), Some("no-store"));
    let save_as = format!("attachment; filename=\"{name}_plow.csv\"");
    assert_eq!(table.header("content-disposition"), Some(save_as.as_str()));
    assert!(of("events.csv").text().starts_with("t_s,kind,detail\n"));
    // Raw bytes and descriptions are no tables, and there was no receiver.
    for file in ["gnss.csv", "run.toml", "plow.wire", "datapackage.json", "none.csv", "page.svg"] {
        assert_eq!(of(file).status, 404, "{file}");
    }
    // Of a run that is being recorded the last row is torn.
    let whole = fs::read(&path).unwrap();
    fs::write(&path, [&whole[..], b"99.0,12"].concat()).unwrap();
    folder.describe(&name, |toml| toml.replace("state = \"ended\"", "state = \"recording\""));
    assert_eq!(of("plow.csv").body, whole);
    let list = served.get("/runs").json();
    let trouble = list["runs"][0]["trouble"].as_str().unwrap();
    assert!(trouble.starts_with(&format!("{name}: the run was not ended properly")), "{trouble}");
}

#[test]
fn a_name_leads_nowhere_else() {
    let folder = Folder::new();
    let out = folder.path().join("out");
    fs::create_dir(&out).unwrap();
    let inside = Folder::new();
    let name = inside.drive("balanced", 540);
    fs::rename(inside.path().join(&name), out.join(&name)).unwrap();
    // A run beside the folder, and ways to it.
    let other = folder.drive("too-flat", 600);
    symlink(folder.path().join(&other), out.join("linked")).unwrap();
    let served = serve(&out, analyst());
    let absolute = folder.path().join(&other).display().to_string();
    let encoded = absolute.replace('/', "%2f");
    let long = "x".repeat(4000);
    for run in [
        "..",
        "%2e%2e",
        ".",
        "%2e",
        "",
        "linked",
        &format!("..%2f{other}"),
        &format!("../{other}"),
        &format!("{name}%2f..%2f..%2f{other}"),
        &format!("{name}/../../{other}"),
        &encoded,
        &absolute,
        &format!("..%5c{other}"),
        &format!("{name}%00"),
        "%ff",
        "%0d%0aX-Own:%201",
        &long,
    ] {
        for file in ["", "/plow.csv", "/run.toml", "/page.pdf", "/..%2frun.toml", "/../run.toml"] {
            let answer = served.get(&format!("/runs/{run}{file}"));
            let is_list = answer.status == 200 && format!("/runs/{run}{file}") == "/runs/";
            assert!(!is_list && [400, 404].contains(&answer.status), "{run}{file}: {}", answer.status);
            let said = String::from_utf8_lossy(&answer.body);
            assert!(
                !said.contains("pull_n") && !said.contains("[run]") && !said.contains(&*absolute),
                "{said}"
            );
            assert!(!answer.head.to_ascii_lowercase().contains("x-own"), "{}", answer.head);
        }
    }
    for file in ["..%2frun.toml", "..%2f..%2fplow.csv", "%2fetc%2fpasswd", "plow.csv%00", "page.pdf%2f.."] {
        assert_eq!(served.get(&format!("/runs/{name}/{file}")).status, 404, "{file}");
    }
    assert_eq!(served.get(&format!("/runs/{name}")).json()["name"], name.as_str());
}

#[test]
fn pages_are_made_once_and_in_the_units_that_are_asked_for() {
    let folder = Folder::new();
    let name = folder.drive("too-flat", 540);
    let served = serve(folder.path(), analyst());
    let list = served.get("/runs").json();
    let files: Vec<&str> =
        list["runs"][0]["files"].as_array().unwrap().iter().filter_map(Value::as_str).collect();
    assert_eq!(files, ["plow.csv", "events.csv", "page.pdf", "page.png"]);
    let page = |what: &str| {
        let began = std::time::Instant::now();
        let answer = served.get(&format!("/runs/{name}/{what}"));
        assert_eq!(answer.status, 200, "{}", String::from_utf8_lossy(&answer.body));
        (answer, began.elapsed())
    };
    let (si, made_in) = page("page.pdf");
    let (again, found_in) = page("page.pdf");
    println!("page made in {made_in:?}, found in {found_in:?}");
    assert!(si.body.starts_with(b"%PDF") && si.body == again.body);
    assert!(found_in < made_in / 2 && found_in < Duration::from_secs(1), "{made_in:?} {found_in:?}");
    assert_eq!(si.header("content-type"), Some("application/pdf"));
    assert_eq!(
        si.header("content-disposition"),
        Some(format!("inline; filename=\"{name}_page.pdf\"").as_str())
    );
    let (us, _) = page("page.pdf?units=us");
    assert!(us.body.starts_with(b"%PDF") && us.body != si.body);
    assert_eq!(served.get(&format!("/runs/{name}/page.pdf?units=cubits")).status, 400);
}

#[test]
fn a_run_is_told_in_the_readers_units_and_a_bad_one_says_why() {
    let folder = Folder::new();
    let (name, short) = (folder.drive("too-flat", 540), folder.drive("balanced", 600));
    let table = folder.path().join(&short).join("plow.csv");
    let rows = fs::read_to_string(&table).unwrap();
    fs::write(&table, rows.lines().take(200).map(|line| format!("{line}\n")).collect::<String>()).unwrap();
    let served = serve(folder.path(), analyst());
    let told = |units: &str| served.get(&format!("/runs/{name}?units={units}")).json();
    let (si, us) = (told("si"), told("us"));
    assert_eq!((&si["headline"], &si["look"]), (&"DRAWBAR TOO FLAT".into(), &"far".into()));
    let order = |told: &Value| told["lines"].as_array().unwrap()[1].as_str().unwrap().to_owned();
    assert!(order(&si).contains(" mm above the land)") && order(&us).contains(" in above the land)"), "{us}");
    assert!(order(&si).contains(ingest::safety::BEFORE_HANDS));
    assert_eq!(served.get("/runs").json()["runs"][1]["verdict"], "DRAWBAR TOO FLAT");
    let bad = served.get(&format!("/runs/{short}")).json();
    let why = bad["why"].as_str().unwrap();
    assert!(bad["headline"].is_null() && why.starts_with(&format!("{short}: ")), "{why}");
}

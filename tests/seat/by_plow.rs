//! Unattended: the plow begins and ends the runs, and the page shows the verdict on each.

use std::fs;
use std::time::Duration;

use hitchwright_tests::binaries::Program;
use hitchwright_tests::command::sample;
use hitchwright_tests::field::Field;
use hitchwright_tests::process::Running;
use hitchwright_tests::run_folder::runs_in;
use hitchwright_tests::{Doing, Outcome};
use ingest::safety::BEFORE_HANDS;

use crate::browser::Browser;
use crate::rig::{SOON, port_of};

/// A pass in real time, and what is before and after it.
const A_PASS: Duration = Duration::from_secs(60);
const PASS: &str = "--case too-flat --field-seed 411 --speed-up 1 --working-s 20";

fn service(field: &Field) -> Outcome<(Running, u16)> {
    fs::copy(sample("plows/two-bottom.toml"), field.plow()).doing(|| "describe the plow".into())?;
    let description = format!(
        "plow = \"plow.toml\"\nsetting = \"flat\"\n[runs]\nfolder = \"runs\"\n[live]\naddress = \"127.0.0.1:0\"\n\
         [[boxes]]\nport = \"{}\"\n",
        field.port().display()
    );
    let file = field.path("recorder.toml");
    fs::write(&file, description).doing(|| "describe the recorder".into())?;
    let mut recorder = Running::start(Program::Recorder, ["--config".into(), file.into_os_string()])?;
    let line = recorder.wait_for_line("page served address=127.0.0.1:", SOON)?;
    let port = port_of(&line)?;
    Ok((recorder, port))
}

/// One pass: nobody touches the page. Gives the name of its run.
fn pass(browser: &Browser, field: &Field, number: usize) -> Outcome<String> {
    // A box ends with its pass; what the one before knew is not asked for.
    let _ = fs::remove_file(field.truth());
    let _sensor_box = field.start_box()?;
    browser.until("a run", A_PASS, "document.documentElement.dataset.phase === 'recording'")?;
    assert!(browser.text("state-more")?.starts_with("flat, "), "{}", browser.text("state-more")?);
    browser.until("the end", A_PASS, "document.documentElement.dataset.phase === 'stands_by'")?;
    let told = format!(
        "document.getElementById('pass-name').innerText.endsWith('_flat_pass-{number}') \
         && document.getElementById('pass-word').innerText.includes('TOO FLAT')"
    );
    browser.until("its verdict", SOON, &told)?;
    browser.shoot(&format!("by-plow-{number}"))?;
    let name = browser.text("pass-name")?;
    Ok(name.trim_start_matches("Last pass: ").to_owned())
}

#[test]
#[ignore = "needs chromium and chromium-driver; two passes in real time, a minute and a half"]
fn runs_that_the_plow_begins_have_their_verdicts_on_the_page() -> Outcome<()> {
    let field = Field::new()?.with_box(PASS);
    let (_recorder, port) = service(&field)?;
    let browser = Browser::start()?;
    browser.screen(360, 640, false)?;
    browser.go(&format!("http://127.0.0.1:{port}/"))?;
    let asks = "document.getElementById('troubles').innerText.includes('Is the hitch in \"flat\"?')";
    browser.until("the question after the hitch", SOON, asks)?;
    browser.run("document.getElementById('safe-read').click()")?;
    browser.shoot("by-plow-0")?;

    let first = pass(&browser, &field, 1)?;
    // Found: it looked like any other verdict.
    assert!(
        browser.text("pass-word")?.ends_with(", setting not confirmed"),
        "{}",
        browser.text("pass-word")?
    );
    let said = browser.text("pass-lines")?;
    assert!(said.starts_with("Setting not confirmed: the recorder took \"flat\" by itself"), "{said}");
    let move_and_why = browser.text("pass-lines")?;
    let order = move_and_why.lines().find(|line| line.contains("ove the "));
    assert!(order.is_some_and(|order| order.contains(BEFORE_HANDS)), "{move_and_why}");
    browser.shoot("by-plow-1-move")?;
    let begins = "Runs begin by themselves when the plow goes into the ground.";
    assert_eq!(browser.text("begins")?, begins);

    browser.until("the question once more", SOON, asks)?;
    browser.tap("choice")?;
    browser.until("room to keep it", SOON, "document.getElementById('chosen').ariaDisabled === 'false'")?;
    browser.tap("chosen")?;
    browser.until("that it is kept", SOON, &format!("!({asks})"))?;
    let second = pass(&browser, &field, 2)?;
    assert!(!browser.text("pass-word")?.contains("not confirmed"), "{}", browser.text("pass-word")?);
    let runs: Vec<String> = runs_in(&field.runs())?
        .iter()
        .map(|run| run.file_name().unwrap_or_default().to_string_lossy().into_owned())
        .collect();
    assert_eq!(runs, [first, second]);
    for run in runs {
        let text = fs::read_to_string(field.runs().join(&run).join("run.toml")).doing(|| run.clone())?;
        assert!(text.contains("ended = \"the plow came out of the ground\""), "{text}");
    }
    assert_eq!(browser.complaints()?, Vec::<String>::new());
    Ok(())
}

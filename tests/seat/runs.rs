//! Start, mark and stop, with what was chosen before.

use std::time::Duration;

use hitchwright_tests::{Doing, Outcome};
use serde_json::Value;

use crate::rig::{HELD, SOON, Seat, shows_choice};

const LONG: Duration = Duration::from_millis(900);
const SHORT: Duration = Duration::from_millis(200);

fn phase(name: &str) -> String {
    format!("document.documentElement.dataset.phase === '{name}'")
}

#[test]
#[ignore = "needs chromium and chromium-driver"]
fn a_run_has_the_setting_the_shares_and_the_marks_that_were_chosen_on_the_page() -> Outcome<()> {
    let seat = Seat::start(HELD)?;
    let browser = seat.browser()?;
    browser.screen(360, 640, false)?;
    browser.until("a recorder that stands by", SOON, &phase("stands_by"))?;
    assert_eq!(seat.runs()?, Vec::<std::path::PathBuf>::new(), "nothing is written before a start");
    browser.tap("choice")?;
    browser.run("document.querySelector('#settings input[value=higher]').click()")?;
    browser.run("document.querySelector('#shares input[value=worn]').click()")?;
    browser.run("document.getElementById('field').value = 'by the brook'")?;
    browser.shoot("choice")?;
    // Who looks on elsewhere sees it as soon as it is kept, and not before.
    let other = seat.browser()?;
    let kept = shows_choice("higher", "worn");
    assert_eq!(other.run(&format!("return {kept}"))?, Value::Bool(false));
    browser.tap("chosen")?;
    other.until("the choice on the other phone", SOON, &kept)?;
    browser.until("the choice", SOON, &kept)?;
    browser.until("a start", SOON, "document.getElementById('start').ariaDisabled === 'false'")?;
    browser.tap("start")?;
    browser.until("a run", SOON, &phase("recording"))?;
    drop(other);
    browser.tap("mark")?;
    browser.until("a mark", SOON, "document.getElementById('state-more').innerText.includes('1 mark')")?;
    assert!(browser.text("state-more")?.starts_with("higher, worn"), "{}", browser.text("state-more")?);
    browser.shoot("recording")?;

    // A jolt is no order.
    browser.press("stop", SHORT)?;
    std::thread::sleep(LONG);
    assert_eq!(browser.run(&format!("return {}", phase("recording")))?, Value::Bool(true));
    browser.press("stop", LONG)?;
    browser.until("the end of the run", SOON, &phase("stands_by"))?;
    let runs = seat.runs()?;
    // The thumb came up over "Start", which stands where "Stop" was: that is no order for another run.
    assert_eq!(runs.len(), 1, "{runs:?}");
    let read = |name: &str| std::fs::read_to_string(runs[0].join(name)).doing(|| format!("read {name}"));
    let run: toml::Value = toml::from_str(&read("run.toml")?).doing(|| "read run.toml".into())?;
    let text = run.to_string();
    for part in ["higher", "worn", "by the brook"] {
        assert!(text.contains(part), "{part} is not in {text}");
    }
    let events = read("events.csv")?;
    assert_eq!(events.lines().filter(|line| line.contains(",mark")).count(), 1, "{events}");

    // By keys, too; and a start of its own is another run.
    browser.until("another start", SOON, "document.getElementById('start').ariaDisabled === 'false'")?;
    browser.tap("start")?;
    browser.until("a second run", SOON, &phase("recording"))?;
    browser.hold_space("stop", SHORT)?;
    std::thread::sleep(LONG);
    assert_eq!(browser.run(&format!("return {}", phase("recording")))?, Value::Bool(true));
    browser.hold_space("stop", LONG)?;
    browser.until("the end of the second run", SOON, &phase("stands_by"))?;
    assert_eq!(seat.runs()?.len(), 2);
    assert_eq!(browser.complaints()?, Vec::<String>::new());
    Ok(())
}

/// Two phones hold "Start" at once: one run begins, and whoever lost is told whose it is.
#[test]
#[ignore = "needs chromium and chromium-driver"]
fn who_starts_too_late_is_told_that_the_run_is_another() -> Outcome<()> {
    let seat = Seat::start(HELD)?;
    let (one, other) = (seat.browser()?, seat.browser()?);
    seat.choose(&one, "as-found", "sharp")?;
    one.until("a start", SOON, "document.getElementById('start').ariaDisabled === 'false'")?;
    // What it holds is not sent before the other one's run has begun.
    one.run(
        "const send = window.fetch;
        window.fetch = (...what) => what[0] !== '/wish' ? send(...what)
            : new Promise((go) => { window.let_go = go; }).then(() => send(...what))",
    )?;
    one.run("document.getElementById('start').click()")?;
    seat.choose(&other, "higher", "worn")?;
    other.until("a start", SOON, "document.getElementById('start').ariaDisabled === 'false'")?;
    other.run("document.getElementById('start').click()")?;
    other.until("the run", SOON, "document.getElementById('asked').innerText === 'Started.'")?;
    one.run("window.let_go()")?;
    one.until(
        "an answer",
        SOON,
        "document.getElementById('asked').innerText.includes('A run is being recorded')",
    )?;
    let theirs = "document.getElementById('state-more').innerText.startsWith('higher, worn')";
    one.until("the run of the other", SOON, theirs)?;
    assert_eq!(seat.runs()?.len(), 1);
    Ok(())
}

/// Found: where the folder of the run could not be made, whoever pressed waited five seconds to read that no run has begun.
#[test]
#[ignore = "needs chromium and chromium-driver"]
fn a_start_that_comes_to_nothing_says_why_where_it_was_pressed() -> Outcome<()> {
    let seat = Seat::start(HELD)?;
    let browser = seat.browser()?;
    browser.screen(360, 640, false)?;
    browser.until("a recorder that stands by", SOON, &phase("stands_by"))?;
    seat.choose(&browser, "as-found", "sharp")?;
    let _ = std::fs::remove_dir_all(seat.field.runs());
    std::fs::write(seat.field.runs(), "").doing(|| "put a file in the place of the runs".into())?;
    browser.until("a start", SOON, "document.getElementById('start').ariaDisabled === 'false'")?;
    browser.tap("start")?;
    let told = "document.getElementById('asked').innerText.startsWith('No run begins: ')";
    browser.until("why not", Duration::from_secs(2), told)?;
    assert!(browser.text("asked")?.contains("cannot be made"), "{}", browser.text("asked")?);
    browser.shoot("not-begun")?;
    std::fs::remove_file(seat.field.runs()).doing(|| "take the file away".into())?;
    browser.until("another start", SOON, "document.getElementById('start').ariaDisabled === 'false'")?;
    browser.tap("start")?;
    browser.until("the run", SOON, "document.getElementById('asked').innerText === 'Started.'")?;
    Ok(())
}

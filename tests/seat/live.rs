//! What the page shows is what the box sends; and when nobody sends, it says so.

use hitchwright_tests::Outcome;
use hitchwright_tests::field::Field;
use serde_json::Value;

use crate::browser::Browser;
use crate::rig::{HELD, SOON, Seat, without_devices};

/// 40 mm of the tail's spring are 1000 N by the load table of the plow; 2 000 000 counts over the zero are 5000 N;
/// 21 600 counts over it are 180 mm.
#[test]
#[ignore = "needs chromium and chromium-driver"]
fn figures_are_those_that_the_box_sends_in_either_units() -> Outcome<()> {
    let mut seat = Seat::start(HELD)?;
    let browser = seat.browser()?;
    let shows = |id: &str, figure: &str| {
        browser.until(
            &format!("{figure} in #{id}"),
            SOON,
            &format!("document.getElementById('{id}').innerText === '{figure}'"),
        )
    };
    for (id, figure) in [("load-figure", "1000"), ("pull", "5000"), ("depth", "180"), ("load-unit", "N")] {
        shows(id, figure)?;
    }
    // 20 mm, 500 N; 100 mm.
    seat.sensor_box.say("tail=10150")?;
    seat.sensor_box.say("depth=28200")?;
    shows("load-figure", "500")?;
    shows("depth", "100")?;
    // 500 N are 112.4 lbf, 5000 N 1124 lbf (to ten), 100 mm 3.9 in.
    browser.run("document.querySelector('[data-show=display]').click()")?;
    browser.run("document.querySelector('#units input[value=us]').click()")?;
    browser.run("document.querySelector('[data-show=now]').click()")?;
    for (id, figure) in [("load-figure", "112"), ("pull", "1120"), ("depth", "3.9"), ("load-unit", "lbf")] {
        shows(id, figure)?;
    }
    browser.run("location.reload()")?;
    shows("load-unit", "lbf")?;
    // Nothing of it: 0.4 mm are 10 N.
    seat.sensor_box.say("tail=2310")?;
    browser.until("a lifted tail", SOON, "document.documentElement.dataset.lifted === 'yes'")?;
    assert_eq!(browser.text("load-state")?, "LIFTED");
    let told = "document.getElementById('lifts').innerText.startsWith('Lifted 1 time in the last 20 s')";
    browser.until("the lift in words", SOON, told)?;
    seat.sensor_box.say("tail=18150")?;
    browser.until("a tail on the ground", SOON, "document.documentElement.dataset.lifted === 'no'")?;
    assert_eq!(browser.complaints()?, Vec::<String>::new());
    Ok(())
}

/// Nothing is plugged in: the page says at once what is waited for.
#[test]
#[ignore = "needs chromium and chromium-driver"]
fn ports_that_are_missing_are_named_on_the_page() -> Outcome<()> {
    let field = Field::new()?;
    let (_recorder, port) = without_devices(&field)?;
    let browser = Browser::start()?;
    browser.go(&format!("http://127.0.0.1:{port}/"))?;
    let waits = |name: &str| format!("waiting for {}: there is no such port", field.path(name).display());
    for words in [waits("port"), format!("without the GNSS receiver: {}", waits("gnss"))] {
        let shown = format!(
            "[...document.getElementById('troubles').children].some((p) => p.innerText.startsWith('{words}; '))"
        );
        browser.until(&words, SOON, &shown)?;
    }
    assert_eq!(browser.text("phase")?, "Waiting for the sensor boxes");
    // Found: a tap on a start that could do nothing was answered by nothing.
    browser.run("document.getElementById('safe-read').click()")?;
    browser.screen(360, 640, false)?;
    browser.tap("start")?;
    let why = format!("Not all boxes have answered yet: {}; ", waits("port"));
    browser.until(
        "why it cannot start",
        SOON,
        &format!("document.getElementById('asked').innerText.startsWith('{why}')"),
    )?;
    assert_eq!(browser.run("return document.getElementById('start').ariaDisabled")?, "true");
    // A glove finds it: of the two buttons each has half of the screen.
    assert_eq!(browser.run("return document.getElementById('start').offsetWidth > innerWidth / 3")?, true);
    browser.shoot("start-refused")?;
    Ok(())
}

#[test]
#[ignore = "needs chromium and chromium-driver"]
fn figures_of_a_moving_plow_move() -> Outcome<()> {
    let seat = Seat::start("")?;
    let browser = seat.browser()?;
    let moves = "return new Promise((done) => {
        const seen = new Set(), place = document.getElementById('load-figure');
        const watch = new MutationObserver(() => seen.add(place.innerText));
        watch.observe(place, { childList: true, characterData: true, subtree: true });
        setTimeout(() => done(seen.size), 3000);
    })";
    let seen = browser.run(moves)?.as_u64().unwrap_or(0);
    assert!(seen >= 20, "{seen} figures in 3 s");
    Ok(())
}

/// An old number must never look like one of now.
#[test]
#[ignore = "needs chromium and chromium-driver"]
fn a_lost_line_is_told_and_the_page_comes_back_by_itself_after_the_recorder_was_started_again() -> Outcome<()>
{
    let mut seat = Seat::start(HELD)?;
    let browser = seat.browser()?;
    browser.run("window.sameOne = true")?;
    seat.start_run(&browser)?;
    let struck = "getComputedStyle(document.getElementById('load-figure')).textDecorationLine.includes('line-through')";
    assert_eq!(browser.run(&format!("return {struck}"))?, Value::Bool(false));
    seat.recorder.signal(hitchwright_tests::process::Signal::KILL)?;
    browser.until("figures that are struck out", SOON, struck)?;
    let told = browser.text("lost")?;
    assert!(told.starts_with("No connection for ") && told.contains(" s: figures are old."), "{told}");
    assert_eq!(browser.text("phase")?, "No connection", "what was so is not said as if it were so now");
    assert!(browser.text("state-more")?.starts_with("last seen recording as-found"));
    browser.shoot("lost")?;

    let seat = seat.start_again()?;
    browser.until("figures of the new recorder", SOON, &format!("!({struck})"))?;
    assert_eq!(browser.run("return document.getElementById('lost').hidden")?, Value::Bool(true));
    assert_eq!(browser.text("asked")?, "The recorder was started again.");
    assert_eq!(browser.run("return window.sameOne")?, Value::Bool(true), "without loading the page again");
    assert_eq!(browser.text("load-figure")?, "1000");
    drop(seat);
    Ok(())
}

/// A tail that lifts shakes the phone of whoever wished for it, and stays quiet for whoever did not.
#[test]
#[ignore = "needs chromium and chromium-driver"]
fn a_lift_is_felt_until_it_is_muted() -> Outcome<()> {
    let mut seat = Seat::start(HELD)?;
    let browser = seat.browser()?;
    browser.screen(360, 640, false)?;
    browser.run(
        "window.shaken = []; navigator.vibrate = (how) => { window.shaken.push(String(how)); return true; }",
    )?;
    seat.start_run(&browser)?;
    let mut lift = || -> Outcome<()> {
        seat.sensor_box.say("tail=2310")?;
        browser.until("a lifted tail", SOON, "document.documentElement.dataset.lifted === 'yes'")?;
        seat.sensor_box.say("tail=18150")?;
        browser.until("a tail on the ground", SOON, "document.documentElement.dataset.lifted === 'no'")
    };
    lift()?;
    assert_eq!(browser.run("return window.shaken.length")?, Value::from(0), "nobody asked for it");
    browser.tap("mute")?;
    browser.until("sound", SOON, "document.getElementById('mute').innerText.includes('is on')")?;
    lift()?;
    browser.until("a shake", SOON, "window.shaken.includes('180')")?;
    browser.tap("mute")?;
    browser.until("quiet", SOON, "document.getElementById('mute').innerText.includes('is off')")?;
    browser.run("window.shaken = []")?;
    std::thread::sleep(std::time::Duration::from_secs(1));
    lift()?;
    assert_eq!(browser.run("return window.shaken.length")?, Value::from(0), "it was muted");
    Ok(())
}

//! How long it takes from the sensor to the pixel, through everything: box, line, recorder, server, browser.

use std::time::{Duration, SystemTime, UNIX_EPOCH};

use hitchwright_tests::{Failure, Outcome};

use crate::rig::{HELD, Seat};

const STEPS: usize = 200;
/// On a quiet machine it is a fraction of these; a machine that builds beside the test is given room.
const MEDIAN_MAX_MS: f64 = 100.0;
const P99_MAX_MS: f64 = 250.0;

/// Watches the figure of the load: at each change the wall clock, read in the frame *after* the one that has shown it.
const WATCH: &str = "
    const place = document.getElementById('load-figure');
    window.changes = [];
    new MutationObserver(() => {
        const figure = place.innerText;
        requestAnimationFrame(() => window.changes.push([figure, performance.timeOrigin + performance.now()]));
    }).observe(place, { childList: true, characterData: true, subtree: true });";

/// The time that is measured begins when the box is told of another deflection, so it holds more than the way from byte
/// to pixel: the pipe to the box, its wait for the next of 200 rows a second (2.5 ms in the mean) and the writing of the
/// frame.
#[test]
#[ignore = "needs chromium and chromium-driver"]
fn a_step_of_the_tail_is_on_the_screen_within_a_tenth_of_a_second() -> Outcome<()> {
    let mut seat = Seat::start(HELD)?;
    let browser = seat.browser()?;
    browser.screen(360, 640, false)?;
    seat.start_run(&browser)?;
    browser.run(WATCH)?;
    let mut told = Vec::new();
    for step in 0..STEPS {
        // 2 mm more each time, by turns from 10 and from 50 mm on: 25 N a mm; uneven waits, so that no beat is met.
        let mm = if step % 2 == 0 { 10 } else { 50 } + 2 * (step / 2 % 20);
        told.push((format!("{}", round_as_shown(25 * mm)), now_ms()?));
        seat.sensor_box.say(&format!("tail={}", 2150 + 400 * mm))?;
        std::thread::sleep(Duration::from_millis(137 + (step as u64 * 61) % 113));
    }
    std::thread::sleep(Duration::from_secs(1));
    let changes = browser.run("return window.changes")?;
    let changes: Vec<(String, f64)> = changes
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|one| Some((one[0].as_str()?.to_owned(), one[1].as_f64()?)))
        .collect();
    let mut took = Vec::new();
    for (figure, at) in &told {
        let seen = changes.iter().find(|(shown, when)| shown == figure && when >= at);
        let (_, when) =
            seen.ok_or_else(|| Failure(format!("{figure} never was on the screen: {changes:?}")))?;
        took.push(when - at);
    }
    took.sort_by(f64::total_cmp);
    let at = |share: f64| took[((took.len() - 1) as f64 * share).round() as usize];
    let (median, p99) = (at(0.5), at(0.99));
    println!(
        "sensor to pixel over {STEPS} steps at 200 rows a second: median {median:.0} ms, 90 % {:.0} ms, 99 % {p99:.0} ms, most {:.0} ms",
        at(0.9),
        at(1.0)
    );
    assert!(median < MEDIAN_MAX_MS && p99 < P99_MAX_MS, "median {median} ms, 99 % {p99} ms");
    Ok(())
}

/// As the page rounds: forces from a thousand on to ten.
fn round_as_shown(n: usize) -> usize {
    if n < 1000 { n } else { (n + 5) / 10 * 10 }
}

fn now_ms() -> Outcome<f64> {
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    since.map(|time| time.as_secs_f64() * 1000.0).map_err(|error| Failure(error.to_string()))
}

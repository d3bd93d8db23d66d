//! Killed at any moment, a recorder leaves a folder that opens, with at most the last second missing.

use std::time::Duration;

use hitchwright_tests::field::Field;
use hitchwright_tests::process::Signal;
use hitchwright_tests::{Failure, Outcome};
use ingest::open_run::open_run;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

const KILLS: u64 = 20;
const AT_ONCE: u64 = 4;
/// Rows that the box sends in a second.
const ROWS_PER_S: usize = 200;

/// Records in real time, where a second of rows is a second, and kills the recorder.
fn killed(seed: u64) -> Outcome<usize> {
    let words = format!("--seed {seed} --speed-up 1 --working-s 60");
    let mut recording = Field::new()?.with_box(&words).record("")?;
    recording.until_lines(2)?;
    let wait_ms = ChaCha8Rng::seed_from_u64(seed).random_range(0..2500);
    std::thread::sleep(Duration::from_millis(wait_ms));
    let recorded = recording.end_with(Signal::KILL)?;
    assert_eq!(recorded.ended.code(), None);
    let opened = open_run(&recorded.run()?).map_err(|error| Failure(error.to_string()))?;
    assert!(!opened.description.ended_properly());
    assert!(!opened.notices.is_empty());
    let verified = recorded.verify_torn()?;
    assert!(verified.rows_written > 0);
    Ok(verified.sent_after_last)
}

#[test]
fn at_most_a_second_is_missing() -> Outcome<()> {
    let killers: Vec<_> = (0..AT_ONCE)
        .map(|first| {
            std::thread::spawn(move || (first..KILLS).step_by(AT_ONCE as usize).map(killed).collect())
        })
        .collect();
    let mut worst = 0;
    let mut kills = 0;
    for killer in killers {
        let lost: Outcome<Vec<usize>> = killer.join().unwrap();
        for rows in lost? {
            worst = worst.max(rows);
            kills += 1;
        }
    }
    assert_eq!(kills, KILLS);
    assert!(worst <= ROWS_PER_S, "{worst} rows");
    Ok(())
}

//! What a person is told of the disk: that it takes its time with the end of a run, and that the folder of one is gone.

use crate::device::{BenchBox, Device};
use crate::rig::{Bench, start};
use ingest::open_run::open_run;
use ingest::recorder::{Begin, RecordConfig, Wish};

const END: Wish = Wish::End("SIGTERM");
const STILL: &str = "the run is over, and its last data are still being written, as the disk is slow: ";

fn bench() -> (Bench, RecordConfig) {
    let bench = Bench::new([("plow", Device::Box(BenchBox::plow()))]);
    let config = RecordConfig { begin: Begin::OnStart, ..bench.config() };
    (bench, config)
}

/// Found: who pressed stop, and start again, waited without a word for as long as the disk did.
#[test]
fn a_disk_that_holds_up_the_end_of_a_run_is_told_and_what_is_asked_for_meanwhile_is_done_after_it() {
    let (bench, config) = bench();
    let left = bench.disk_stalls(5.5, 14.0).record(&config, |person| async move {
        for (at_s, wish) in [
            (2.0, start("low")),
            (6.0, Wish::Stop("the page")),
            (9.0, start("low")),
            (18.0, Wish::Stop("the page")),
            (20.0, END),
        ] {
            person.wishes_at(at_s, wish).await;
        }
    });
    let still = format!("{STILL}what is asked for meanwhile is kept and done after that");
    let told_s = left.once_s(&still);
    assert!((6.0..8.0).contains(&told_s), "told at {told_s} s");
    assert_eq!(left.shown_at(told_s + 0.2).still_written.as_ref(), Some(&still));
    let kept_s =
        left.once_s("what was asked for is kept: it is done once the last data of the run are written");
    assert!((9.0..9.5).contains(&kept_s), "told at {kept_s} s");
    assert_eq!(left.shown_at(15.0).still_written, None);
    let began: Vec<f64> =
        left.told.iter().filter(|(_, line)| line == "began low sharp").map(|(at_s, _)| *at_s).collect();
    assert!(
        matches!(began[..], [first, second] if first < 3.0 && (14.0..15.0).contains(&second)),
        "{began:?}"
    );
    assert_eq!(left.recorded.unwrap().runs, 2);
}

#[test]
fn a_recorder_that_is_to_end_says_so_while_the_disk_holds_it_up() {
    let (bench, config) = bench();
    let left = bench.disk_stalls(5.5, 14.0).record(&config, |person| async move {
        person.wishes_at(2.0, start("low")).await;
        person.wishes_at(6.0, END).await;
        // Once more, as a service manager or an impatient person does.
        person.wishes_at(9.0, END).await;
    });
    let told_s = left.once_s(&format!("{STILL}the recorder ends after that"));
    assert!((6.0..8.0).contains(&told_s), "told at {told_s} s");
    assert!((14.0..15.0).contains(&left.once_s("ended: stopped by SIGTERM")), "{:?}", left.told);
    assert!(!left.lines().iter().any(|line| line.contains("is kept")), "{:?}", left.told);
}

/// A run of which the disk has all within a moment is over without a word.
#[test]
fn an_end_that_the_disk_does_not_hold_up_is_not_talked_of() {
    let (bench, config) = bench();
    let left = bench.record(&config, |person| async move {
        person.wishes_at(2.0, start("low")).await;
        person.wishes_at(6.0, END).await;
    });
    assert!(!left.lines().iter().any(|line| line.starts_with(STILL)), "{:?}", left.told);
}

#[test]
fn a_run_whose_folder_is_moved_away_says_where_it_goes_on_until_it_ends() {
    let (bench, config) = bench();
    let left = bench.record(&config, |person| async move {
        person.wishes_at(2.0, start("low")).await;
        person.at(5.0).await;
        let run = std::fs::read_dir(person.runs()).unwrap().next().unwrap().unwrap().path();
        std::fs::rename(&run, run.with_file_name("elsewhere")).unwrap();
        for (at_s, wish) in [(9.0, Wish::Stop("the page")), (11.0, start("low")), (14.0, END)] {
            person.wishes_at(at_s, wish).await;
        }
    });
    let beside = left.runs().into_iter().find(|run| run.display().to_string().ends_with("_2")).unwrap();
    assert!(open_run(&beside).unwrap().description.ended_properly());
    assert_eq!(left.shown_at(4.5).folder_away, None);
    let told = left.shown_at(8.5).folder_away.clone().unwrap();
    let goes_on = format!("goes on beside it in {}, whole from its beginning", beside.display());
    assert!(told.ends_with(&goes_on), "{told}");
    assert_eq!(left.shown_at(13.0).folder_away, None, "that is another run");
}

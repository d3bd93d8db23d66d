//! Two boxes that do not go together: what is told when the run begins, and what the run says of it.

use hitchwright_tests::Outcome;
use hitchwright_tests::command::{assert_has, json_of, text_of};
use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::run_folder::read_events;
use hitchwright_tests::verify::verify_box;

/// The pull is on both, and the second's clock runs at 20 times the computer's.
#[test]
fn a_channel_on_two_boxes_and_a_clock_apart_are_told_at_the_start() -> Outcome<()> {
    let first = "--channels pull,tail --name drawbar --rate-hz 100 --speed-up 1 --working-s 60 --seed 95";
    let field = Field::new()?.with_box(first);
    let (rear_port, rear_truth) = field.other("rear");
    let second = "--channels pull,depth --name rear --rate-hz 100 --speed-up 20 --working-s 30 --seed 96";
    let rear = field.start_other("rear", second)?;
    let ports = field.ports_with(&["rear"]);
    let mut recording = field.record(&format!("{ports} --duration 3s"))?;
    let port = recording.field.port().display().to_string();
    let doubled = recording.recorder.wait_for_line("pull_n on 2 boxes", SOON)?;
    assert_has(
        &doubled,
        &[
            &format!("plow.csv (box \"drawbar\" on {port})"),
            &format!("rear.csv (box \"rear\" on {})", rear_port.display()),
            "the analysis takes plow.csv's",
        ],
    );
    assert!(!doubled.contains("depth_mm") && !doubled.contains("tail_mm"), "{doubled}");
    let apart = recording.recorder.wait_for_line("runs apart from the computer's", SOON)?;
    assert_has(&apart, &["box \"rear\"", "in each of its seconds", "rear.csv follow that box alone"]);
    recording.recorder.wait_for_line("recording into", SOON)?;
    let recorded = recording.wait()?;
    let said = &recorded.ended.stderr;
    assert_eq!(said.matches("runs apart from the computer's").count(), 1, "{said}");
    drop(rear);
    let run = recorded.run()?;
    recorded.verify()?;
    verify_box(&run, "rear", &rear_truth)?;

    // The run says the same: of the clock in its events, of the channel when it is read.
    let events = read_events(&run)?;
    let apart: Vec<_> = events.iter().filter(|event| event.kind == "clocks-apart").collect();
    let [one] = &apart[..] else { panic!("{apart:?}") };
    assert!(one.detail.starts_with("box=rear; box_s_per_host_s=") && one.t_s == 0.0, "{one:?}");
    let checked = json_of(["check", text_of(&run), "--json"])?;
    let notices = checked["notices"].as_array().unwrap();
    let doubled =
        notices.iter().filter_map(|notice| notice.as_str()).find(|said| said.contains("pull_n is in"));
    assert!(
        doubled.is_some_and(|said| said.contains("rear.csv: ") && said.contains("and that one is used")),
        "{notices:?}"
    );
    assert_eq!(checked["tables"][1]["sensor_box"]["clock"]["run_time"], "box-alone");
    Ok(())
}

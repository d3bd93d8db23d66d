//! Several boxes in one run: whose file is whose, and what a person should look at.

use crate::device::{BenchBox, Device};
use crate::rig::{Bench, Left, start, with_sensor};
use firmware_protocol::ChannelKind;
use ingest::recorder::{Begin, RecordConfig, Wish};
use std::time::Duration;

/// What is left of three seconds with these boxes on the ports `plow`, `second` and so on.
fn recorded(boxes: Vec<BenchBox>) -> Left {
    let names = ["plow", "second", "third", "fourth"];
    let bench = Bench::new([]);
    let plugged: Vec<_> = names.into_iter().zip(boxes).collect();
    let config = RecordConfig {
        ports: plugged.iter().map(|(port, _)| port.into()).collect(),
        plow: with_sensor("pitch", "pitch", "deg"),
        duration: Some(Duration::from_secs(3)),
        ..bench.config()
    };
    for (port, own) in plugged {
        bench.plug_in(port, Device::Box(own));
    }
    bench.record(&config, |_| async {})
}

fn files(left: &Left) -> Vec<String> {
    let [run] = &left.runs()[..] else { panic!("{:?}", left.runs()) };
    let files = std::fs::read_dir(run).unwrap().map(|file| file.unwrap().file_name().into_string().unwrap());
    let mut files: Vec<_> = files.filter(|name| name.ends_with(".csv") && name != "events.csv").collect();
    files.sort();
    files
}

#[test]
fn each_box_has_a_file_of_its_own_whatever_it_is_called() {
    let boxes = vec![
        BenchBox::plow(),
        BenchBox::other("Plow", "T-2"),
        BenchBox::other("events", "T-3"),
        BenchBox::other("GNSS", "T-4"),
    ];
    assert_eq!(files(&recorded(boxes)), ["events-2.csv", "gnss-2.csv", "plow-2.csv", "plow.csv"]);
}

#[test]
fn boxes_that_look_alike_are_told_of_and_kept_apart() {
    let same_name = recorded(vec![BenchBox::plow(), BenchBox::other("plow box", "T-2")]);
    same_name.once_s(
        "the boxes on plow and second have the same name or serial number; they are kept apart by port: plow.csv and \
         plow-box.csv",
    );
    let same_serial = recorded(vec![BenchBox::plow(), BenchBox::other("tractor", "T-1")]);
    same_serial.once_s(
        "the boxes on plow and second have the same name or serial number; they are kept apart by port: plow.csv and \
         tractor.csv",
    );
    assert_eq!(files(&same_serial), ["plow.csv", "tractor.csv"]);
    // Boxes without any serial number are not alike by that.
    let unnumbered = BenchBox { serial: "", ..BenchBox::plow() };
    let none = recorded(vec![unnumbered, BenchBox::other("tractor", "")]);
    assert!(none.lines().iter().all(|line| !line.contains("same name or serial")), "{:?}", none.told);
}

#[test]
fn columns_that_two_boxes_fill_are_named_with_whose_count() {
    let pull = BenchBox {
        name: "tractor",
        serial: "T-2",
        channels: vec![("pull", ChannelKind::Pull), ("pitch", ChannelKind::Pitch)],
        counts: |_| vec![1000, 0],
        ..BenchBox::plow()
    };
    let left = recorded(vec![BenchBox::plow(), pull]);
    left.once_s(
        "pull_n on 2 boxes: in plow.csv (box \"plow box\" on plow) and in tractor.csv (box \"tractor\" on second); the \
         analysis takes plow.csv's: name the port of the box that is to count first",
    );
    let run = left.recorded.unwrap().last.unwrap();
    assert!(run.counters.iter().all(|counters| counters.rows > 1000), "{:?}", run.counters);
}

/// A box whose quartz is of another kind than it thinks; it shows while the recorder stands by.
#[test]
fn a_box_whose_clock_runs_apart_is_told_of_before_its_rows_are_joined() {
    let boxes = [
        ("plow", Device::Box(BenchBox::plow())),
        ("second", Device::Box(BenchBox { rate: 1.02, ..BenchBox::other("tractor", "T-2") })),
    ];
    let bench = Bench::new(boxes);
    let config = RecordConfig {
        ports: vec!["plow".into(), "second".into()],
        plow: with_sensor("pitch", "pitch", "deg"),
        begin: Begin::OnStart,
        ..bench.config()
    };
    let left = bench.record(&config, |person| async move {
        person.wishes_at(20.0, start("low")).await;
        person.wishes_at(30.0, Wish::End("Ctrl-C")).await;
    });
    let said = left.lines().into_iter().find(|line| line.starts_with("the clock of box")).unwrap();
    assert!(said.starts_with("the clock of box \"tractor\" on second runs apart from the computer's (1.02"));
    assert!(said.contains("the times in tractor.csv follow that box alone"), "{said}");
    assert!(left.shown_at(25.0).clock_apart);
}

//! A recorder that stands by, over pseudo-terminals: the plow begins and ends the run by itself.
#![allow(clippy::unwrap_used, reason = "a helper of tests fails as a test does")]

use std::path::{Path, PathBuf};

use hitchwright_tests::Outcome;
use hitchwright_tests::verify::verify_joined_late;
use ingest::cut::cut_passes;
use ingest::plow::read_plow_text;
use ingest::recorder::{
    Begin, BegunRun, Computer, Controls, Destination, NoView, PassChoice, RecordConfig, RecordError,
    RecordedRun, View, Wish, record, record_by,
};
use sample_runs::plow::{Case, Plow as VirtualPlow};
use sample_runs::virtual_box::{BoxConfig, VirtualBox};

const WORKING_S: f64 = 14.0;

fn config(port: &Path, begin: Begin, out: PathBuf) -> RecordConfig {
    RecordConfig {
        ports: vec![port.to_owned()],
        baud: 115_200,
        gnss: None,
        plow: read_plow_text(VirtualPlow::TWO_BOTTOM_TOML, Path::new("two-bottom.toml")).unwrap(),
        begin,
        setting_name: Some(Case::Balanced.setting_name().to_owned()),
        setting_assumed: false,
        share: None,
        field: None,
        soil: None,
        soil_class: None,
        note: None,
        destination: Destination::In(out),
        duration: None,
        stop_when_gone: (begin == Begin::AtOnce).then(|| std::time::Duration::from_millis(500)),
        passes_before: 0,
        software: "test".to_owned(),
    }
}

/// Ends the recorder with its first run.
struct UntilEnded {
    controls: Controls,
    said: Vec<String>,
}

impl View for UntilEnded {
    fn stands_by(&mut self) {
        self.said.push("stands by".to_owned());
        if self.said.len() == 1 {
            let (setting_name, note) = (Some("flat".to_owned()), Some("wet".to_owned()));
            let choice = PassChoice { setting_name, note, ..PassChoice::default() };
            self.controls.wish(Wish::Choose(choice)).unwrap();
        }
    }
    fn chosen(&mut self, next: &PassChoice, by_person: bool) {
        let (setting, note) = (next.setting_name.as_deref(), next.note.as_deref());
        self.said.push(format!("chosen {setting:?} {note:?} {by_person}"));
    }
    fn began(&mut self, run: &BegunRun) {
        self.said.push(format!("began {}", run.setting_name));
    }
    fn ended(&mut self, run: &Result<RecordedRun, RecordError>) {
        self.said.push(format!("ended {}", run.is_ok()));
        self.controls.wish(Wish::End("the test")).unwrap();
    }
}

/// The same pass twice at once, on two boxes: one recorder stands by and has the plow begin and end its run, in a setting
/// that a person has chosen; the other records all of it, and the pass is cut out afterwards.
#[test]
fn the_plow_begins_and_ends_a_run_and_a_pass_that_is_cut_out_is_the_same() -> Outcome<()> {
    let folder = tempfile::tempdir().unwrap();
    let truth = folder.path().join("truth.csv");
    let of_case = || BoxConfig::of_case(Case::Balanced, 7, WORKING_S);
    let standing = VirtualBox::open(BoxConfig { truth_csv: Some(truth.clone()), ..of_case() }).unwrap();
    let whole = VirtualBox::open(of_case()).unwrap();
    let whole_config = config(whole.path(), Begin::AtOnce, folder.path().join("whole"));
    let recording = std::thread::spawn(move || record(&whole_config, &mut NoView).unwrap().last.unwrap());
    let computer = Computer::without_keyboard();
    let mut view = UntilEnded { controls: computer.controls(), said: Vec::new() };
    let config = config(standing.path(), Begin::WhenInGround, folder.path().join("passes"));
    let run = record_by(computer, &config, &mut view).unwrap().last.unwrap();
    let said = [
        "stands by",
        "chosen Some(\"flat\") Some(\"wet\") true",
        "began flat",
        "chosen Some(\"flat\") None false",
        "ended true",
    ];
    assert_eq!(view.said[..5], said);
    let name = run.folder.file_name().unwrap().to_string_lossy().into_owned();
    assert!(name.ends_with("_flat_pass-1"), "{name}");
    assert_eq!(run.end.to_string(), "the plow came out of the ground");
    // In at 4.75 s, half-way down, of which the recorder missed some to begin with; out at 20.25 s, and 2 s.
    assert!((run.lasted_s - (WORKING_S + 1.5 + 4.75 + 2.0)).abs() < 1.5, "{run:?}");
    // It writes down the last of what it knows when it ends.
    standing.stop();
    standing.join().unwrap();
    let verified = verify_joined_late(&run.folder, &truth)?;
    assert!(verified.rows_written > 3_500 && verified.rows_lost == 0, "{verified:?}");
    let whole = recording.join().unwrap();
    let cut = cut_passes(&whole.folder, &folder.path().join("cut")).unwrap();
    let [pass] = &cut.passes[..] else { panic!("{cut:?}") };
    let summary = |folder: &Path| {
        let run = signals::run::load_run(folder).unwrap();
        analysis::summary::analyse(run).unwrap().summary
    };
    let (alone, all, of_cut) = (summary(&run.folder), summary(&whole.folder), summary(&pass.folder));
    let (part, cut_part) = (all.working_part, of_cut.working_part);
    assert!(
        (part.to_s - part.from_s - (cut_part.to_s - cut_part.from_s)).abs() < 0.1,
        "{part:?} {cut_part:?}"
    );
    for (one, other) in [(&all, &of_cut), (&alone, &of_cut)] {
        let (one, other) = (one.pull.mean_n, other.pull.mean_n);
        let spread = 0.1 * (one.high - one.low);
        assert!((one.value - other.value).abs() < spread, "{one:?} {other:?}");
    }
    Ok(())
}

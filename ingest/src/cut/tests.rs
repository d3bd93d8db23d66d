use super::*;
use crate::plow::{ChannelRole, read_plow_text};
use crate::rebuild::rebuild;
use crate::run_toml::{BoxInfo, RunInfo};
use crate::script::Script;

/// One row of 1 ms: pull in N and depth in mm, as counts of the script's sensors, with noise on the pull, and in the
/// ground with slow waves.
fn counts(row: u32, (depth_mm, pull_n): (f64, f64)) -> [i32; 2] {
    let wave = if depth_mm > 20.0 { (f64::from(row) / 700.0).sin() } else { 0.0 };
    let mixed = row.wrapping_mul(2_654_435_761);
    let noise = f64::from(((mixed ^ (mixed >> 15)).wrapping_mul(2_246_822_519) >> 20) % 8);
    let depth = (10.0 * (depth_mm + 3.0 * wave)).max(1.0);
    [(1000.0 + 2.0 * (pull_n + 100.0 * wave) + noise) as i32, depth as i32]
}

/// An afternoon: standing, then passes with headlands between, as records.
fn afternoon(stretches: &[(f64, f64, f64)]) -> Vec<Record> {
    let mut script = Script::begun(77_000_000, 500);
    let mut row = 0;
    for (lasts_s, depth_mm, pull_n) in stretches {
        for frame in 0..(lasts_s * 125.0) as u32 {
            if frame % 125 == 0 {
                script.ping();
            }
            let values: Vec<i32> = (0..8).flat_map(|k| counts(row + k, (*depth_mm, *pull_n))).collect();
            script.send_counts(2, &values);
            row += 8;
        }
    }
    script.ended()
}

/// The run folder of these records.
fn folder_of(parent: &Path, records: &[Record]) -> PathBuf {
    let folder = parent.join("afternoon");
    std::fs::create_dir(&folder).unwrap();
    let plow =
        read_plow_text(include_str!("../../tests/recording/plow.toml"), Path::new("plow.toml")).unwrap();
    let sensors = calibrated(&plow.sensors, &plow.own_sensors).unwrap();
    let text = |text: &str| text.to_owned();
    let description = RunDescription {
        run: RunInfo {
            id: text("afternoon"),
            started: text("2027-04-11T13:59:50+02:00"),
            setting_name: text("low"),
            setting_assumed: false,
            field: None,
            soil: None,
            soil_class: None,
            note: None,
            share: plow.bottoms.share,
            software: text("test"),
            state: RunState::Recording,
            ended: None,
            lasted_s: None,
        },
        setting: plow.settings["low"].clone(),
        plow,
        boxes: vec![BoxInfo {
            name: text("box"),
            serial: text("0001"),
            port: text("port"),
            file: text("plow"),
            protocol: text("1.0"),
            firmware: text("1.2.3"),
            boot: 7,
            row_rate_hz: 1000.0,
            channels: Vec::new(),
            clock: None,
            counters: None,
        }],
        gnss: None,
        zero: Vec::new(),
    };
    let records: Vec<_> = records.iter().cloned().map(|record| (0, record)).collect();
    write_run(&folder, description, &sensors, &records, ("ended".to_owned(), 1)).unwrap();
    folder
}

fn times_and_rows(folder: &Path) -> (Vec<f64>, Vec<String>) {
    let text = std::fs::read_to_string(folder.join("plow.csv")).unwrap();
    let two = |line: &str| {
        let (t_s, rest) = line.split_once(',').unwrap();
        (t_s.parse::<f64>().unwrap(), rest.to_owned())
    };
    text.lines().skip(1).map(two).unzip()
}

#[test]
fn an_afternoon_becomes_one_run_a_pass_and_headlands_are_left_out() {
    let parent = tempfile::tempdir().unwrap();
    let (pass, out) = ((14.0, 150.0, 3000.0), (12.0, 0.0, 20.0));
    let records = afternoon(&[out, pass, (1.0, 0.0, 20.0), pass, out, pass, out, (5.0, 150.0, 3000.0), out]);
    let whole = folder_of(parent.path(), &records);
    let before = std::fs::read(whole.join("run.toml")).unwrap();
    let cut = cut_passes(&whole, &parent.path().join("passes")).unwrap();
    assert_eq!(std::fs::read(whole.join("run.toml")).unwrap(), before, "the recording stays as it is");
    assert_eq!(cut.notices, Vec::<String>::new());
    let names: Vec<_> =
        cut.passes.iter().map(|one| one.folder.file_name().unwrap().to_string_lossy().into_owned()).collect();
    // The second began in the minute after the first.
    assert_eq!(
        names,
        ["2027-04-11T1359_low_pass-1", "2027-04-11T1400_low_pass-2", "2027-04-11T1401_low_pass-3"]
    );
    assert_eq!(
        cut.passes.iter().map(|one| one.too_short_s.is_some()).collect::<Vec<_>>(),
        [false, false, true]
    );
    let (whole_s, whole_rows) = times_and_rows(&whole);
    for (one, (in_s, out_s)) in cut.passes.iter().zip([(12.0, 41.0), (53.0, 67.0), (79.0, 84.0)]) {
        assert!((in_s - one.from_s - 5.0).abs() < 0.3, "{one:?}");
        assert!((one.from_s + one.lasted_s - out_s - 2.0).abs() < 0.5, "{one:?}");
        let rebuilt = rebuild(&one.folder, None).unwrap();
        for file in &rebuilt.files {
            assert_eq!(std::fs::read(one.folder.join(&file.name)).unwrap(), file.bytes, "{}", file.name);
        }
        let (times, rows) = times_and_rows(&one.folder);
        // Row for row what the recording has there.
        let first = whole_rows.windows(50).position(|some| *some == rows[..50]).unwrap();
        assert_eq!(rows[..], whole_rows[first..first + rows.len()]);
        for (t_s, whole_t_s) in times.iter().zip(&whole_s[first..]) {
            // Each ping of the script pushes its rows by 0.4 ms, which the two clocks work off at their own pace.
            assert!((t_s + one.from_s - whole_t_s).abs() < 0.02, "{t_s} {whole_t_s} {one:?}");
        }
        let description = read_run_toml(&one.folder.join("run.toml")).unwrap();
        let counters = description.boxes[0].counters.unwrap();
        assert_eq!((counters.rows as usize, counters.rows_lost, counters.frames_damaged), (rows.len(), 0, 0));
        assert!(description.ended_properly());
        // The plow hung still on the headland before it.
        let zero = &description.zero[0];
        assert!((zero.mean - 21.75).abs() < 0.2 && (3.0..12.6).contains(&zero.still_s), "{zero:?}");
    }
}

#[test]
fn what_cannot_be_cut_is_said() {
    let parent = tempfile::tempdir().unwrap();
    let whole = folder_of(parent.path(), &afternoon(&[(10.0, 0.0, 20.0)]));
    assert_eq!(cut_passes(&whole, parent.path()).unwrap().passes, []);
    let text = std::fs::read_to_string(whole.join("run.toml")).unwrap();
    std::fs::write(whole.join("run.toml"), text.replace("measures = \"depth\"", "measures = \"side\""))
        .unwrap();
    // Another meaning of the channel is another plow.
    assert!(cut_passes(&whole, parent.path()).is_err());
    std::fs::write(whole.join("run.toml"), &text).unwrap();
    let with = |change: &dyn Fn(&mut RunDescription)| {
        let mut description = read_run_toml(&whole.join("run.toml")).unwrap();
        change(&mut description);
        let before = std::fs::read(whole.join("run.toml")).unwrap();
        std::fs::write(whole.join("run.toml"), description.to_toml().unwrap()).unwrap();
        let error = cut_passes(&whole, parent.path()).unwrap_err();
        std::fs::write(whole.join("run.toml"), before).unwrap();
        error
    };
    let deaf = with(&|description| {
        description.plow.sensors.retain(|sensor| sensor.measures != ChannelRole::Depth);
    });
    assert!(matches!(&deaf, CutError::CannotFind { why: "no sensor measures the depth", .. }), "{deaf}");
    let imported = with(&|description| description.boxes.clear());
    assert!(matches!(&imported, CutError::NoBox(folder) if *folder == whole), "{imported}");
}

/// On the headland, three seconds before the second pass, another program is put into the box: its channels come in
/// another order, and the run of that pass begins no earlier.
#[test]
fn a_box_that_changes_its_channels_on_the_headland_begins_the_next_run() {
    use firmware_protocol::{Frame, Hello};
    let parent = tempfile::tempdir().unwrap();
    let (pass, out) = ((14.0, 150.0, 3000.0), (9.0, 0.0, 20.0));
    let first = afternoon(&[out, pass, out]);
    let mut script = Script::begun(77_000_000, 500);
    let mut turned = crate::script::hello(8);
    let table: Vec<_> = turned.channels().iter().rev().copied().collect();
    turned = Hello::new(8, (1, 2, 3), 1_000_000, turned.serial, turned.name, &table).unwrap();
    // The box booted with it.
    let since_us = first.last().unwrap().host_us;
    script.records = first.into_iter().filter(|record| !matches!(record.what, WireEvent::Ended(_))).collect();
    script.host_us = since_us;
    script.box_ahead_us = 0;
    script.row = 0;
    script.frame(&Frame::Hello(turned));
    for frame in 0..(26.0 * 125.0) as u32 {
        if frame % 125 == 0 {
            script.ping();
        }
        let (depth_mm, pull_n) = if (375..2125).contains(&frame) { (150.0, 3000.0) } else { (0.0, 20.0) };
        let values: Vec<i32> = (0..8)
            .flat_map(|k| {
                let [pull, depth] = counts(8 * frame + k, (depth_mm, pull_n));
                [depth, pull]
            })
            .collect();
        script.send_counts(2, &values);
    }
    let whole = folder_of(parent.path(), &script.ended());
    let cut = cut_passes(&whole, &parent.path().join("passes")).unwrap();
    let [before, after] = &cut.passes[..] else { panic!("{:?}", cut.passes) };
    assert!((after.from_s - 32.0).abs() < 0.5, "{after:?}");
    for one in [before, after] {
        let (_, rows) = times_and_rows(&one.folder);
        let middle: Vec<f64> = rows[8_000].split(',').map(|cell| cell.parse().unwrap()).collect();
        assert!((middle[0] - 3000.0).abs() < 300.0 && (middle[1] - 150.0).abs() < 5.0, "{middle:?}");
    }
}

#[test]
fn a_short_headland_is_in_one_of_two_runs_only() {
    let parent = tempfile::tempdir().unwrap();
    let (pass, out) = ((8.0, 150.0, 3000.0), (4.0, 0.0, 20.0));
    let whole = folder_of(parent.path(), &afternoon(&[out, out, pass, out, pass, out]));
    let text = std::fs::read_to_string(whole.join("run.toml")).unwrap();
    std::fs::write(whole.join("run.toml"), text.replace("boot = 7", "boot = 6")).unwrap();
    let cut = cut_passes(&whole, &parent.path().join("passes")).unwrap();
    let [first, second] = &cut.passes[..] else { panic!("{:?}", cut.passes) };
    let between_s = second.from_s - first.from_s - first.lasted_s;
    // Each run follows the clock from its own first row on: to a tenth of a row.
    assert!((-1e-4..0.5).contains(&between_s), "{cut:?}");
    // The box booted once more before the passes than when the recording began.
    let description = read_run_toml(&second.folder.join("run.toml")).unwrap();
    assert_eq!(description.boxes[0].boot, 7);
}

//! A summary of one hour at 1 kHz with six channels (about 200 MB of CSV), the page included.
//!
//! The readings are invented noise and waves: only their number matters here. Peak memory is the operating
//! system's to tell: run the program on the folder that is named at the start under a tool that measures it.

#![allow(clippy::unwrap_used)] // a bench that cannot run must stop

use analysis::report::run_content;
use analysis::report::units::Units;
use analysis::summary::analyse;
use criterion::{Criterion, criterion_group, criterion_main};
use ingest::assemble::Row;
use ingest::csv_text::{EVENTS_HEADER, push_row, rows_header};
use ingest::open_run::open_run;
use ingest::plow::ChannelRole;
use ingest::run_toml::RunState;
use page::{Format, Paper, Sheets, render};
use rand::{RngExt, SeedableRng};
use signals::run::load_run;
use std::io::Write;
use std::path::Path;

const ROWS: u64 = 3_600_000;
const COLUMNS: [ChannelRole; 6] = [
    ChannelRole::Pull,
    ChannelRole::Tail,
    ChannelRole::Depth,
    ChannelRole::FrontLoad,
    ChannelRole::Side,
    ChannelRole::Pitch,
];

/// Writes the run folder.
fn write_run(folder: &Path) -> Result<(), Box<dyn std::error::Error>> {
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(1);
    let mut file = std::io::BufWriter::new(std::fs::File::create(folder.join("plow.csv"))?);
    let columns = COLUMNS.into();
    file.write_all(rows_header(&columns).as_bytes())?;
    let mut soil = 0.0;
    let mut line = String::new();
    for index in 0..ROWS {
        let t_s = index as f64 / 1000.0;
        soil += 0.002 * (rng.random::<f64>() - 0.5 - 0.01 * soil);
        let bob = (2.0 * std::f64::consts::PI * 2.1 * t_s).sin();
        let mut row = Row::at(index * 1000);
        let in_ground = if (5.0..3595.0).contains(&t_s) { 1.0 } else { 0.0 };
        let noise = rng.random::<f64>() - 0.5;
        row.push(300.0 + in_ground * (8000.0 + 20_000.0 * soil) + 30.0 * noise);
        row.push(32.0 + 4.0 * bob + 40.0 * soil + 0.1 * noise);
        row.push(in_ground * (180.0 + 60.0 * soil) + noise);
        row.push(1700.0 - 60.0 * bob + 20.0 * noise);
        row.push(400.0 * soil + noise);
        row.push(0.3 * bob + 0.01 * noise);
        line.clear();
        push_row(&row, &columns, &mut line);
        file.write_all(line.as_bytes())?;
    }
    file.flush()?;
    // Its rows were made without the boxes, counters and calibrations of the stored run.
    let stored = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-runs/runs/balanced");
    let mut description = open_run(&stored)?.description;
    description.run.state = RunState::Imported;
    description.boxes.clear();
    std::fs::write(folder.join("run.toml"), description.to_toml()?)?;
    std::fs::write(folder.join("events.csv"), EVENTS_HEADER)?;
    Ok(())
}

fn summary(c: &mut Criterion) {
    // HITCHWRIGHT_BENCH_RUN names a folder to keep the run in, for measuring the whole program on it.
    let kept = std::env::var_os("HITCHWRIGHT_BENCH_RUN").map(std::path::PathBuf::from);
    let temporary = tempfile::tempdir().unwrap();
    let folder = kept.unwrap_or_else(|| temporary.path().join("hour"));
    if !folder.join("run.toml").exists() {
        std::fs::create_dir_all(&folder).unwrap();
        write_run(&folder).unwrap();
    }
    let mut group = c.benchmark_group("summary");
    group.sample_size(10);
    group.bench_function("one hour at 1 kHz, six channels, with its page", |b| {
        b.iter(|| {
            let analysed = analyse(load_run(&folder).unwrap()).unwrap();
            render(&run_content(&analysed, Units::Si), Paper::A4, Format::Pdf, Sheets::One).unwrap()
        });
    });
    group.finish();
}

criterion_group!(benches, summary);
criterion_main!(benches);

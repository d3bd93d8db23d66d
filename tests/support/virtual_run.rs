//! Runs of the virtual plow without a port: what a recorder would have written, in memory, with what is
//! true of it. For tests that need many runs; that a recorded run is the same is tested elsewhere.

#![allow(clippy::expect_used)] // test support: a broken fixture must stop the test

use crate::run_in_memory::run_in_memory;
use ingest::calibration::{CalibrationCurve, Fit};
use ingest::plow::{ChannelRole, Plow, PlowToml, SettingToml, read_plow_text};
use ingest::quantity::{Length, Measured, Quantity};
use ingest::run_toml::RunDescription;
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use sample_runs::plow::{Case, Pass, PassSpec, Plow as VirtualPlow, Truth, TruthMeter};
use sample_runs::sensors::{Sensor, SensorSet};
use signals::run::{Run, Table};
use std::path::Path;

/// Rows per second.
const RATE_HZ: f64 = 100.0;

/// A pass of `case` over the strip of the field with this seed, 60 s at working depth, as the person with the
/// tape measure sees it: every length and the weight of the description are off by a random error within
/// their ±, drawn from the same seed. `with_soil_height` leaves the measured height of the soil force in.
pub fn virtual_run(case: Case, seed: u64, with_soil_height: bool) -> (Run, Truth) {
    virtual_run_with(&Sensor::BASIC, case, seed, with_soil_height)
}

/// The same with other sensors; one that the description does not have is calibrated as it counts.
pub fn virtual_run_with(sensors: &[Sensor], case: Case, seed: u64, with_soil_height: bool) -> (Run, Truth) {
    virtual_run_of(sensors, case, &case.pass(seed, 60.0), seed, with_soil_height)
}

/// The same of a pass that differs from the case's in what no description has.
pub fn virtual_run_of(
    sensors: &[Sensor],
    case: Case,
    spec: &PassSpec,
    seed: u64,
    with_soil_height: bool,
) -> (Run, Truth) {
    let mut plow = read_plow_text(VirtualPlow::TWO_BOTTOM_TOML, Path::new("two-bottom.toml"))
        .expect("the demo's plow description is good");
    plow.bottoms.share = case.share().name().parse().expect("a condition of shares");
    let (mut pass, mut meter) = (Pass::new(spec), TruthMeter::new(spec));
    let curves: Vec<_> = sensors
        .iter()
        .map(|sensor| {
            let role = ChannelRole::of_column(sensor.column).expect("a column");
            let described = plow.sensors.iter().find(|s| s.channel == sensor.channel);
            let curve = match described {
                Some(described) => CalibrationCurve::of(&described.calibration, role),
                None => {
                    let count = |reading: f64| sensor.zero_count + sensor.counts_per_unit * reading;
                    let points = [(count(0.0), 0.0), (count(1000.0), 1000.0)];
                    CalibrationCurve::through(&points, Fit::Line, role)
                }
            };
            (role, curve.expect("a curve"))
        })
        .collect();
    let mut sensors = SensorSet::new(sensors, seed);
    let mut table = Table::default();
    let mut counts = Vec::new();
    while !pass.is_over() {
        let state = pass.state();
        meter.take(&state);
        counts.clear();
        sensors.sample(&state, &mut counts);
        table.t_s.push(table.t_s.len() as f64 / RATE_HZ);
        for ((role, curve), count) in curves.iter().zip(&counts) {
            table.channels.entry(*role).or_default().push(curve.reading(f64::from(*count)));
        }
        pass.advance(1.0 / RATE_HZ);
    }
    measure_with_a_tape(&mut plow, with_soil_height, &mut ChaCha8Rng::seed_from_u64(seed ^ 0x7A9E));
    let truth = meter.truth().expect("the pass has a working part");
    (run_in_memory(format!("{}-{seed}", case.name()), plow, case.setting_name(), table), truth)
}

/// The run with something else in the description of its plow, in the setting of the same names.
pub fn rewrite(description: &mut RunDescription, change: impl FnOnce(&mut PlowToml)) {
    let mut said = PlowToml::from(description.plow.clone());
    change(&mut said);
    description.plow = Plow::try_from(said).expect("the changed description is one of a plow");
    let names = SettingToml::from(description.setting.clone());
    description.setting = description.plow.setting("setting", names).expect("the holes are still there");
}

/// What the person reads instead of what is true: each figure off by an error whose 95 % lie within its ±.
fn measure_with_a_tape(plow: &mut Plow, with_soil_height: bool, rng: &mut impl Rng) {
    let mut error = |half_width: f64| {
        // Sum of twelve uniforms less 6 is near enough normal with SD 1 (Irwin-Hall).
        let normal: f64 = (0..12).map(|_| rng.random::<f64>()).sum::<f64>() - 6.0;
        normal * half_width / 1.96
    };
    let mut said = PlowToml::from(plow.clone());
    let mut lengths: Vec<&mut Measured<Length>> =
        vec![&mut said.weight.x, &mut said.bottoms.x, &mut said.plow_hitch.x];
    lengths.extend(said.tail_wheel.as_mut().map(|wheel| &mut wheel.x));
    lengths.extend(said.drawbar.as_mut().map(|drawbar| &mut drawbar.length));
    lengths.extend(said.plow_hitch.holes.iter_mut().map(|hole| &mut hole.z));
    lengths.extend(said.tractor_hitch.holes.iter_mut().map(|hole| &mut hole.z));
    lengths.extend(said.bottoms.soil_force_z.as_mut());
    for length in lengths {
        let half_width = length.half_width.map_or(0.0, Quantity::si);
        length.value = Length::from_m(length.value.si() + error(half_width));
    }
    let weight = &mut said.weight.total;
    let half_width = weight.half_width.map_or(0.0, Quantity::si);
    weight.value = Quantity::from_si(weight.value.si() + error(half_width));
    *plow = Plow::try_from(said).expect("what is a little off is still a plow");
    if !with_soil_height {
        plow.bottoms.soil_force_z = None;
    }
}

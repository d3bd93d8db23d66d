//! A run of a plow drawn at random ([`DrawnPlow`]), described by a person with a tape measure, a scale and known
//! loads whose errors are drawn as well, in memory: what a recorder would have written, with what is true of it.
//!
//! From a seed to an analysed run:
//!
//! [`drawn_plow`] (change what the study is about), [`DrawnRun::of`], and `analysis::summary::analyse` on its
//! [`DrawnRun::run`]; the truth is beside it. [`process_of`] gives what the pass is one sample of.

#![allow(clippy::expect_used, clippy::panic)] // test support: a broken fixture must stop the test

use crate::run_in_memory::run_in_memory;
use ingest::calibration::CalibrationReport;
use ingest::plow::{ChannelRole, read_plow_text};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use sample_runs::plow::{DrawnPlow, Pass, Truth, TruthMeter};
use sample_runs::sensors::{Sensor, SensorSet};
use signals::run::{Run, Table};
use std::fmt::Write as _;
use std::path::Path;

/// Name of the setting that a drawn plow is driven in.
pub const SETTING: &str = "driven";
/// Name of another setting of its description, by other holes, that is not driven.
pub const OTHER_SETTING: &str = "other";

/// What the person states as half of a 95 % interval: of the weight, of points, of holes, of known loads.
const WEIGHT_SHARE: f64 = 0.02;
const POINT_M: f64 = 0.010;
const HOLE_M: f64 = 0.005;
const REFERENCE_SHARE: f64 = 0.005;
/// Largest load that a tail spring is measured under, in N.
const LARGEST_N: f64 = 90_000.0;
/// Half of a 95 % interval of a normal law in standard deviations.
const Z_975: f64 = 1.96;

/// The drawn plow of a seed.
pub fn drawn_plow(seed: u64) -> DrawnPlow {
    DrawnPlow::draw(&mut ChaCha8Rng::seed_from_u64(seed))
}

/// One pass of a drawn plow.
#[derive(Clone, Debug)]
pub struct DrawnRun {
    /// The run as it would be read from its folder.
    pub run: Run,
    /// `plow.toml` of the run, errors of measuring included.
    pub plow_toml: String,
    pub truth: Truth,
    /// What perfect sensors would have read over the part that the truth is of.
    pub series: TrueSeries,
}

/// What is true row by row over the working part of a pass.
#[derive(Clone, Debug, Default)]
pub struct TrueSeries {
    pub pull_n: Vec<f64>,
    pub tail_load_n: Vec<f64>,
    pub depth_mm: Vec<f64>,
}

impl DrawnRun {
    /// A pass of `drawn`, with pull, tail deflection, depth, and these further channels (front load, pitch or
    /// speed); the errors of measuring and the noise of the sensors depend on `seed`.
    pub fn of(drawn: &DrawnPlow, further: &[ChannelRole], seed: u64) -> Self {
        Self::measured(drawn, further, seed, 1.0)
    }

    /// The same with all errors of measuring this many times as large: 0 is a tape, a scale and known loads without
    /// error. What is stated of them stays.
    pub fn measured(drawn: &DrawnPlow, further: &[ChannelRole], seed: u64, errors: f64) -> Self {
        let sensors = sensors_of(drawn, further);
        let mut measuring = Measuring { rng: ChaCha8Rng::seed_from_u64(seed ^ 0x7A9E), errors };
        let plow_toml = described(drawn, &sensors, &mut measuring);
        let plow = read_plow_text(&plow_toml, Path::new("drawn.toml"))
            .unwrap_or_else(|error| panic!("a drawn plow cannot be described: {error}\n{plow_toml}"));
        let curves: Vec<_> = plow
            .sensors
            .iter()
            .map(|sensor| {
                let report = CalibrationReport::of(&sensor.calibration, sensor.measures);
                (sensor.measures, report.expect("a calibration").curve)
            })
            .collect();
        let mut table = Table::default();
        let mut set = SensorSet::new(&sensors, seed);
        let mut counts = Vec::new();
        let (truth, series) = driven(drawn, drawn.rate_hz, |state| {
            counts.clear();
            set.sample(state, &mut counts);
            table.t_s.push(table.t_s.len() as f64 / drawn.rate_hz);
            for ((role, curve), count) in curves.iter().zip(&counts) {
                table.channels.entry(*role).or_default().push(curve.reading(f64::from(*count)));
            }
        });
        let run = run_in_memory(format!("drawn-{seed}"), plow, SETTING, table);
        Self { run, plow_toml, truth, series }
    }
}

/// Simulates the pass, shows `take` each row, and gives what is true of it.
pub fn driven(
    drawn: &DrawnPlow,
    rate_hz: f64,
    mut take: impl FnMut(&sample_runs::plow::TrueState),
) -> (Truth, TrueSeries) {
    let mut pass = Pass::with_step(&drawn.pass, drawn.pass.longest_step_s());
    let mut meter = TruthMeter::new(&drawn.pass);
    let mut series = TrueSeries::default();
    let (from_s, to_s) = meter.part_s();
    while !pass.is_over() {
        let state = pass.state();
        meter.take(&state);
        if (from_s..=to_s).contains(&state.t_s) {
            series.pull_n.push(state.pull_n);
            series.tail_load_n.push(state.forces.tail_load_n);
            series.depth_mm.push(state.depth_mm);
        }
        take(&state);
        pass.advance(1.0 / rate_hz);
    }
    (meter.truth().expect("the pass has a working part"), series)
}

/// What the process gives that the pass is one sample of: the same plow, hitch, soil and speed over another strip,
/// `working_s` long.
pub fn process_of(drawn: &DrawnPlow, working_s: f64) -> (Truth, TrueSeries) {
    let mut long = drawn.clone();
    long.pass.times.working_s = working_s;
    long.pass.field_seed = drawn.pass.field_seed.wrapping_add(0x5EED);
    driven(&long, 50.0, |_| ())
}

/// Sensors that suit the plow: the tail's is as fine as its spring is stiff.
fn sensors_of(drawn: &DrawnPlow, further: &[ChannelRole]) -> Vec<Sensor> {
    let plow = &drawn.pass.plow;
    let pull = Sensor { counts_per_unit: 100.0, noise_sd: 0.0015 * pull_n(drawn), ..Sensor::PULL };
    let deflection_mm = 1000.0 * deflection_m(drawn);
    let tail = Sensor {
        zero_count: 4_000.0,
        counts_per_unit: 10_000.0 / deflection_mm,
        noise_sd: 0.002 * deflection_mm,
        ..Sensor::TAIL
    };
    let front = Sensor { counts_per_unit: 100.0, noise_sd: 0.003 * plow.weight_n, ..Sensor::FRONT_LOAD };
    let known = [front, Sensor::PITCH, Sensor::SPEED];
    let of = |role: &ChannelRole| known.iter().find(|s| s.column == role.column()).copied();
    // Noise that a pass over smooth land still stands out of.
    let depth = Sensor { noise_sd: 0.2, ..Sensor::DEPTH };
    [pull, tail, depth]
        .into_iter()
        .chain(further.iter().map(|role| of(role).expect("a channel that a virtual sensor has")))
        .collect()
}

/// Deflection of the tail's spring that it is built for: standing, or as the wheel is set, in m.
fn deflection_m(drawn: &DrawnPlow) -> f64 {
    let plow = &drawn.pass.plow;
    let standing_n = plow.weight_n * -plow.weight_at.x_m / plow.wheelbase_m();
    plow.tail.compression_m(standing_n).max(plow.tail.set_compression_m)
}

/// Pull in soil of hardness 1 at the set depth, in N.
fn pull_n(drawn: &DrawnPlow) -> f64 {
    let plow = &drawn.pass.plow;
    plow.specific_draft_pa * plow.cut_width_m * plow.set_depth_m
}

/// The errors that a person makes.
struct Measuring {
    rng: ChaCha8Rng,
    errors: f64,
}

impl Measuring {
    /// One error whose standard deviation is 1 (or [`Measuring::errors`]): near enough normal, the sum of twelve
    /// uniforms less 6 (Irwin–Hall).
    fn error(&mut self) -> f64 {
        self.errors * ((0..12).map(|_| self.rng.random::<f64>()).sum::<f64>() - 6.0)
    }

    /// A value as it is read, by a share of which 95 % of the errors are smaller than this.
    fn off_by(&mut self, half_width: f64) -> f64 {
        1.0 + self.error() * half_width / Z_975
    }

    /// A length as it is read and written, with its ±.
    fn length(&mut self, true_m: f64, half_width_m: f64) -> String {
        let read_m = true_m + self.error() * half_width_m / Z_975;
        format!("\"{:.1} mm ± {:.0} mm\"", 1000.0 * read_m, 1000.0 * half_width_m)
    }

    /// The holes of a hitch.
    fn holes(&mut self, name: &str, x: &str, heights_m: &[f64]) -> String {
        let lines: String = (1..)
            .zip(heights_m)
            .map(|(i, z_m)| format!("    {{ name = \"{i}\", z = {} }},\n", self.length(*z_m, HOLE_M)))
            .collect();
        format!("[{name}]\n{x}holes = [\n{lines}]\n\n")
    }

    /// Deflection and load of the tail's spring, by known weights; the deflections are read to half a per cent of
    /// its usual one.
    fn load_table(&mut self, drawn: &DrawnPlow) -> String {
        let (mut full_m, weights) = (2.5 * deflection_m(drawn), self.off_by(REFERENCE_SHARE));
        // A spring that stiffens is not loaded beyond what a description takes.
        while drawn.pass.plow.tail.spring_n(full_m) > LARGEST_N {
            full_m *= 0.9;
        }
        let lines = (0..=10).map(|i| {
            let at_m = full_m * f64::from(i) / 10.0;
            let read_m = if i == 0 { 0.0 } else { at_m + self.error() * 0.002 * deflection_m(drawn) };
            let load_n = weights * drawn.pass.plow.tail.spring_n(at_m);
            format!("[\"{:.4} mm\", \"{load_n:.2} N\"]", 1000.0 * read_m)
        });
        let lines: Vec<String> = lines.collect();
        format!("[{}]", lines.join(", "))
    }

    /// A calibration up and down again by known values, all off by the same share and each count by a little noise.
    fn sensor(&mut self, sensor: &Sensor, drawn: &DrawnPlow) -> String {
        let plow = &drawn.pass.plow;
        let (full, unit) = match sensor.column {
            "pull_n" => (2.5 * pull_n(drawn), "N"),
            "tail_mm" => (2500.0 * deflection_m(drawn), "mm"),
            "depth_mm" => (1600.0 * plow.set_depth_m, "mm"),
            "front_load_n" => (1.5 * plow.weight_n, "N"),
            "pitch_deg" => (5.0, "deg"),
            _ => (4.0, "m/s"),
        };
        let wrong = self.off_by(REFERENCE_SHARE);
        let mut points = String::new();
        for step in [0, 1, 2, 3, 4, 5, 4, 3, 2, 1, 0] {
            let stated = full * f64::from(step) / 5.0;
            let reading = stated * wrong + 0.2 * sensor.noise_sd * self.error();
            let count = sensor.zero_count + sensor.counts_per_unit * reading;
            write!(points, "[{count:.1}, \"{stated:.5} {unit}\"], ").expect("a string takes what is written");
        }
        let (low, high) = sensor.count_limits;
        let channel = sensor.channel;
        format!(
            "[[sensors]]\nchannel = \"{channel}\"\nmeasures = \"{channel}\"\ncount_limits = [{low}, {high}]\n\
             calibration = {{ date = \"2027-03-01\", reference = \"0.5 %\", points = [{points}] }}\n\n"
        )
    }
}

/// The description as the person writes it: every figure off by an error whose 95 % lie within its ±.
fn described(drawn: &DrawnPlow, sensors: &[Sensor], person: &mut Measuring) -> String {
    let plow = &drawn.pass.plow;
    let weight_n = plow.weight_n * person.off_by(WEIGHT_SHARE);
    let mut text = format!(
        "name = \"Drawn plow (invented)\"\n\n[weight]\ntotal = \"{weight_n:.0} N ± {:.0} N\"\nx = {}\n\n",
        WEIGHT_SHARE * plow.weight_n,
        person.length(plow.weight_at.x_m, POINT_M)
    );
    text += &format!(
        "[front_wheels]\ndiameter = \"{:.0} mm\"\n\n[tail_wheel]\nx = {}\ndiameter = \"{:.0} mm\"\n\
         runs_in = \"furrow\"\n",
        1000.0 * plow.front.diameter_m,
        person.length(plow.tail.contact.x_m, POINT_M),
        1000.0 * plow.tail.diameter_m
    );
    text += &format!("load_table = {}\n\n", person.load_table(drawn));
    text += &format!(
        "[bottoms]\ncount = {}\ncut_width = \"{:.0} mm\"\ndepth = \"{:.0} mm\"\nshare = \"{}\"\nx = {}\n\n",
        drawn.bottoms,
        1000.0 * plow.cut_width_m / f64::from(drawn.bottoms),
        1000.0 * plow.set_depth_m,
        drawn.pass.share.name(),
        person.length(plow.soil_at.x_m, POINT_M)
    );
    let x = format!("x = {}\n", person.length(plow.hitch_x_m, POINT_M));
    text += &person.holes("plow_hitch", &x, &drawn.plow_holes_m);
    text += &person.holes("tractor_hitch", "", &drawn.tractor_holes_m);
    text += &format!("[drawbar]\nlength = {}\n\n", person.length(plow.drawbar_length_m, POINT_M));
    let (plow_hole, tractor_hole) = drawn.holes;
    let others = |holes: usize| (plow_hole + holes) % drawn.plow_holes_m.len();
    let other_end = if tractor_hole == 0 { drawn.tractor_holes_m.len() - 1 } else { 0 };
    // A drawbar steeper than 45° is no setting (and some cm are left for the errors of measuring).
    let stands = |(plow_hole, tractor_hole): &(usize, usize)| {
        let rise_m = drawn.plow_holes_m.get(*plow_hole).zip(drawn.tractor_holes_m.get(*tractor_hole));
        rise_m.is_some_and(|(up, down)| (up - down).abs() < 0.67 * plow.drawbar_length_m)
    };
    let other = [(others(2), other_end), (others(2), tractor_hole), (others(1), tractor_hole)]
        .into_iter()
        .find(stands)
        .expect("the neighboring hole is near the driven one");
    for (name, (plow_hole, tractor_hole)) in [(SETTING, drawn.holes), (OTHER_SETTING, other)] {
        let (plow_hole, tractor_hole) = (plow_hole + 1, tractor_hole + 1);
        text +=
            &format!("[settings.{name}]\nplow_hole = \"{plow_hole}\"\ntractor_hole = \"{tractor_hole}\"\n\n");
    }
    sensors.iter().fold(text, |text, sensor| text + &person.sensor(sensor, drawn))
}

#[cfg(test)]
mod tests {
    use super::*;
    use analysis::summary::analyse;

    #[test]
    fn a_drawn_run_is_analysed_and_told_twice_alike() {
        let mut drawn = drawn_plow(7);
        drawn.pass.times.working_s = 60.0;
        drawn.rate_hz = 50.0;
        let further = [ChannelRole::FrontLoad, ChannelRole::Speed, ChannelRole::Pitch];
        let (one, two) = (DrawnRun::of(&drawn, &further, 7), DrawnRun::of(&drawn, &further, 7));
        assert_eq!(one.plow_toml, two.plow_toml);
        let told = |run| analyse(run).expect("a summary").summary;
        let (one_told, two_told) = (told(one.run), told(two.run));
        assert_eq!(one_told.pull.mean_n, two_told.pull.mean_n);
        // Sensors, calibrations and errors of measuring leave the mean pull where it is, within a per cent.
        let pull_n = one_told.pull.mean_n.value;
        assert!((pull_n / one.truth.pull_n - 1.0).abs() < 0.02, "{pull_n} {}", one.truth.pull_n);
        assert_ne!(one.plow_toml, DrawnRun::of(&drawn, &further, 8).plow_toml);
    }
}

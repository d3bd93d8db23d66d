//! The sensors of the virtual box: a true reading, plus noise, on a straight line, rounded to a count.

use firmware_protocol::ChannelKind;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use crate::plow::TrueState;

/// Lowest and highest count of a signed 24-bit converter.
const SIGNED_24: (i32, i32) = (-(1 << 23), (1 << 23) - 1);
/// Lowest and highest count of an unsigned 16-bit converter.
const UNSIGNED_16: (i32, i32) = (0, (1 << 16) - 1);

/// One sensor with its converter. Counts are `zero_count + counts_per_unit · reading`, the reading in
/// the unit that ends the name of its column. All numbers are invented.
#[derive(Clone, Copy, Debug)]
pub struct Sensor {
    /// What the box says that it measures.
    pub kind: ChannelKind,
    /// What it would read if it were perfect, in the unit of its column.
    pub true_reading: fn(&TrueState) -> f64,
    /// Name of its channel.
    pub channel: &'static str,
    /// Name of the column that its readings fill, unit last.
    pub column: &'static str,
    /// Resolution of its converter in bits.
    pub adc_bits: u8,
    /// Lowest and highest count that the converter gives.
    pub count_limits: (i32, i32),
    /// Count at a reading of 0.
    pub zero_count: f64,
    /// Counts per unit of the reading.
    pub counts_per_unit: f64,
    /// Standard deviation of its noise in units of the reading.
    pub noise_sd: f64,
}

impl Sensor {
    /// Force along the drawbar.
    pub const PULL: Self = Self {
        kind: ChannelKind::Pull,
        true_reading: |state| state.pull_n,
        channel: "pull",
        column: "pull_n",
        adc_bits: 24,
        count_limits: SIGNED_24,
        zero_count: 12_840.0,
        counts_per_unit: 400.0,
        noise_sd: 12.0,
    };
    /// Deflection of the tail wheel's spring.
    pub const TAIL: Self = Self {
        kind: ChannelKind::TailDeflection,
        true_reading: |state| state.tail_mm,
        channel: "tail",
        column: "tail_mm",
        adc_bits: 16,
        count_limits: UNSIGNED_16,
        zero_count: 2_150.0,
        counts_per_unit: 400.0,
        noise_sd: 0.08,
    };
    /// Depth of the bottoms.
    pub const DEPTH: Self = Self {
        kind: ChannelKind::Depth,
        true_reading: |state| state.depth_mm,
        channel: "depth",
        column: "depth_mm",
        adc_bits: 16,
        count_limits: UNSIGNED_16,
        zero_count: 16_200.0,
        counts_per_unit: 120.0,
        noise_sd: 1.0,
    };
    /// Load on the front wheels together.
    pub const FRONT_LOAD: Self = Self {
        kind: ChannelKind::FrontLoad,
        true_reading: |state| state.forces.front_load_n,
        channel: "front-load",
        column: "front_load_n",
        adc_bits: 24,
        count_limits: SIGNED_24,
        zero_count: -3_300.0,
        counts_per_unit: 500.0,
        noise_sd: 15.0,
    };
    /// Pitch of the frame, nose up positive.
    pub const PITCH: Self = Self {
        kind: ChannelKind::Pitch,
        true_reading: |state| state.pitch_deg,
        channel: "pitch",
        column: "pitch_deg",
        adc_bits: 16,
        count_limits: UNSIGNED_16,
        zero_count: 32_500.0,
        counts_per_unit: 1_500.0,
        noise_sd: 0.03,
    };

    /// Forward speed; not on the virtual box, whose plow goes at a steady one.
    pub const SPEED: Self = Self {
        kind: ChannelKind::Speed,
        true_reading: |state| state.speed_mps,
        channel: "speed",
        column: "speed_mps",
        adc_bits: 16,
        count_limits: UNSIGNED_16,
        zero_count: 1_000.0,
        counts_per_unit: 10_000.0,
        noise_sd: 0.02,
    };

    /// Speed of the tractor's engine, which gives way to the pull: a channel of the user's own.
    pub const ENGINE_SPEED: Self = Self {
        kind: ChannelKind::Other(200),
        true_reading: |state| 1_850.0 - 0.012 * state.pull_n,
        channel: "engine-speed",
        column: "own_engine_speed",
        adc_bits: 16,
        count_limits: UNSIGNED_16,
        zero_count: 120.0,
        counts_per_unit: 20.0,
        noise_sd: 4.0,
    };

    /// All sensors of something known that a virtual box can have.
    pub const ALL: [Self; 5] = [Self::PULL, Self::TAIL, Self::DEPTH, Self::FRONT_LOAD, Self::PITCH];
    /// The three that every box has.
    pub const BASIC: [Self; 3] = [Self::PULL, Self::TAIL, Self::DEPTH];

    /// All that a virtual box can have: [`Self::ALL`], and what a user would have to name.
    pub fn every() -> impl Iterator<Item = Self> {
        Self::ALL.into_iter().chain([Self::ENGINE_SPEED])
    }

    /// The sensor whose channel has this name.
    #[must_use]
    pub fn by_channel(channel: &str) -> Option<Self> {
        Self::every().find(|sensor| sensor.channel == channel)
    }

    /// The count for a reading, held at the converter's ends; a reading that is no number counts as 0.
    #[must_use]
    pub fn count(&self, reading: f64) -> i32 {
        let (low, high) = self.count_limits;
        // A float to integer cast holds at the type's ends and takes NaN to 0: nothing can wrap.
        ((self.zero_count + self.counts_per_unit * reading).round() as i32).clamp(low, high)
    }

    /// The reading behind a count.
    #[must_use]
    pub fn reading(&self, count: i32) -> f64 {
        (f64::from(count) - self.zero_count) / self.counts_per_unit
    }
}

/// Some sensors with their noise.
#[derive(Clone, Debug)]
pub struct SensorSet {
    sensors: Vec<(Sensor, ChaCha8Rng)>,
}

impl SensorSet {
    /// These sensors; their noise depends on `seed` and on what each measures, not on the others.
    #[must_use]
    pub fn new(sensors: &[Sensor], seed: u64) -> Self {
        let stream = |sensor: &Sensor| {
            ChaCha8Rng::seed_from_u64(crate::seed_for(seed, 100 + u64::from(sensor.kind.code())))
        };
        Self { sensors: sensors.iter().map(|sensor| (*sensor, stream(sensor))).collect() }
    }

    /// Appends one row of counts, in the order of the sensors.
    pub fn sample(&mut self, state: &TrueState, row: &mut Vec<i32>) {
        for (sensor, rng) in &mut self.sensors {
            let noise: f64 = StandardNormal.sample(rng);
            row.push(sensor.count((sensor.true_reading)(state) + sensor.noise_sd * noise));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plow::{Case, Pass};
    use proptest::prelude::*;

    #[test]
    fn counts_come_back_as_readings_within_half_a_count() {
        for sensor in Sensor::every() {
            for reading in [-1.5, 0.0, 0.37, 12.25] {
                let back = sensor.reading(sensor.count(reading));
                assert!((back - reading).abs() <= 0.5 / sensor.counts_per_unit + 1e-12, "{sensor:?}");
            }
        }
    }

    #[test]
    fn a_converter_saturates_at_its_ends() {
        assert_eq!(Sensor::PULL.count(30_000.0), (1 << 23) - 1);
        assert_eq!(Sensor::PULL.count(-30_000.0), -(1 << 23));
        assert_eq!(Sensor::TAIL.count(1e9), 65_535);
        assert_eq!(Sensor::TAIL.count(f64::NEG_INFINITY), 0);
        assert_eq!(Sensor::TAIL.count(f64::NAN), 0);
    }

    #[test]
    fn a_pass_uses_the_range_without_reaching_its_ends() {
        for case in Case::ALL {
            let mut pass = Pass::new(&case.pass(3, 20.0));
            let sensors: Vec<Sensor> = Sensor::every().collect();
            let mut set = SensorSet::new(&sensors, 1);
            while !pass.is_over() {
                pass.advance(0.02);
                let mut row = Vec::new();
                set.sample(&pass.state(), &mut row);
                for (sensor, count) in sensors.iter().zip(row) {
                    let (low, high) = sensor.count_limits;
                    assert!(low < count && count < high, "{} {} {count}", case.name(), sensor.channel);
                }
            }
        }
    }

    #[test]
    fn noise_has_its_spread_and_leaving_a_sensor_out_changes_no_other() {
        let mut pass = Pass::new(&Case::Balanced.pass(1, 1.0));
        pass.advance(1.0);
        let state = pass.state();
        let (mut all, mut few) = (SensorSet::new(&Sensor::ALL, 5), SensorSet::new(&[Sensor::DEPTH], 5));
        let (mut sum2, n) = (0.0, 4_000);
        for _ in 0..n {
            let (mut a, mut b) = (Vec::new(), Vec::new());
            all.sample(&state, &mut a);
            few.sample(&state, &mut b);
            assert_eq!(a[2], b[0]);
            sum2 += (Sensor::PULL.reading(a[0]) - state.pull_n).powi(2);
        }
        let sd = (sum2 / f64::from(n)).sqrt();
        assert!((sd / Sensor::PULL.noise_sd - 1.0).abs() < 0.05, "{sd}");
    }

    proptest! {
        #[test]
        fn no_reading_gives_a_count_beyond_the_converter(reading in proptest::num::f64::ANY) {
            for sensor in Sensor::every() {
                let (low, high) = sensor.count_limits;
                let count = sensor.count(reading);
                prop_assert!(low <= count && count <= high);
                // The protocol's bounds for n bits: −2^(n−1) to 2^n − 1.
                let bits = u32::from(sensor.adc_bits);
                prop_assert!(i64::from(count) >= -(1i64 << (bits - 1)) && i64::from(count) < 1i64 << bits);
            }
        }
    }
}

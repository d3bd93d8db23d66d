//! Counts that are held on channels, as a known load on a bench holds them, whatever the plow does.

use std::sync::{Arc, Mutex, PoisonError};

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use crate::sensors::Sensor;

/// Held counts, by sensor. Clones share them: what one sets, the box's next row has.
#[derive(Clone, Debug, Default)]
pub struct HeldCounts {
    counts: Arc<Mutex<Vec<(Sensor, f64)>>>,
}

impl HeldCounts {
    /// Holds `count` on the sensor's channel from the next row on, instead of what the pass gives.
    pub fn set(&self, sensor: Sensor, count: f64) {
        let mut counts = self.counts.lock().unwrap_or_else(PoisonError::into_inner);
        counts.retain(|(held, _)| held.channel != sensor.channel);
        counts.push((sensor, count));
    }

    /// Reads `CHANNEL=COUNT`.
    ///
    /// # Errors
    /// A sentence that says what would be right.
    pub fn parse(text: &str) -> Result<(Sensor, f64), String> {
        let right = || format!("'{text}' is not CHANNEL=COUNT, such as pull=123456");
        let (channel, count) = text.trim().split_once('=').ok_or_else(right)?;
        let count = count.trim().parse().ok().filter(|count: &f64| count.is_finite()).ok_or_else(right)?;
        let sensor = Sensor::by_channel(channel.trim()).ok_or_else(right)?;
        Ok((sensor, count))
    }
}

/// Puts held counts into rows, with noise.
#[derive(Debug)]
pub(super) struct Holder {
    held: HeldCounts,
    noise_sd: f64,
    rng: ChaCha8Rng,
}

impl Holder {
    pub(super) fn new(held: &HeldCounts, noise_sd: f64, seed: u64) -> Self {
        let rng = ChaCha8Rng::seed_from_u64(crate::seed_for(seed, 90));
        Self { held: held.clone(), noise_sd, rng }
    }

    /// Replaces the counts of a row that are held.
    pub(super) fn hold(&mut self, sensors: &[Sensor], row: &mut [i32]) {
        let held = self.held.counts.lock().unwrap_or_else(PoisonError::into_inner);
        for (sensor, count) in held.iter() {
            let place = sensors.iter().position(|there| there.channel == sensor.channel);
            if let Some(slot) = place.and_then(|place| row.get_mut(place)) {
                let noise: f64 = StandardNormal.sample(&mut self.rng);
                let (low, high) = sensor.count_limits;
                *slot = ((count + self.noise_sd * noise).round() as i32).clamp(low, high);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_held_count_replaces_its_own_channel_and_stays_in_the_converters_range() {
        let held = HeldCounts::default();
        let (sensor, count) = HeldCounts::parse(" pull = 1000 ").unwrap();
        held.set(sensor, count);
        let mut holder = Holder::new(&held, 20.0, 1);
        let (mut sum, mut square_sum) = (0.0, 0.0);
        for _ in 0..10_000 {
            let mut row = [7, 8];
            holder.hold(&[Sensor::TAIL, Sensor::PULL], &mut row);
            assert_eq!(row[0], 7);
            let off = f64::from(row[1]) - 1000.0;
            (sum, square_sum) = (sum + off, square_sum + off * off);
        }
        assert!((sum / 10_000.0).abs() < 1.0, "{sum}");
        assert!(((square_sum / 10_000.0).sqrt() / 20.0 - 1.0).abs() < 0.05, "{square_sum}");
        held.set(Sensor::TAIL, 1e9);
        held.set(Sensor::TAIL, -5.0);
        let mut row = [7];
        holder.hold(&[Sensor::TAIL], &mut row);
        assert_eq!(row, [0]);
        for wrong in ["pull", "pull=", "pull=x", "none=3", "pull=inf", ""] {
            assert!(HeldCounts::parse(wrong).is_err(), "{wrong}");
        }
    }
}

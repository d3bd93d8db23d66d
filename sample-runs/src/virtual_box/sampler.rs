//! Rows from the pass, and frames from the rows.

use firmware_protocol::{COUNTS_MAX, Readings};

use super::clock::BoxClock;
use super::held_counts::Holder;
use super::truth_file::SampledRow;
use super::{BoxConfig, BoxError};
use crate::plow::{Pass, Truth, TruthMeter};
use crate::sensors::{Sensor, SensorSet};

/// Shortest and longest time from row to row that a box can do, in µs.
const INTERVAL_US: std::ops::RangeInclusive<u32> = 100..=1_000_000;

/// µs from row to row at a rate in mHz; `None` for a rate that a box cannot do.
fn interval_us(row_rate_mhz: u32) -> Option<u32> {
    let interval = 1_000_000_000u32.checked_add(row_rate_mhz / 2)?.checked_div(row_rate_mhz)?;
    INTERVAL_US.contains(&interval).then_some(interval)
}

/// Samples the pass in rows and packs them into frames.
#[derive(Debug)]
pub(super) struct Sampler {
    pass: Pass,
    sensors: SensorSet,
    table: Vec<Sensor>,
    holder: Holder,
    meter: TruthMeter,
    rows_per_frame: usize,
    /// Rows per 1000 s.
    pub(super) row_rate_mhz: u32,
    interval_us: u32,
    /// Number of the next row.
    next_row: u32,
    /// Box µs since power-up at the next row.
    next_ticks: u64,
    /// Box µs since power-up, and s of the pass, at the last *start*. Rows are placed by whole µs from
    /// here, so that two runs of one seed give the same counts to the last bit.
    anchor: (u64, f64),
    /// Rows that wait for their frame to be full.
    waiting: Vec<SampledRow>,
}

impl Sampler {
    pub(super) fn new(config: &BoxConfig) -> Result<Self, BoxError> {
        let fit = COUNTS_MAX.checked_div(config.sensors.len()).unwrap_or(0);
        let interval_us = interval_us(config.row_rate_mhz)
            .ok_or(BoxError::Config("the row rate must be 1 Hz to 10 kHz"))?;
        Ok(Self {
            pass: Pass::new(&config.pass),
            sensors: SensorSet::new(&config.sensors, config.seed),
            table: config.sensors.clone(),
            holder: Holder::new(&config.held, config.held_noise_sd, config.seed),
            meter: TruthMeter::new(&config.pass),
            rows_per_frame: if config.text { 1 } else { config.rows_per_frame.min(fit).max(1) },
            row_rate_mhz: config.row_rate_mhz,
            interval_us,
            next_row: 0,
            next_ticks: 0,
            anchor: (0, 0.0),
            waiting: Vec::new(),
        })
    }

    /// Takes another rate from the next row on; `false` for one that the box cannot do.
    pub(super) fn set_rate(&mut self, row_rate_mhz: u32) -> bool {
        let Some(interval_us) = interval_us(row_rate_mhz) else { return false };
        (self.row_rate_mhz, self.interval_us) = (row_rate_mhz, interval_us);
        true
    }

    /// Begins to sample with a row at `ticks`, which is second `pass_s` of the pass.
    pub(super) fn start(&mut self, ticks: u64, pass_s: f64) {
        self.next_ticks = ticks;
        self.anchor = (ticks, pass_s);
    }

    /// Power off and on: rows are numbered anew. Returns the rows that were lost with it.
    pub(super) fn reboot(&mut self) -> Vec<SampledRow> {
        self.next_row = 0;
        std::mem::take(&mut self.waiting)
    }

    /// When the next row is due, in s of the pass; `None` after its end.
    pub(super) fn next_s(&self, clock: &BoxClock) -> Option<f64> {
        let t_s = self.anchor.1 + clock.world_gap_s(self.next_ticks.saturating_sub(self.anchor.0));
        (t_s <= self.pass.spec().times.total_s()).then_some(t_s)
    }

    /// Samples the row that is due at `t_s` of the pass.
    pub(super) fn sample(&mut self, t_s: f64, boot: u32, clock: &BoxClock) {
        self.pass.advance(t_s - self.pass.t_s());
        let state = self.pass.state();
        self.meter.take(&state);
        let mut counts = Vec::with_capacity(self.table.len());
        self.sensors.sample(&state, &mut counts);
        self.holder.hold(&self.table, &mut counts);
        let clock_us = clock.stamp(self.next_ticks);
        let host_s = clock.host_s(clock.world_at(self.next_ticks));
        self.waiting.push(SampledRow { boot, number: self.next_row, clock_us, host_s, counts, state });
        self.next_row = self.next_row.wrapping_add(1);
        self.next_ticks += u64::from(self.interval_us);
    }

    /// Whether the rows that wait fill a frame.
    pub(super) fn is_full(&self) -> bool {
        self.waiting.len() >= self.rows_per_frame
    }

    /// The frame of the rows that wait, and these rows; `None` if none waits.
    pub(super) fn take_frame(&mut self) -> Result<Option<(Readings, Vec<SampledRow>)>, BoxError> {
        let rows = std::mem::take(&mut self.waiting);
        let Some(first) = rows.first() else { return Ok(None) };
        let counts: Vec<i32> = rows.iter().flat_map(|row| row.counts.iter().copied()).collect();
        let readings =
            Readings::new(first.number, first.clock_us, self.interval_us, self.table.len(), &counts)
                .map_err(|error| BoxError::Frame(format!("{error:?}")))?;
        Ok(Some((readings, rows)))
    }

    /// The truth of what was sampled.
    pub(super) fn truth(&self) -> Option<Truth> {
        self.meter.truth()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plow::Case;

    #[test]
    fn only_rates_that_a_box_can_do() {
        assert_eq!(interval_us(200_000), Some(5_000));
        assert_eq!(interval_us(300_000), Some(3_333));
        assert_eq!(interval_us(1_000), Some(1_000_000));
        for wrong in [0, 1, 999, 11_000_000, u32::MAX] {
            assert_eq!(interval_us(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn frames_hold_consecutive_rows_and_never_too_many() {
        let mut config = BoxConfig::of_case(Case::Balanced, 1, 2.0);
        config.sensors = Sensor::ALL.to_vec();
        config.rows_per_frame = 1000;
        let mut sampler = Sampler::new(&config).unwrap();
        let clock = BoxClock::new(1.0, 7, 0.0);
        sampler.start(1_000, 0.0);
        let mut expected = 0;
        while let Some(t_s) = sampler.next_s(&clock) {
            sampler.sample(t_s, 1, &clock);
            if sampler.is_full() {
                let (frame, rows) = sampler.take_frame().unwrap().unwrap();
                assert_eq!(frame.first_row, expected);
                assert_eq!(frame.clock_us, 7 + 1_000 + expected * 5_000);
                assert_eq!(frame.row_count(), COUNTS_MAX / 5);
                assert_eq!(rows.len(), frame.row_count());
                expected += rows.len() as u32;
            }
        }
        assert!(expected > 2_000, "{expected}");
    }
}

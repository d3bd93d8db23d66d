//! Readings of the working part that cannot be: a number that stands for a missing one, and what a sensor cannot give.

use super::parts::PassReadings;
use crate::codes::Ends;
use ingest::calibration::CalibrationCurve;
use ingest::plow::{ChannelRole, needed_at_once};
use signals::run::Table;
use signals::slices;
use signals::{STUCK_S, WorkingPart, longest_still};
use statics::believable::Unbelievable;

/// Readings beyond what a sensor can give for a smaller share of the time decide nothing.
const OUTSIDE_SHARE: f64 = 0.001;
/// Beyond by a smaller share of what it can give is rounding.
const OUTSIDE_SLACK: f64 = 0.01;
/// A channel that a verdict needs must not stand still for more of the time at work, by choice.
pub(crate) const STILL_SHARE: f64 = 0.1;

/// Numbers that look like codes for a missing reading, with the times of each in s.
pub(super) struct Strays(Vec<(ChannelRole, f64, Vec<f64>)>);

impl Strays {
    /// Those of the channels that a verdict needs, as they were recorded.
    pub(super) fn of(tables: &[Table]) -> Self {
        let needed = needed_at_once(|role| tables.iter().any(|table| table.channels.contains_key(&role)));
        let mut found = Vec::new();
        for table in tables {
            for (role, values) in table.channels.iter().filter(|(role, _)| needed.contains(role)) {
                let mut ends = Ends::default();
                values.iter().for_each(|value| ends.take(*value, &()));
                for code in ends.codes() {
                    let rows = table.t_s.iter().zip(values).filter(|(_, value)| **value == code.value);
                    found.push((*role, code.value, rows.map(|(t_s, _)| *t_s).collect()));
                }
            }
        }
        Self(found)
    }

    /// The commonest of them in the working part.
    pub(super) fn within(&self, part: WorkingPart) -> Option<Unbelievable> {
        let inside =
            |times: &[f64]| times.iter().filter(|t_s| (part.from_s..=part.to_s).contains(*t_s)).count();
        let counted = self.0.iter().map(|(channel, value, times)| (*channel, *value, inside(times)));
        let (channel, value, rows) =
            counted.max_by_key(|(_, _, rows)| *rows).filter(|(_, _, rows)| *rows > 0)?;
        Some(Unbelievable::Stray { channel, value, rows })
    }
}

impl PassReadings<'_> {
    /// A channel that reads what its sensor cannot give.
    pub(super) fn outside_sensor(&self) -> Option<Unbelievable> {
        let needed = needed_at_once(|role| self.signals.channels.contains_key(&role));
        let described =
            self.description.plow.sensors.iter().filter(|sensor| needed.contains(&sensor.measures));
        described.into_iter().find_map(|sensor| {
            let curve = CalibrationCurve::of(&sensor.calibration, sensor.measures).ok()?;
            let ends = sensor.count_limits?;
            let ends = (curve.reading(f64::from(ends.0)), curve.reading(f64::from(ends.1)));
            let (low, high) = (ends.0.min(ends.1), ends.0.max(ends.1));
            let slack = OUTSIDE_SLACK * (high - low);
            let values = self.signals.channels.get(&sensor.measures)?;
            let (mut all, mut outside) = (0_usize, 0_usize);
            for value in slices(values, self.segments).into_iter().flatten() {
                all += 1;
                outside += usize::from(!(low - slack..=high + slack).contains(value));
            }
            let share = outside as f64 / all.max(1) as f64;
            (share > OUTSIDE_SHARE).then_some(Unbelievable::OutsideSensor { channel: sensor.measures, share })
        })
    }

    /// A channel that stood still. What carries the plow may hang free or be at a stop, at an end of what it read: that
    /// has causes of its own.
    pub(super) fn stood_still(&self) -> Option<Unbelievable> {
        let needed = needed_at_once(|role| self.signals.channels.contains_key(&role));
        needed.into_iter().find_map(|channel| {
            let pieces = slices(self.signals.channels.get(&channel)?, self.segments);
            let all = || pieces.iter().copied().flatten();
            let still = longest_still(&pieces);
            let share = still.len() as f64 / all().count() as f64;
            let is_long = share > STILL_SHARE && still.len() as f64 > STUCK_S * self.signals.rate_hz;
            let value = *still.first()?;
            let may_rest = !matches!(
                channel,
                ChannelRole::Depth | ChannelRole::Pull | ChannelRole::LowerLinks | ChannelRole::TopLink
            );
            let is_at_an_end = !(all().any(|other| *other < value) && all().any(|other| *other > value));
            (is_long && !(may_rest && is_at_an_end)).then_some(Unbelievable::StoodStill { channel, share })
        })
    }
}

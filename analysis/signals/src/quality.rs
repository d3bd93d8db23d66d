//! What is wrong with the readings: counted and shown, and fatal only where the answer would be wrong.

use super::spikes::Spikes;
use super::time_base::{Segment, Signals, slices};
use crate::run::Notice;
use ingest::plow::ChannelRole;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// The same reading for longer than this is a stuck channel: converters have noise in their last bit.
pub const STUCK_S: f64 = 2.0;

/// Share of the working part that a box apart may miss before it is reported: its first and last row never lie on
/// those of the others.
const MISSING_REPORTED: f64 = 0.005;

/// Quality of one channel over the working part.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ChannelQuality {
    /// Readings that jump away and straight back: taken out, a straight line in their place.
    pub spikes: usize,
    /// Longest stretch of one and the same reading, s.
    pub longest_still_s: f64,
    /// Share of readings at an end of the converter's range.
    pub saturated_share: f64,
    /// The channel did not move for over 2 s.
    pub stuck: bool,
}

/// Quality of a run.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Quality {
    /// Rows per second.
    pub rate_hz: f64,
    /// Rows in the working part.
    pub readings: usize,
    /// Gaps in the working part.
    pub gaps: usize,
    /// Share of the working part that no row covers.
    pub missing_share: f64,
    /// Each channel, by its column.
    pub channels: BTreeMap<&'static str, ChannelQuality>,
    /// Everything above that is not as it should be, and what the recording says.
    pub notices: Vec<Notice>,
}

/// What [`assess`] looks at.
#[derive(Clone, Copy, Debug)]
pub struct QualityInput<'a> {
    /// All signals.
    pub signals: &'a Signals,
    /// The working part's segments.
    pub segments: &'a [Segment],
    /// Boxes apart from them, each with its own time base and the rows of it within the working part.
    pub apart: &'a [(&'a Signals, Vec<Segment>)],
    /// The working part's start and end in s.
    pub span_s: (f64, f64),
    /// Saturated stretches by channel, start and end in s, from `events.csv`.
    pub saturated_s: &'a BTreeMap<ChannelRole, Vec<(f64, f64)>>,
    /// Readings of the run that were taken out as spikes.
    pub spikes: &'a Spikes,
}

/// Quality of the working part.
pub fn assess(input: QualityInput<'_>) -> Quality {
    let QualityInput { signals, segments, span_s, apart, .. } = input;
    let readings: usize = segments.iter().map(|segment| segment.rows.len()).sum();
    // The working part begins and ends with a row: both count.
    let expected = ((span_s.1 - span_s.0) * signals.rate_hz).round() + 1.0;
    let missing_share = (1.0 - readings as f64 / expected).clamp(0.0, 1.0);
    let gaps = segments.len().saturating_sub(1);
    let mut notices = Vec::new();
    if gaps > 0 {
        notices.push(Notice::Gaps { gaps, missing_share });
    }
    // A channel is judged by its own box's readings: what was carried onto another time base has neither its
    // spikes nor its stillness.
    let own = apart.iter().map(|(signals, segments)| (*signals, segments.as_slice()));
    let mut found: BTreeMap<ChannelRole, ChannelQuality> = BTreeMap::new();
    for (signals, segments) in std::iter::once((signals, segments)).chain(own) {
        let of_box: Vec<_> = signals
            .channels
            .par_iter()
            .map(|(role, values)| (*role, channel_quality(values, *role, (signals, segments), &input)))
            .collect();
        found.extend(of_box);
    }
    for (signals, rows) in apart {
        let covered_s = rows.iter().map(|rows| rows.rows.len()).sum::<usize>() as f64 / signals.rate_hz;
        let all_s = readings as f64 / input.signals.rate_hz;
        let missing_s = all_s - covered_s;
        for channel in signals.channels.keys().filter(|_| missing_s > MISSING_REPORTED * all_s) {
            notices.push(Notice::ChannelMissing { channel: *channel, missing_s });
        }
    }
    for (role, quality) in &found {
        notices.extend(channel_notices(*role, quality));
    }
    let channels = found.into_iter().map(|(role, quality)| (role.column(), quality)).collect();
    Quality { rate_hz: signals.rate_hz, readings, gaps, missing_share, channels, notices }
}

fn channel_notices(channel: ChannelRole, quality: &ChannelQuality) -> impl Iterator<Item = Notice> {
    let ChannelQuality { spikes, longest_still_s: still_s, saturated_share: share, stuck } = *quality;
    let all = [
        stuck.then_some(Notice::Stuck { channel, still_s }),
        (share > 0.0).then_some(Notice::AtEndOfRange { channel, share }),
        (spikes > 0).then_some(Notice::Spikes { channel, spikes }),
    ];
    all.into_iter().flatten()
}

fn channel_quality(
    values: &[f64],
    role: ChannelRole,
    (signals, segments): (&Signals, &[Segment]),
    input: &QualityInput<'_>,
) -> ChannelQuality {
    let still = longest_still(&slices(values, segments));
    let longest_still_s = still.len().saturating_sub(1) as f64 / signals.rate_hz;
    let saturated: f64 = input.saturated_s.get(&role).map_or(0.0, |stretches| {
        stretches.iter().map(|(from, to)| (to.min(input.span_s.1) - from.max(input.span_s.0)).max(0.0)).sum()
    });
    let span = (input.span_s.1 - input.span_s.0).max(1e-9);
    ChannelQuality {
        spikes: input.spikes.get(&role).map_or(0, |times| {
            times.iter().filter(|t| (input.span_s.0..=input.span_s.1).contains(*t)).count()
        }),
        longest_still_s,
        saturated_share: (saturated / span).clamp(0.0, 1.0),
        stuck: longest_still_s > STUCK_S,
    }
}

/// The longest stretch in which a channel stood still: one and the same reading, as often as it came.
pub fn longest_still<'a>(pieces: &[&'a [f64]]) -> &'a [f64] {
    let alike = pieces.iter().flat_map(|piece| piece.chunk_by(|one, next| one == next));
    alike.max_by_key(|readings| readings.len()).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn signals(pull: Vec<f64>) -> Signals {
        let segments = vec![Segment { start_s: 0.0, rows: 0..pull.len() }];
        Signals { rate_hz: 100.0, segments, channels: [(ChannelRole::Pull, pull)].into() }
    }

    fn quality(signals: &Signals, saturated: &[(f64, f64)]) -> Quality {
        assess(QualityInput {
            signals,
            segments: &signals.segments,
            apart: &[],
            span_s: (0.0, signals.end_s()),
            saturated_s: &[(ChannelRole::Pull, saturated.to_vec())].into(),
            spikes: &[(ChannelRole::Pull, vec![5.0, 1e6])].into(),
        })
    }

    fn rough(count: usize) -> Vec<f64> {
        (0..count).map(|i| (i as f64 * 0.7).sin() + (i as f64 * 0.13).cos()).collect()
    }

    #[test]
    fn a_sound_channel_has_nothing_to_say_but_of_what_was_taken_out() {
        let notices = quality(&signals(rough(1000)), &[]).notices;
        assert_eq!(notices, [Notice::Spikes { channel: ChannelRole::Pull, spikes: 1 }]);
    }

    #[test]
    fn a_spike_of_the_working_part_a_stuck_stretch_and_saturation_are_counted() {
        let pull = rough(1000);
        let found = quality(&signals(pull), &[(1.0, 2.0)]);
        assert_eq!(found.channels["pull_n"].spikes, 1);
        assert!((found.channels["pull_n"].saturated_share - 0.1).abs() < 1e-3);
        let mut pull = rough(1000);
        pull[200..500].fill(3.0);
        let found = quality(&signals(pull), &[]);
        assert!(found.channels["pull_n"].stuck);
        assert!(matches!(found.notices[0], Notice::Stuck { channel: ChannelRole::Pull, .. }), "{found:?}");
    }
}

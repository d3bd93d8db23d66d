//! The working part: from when the plow is in the ground to when it leaves it.

use super::time_base::{Segment, Signals};
use ingest::passes::rule::{DEPTH_MM_MIN, SMOOTH_S, Stretch, Stretches, TRIM_S, too_short};
use ingest::passes::{NothingUsual, Shown, Usual};
use ingest::plow::ChannelRole;
use ingest::quantity::{Force, SaidIn, Unit, UnitSystem};

pub use ingest::passes::rule::WORKING_S_MIN;

/// No plow is logged faster, in rows a second: by choice, twice what a fast box sends.
pub const RATE_HZ_MAX: f64 = 2000.0;

/// A stretch of the run, in run time.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize, schemars::JsonSchema)]
pub struct WorkingPart {
    /// Start in s.
    pub from_s: f64,
    /// End in s.
    pub to_s: f64,
}

/// What a run holds of plowing.
#[derive(Clone, Debug, PartialEq)]
pub struct WorkingParts {
    /// The longest stretch, its ends trimmed: what is analyzed.
    pub longest: WorkingPart,
    /// The other stretches of at least [`WORKING_S_MIN`], as they are, in time order: left out.
    pub others: Vec<WorkingPart>,
}

/// Why there is no working part. Each is one sentence.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "names of fields say what they are, and their unit")]
pub enum WorkingPartError {
    /// A channel that the search needs is not in the run.
    #[error("the run has no {0} column, and the working part is found from depth and pull")]
    NoChannel(&'static str),
    /// Depth and pull never said so: the depth that was reached (90th percentile), or the least that counts.
    #[error(
        "the plow was never in the ground: depth stayed under {} or the pull never rose (depth is above 0 in the \
         ground; with the other sign or another zero, correct the sensor's calibration)",
        depth_text(*depth_mm, UnitSystem::Si)
    )]
    NeverInGround { depth_mm: f64 },
    /// The pull in the ground (90th percentile) does not show that the plow was pulled.
    #[error(
        "the pull is {} while the plow is in the ground (90th percentile {}): the load cell is wired or calibrated the \
         wrong way round, or not connected",
        if *pull_n < 0.0 { "below zero" } else { "zero" },
        UnitSystem::Si.force_text(Force::from_n(*pull_n))
    )]
    PullNotAboveZero { pull_n: f64 },
    /// Three periods of slow bobbing do not fit in.
    #[error(
        "{} (three periods of the slowest bobbing that is searched for, 0.5 Hz): {}",
        too_short(*found_s),
        if *rate_hz > RATE_HZ_MAX {
            format!(
                "its rows are {rate_hz:.0} a second, so were its times read in the right unit (ms for s)? Import the file \
                 again with t_s=NAME:UNIT"
            )
        } else {
            "make a longer pass".to_owned()
        }
    )]
    TooShort { found_s: f64, rate_hz: f64 },
}

fn depth_text(depth_mm: f64, units: UnitSystem) -> String {
    let unit = units.small_length();
    let depth = depth_mm / unit.per(Unit::MILLIMETRE);
    if units == UnitSystem::Si {
        format!("{depth:.0} {}", unit.symbol)
    } else {
        format!("{depth:.1} {}", unit.symbol)
    }
}

impl SaidIn for WorkingPartError {
    fn said_in(&self, units: UnitSystem) -> String {
        let text = |units: UnitSystem| match self {
            Self::NeverInGround { depth_mm } => depth_text(*depth_mm, units),
            Self::PullNotAboveZero { pull_n } => units.force_text(Force::from_n(*pull_n)),
            _ => String::new(),
        };
        // A sentence has one figure, if any.
        self.to_string().replacen(&text(UnitSystem::Si), &text(units), 1)
    }
}

/// Finds the stretches in which the plow works, by the rule of [`ingest::passes`], here with the whole recording to
/// take the usual depth and pull from, however long the plow stood or was carried before. Hops of under
/// 1.5 s and gaps of under 10 s do not end a stretch; 2 s are trimmed off each end of the longest, in
/// whole rows: it begins and ends with one. Nor does a hole of `holes_s` (start and end in s) end a stretch, however
/// long: rows that were recorded and are lost say nothing of the plow.
///
/// # Errors
/// [`WorkingPartError`] if there is none, or none of [`WORKING_S_MIN`].
pub fn find_working_parts(
    signals: &Signals,
    holes_s: &[(f64, f64)],
) -> Result<WorkingParts, WorkingPartError> {
    let channel =
        |role: ChannelRole| signals.channels.get(&role).ok_or(WorkingPartError::NoChannel(role.column()));
    let depth = smoothed(channel(ChannelRole::Depth)?, signals);
    let pull = smoothed(channel(ChannelRole::Pull)?, signals);
    let usual =
        Usual::of(depth.iter().copied().zip(pull.iter().copied())).map_err(|nothing| match nothing {
            NothingUsual::NeverDeep => WorkingPartError::NeverInGround { depth_mm: DEPTH_MM_MIN },
            NothingUsual::PullNotAboveZero { pull_n } => WorkingPartError::PullNotAboveZero { pull_n },
        })?;
    let shown = |row: usize| match (depth.get(row), pull.get(row)) {
        (Some(depth_mm), Some(pull_n)) => usual.shows(*depth_mm, *pull_n),
        _ => Shown::Out,
    };
    let mut all = stretches_of(signals, holes_s, shown);
    let length = |part: &WorkingPart| part.to_s - part.from_s;
    let longest = all.iter().enumerate().max_by(|(_, a), (_, b)| length(a).total_cmp(&length(b)));
    let Some((place, _)) = longest else {
        return Err(WorkingPartError::NeverInGround { depth_mm: usual.depth_mm });
    };
    let whole = all.remove(place);
    let trim_s = (TRIM_S * signals.rate_hz).round() / signals.rate_hz;
    let longest = WorkingPart { from_s: whole.from_s + trim_s, to_s: whole.to_s - trim_s };
    let found_s = length(&longest).max(0.0);
    if found_s < WORKING_S_MIN {
        return Err(WorkingPartError::TooShort { found_s, rate_hz: signals.rate_hz });
    }
    all.retain(|part| length(part) >= WORKING_S_MIN);
    Ok(WorkingParts { longest, others: all })
}

/// Stretches of rows that work, in time order.
fn stretches_of(
    signals: &Signals,
    holes_s: &[(f64, f64)],
    shown: impl Fn(usize) -> Shown,
) -> Vec<WorkingPart> {
    let unseen = |from_s: f64, to_s: f64| holes_s.iter().any(|(start, end)| *end > from_s && *start < to_s);
    let (mut stretches, mut all) = (Stretches::default(), Vec::new());
    for Segment { start_s, rows } in &signals.segments {
        for row in rows.clone() {
            let t_s = start_s + (row - rows.start) as f64 / signals.rate_hz;
            all.extend(stretches.take(t_s, 1.0 / signals.rate_hz, shown(row), unseen));
        }
    }
    all.extend(stretches.open());
    all.into_iter().map(|Stretch { from_s, to_s }| WorkingPart { from_s, to_s }).collect()
}

/// Moving mean within each segment; shorter towards its ends.
fn smoothed(values: &[f64], signals: &Signals) -> Vec<f64> {
    let half = ((SMOOTH_S * signals.rate_hz / 2.0) as usize).max(1);
    let mut out = vec![0.0; values.len()];
    for segment in &signals.segments {
        let Some(piece) = values.get(segment.rows.clone()) else { continue };
        let up_to = piece.iter().scan(0.0, |sum, value| {
            *sum += value;
            Some(*sum)
        });
        let sums: Vec<f64> = std::iter::once(0.0).chain(up_to).collect();
        let Some(target) = out.get_mut(segment.rows.clone()) else { continue };
        for (index, smooth) in target.iter_mut().enumerate() {
            let (from, to) = (index.saturating_sub(half), (index + half + 1).min(piece.len()));
            if let (Some(low), Some(high)) = (sums.get(from), sums.get(to)) {
                *smooth = (high - low) / (to - from) as f64;
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::run::Table;
    use crate::uniform;

    fn pass(seconds: &[(f64, f64, f64)]) -> Signals {
        let mut table = Table::default();
        let (mut depth, mut pull) = (Vec::new(), Vec::new());
        for (length_s, depth_mm, pull_n) in seconds {
            for _ in 0..(length_s * 50.0) as usize {
                table.t_s.push(table.t_s.len() as f64 / 50.0);
                depth.push(*depth_mm);
                pull.push(*pull_n);
            }
        }
        table.channels = [(ChannelRole::Depth, depth), (ChannelRole::Pull, pull)].into();
        uniform(table).unwrap()
    }

    fn longest(signals: &Signals) -> Result<WorkingPart, WorkingPartError> {
        find_working_parts(signals, &[]).map(|parts| parts.longest)
    }

    #[test]
    fn the_plow_in_the_ground_is_found_and_its_ends_trimmed() {
        let part = longest(&pass(&[(5.0, 0.0, 300.0), (30.0, 180.0, 7000.0), (5.0, 0.0, 300.0)]));
        let part = part.unwrap();
        assert!((part.from_s - 7.0).abs() < 0.3, "{part:?}");
        assert!((part.to_s - 33.0).abs() < 0.3, "{part:?}");
    }

    #[test]
    fn a_hop_does_not_end_it_and_a_lifting_does() {
        let hop = pass(&[(20.0, 180.0, 7000.0), (0.8, 0.0, 300.0), (20.0, 180.0, 7000.0)]);
        let part = longest(&hop).unwrap();
        assert!(part.to_s - part.from_s > 35.0, "{part:?}");
        let lifted = pass(&[(20.0, 180.0, 7000.0), (5.0, 0.0, 300.0), (25.0, 180.0, 7000.0)]);
        let part = longest(&lifted).unwrap();
        assert!((part.from_s - 27.0).abs() < 0.4, "{part:?}");
    }

    /// Passes in soils that pull from 1 to 4 beside each other, and a plow dragged shallow between two of them.
    #[test]
    fn soft_passes_beside_hard_ones_are_passes_and_a_headland_is_none() {
        let (air, dragged) = ((8.0, -60.0, 300.0), (12.0, 50.0, 1600.0));
        let afternoon =
            pass(&[(20.0, 180.0, 8000.0), air, (20.0, 170.0, 2000.0), dragged, (30.0, 180.0, 6000.0), air]);
        let parts = find_working_parts(&afternoon, &[]).unwrap();
        let found: Vec<_> = parts.others.iter().chain([&parts.longest]).collect();
        for (part, (from_s, to_s)) in found.iter().zip([(0.0, 20.0), (28.0, 48.0), (62.0, 88.0)]) {
            assert!((part.from_s - from_s).abs() < 0.4 && (part.to_s - to_s).abs() < 0.4, "{parts:?}");
        }
        assert_eq!(found.len(), 3, "{parts:?}");
    }

    #[test]
    fn what_cannot_be_analysed_is_said() {
        let short = longest(&pass(&[(5.0, 0.0, 300.0), (6.0, 180.0, 7000.0)]));
        assert!(matches!(short, Err(WorkingPartError::TooShort { .. })), "{short:?}");
        let air = longest(&pass(&[(30.0, 2.0, 300.0)]));
        assert!(matches!(air, Err(WorkingPartError::NeverInGround { .. })), "{air:?}");
    }

    /// Ten minutes on the road and a minute of plowing: the road does not hide the pass.
    #[test]
    fn a_short_pass_in_a_long_recording_is_found() {
        let part = longest(&pass(&[(600.0, -60.0, 200.0), (40.0, 180.0, 7000.0)])).unwrap();
        assert!((part.from_s - 602.0).abs() < 0.3 && (part.to_s - 638.0).abs() < 0.3, "{part:?}");
    }

    #[test]
    fn the_passes_that_are_left_out_are_told() {
        let there_and_back =
            pass(&[(30.0, 180.0, 7000.0), (20.0, -60.0, 300.0), (40.0, 180.0, 7000.0), (9.0, 0.0, 300.0)]);
        let parts = find_working_parts(&there_and_back, &[]).unwrap();
        assert!((parts.longest.from_s - 52.0).abs() < 0.4, "{parts:?}");
        assert_eq!(parts.others.len(), 1);
        assert!((parts.others[0].to_s - 30.0).abs() < 0.4, "{parts:?}");
    }

    /// The cable is out for `gap_s` in the middle of the pass.
    fn torn(gap_s: f64) -> Signals {
        let whole = pass(&[(20.0, 180.0, 7000.0), (gap_s, 180.0, 7000.0), (25.0, 180.0, 7000.0)]);
        let kept = |t: &f64| *t < 20.0 || *t >= 20.0 + gap_s;
        let t_s: Vec<f64> = (0..whole.channels[&ChannelRole::Pull].len()).map(|i| i as f64 / 50.0).collect();
        let keep = |values: &Vec<f64>| -> Vec<f64> {
            values.iter().zip(&t_s).filter(|(_, t)| kept(t)).map(|(v, _)| *v).collect()
        };
        let channels = whole.channels.iter().map(|(role, values)| (*role, keep(values))).collect();
        uniform(Table { t_s: t_s.iter().copied().filter(kept).collect(), channels, ..Table::default() })
            .unwrap()
    }

    #[test]
    fn a_gap_of_some_seconds_does_not_end_it_and_a_long_one_does() {
        let part = longest(&torn(4.0)).unwrap();
        assert!((part.from_s - 2.0).abs() < 0.1 && (part.to_s - 47.0).abs() < 0.1, "{part:?}");
        let parts = find_working_parts(&torn(15.0), &[]).unwrap();
        assert!((parts.longest.from_s - 37.0).abs() < 0.1, "{parts:?}");
        assert_eq!(parts.others.len(), 1);
        // The same hole in the file alone: it is one pass.
        let parts = find_working_parts(&torn(15.0), &[(19.98, 35.0)]).unwrap();
        assert!((parts.longest.from_s - 2.0).abs() < 0.1 && parts.others.is_empty(), "{parts:?}");
    }

    #[test]
    fn a_pull_of_the_wrong_sign_and_a_pass_that_is_just_too_short_are_named() {
        let wrong = longest(&pass(&[(5.0, 0.0, -300.0), (30.0, 180.0, -7000.0)])).unwrap_err().to_string();
        assert!(wrong.contains("below zero") && wrong.contains("wrong way round"), "{wrong}");
        let zero = longest(&pass(&[(5.0, 0.0, 0.0), (30.0, 180.0, 0.0)])).unwrap_err().to_string();
        assert!(zero.contains("the pull is zero"), "{zero}");
        for (found_s, told) in [(5.5, "5.5"), (5.99, "5.99"), (5.9996, "5.9996"), (0.0, "0.0")] {
            let said = WorkingPartError::TooShort { found_s, rate_hz: 50.0 }.to_string();
            assert!(
                said.contains(&format!("worked for {told} s")) && said.ends_with("longer pass"),
                "{said}"
            );
        }
        // Found: 60 s of times in s that were read in ms were told to be too short a pass.
        let fast = WorkingPartError::TooShort { found_s: 0.0, rate_hz: 50_000.0 }.to_string();
        assert!(fast.contains("50000 a second") && !fast.contains("longer pass"), "{fast}");
    }
}

//! The channel under calibration on a live box, and whether the counts of a step are worth anything.

use crate::command::args::CalibrateArgs;
use crate::command::output::CommandError;
use firmware_protocol::{Channel, Hello};
use ingest::assemble::{kind_is, kind_name};
use ingest::calibration::Unrest;
use ingest::discovery::{DiscoveryError, LiveBox, SampleStatistics};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// What gives the counts of a step.
pub(super) trait Bench {
    /// Listens for the time of a step.
    ///
    /// # Errors
    /// A sentence; the next step may be tried all the same.
    fn listen(&mut self) -> Result<Reading, String>;
    /// How long that takes.
    fn lasts(&self) -> Duration;
}

/// A channel of a box on a port.
pub(super) struct BoxBench {
    port: PathBuf,
    baud: u32,
    lasts: Duration,
    channel: Channel,
    index: usize,
    hello: Hello,
    /// `None` after the port has gone: it is opened again at the next step.
    live: Option<LiveBox>,
}

impl BoxBench {
    /// Opens the port and finds the channel.
    pub(super) fn open(port: &Path, args: &CalibrateArgs) -> Result<Self, CommandError> {
        let live = LiveBox::open(port, args.baud)?;
        let hello = *live.hello();
        let (index, channel) = find(&hello, args).map_err(CommandError::failed)?;
        let (port, baud, lasts) = (port.to_owned(), args.baud, args.seconds);
        Ok(Self { port, baud, lasts, channel, index, hello, live: Some(live) })
    }

    pub(super) fn channel(&self) -> &str {
        self.channel.name.as_str()
    }

    /// One line on what is calibrated.
    pub(super) fn introduction(&self) -> String {
        format!(
            "channel \"{}\" ({} bits) of box \"{}\" on {}",
            self.channel(),
            self.channel.adc_bits,
            self.hello.name.as_str(),
            self.port.display()
        )
    }

    fn live(&mut self) -> Result<&LiveBox, DiscoveryError> {
        let live = match self.live.take() {
            Some(live) => live,
            None => LiveBox::open(&self.port, self.baud)?,
        };
        Ok(self.live.insert(live))
    }
}

impl Bench for BoxBench {
    fn listen(&mut self) -> Result<Reading, String> {
        let lasts = self.lasts;
        let sample = match self.live().and_then(|live| live.take(lasts)) {
            Ok(sample) => sample,
            Err(error) => {
                self.live = None;
                return Err(error.to_string());
            }
        };
        let spread = sample.statistics(self.index).ok_or_else(|| {
            format!("the box no longer has channel \"{}\": was another program put into it?", self.channel())
        })?;
        let at_end = is_at_end(self.channel.adc_bits, spread.min, spread.max);
        Ok(Reading { spread, at_end, rows_lost: sample.rows_lost, restarts: sample.restarts })
    }

    fn lasts(&self) -> Duration {
        self.lasts
    }
}

/// Whether counts touch an end of a converter of this many bits, which may be an unsigned one or a signed one:
/// that one's upper end is a count like any other for the unsigned one, unless nothing else comes.
fn is_at_end(bits: u8, min: f64, max: f64) -> bool {
    let all = 2f64.powi(i32::from(bits.clamp(1, 32)));
    let half = all / 2.0;
    if min < 0.0 {
        min <= -half || max >= half - 1.0
    } else {
        min <= 0.0 || max >= all - 1.0 || min == max && max == half - 1.0
    }
}

/// The channel that was named, or the only one that measures what is calibrated.
fn find(hello: &Hello, args: &CalibrateArgs) -> Result<(usize, Channel), String> {
    let what = args.measures.name();
    let list = |channels: &mut dyn Iterator<Item = &Channel>| {
        let named =
            |channel: &Channel| format!("\"{}\" ({})", channel.name.as_str(), kind_name(channel.kind));
        channels.map(named).collect::<Vec<_>>().join(", ")
    };
    let all = || list(&mut hello.channels().iter());
    let name = hello.name.as_str();
    let mut numbered = hello.channels().iter().enumerate();
    let fits = |channel: &Channel| kind_is(channel.kind, args.measures);
    if let Some(wanted) = &args.channel {
        let (index, channel) = numbered
            .find(|(_, channel)| channel.name.as_str() == wanted)
            .ok_or_else(|| format!("box \"{name}\" has no channel \"{wanted}\"; it has {}", all()))?;
        if !fits(channel) {
            let kind = kind_name(channel.kind);
            return Err(format!("channel \"{wanted}\" of box \"{name}\" measures {kind}, not {what}"));
        }
        return Ok((index, *channel));
    }
    match numbered.filter(|(_, channel)| fits(channel)).collect::<Vec<_>>()[..] {
        [(index, only)] => Ok((index, *only)),
        [] => Err(format!("box \"{name}\" has no channel for {what}; it has {}", all())),
        ref several => {
            let several = list(&mut several.iter().map(|(_, channel)| *channel));
            Err(format!("box \"{name}\" has several for {what}: say which with --channel: {several}"))
        }
    }
}

/// The counts of a step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Reading {
    pub(super) spread: SampleStatistics,
    /// Some count is at an end of the converter.
    pub(super) at_end: bool,
    pub(super) rows_lost: u64,
    pub(super) restarts: u64,
}

impl Reading {
    /// What to warn of, a sentence each. `others` are the mean counts of the other steps, `same_value` those
    /// that were taken at the same known value.
    pub(super) fn doubts(&self, others: &[f64], same_value: &[bool]) -> Vec<String> {
        let SampleStatistics { n, mean, sd, drift, .. } = self.spread;
        let mut doubts = Vec::new();
        if self.at_end {
            doubts.push(
                "the converter is at its end: the load is beyond its range, or a wire is off".to_owned(),
            );
        }
        if self.restarts > 0 {
            doubts.push("the box began anew meanwhile: is its supply good? Take this step again".to_owned());
        } else if self.rows_lost > 0 {
            doubts.push(format!("{} rows were lost meanwhile: check the cable", self.rows_lost));
        }
        let span = others.iter().fold(0f64, |span, other| {
            others.iter().fold(span.max((mean - other).abs()), |span, more| span.max((more - other).abs()))
        });
        let error = sd / (n.max(1) as f64).sqrt();
        let unmoved = others
            .iter()
            .zip(same_value)
            .any(|(other, same)| !same && (mean - other).abs() <= (3.0 * error).max(1.0));
        if unmoved && !self.at_end {
            doubts.push(
                "the count is the same as at another value: is this the right channel, and is it connected?"
                    .to_owned(),
            );
        } else if let Some(unrest) = Unrest::of(sd, drift, n, span) {
            doubts.push(format!("not steady: {unrest} so far. Let the load come to rest, then \"again\""));
        }
        doubts
    }
}

#[cfg(test)]
mod tests {
    use super::{is_at_end, *};

    #[test]
    fn ends_of_signed_and_unsigned_converters() {
        for (min, max, wanted) in [
            (12.0, 40.0, false),
            (0.0, 40.0, true),
            (30.0, 255.0, true),
            (126.0, 128.0, false),
            (127.0, 127.0, true),
            (-3.0, 126.0, false),
            (-3.0, 127.0, true),
            (-128.0, 5.0, true),
        ] {
            assert_eq!(is_at_end(8, min, max), wanted, "{min} {max}");
        }
    }

    fn reading(mean: f64, sd: f64, drift: f64) -> Reading {
        let spread = SampleStatistics { n: 600, mean, sd, min: mean - 3.0 * sd, max: mean + 3.0 * sd, drift };
        Reading { spread, at_end: false, rows_lost: 0, restarts: 0 }
    }

    fn doubts(reading: Reading) -> String {
        reading.doubts(&[10_000.0, 60_000.0], &[false, false]).join("; ")
    }

    #[test]
    fn what_is_steady_raises_no_doubt_and_what_is_not_does() {
        assert_eq!(doubts(reading(110_000.0, 20.0, 3.0)), "");
        assert!(doubts(reading(110_000.0, 3_000.0, 3.0)).contains("SD is 3 %"));
        assert!(doubts(reading(110_000.0, 200.0, 300.0)).contains("drifted by 300"));
        // The same drift in a noise that can make it.
        assert_eq!(doubts(reading(110_000.0, 1_900.0, 300.0)), "");
        assert!(doubts(reading(60_001.0, 20.0, 0.0)).contains("right channel"));
        assert_eq!(reading(60_001.0, 20.0, 0.0).doubts(&[10_000.0, 60_000.0], &[false, true]), [""; 0]);
        assert!(doubts(Reading { at_end: true, ..reading(1e5, 0.0, 0.0) }).contains("at its end"));
        assert!(doubts(Reading { rows_lost: 8, ..reading(1e5, 0.0, 0.0) }).contains("8 rows"));
        assert!(doubts(Reading { restarts: 1, ..reading(1e5, 0.0, 0.0) }).contains("began anew"));
        assert_eq!(reading(5.0, 100.0, 50.0).doubts(&[], &[]), [""; 0], "a first step has nothing beside it");
    }
}

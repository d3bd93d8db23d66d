//! The channel under calibration on a live box.

use super::steady::Reading;
use crate::command::CommandError;
use crate::command::args::CalibrateArgs;
use firmware_protocol::{Channel, Hello};
use ingest::assemble::{kind_is, kind_name};
use ingest::discovery::{DiscoveryError, LiveBox};
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
        let live = LiveBox::open(port, args.baud).map_err(CommandError::failed)?;
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
    let list = |channels: Vec<&Channel>| {
        let names: Vec<_> = channels
            .iter()
            .map(|channel| format!("\"{}\" ({})", channel.name.as_str(), kind_name(channel.kind)))
            .collect();
        names.join(", ")
    };
    let all = || list(hello.channels().iter().collect());
    let name = hello.name.as_str();
    let fits = |channel: &&Channel| kind_is(channel.kind, args.measures);
    let found = match &args.channel {
        Some(wanted) => {
            let channel = hello.channels().iter().find(|channel| channel.name.as_str() == wanted);
            let channel = channel
                .ok_or_else(|| format!("box \"{name}\" has no channel \"{wanted}\"; it has {}", all()))?;
            if !fits(&channel) {
                let kind = kind_name(channel.kind);
                return Err(format!("channel \"{wanted}\" of box \"{name}\" measures {kind}, not {what}"));
            }
            channel
        }
        None => match hello.channels().iter().filter(fits).collect::<Vec<_>>()[..] {
            [only] => only,
            [] => return Err(format!("box \"{name}\" has no channel for {what}; it has {}", all())),
            ref several => {
                let several = list(several.to_vec());
                return Err(format!(
                    "box \"{name}\" has several for {what}: say which with --channel: {several}"
                ));
            }
        },
    };
    let index = hello.channels().iter().position(|channel| channel.name == found.name).unwrap_or(0);
    Ok((index, *found))
}

#[cfg(test)]
mod tests {
    use super::is_at_end;

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
}

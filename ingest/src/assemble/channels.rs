//! The box's channels against the sensors of the plow: which count becomes which reading.

use crate::calibration::{CalibrationCurve, CalibrationFault};
use crate::plow::{ChannelRole, Sensor};
use firmware_protocol::{Channel, ChannelKind, Hello, HelloError, VERSION_MAJOR};

/// Why a box cannot be recorded with this plow.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum BoxRefusal {
    /// The box speaks another major version of the protocol.
    #[error(
        "box \"{name}\" speaks protocol {theirs}, this recorder speaks {ours}: update the older of the two"
    )]
    OtherMajor {
        /// Name of the box.
        name: String,
        /// Its major version.
        theirs: u8,
        /// Ours.
        ours: u8,
    },
    /// Channels that the plow's sensors need are not there.
    #[error(
        "box \"{name}\" has no channel {missing}; it has {has}: correct [[sensors]] in the plow \
         description or connect the right box"
    )]
    MissingChannels {
        /// Name of the box.
        name: String,
        /// Channels wanted and not there.
        missing: String,
        /// Channels there.
        has: String,
    },
    /// None of its channels is one that the plow's sensors need.
    #[error(
        "box \"{name}\" has nothing that the plow description asks for; it has {has}, and [[sensors]] names \
         {wanted}: add its channel there (`hitchwright calibrate` writes such an entry), or leave this port out"
    )]
    NothingWanted {
        /// Name of the box.
        name: String,
        /// Channels that the plow's sensors need.
        wanted: String,
        /// Channels there.
        has: String,
    },
    /// A channel measures something else than the plow description says.
    #[error(
        "channel \"{channel}\" of box \"{name}\" measures {kind}, but the plow description says {role}: \
         correct one of the two"
    )]
    KindDiffers {
        /// Name of the box.
        name: String,
        /// The channel.
        channel: String,
        /// What the box says.
        kind: &'static str,
        /// What the plow description says.
        role: &'static str,
    },
    /// The box's hello makes no sense.
    #[error("the box's hello makes no sense ({0}): its program must be corrected")]
    Nonsense(HelloError),
}

/// One column: which count of a row fills it, and how.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// What it measures.
    pub role: ChannelRole,
    /// Place of its count in a row.
    pub index: usize,
    /// Counts to readings.
    pub curve: CalibrationCurve,
    /// Lowest and highest count that the converter could give by its bits.
    pub possible: (i64, i64),
    /// Ends given in the plow description.
    pub limits: Option<(i32, i32)>,
}

impl Column {
    /// Whether a count lies at an end of the converter. Without given limits the ends follow from the
    /// bits; then a converter is taken for an unsigned one until it gives a negative count.
    #[must_use]
    pub fn is_saturated(&self, count: i32, seen_negative: bool) -> bool {
        let count = i64::from(count);
        let (low, high) = match self.limits {
            Some((low, high)) => (i64::from(low), i64::from(high)),
            None if seen_negative => (self.possible.0, -self.possible.0 - 1),
            None => (0, self.possible.1),
        };
        count <= low || count >= high
    }
}

/// A sensor with its calibration curve.
#[derive(Clone, Debug)]
pub struct CalibratedSensor {
    sensor: Sensor,
    curve: CalibrationCurve,
}

impl CalibratedSensor {
    /// Name of its channel, and what it measures.
    #[must_use]
    pub fn channel_and_role(&self) -> (&str, ChannelRole) {
        (&self.sensor.channel, self.sensor.measures)
    }
}

/// The sensors of a plow, in the order of the columns.
///
/// # Errors
/// [`CalibrationFault`] for the first calibration that gives no readings.
pub fn calibrated(sensors: &[Sensor]) -> Result<Vec<CalibratedSensor>, CalibrationFault> {
    let mut calibrated = sensors
        .iter()
        .map(|sensor| {
            let curve = CalibrationCurve::of(&sensor.calibration, sensor.measures)
                .map_err(|cause| CalibrationFault { channel: sensor.channel.clone(), cause })?;
            Ok(CalibratedSensor { sensor: sensor.clone(), curve })
        })
        .collect::<Result<Vec<_>, _>>()?;
    calibrated.sort_by_key(|sensor| sensor.sensor.measures);
    Ok(calibrated)
}

/// The columns that a box fills.
///
/// # Errors
/// [`BoxRefusal`] if it speaks another protocol, has none of the channels, or one that differs in kind.
pub fn columns_of(hello: &Hello, sensors: &[CalibratedSensor]) -> Result<Vec<Column>, BoxRefusal> {
    let name = || hello.name.as_str().to_owned();
    if hello.version.0 != VERSION_MAJOR {
        return Err(BoxRefusal::OtherMajor { name: name(), theirs: hello.version.0, ours: VERSION_MAJOR });
    }
    let mut columns = Vec::new();
    for CalibratedSensor { sensor, curve } in sensors {
        let found = hello.channels().iter().position(|c| c.name.as_str() == sensor.channel);
        let Some((index, channel)) = found.and_then(|index| Some((index, hello.channels().get(index)?)))
        else {
            continue;
        };
        if !kind_is(channel.kind, sensor.measures) {
            return Err(BoxRefusal::KindDiffers {
                name: name(),
                channel: sensor.channel.clone(),
                kind: kind_name(channel.kind),
                role: sensor.measures.name(),
            });
        }
        let possible = possible_counts(channel);
        columns.push(Column {
            role: sensor.measures,
            index,
            curve: curve.clone(),
            possible,
            limits: sensor.count_limits,
        });
    }
    if columns.is_empty() {
        let wanted: Vec<_> = sensors.iter().map(|sensor| sensor.sensor.channel.as_str()).collect();
        return Err(BoxRefusal::NothingWanted {
            name: name(),
            wanted: quoted(&wanted),
            has: quoted(&names_of(hello)),
        });
    }
    Ok(columns)
}

/// The refusal for channels that a box does not have.
#[must_use]
pub fn missing(hello: &Hello, channels: &[&str]) -> BoxRefusal {
    BoxRefusal::MissingChannels {
        name: hello.name.as_str().to_owned(),
        missing: quoted(channels),
        has: quoted(&names_of(hello)),
    }
}

/// Names of a box's channels.
#[must_use]
pub fn names_of(hello: &Hello) -> Vec<&str> {
    hello.channels().iter().map(|channel| channel.name.as_str()).collect()
}

/// Names as a list in a sentence.
#[must_use]
pub fn quoted(names: &[&str]) -> String {
    names.iter().map(|name| format!("\"{name}\"")).collect::<Vec<_>>().join(", ")
}

/// Counts of n bits lie in −2^(n−1) to 2^n − 1: a converter may be signed or unsigned.
fn possible_counts(channel: &Channel) -> (i64, i64) {
    let bits = u32::from(channel.adc_bits.clamp(1, 32));
    (-(1i64 << (bits - 1)), (1i64 << bits) - 1)
}

/// Whether a channel of this kind can be what a sensor of the plow measures; a kind without a name can be all.
#[must_use]
pub const fn kind_is(kind: ChannelKind, role: ChannelRole) -> bool {
    matches!(
        (kind, role),
        (ChannelKind::Other(_), _)
            | (ChannelKind::Pull, ChannelRole::Pull)
            | (ChannelKind::TailDeflection, ChannelRole::Tail)
            | (ChannelKind::Depth, ChannelRole::Depth)
            | (ChannelKind::FrontLoad, ChannelRole::FrontLoad)
            | (ChannelKind::Side, ChannelRole::Side)
            | (ChannelKind::Speed, ChannelRole::Speed)
            | (ChannelKind::Pitch, ChannelRole::Pitch)
            | (ChannelKind::TailLoad, ChannelRole::TailLoad)
            | (ChannelKind::LowerLinks, ChannelRole::LowerLinks)
            | (ChannelKind::TopLink, ChannelRole::TopLink)
            | (ChannelKind::FrontHeight, ChannelRole::FrontHeight)
            | (ChannelKind::DrawbarAngle, ChannelRole::DrawbarAngle)
    )
}

/// What a box's channel measures, in words.
#[must_use]
pub const fn kind_name(kind: ChannelKind) -> &'static str {
    match kind {
        ChannelKind::Pull => "pull",
        ChannelKind::TailDeflection => "tail",
        ChannelKind::Depth => "depth",
        ChannelKind::FrontLoad => "front-load",
        ChannelKind::Side => "side",
        ChannelKind::Speed => "speed",
        ChannelKind::Pitch => "pitch",
        ChannelKind::TailLoad => "tail-load",
        ChannelKind::LowerLinks => "lower-links",
        ChannelKind::TopLink => "top-link",
        ChannelKind::FrontHeight => "front-height",
        ChannelKind::DrawbarAngle => "drawbar-angle",
        ChannelKind::Other(_) => "other",
    }
}

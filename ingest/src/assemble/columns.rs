//! The box's channels against the sensors of the plow: which count becomes which reading.

use super::item::Row;
use crate::calibration::{CalibrationCurve, CalibrationFault};
use crate::own_column::OwnColumn;
use crate::plow::{ChannelRole, Measures, OwnSensor, Sensor};
use crate::row_columns::RowColumns;
use crate::session::{BoxRefusal, check_version};
use firmware_protocol::{Channel, ChannelKind, Hello, Readings};

/// What a column is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fills {
    /// Something known.
    Role(ChannelRole),
    /// The user's own.
    Own(OwnColumn),
}

impl Fills {
    /// The name of the column.
    #[must_use]
    pub fn column(&self) -> &str {
        match self {
            Self::Role(role) => role.column(),
            Self::Own(own) => own.column(),
        }
    }

    fn role(&self) -> Option<ChannelRole> {
        if let Self::Role(role) = self { Some(*role) } else { None }
    }

    fn own(&self) -> Option<&OwnColumn> {
        if let Self::Own(own) = self { Some(own) } else { None }
    }

    fn measures(&self) -> Measures {
        match self {
            Self::Role(role) => Measures::Role(*role),
            Self::Own(_) => Measures::Other,
        }
    }
}

/// One column: which count of a row fills it, and how.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// What it is.
    pub fills: Fills,
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
    channel: String,
    fills: Fills,
    curve: CalibrationCurve,
    limits: Option<(i32, i32)>,
}

impl CalibratedSensor {
    /// Its channel, with what it measures.
    pub(super) fn channel(&self) -> (&str, Measures) {
        (&self.channel, self.fills.measures())
    }
}

/// The sensors of a plow, in the order of the columns: the known ones by what they measure, then the user's own.
///
/// # Errors
/// [`CalibrationFault`] for the first calibration that gives no readings.
pub fn calibrated(
    sensors: &[Sensor],
    own_sensors: &[OwnSensor],
) -> Result<Vec<CalibratedSensor>, CalibrationFault> {
    let fault = |channel: &String| {
        let channel = channel.clone();
        |cause| CalibrationFault { channel, cause }
    };
    let mut sorted: Vec<&Sensor> = sensors.iter().collect();
    sorted.sort_by_key(|sensor| sensor.measures);
    let known = sorted.into_iter().map(|Sensor { channel, measures, calibration, count_limits }| {
        let curve = CalibrationCurve::of(calibration, *measures).map_err(fault(channel))?;
        let (channel, fills) = (channel.clone(), Fills::Role(*measures));
        Ok(CalibratedSensor { channel, fills, curve, limits: *count_limits })
    });
    let own = own_sensors.iter().map(|sensor| {
        let curve = sensor.curve().map_err(fault(&sensor.channel))?;
        let (channel, fills) = (sensor.channel.clone(), Fills::Own(sensor.column.clone()));
        Ok(CalibratedSensor { channel, fills, curve, limits: sensor.count_limits })
    });
    known.chain(own).collect()
}

/// The columns that a box fills.
///
/// # Errors
/// `BoxRefusal` if it speaks another protocol, has none of the channels, or one that differs in kind.
pub fn columns_of(hello: &Hello, sensors: &[CalibratedSensor]) -> Result<Vec<Column>, BoxRefusal> {
    let name = || hello.name.as_str().to_owned();
    check_version(hello)?;
    let mut columns = Vec::new();
    for CalibratedSensor { channel: wanted, fills, curve, limits } in sensors {
        let found = hello.channels().iter().position(|c| c.name.as_str() == wanted);
        let Some((index, channel)) = found.and_then(|index| Some((index, hello.channels().get(index)?)))
        else {
            continue;
        };
        // What the user has named can be of any kind.
        if let Fills::Role(role) = fills
            && !kind_is(channel.kind, *role)
        {
            return Err(BoxRefusal::KindDiffers {
                name: name(),
                channel: wanted.clone(),
                kind: kind_name(channel.kind),
                role: role.name(),
            });
        }
        let possible = possible_counts(channel);
        let (fills, curve) = (fills.clone(), curve.clone());
        columns.push(Column { fills, index, curve, possible, limits: *limits });
    }
    if columns.is_empty() {
        let wanted: Vec<_> = sensors.iter().map(|sensor| sensor.channel.as_str()).collect();
        return Err(BoxRefusal::NothingWanted {
            name: name(),
            wanted: quoted(&wanted),
            has: quoted(&names_of(hello)),
        });
    }
    Ok(columns)
}

/// The columns of one box, by what it said last of its channels.
#[derive(Clone, Debug, Default)]
pub(super) struct BoxColumns {
    pub wanted: Vec<CalibratedSensor>,
    /// By the last good hello; while [`Self::is_bound`], a later one must fill the same.
    filled: Option<RowColumns>,
    /// A run is recorded, whose table has these columns.
    pub is_bound: bool,
    /// How the counts of a row are read now; empty when they cannot be.
    pub reading: Vec<Column>,
    /// How many counts a row has.
    channels: usize,
    pub refusal: Option<BoxRefusal>,
}

impl BoxColumns {
    pub(super) fn new(wanted: Vec<CalibratedSensor>) -> Self {
        Self { wanted, ..Self::default() }
    }

    /// The columns; none before the first good hello.
    pub(super) fn filled(&self) -> &RowColumns {
        const NONE: &RowColumns = &RowColumns { roles: Vec::new(), own: Vec::new() };
        self.filled.as_ref().unwrap_or(NONE)
    }

    /// Takes what the box says of its channels; whether its rows are read.
    pub(super) fn resolve(&mut self, hello: &Hello) -> bool {
        let found = columns_of(hello, &self.wanted).and_then(|columns| {
            let found = RowColumns {
                roles: columns.iter().filter_map(|column| column.fills.role()).collect(),
                own: columns.iter().filter_map(|column| column.fills.own().cloned()).collect(),
            };
            match &self.filled {
                Some(filled) if self.is_bound && found != *filled => Err(BoxRefusal::OtherChannels {
                    name: hello.name.as_str().to_owned(),
                    now: quoted(&self.channels_of(&found)),
                    before: quoted(&self.channels_of(filled)),
                }),
                _ => {
                    self.filled = Some(found);
                    Ok(columns)
                }
            }
        });
        self.channels = hello.channels().len();
        (self.reading, self.refusal) = match found {
            Ok(columns) => (columns, None),
            Err(refusal) => (Vec::new(), Some(refusal)),
        };
        self.refusal.is_none()
    }

    /// The channels that fill these columns.
    fn channels_of(&self, columns: &RowColumns) -> Vec<&str> {
        let fills = |sensor: &&CalibratedSensor| columns.names().any(|name| name == sensor.fills.column());
        self.wanted.iter().filter(fills).map(|sensor| sensor.channel.as_str()).collect()
    }

    /// Whether rows have the channels that the box said it has, and are read.
    pub(super) fn fit(&self, readings: &Readings) -> bool {
        !self.reading.is_empty() && readings.channel_count() == self.channels
    }

    /// The readings of a row without its time; `None` if a count is one that its converter cannot give.
    pub(super) fn read(&self, counts: &[i32]) -> Option<Row> {
        let mut row = Row::at(0);
        for column in &self.reading {
            let count = *counts.get(column.index)?;
            let (low, high) = column.possible;
            let reading = column.curve.reading(f64::from(count));
            if !((low..=high).contains(&i64::from(count)) && reading.is_finite()) {
                return None;
            }
            row.push(reading);
        }
        Some(row)
    }
}

/// The refusal for channels that a box does not have.
pub fn missing(hello: &Hello, channels: &[&str]) -> BoxRefusal {
    BoxRefusal::MissingChannels {
        name: hello.name.as_str().to_owned(),
        missing: quoted(channels),
        has: quoted(&names_of(hello)),
    }
}

/// Names of a box's channels.
pub fn names_of(hello: &Hello) -> Vec<&str> {
    hello.channels().iter().map(|channel| channel.name.as_str()).collect()
}

/// Names as a list in a sentence.
pub fn quoted(names: &[&str]) -> String {
    names.iter().map(|name| format!("\"{name}\"")).collect::<Vec<_>>().join(", ")
}

/// Counts of n bits lie in −2^(n−1) to 2^n − 1: a converter may be signed or unsigned.
fn possible_counts(channel: &Channel) -> (i64, i64) {
    let bits = u32::from(channel.adc_bits.clamp(1, 32));
    (-(1i64 << (bits - 1)), (1i64 << bits) - 1)
}

/// What a channel of this kind measures; `None` for a kind without a name, which can be all.
const fn role_of(kind: ChannelKind) -> Option<ChannelRole> {
    Some(match kind {
        ChannelKind::Pull => ChannelRole::Pull,
        ChannelKind::TailDeflection => ChannelRole::Tail,
        ChannelKind::Depth => ChannelRole::Depth,
        ChannelKind::FrontLoad => ChannelRole::FrontLoad,
        ChannelKind::Side => ChannelRole::Side,
        ChannelKind::Speed => ChannelRole::Speed,
        ChannelKind::Pitch => ChannelRole::Pitch,
        ChannelKind::TailLoad => ChannelRole::TailLoad,
        ChannelKind::LowerLinks => ChannelRole::LowerLinks,
        ChannelKind::TopLink => ChannelRole::TopLink,
        ChannelKind::FrontHeight => ChannelRole::FrontHeight,
        ChannelKind::DrawbarAngle => ChannelRole::DrawbarAngle,
        ChannelKind::Other(_) => return None,
    })
}

/// Whether a channel of this kind can be what a sensor of the plow measures.
#[must_use]
pub fn kind_is(kind: ChannelKind, role: ChannelRole) -> bool {
    role_of(kind).is_none_or(|measured| measured == role)
}

/// What a box's channel measures, in words.
#[must_use]
pub fn kind_name(kind: ChannelKind) -> &'static str {
    role_of(kind).map_or("other", ChannelRole::name)
}

//! One sentence to what it says: RMC, GGA and VTG of NMEA 0183.
//!
//! Fields as in the descriptions that are printed everywhere (the standard itself is for sale):
//! ```text
//! RMC  time, status A/V, latitude, N/S, longitude, E/W, speed in kn, course, date, variation, E/W[, mode[, status]]
//! GGA  time, latitude, N/S, longitude, E/W, quality, satellites, HDOP, height, M, geoid, M, age, station
//! VTG  course, T, magnetic course, M, speed in kn, N, speed in km/h, K[, mode]
//! ```
//! Positions are `ddmm.mmm` and `dddmm.mmm`, times `hhmmss[.sss]` in UTC.

/// Metres per second of one knot: 1852 m in an hour, exactly (NIST SP 811, Appendix B.8).
const KNOT_MPS: f64 = 1852.0 / 3600.0;
/// Metres per second of one km/h.
const KMH_MPS: f64 = 1.0 / 3.6;
/// Faster than this is nothing on wheels, in m/s: a damaged number whose checksum is right by chance.
const SPEED_MPS_MAX: f64 = 200.0;
/// Longest number, in characters.
const NUMBER_BYTES_MAX: usize = 16;
/// Modes (NMEA 0183 from 2.3 on) of a measured fix: autonomous, differential, float, precise, real-time
/// kinematic. Estimated (E), manual (M), simulated (S) and not valid (N) ones are measurements of nothing.
const MODES_OF_A_FIX: [&str; 5] = ["A", "D", "F", "P", "R"];
/// GGA qualities of a measured fix; 9 is what some receivers send for a satellite-based correction (common
/// practice, no source). 0 is no fix, 6 estimated, 7 manual, 8 simulated.
const QUALITIES_OF_A_FIX: [&str; 6] = ["1", "2", "3", "4", "5", "9"];

/// Which sentence it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, strum::IntoStaticStr, strum::EnumString)]
#[strum(serialize_all = "UPPERCASE")]
pub enum SentenceKind {
    /// Recommended minimum: time, position, speed, course.
    Rmc,
    /// Fix data: time, position, quality.
    Gga,
    /// Course and speed over ground; no time.
    Vtg,
}

impl SentenceKind {
    /// As in the address.
    pub fn name(self) -> &'static str {
        self.into()
    }
}

/// A place on the ellipsoid of the receiver (WGS 84 unless it was set otherwise).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Position {
    /// Latitude in degrees, north +.
    pub lat_deg: f64,
    /// Longitude in degrees, east +.
    pub lon_deg: f64,
}

/// What a sentence says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sentence {
    /// Which one.
    pub kind: SentenceKind,
    /// Who sends it, such as `GP`.
    pub talker: [u8; 2],
    /// UTC time of day in µs; `None` in VTG, and from a receiver that has no time yet.
    pub tag_us: Option<u64>,
    /// Whether the receiver says that it has a fix. Without one, none of the following is there.
    pub has_fix: bool,
    /// Position.
    pub position: Option<Position>,
    /// Speed over ground in m/s.
    pub speed_mps: Option<f64>,
    /// Course over ground in degrees, clockwise from true north, 0 to below 360.
    pub course_deg: Option<f64>,
}

/// A sentence of a known kind whose fields make no sense.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Malformed;

/// Reads a sentence, from its address up to before the `*`; `None` for one of another kind.
pub fn read_sentence(body: &str) -> Result<Option<Sentence>, Malformed> {
    let fields = Fields(body.split(',').collect());
    let Some((talker, kind)) = address(fields.at(0)) else { return Ok(None) };
    let none = Sentence {
        kind,
        talker,
        tag_us: None,
        has_fix: false,
        position: None,
        speed_mps: None,
        course_deg: None,
    };
    let sentence = match kind {
        SentenceKind::Rmc => rmc(&fields, none),
        SentenceKind::Gga => gga(&fields, none),
        SentenceKind::Vtg => vtg(&fields, none),
    };
    sentence.map(Some).ok_or(Malformed)
}

/// `GPRMC` and the like: two letters of a talker, then the kind. `P...` is proprietary.
fn address(field: &str) -> Option<([u8; 2], SentenceKind)> {
    let (talker, name) = field.as_bytes().split_first_chunk::<2>()?;
    let kind = std::str::from_utf8(name).ok()?.parse().ok()?;
    let plain = |byte: &u8| byte.is_ascii_uppercase() || byte.is_ascii_digit();
    (talker.iter().all(plain) && talker.first() != Some(&b'P')).then_some((*talker, kind))
}

fn rmc(fields: &Fields<'_>, none: Sentence) -> Option<Sentence> {
    if fields.0.len() < 10 {
        return None;
    }
    let has_fix = match fields.at(2) {
        "A" | "D" => fields.has_mode_of_a_fix(12),
        "V" => false,
        _ => return None,
    };
    let timed = Sentence { tag_us: fields.time(1)?, has_fix, ..none };
    if !has_fix {
        return Some(timed);
    }
    Some(Sentence {
        position: Some(fields.position(3)?),
        speed_mps: fields.speed(7, KNOT_MPS)?,
        course_deg: fields.course(8)?,
        ..timed
    })
}

fn gga(fields: &Fields<'_>, none: Sentence) -> Option<Sentence> {
    let quality = fields.at(6);
    if quality.len() != 1 || !quality.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    let has_fix = QUALITIES_OF_A_FIX.contains(&quality);
    let position = if has_fix { Some(fields.position(2)?) } else { None };
    Some(Sentence { tag_us: fields.time(1)?, has_fix, position, ..none })
}

fn vtg(fields: &Fields<'_>, none: Sentence) -> Option<Sentence> {
    if fields.0.len() < 9 {
        return None;
    }
    let in_knots = fields.speed(5, KNOT_MPS)?.filter(|_| fields.at(6) == "N");
    let in_kmh = fields.speed(7, KMH_MPS)?.filter(|_| fields.at(8) == "K");
    let has_fix = fields.has_mode_of_a_fix(9);
    let speed_mps = in_knots.or(in_kmh).filter(|_| has_fix);
    let course_deg = fields.course(1)?.filter(|_| has_fix);
    Some(Sentence { has_fix, speed_mps, course_deg, ..none })
}

struct Fields<'a>(Vec<&'a str>);

/// `None` of these is a field that makes no sense; an empty field is a value that is not there.
impl Fields<'_> {
    /// A field that is not there is as an empty one: older versions of the standard have fewer.
    fn at(&self, number: usize) -> &str {
        self.0.get(number).copied().unwrap_or("")
    }

    fn has_mode_of_a_fix(&self, number: usize) -> bool {
        let mode = self.at(number);
        mode.is_empty() || MODES_OF_A_FIX.contains(&mode)
    }

    /// `hhmmss[.sss]` in µs of the day; second 60 is a leap second.
    fn time(&self, number: usize) -> Option<Option<u64>> {
        let text = self.at(number);
        if text.is_empty() {
            return Some(None);
        }
        let hours = two_digits(text.get(..2)?)?;
        let minutes = two_digits(text.get(2..4)?)?;
        let seconds = decimal(text.get(4..)?)?;
        let whole_digits = text.get(4..6).is_some_and(|two| two.bytes().all(|byte| byte.is_ascii_digit()));
        if !whole_digits || hours > 23 || minutes > 59 || seconds >= 61.0 {
            return None;
        }
        let us = (seconds * 1e6).round() as u64;
        Some(Some((hours * 60 + minutes) * 60_000_000 + us))
    }

    /// Latitude, N or S, longitude, E or W from this field on.
    fn position(&self, from: usize) -> Option<Position> {
        let part = |at: usize, degree_digits: usize, letters: [&str; 2], most_deg: f64| {
            let (degrees, minutes) = self.at(at).split_at_checked(degree_digits)?;
            let degrees =
                degrees.bytes().all(|byte| byte.is_ascii_digit()).then(|| degrees.parse::<u16>().ok())??;
            let minutes = decimal(minutes).filter(|minutes| *minutes < 60.0)?;
            let size_deg = f64::from(degrees) + minutes / 60.0;
            let sign = match letters.iter().position(|letter| *letter == self.at(at + 1))? {
                0 => 1.0,
                _ => -1.0,
            };
            (size_deg <= most_deg).then_some(sign * size_deg)
        };
        let lat_deg = part(from, 2, ["N", "S"], 90.0)?;
        let lon_deg = part(from + 2, 3, ["E", "W"], 180.0)?;
        Some(Position { lat_deg, lon_deg })
    }

    fn speed(&self, number: usize, unit_mps: f64) -> Option<Option<f64>> {
        match self.at(number) {
            "" => Some(None),
            text => decimal(text).map(|value| value * unit_mps).filter(|mps| *mps <= SPEED_MPS_MAX).map(Some),
        }
    }

    fn course(&self, number: usize) -> Option<Option<f64>> {
        match self.at(number) {
            "" => Some(None),
            text => decimal(text).filter(|course| *course <= 360.0).map(|course| Some(course % 360.0)),
        }
    }
}

fn two_digits(text: &str) -> Option<u64> {
    text.bytes().all(|byte| byte.is_ascii_digit()).then(|| text.parse().ok())?
}

/// A plain number: digits with at most one point, no sign, no exponent, nothing that is not finite.
fn decimal(text: &str) -> Option<f64> {
    let plain = text.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
    if !plain || text.len() > NUMBER_BYTES_MAX {
        return None;
    }
    text.parse().ok()
}

#[cfg(test)]
mod tests;

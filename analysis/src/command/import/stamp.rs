//! Stamps of a logger: date and time of day, as one of the common ways or a pattern writes them.

use jiff::civil::{Date, DateTime, Time};
use jiff::fmt::strtime::BrokenDownTime;

/// How a file writes its times.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum TimeFormat {
    /// One of the common ways.
    Common(Common),
    /// By a pattern.
    Pattern(String),
}

/// The common ways.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "their examples say what they are")]
pub enum Common {
    Iso,
    DayFirst,
    MonthFirst,
    TimeOfDay,
}

impl Common {
    /// All of them; where a file can be read in several, the first is the likeliest.
    pub const ALL: [Self; 4] = [Self::Iso, Self::DayFirst, Self::MonthFirst, Self::TimeOfDay];

    /// As it is typed, and a stamp written so.
    pub const fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::Iso => ("iso", "2027-04-11T09:14:05.25"),
            Self::DayFirst => ("day-first", "11.04.2027 09:14:05.25"),
            Self::MonthFirst => ("month-first", "04/11/2027 09:14:05.25"),
            Self::TimeOfDay => ("time-of-day", "09:14:05.25"),
        }
    }
}

/// One stamp.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stamp {
    date: Option<Date>,
    time: Time,
    /// Of its clock, east of Greenwich, where the stamp says it.
    offset_s: Option<i32>,
}

/// Stamps are counted from here; a number of seconds since then keeps its microseconds.
const FROM: Date = Date::constant(2000, 1, 1);

impl Stamp {
    /// Seconds since a fixed day, or since midnight where there is no date.
    pub fn seconds(&self) -> f64 {
        let since = self
            .date
            .unwrap_or(FROM)
            .to_datetime(self.time)
            .duration_since(FROM.to_datetime(Time::midnight()));
        since.as_secs_f64() - f64::from(self.offset_s.unwrap_or(0))
    }

    /// Its date and time by the clock of the logger, and how far east of Greenwich that clock goes, if it is said.
    pub fn began(&self) -> Option<(DateTime, Option<i32>)> {
        self.date.map(|date| (date.to_datetime(self.time), self.offset_s))
    }
}

impl TimeFormat {
    /// By its name, or a pattern with `%`.
    pub fn of(text: &str) -> Result<Self, String> {
        if let Some(common) = Common::ALL.into_iter().find(|common| common.words().0 == text) {
            return Ok(Self::Common(common));
        }
        if text.contains('%') {
            return Ok(Self::Pattern(text.to_owned()));
        }
        let known =
            Common::ALL.map(|common| format!("{} ({})", common.words().0, common.words().1)).join(", ");
        Err(format!("write {known}, or a pattern such as '%d.%m.%y %H:%M:%S%.f'"))
    }

    /// Only the time of day: the next day begins where it falls back by half a day or more.
    pub fn is_daily(&self) -> bool {
        *self == Self::Common(Common::TimeOfDay)
            || matches!(self, Self::Pattern(text) if !["%d", "%e", "%j", "%F", "%D", "%s"].iter().any(|day| text.contains(day)))
    }

    /// A stamp, `None` where the text is not written so.
    pub fn read(&self, text: &str) -> Option<Stamp> {
        match self {
            Self::Common(common) => common.read(text),
            Self::Pattern(pattern) => by_pattern(pattern, text),
        }
    }

    /// A sentence's end about a cell that is not written so.
    pub fn wanted(&self) -> String {
        match self {
            Self::Common(common) => {
                let (name, example) = common.words();
                format!("is no time in the format {name}, such as {example}: see --time-format")
            }
            Self::Pattern(pattern) => format!("is no time by the pattern {pattern}: see --time-format"),
        }
    }
}

impl Common {
    /// A stamp, `None` where the text is not written so.
    pub fn read(self, text: &str) -> Option<Stamp> {
        let text = text.trim();
        if self == Self::TimeOfDay {
            let (time, offset_s) = clock(text)?;
            return Some(Stamp { date: None, time, offset_s });
        }
        let (date, rest) = text.split_once([' ', 'T'])?;
        let parts: Vec<&str> = date.trim_end_matches(',').split(['.', '/', '-']).collect();
        let [a, b, c] = parts[..] else { return None };
        let (year, month, day) = match self {
            Self::Iso => (a, b, c),
            Self::DayFirst => (c, b, a),
            Self::MonthFirst | Self::TimeOfDay => (c, a, b),
        };
        let year = match (year.len(), digits(year)?) {
            (2, year) => 2000 + year,
            (4, year) => year,
            _ => return None,
        };
        let small = |text: &str| digits(text).and_then(|number| i8::try_from(number).ok());
        let date = Date::new(i16::try_from(year).ok()?, small(month)?, small(day)?).ok()?;
        let (time, offset_s) = clock(rest.trim())?;
        Some(Stamp { date: Some(date), time, offset_s })
    }
}

fn digits(text: &str) -> Option<u32> {
    let plain = !text.is_empty() && text.len() <= 9 && text.bytes().all(|byte| byte.is_ascii_digit());
    plain.then(|| text.parse().ok()).flatten()
}

/// `09:14`, `09:14:05`, `09:14:05.25`, `09:14:05,25`, `09:14:05:250`, each also with AM or PM, or an offset.
fn clock(text: &str) -> Option<(Time, Option<i32>)> {
    let upper = text.to_ascii_uppercase();
    let (text, half) = match (upper.strip_suffix("AM"), upper.strip_suffix("PM")) {
        (Some(rest), _) => (rest.trim(), Some(0)),
        (_, Some(rest)) => (rest.trim(), Some(12)),
        _ => (upper.as_str(), None),
    };
    let (text, offset_s) = offset(text)?;
    let mut parts = text.split(':');
    let (hour, minute) = (digits(parts.next()?)?, digits(parts.next()?)?);
    let second = parts.next().unwrap_or("0");
    let (second, part) = match (second.split_once(['.', ',']), parts.next()) {
        (split, None) => split.unwrap_or((second, "0")),
        (None, Some(thousandths)) if thousandths.len() == 3 => (second, thousandths),
        _ => return None,
    };
    if parts.next().is_some() || part.is_empty() || !part.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    let nanos: String = part.chars().chain("000000000".chars()).take(9).collect();
    let hour = match half {
        None => hour,
        Some(half) if (1..=12).contains(&hour) => hour % 12 + half,
        Some(_) => return None,
    };
    let small = |number: u32| i8::try_from(number).ok();
    let nanos = i32::try_from(digits(&nanos)?).ok()?;
    let time = Time::new(small(hour)?, small(minute)?, small(digits(second)?)?, nanos).ok()?;
    Some((time, offset_s))
}

/// What stands before `Z`, `+02:00` or `-0500`, and that offset.
fn offset(text: &str) -> Option<(&str, Option<i32>)> {
    if let Some(rest) = text.strip_suffix('Z') {
        return Some((rest, Some(0)));
    }
    let Some(at) = text.rfind(['+', '-']) else { return Some((text, None)) };
    let (rest, offset) = text.split_at(at);
    let number = digits(&offset.get(1..)?.replace(':', ""))?;
    let (hours, minutes) = if offset.len() > 3 { (number / 100, number % 100) } else { (number, 0) };
    if hours >= 24 || minutes >= 60 {
        return None;
    }
    let seconds = i32::try_from(hours * 3600 + minutes * 60).ok()?;
    Some((rest.trim(), Some(if offset.starts_with('-') { -seconds } else { seconds })))
}

fn by_pattern(pattern: &str, text: &str) -> Option<Stamp> {
    // A decimal comma of the seconds.
    let text = if pattern.contains(',') { text.to_owned() } else { text.replace(',', ".") };
    let read = BrokenDownTime::parse(pattern, text.trim()).ok()?;
    if let Some(at) = read.timestamp() {
        let at = at.to_zoned_datetime(jiff::tz::TimeZone::UTC).datetime();
        return Some(Stamp { date: Some(at.date()), time: at.time(), offset_s: Some(0) });
    }
    let date =
        if read.day().is_some() || read.day_of_year().is_some() { Some(read.to_date().ok()?) } else { None };
    Some(Stamp { date, time: read.to_time().ok()?, offset_s: read.offset().map(jiff::tz::Offset::seconds) })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seconds(format: &str, text: &str) -> Option<f64> {
        TimeFormat::of(format).unwrap().read(text).map(|stamp| stamp.seconds())
    }

    /// Found by fuzzing: the seconds of an offset of so many hours were worked out before it was refused.
    #[test]
    fn an_offset_of_more_than_a_day_is_none() {
        for offset in ["-26059:5912", "+24:00", "+02:60", "-4294967295"] {
            assert_eq!(seconds("iso", &format!("2027-04-11T21:14:05{offset}")), None, "{offset}");
        }
    }

    #[test]
    fn one_moment_in_many_ways() {
        let wanted = seconds("iso", "2027-04-11T21:14:05.25");
        assert!(wanted.is_some());
        for (format, text) in [
            ("iso", "2027-04-11 21:14:05,25"),
            ("iso", "2027-04-11T23:14:05.250+02:00"),
            ("iso", "2027-04-11T21:14:05.25Z"),
            ("iso", "2027-04-11T16:14:05.25-0500"),
            ("day-first", "11.04.2027 21:14:05,25"),
            ("day-first", "11/4/27 9:14:05.25 pm"),
            ("day-first", "11-04-2027 21:14:05:250"),
            ("month-first", "04/11/2027, 09:14:05.250 PM"),
            ("%d.%m.%y %H:%M:%S%.f", "11.04.27 21:14:05,25"),
        ] {
            assert_eq!(seconds(format, text), wanted, "{format}: {text}");
        }
        assert_eq!(seconds("time-of-day", "00:01:02,5"), Some(62.5));
        assert_eq!(seconds("%H.%M.%S", "00.01.02"), Some(62.0));
        assert!(
            TimeFormat::of("%H.%M.%S").unwrap().is_daily() && !TimeFormat::of("%F %T").unwrap().is_daily()
        );
    }

    #[test]
    fn what_is_written_otherwise_is_no_stamp() {
        for (format, text) in [
            ("iso", "11.04.2027 09:14:05"),
            ("iso", "2027-04-31T09:14:05"),
            ("day-first", "04/13/2027 09:14:05"),
            ("day-first", "11.04.2027"),
            ("month-first", "13/04/2027 09:14"),
            ("time-of-day", "24:00:00"),
            ("time-of-day", "09:14:05."),
            ("time-of-day", "13:14 PM"),
            ("time-of-day", "09"),
            ("time-of-day", "+"),
            ("time-of-day", "é:é"),
            ("%H:%M", "9"),
            ("%", "9"),
        ] {
            assert_eq!(seconds(format, text), None, "{format}: {text}");
        }
        let why = TimeFormat::of("european").unwrap_err();
        assert!(why.contains("day-first") && why.contains('%'), "{why}");
    }
}

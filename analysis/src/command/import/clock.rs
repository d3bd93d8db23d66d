//! The times of a file's rows as run time.

use ingest::assemble::Row;
use std::collections::BTreeMap;

/// Where a row begins: as the reader of CSV knows it, empty lines before it included.
pub type Place = csv::Position;

const DAY_S: f64 = 86_400.0;

/// The file's time as run time, which starts at 0 and only rises. Rows of one time are taken together.
pub struct Clock {
    /// Times of day: after midnight they begin anew.
    daily: bool,
    /// Rows of one time may be spread.
    spreads: bool,
    midnights: u32,
    first_s: Option<f64>,
    before_s: f64,
    /// The times, and how many rows have each; rows that are left out count.
    times: Vec<OneTime>,
    /// Of each row that is kept, which of its time it is.
    kept: Vec<u32>,
    repeated: Option<Place>,
}

struct OneTime {
    us: u64,
    rows: u32,
    first: Place,
}

impl Clock {
    pub fn new(daily: bool, spreads: bool) -> Self {
        Self {
            daily,
            spreads,
            midnights: 0,
            first_s: None,
            before_s: f64::NEG_INFINITY,
            times: Vec::new(),
            kept: Vec::new(),
            repeated: None,
        }
    }

    /// Run time of the next row of the file.
    pub fn next_us(&mut self, t_s: f64, place: &Place, kept: bool) -> Result<u64, String> {
        if self.daily && t_s + f64::from(self.midnights) * DAY_S < self.before_s - DAY_S / 2.0 {
            self.midnights += 1;
        }
        let t_s = if self.daily { t_s + f64::from(self.midnights) * DAY_S } else { t_s };
        let since_s = t_s - *self.first_s.get_or_insert(t_s);
        let us = (since_s * 1e6).round();
        let before_us = self.times.last().map(|time| time.us);
        if let Some(before_us) = before_us
            && (us < before_us as f64 || (us == before_us as f64 && !self.spreads))
        {
            return Err(format!(
                "time does not rise: {} s after {} s since the first row; sort the rows by time, or take this one out",
                short(since_s),
                before_us as f64 / 1e6
            ));
        }
        // A day is more than any recording.
        if !(0.0..DAY_S * 1e6).contains(&us) {
            return Err(format!(
                "{} s since the first row is more than a day: is the time in that unit?",
                short(since_s)
            ));
        }
        let us = us as u64;
        self.before_s = t_s;
        match self.times.last_mut().filter(|time| time.us == us) {
            Some(time) => {
                time.rows += 1;
                self.repeated.get_or_insert_with(|| place.clone());
            }
            None => self.times.push(OneTime { us, rows: 1, first: place.clone() }),
        }
        if kept {
            self.kept.push(self.times.last().map_or(0, |time| time.rows - 1));
        }
        Ok(us)
    }

    /// Sets rows of one time apart, where each time has as many, and counts from the first row. Says what it did.
    ///
    /// # Errors
    /// The place of a row, and why the rows of its time cannot be set apart.
    pub fn settle(&self, rows: &mut [Row]) -> Result<Vec<String>, (Place, String)> {
        let mut said = Vec::new();
        if self.midnights > 0 {
            said.push("the time of day passes midnight".to_owned());
        }
        if let Some(repeated) = &self.repeated {
            let (each, step_us) = self.even(repeated)?;
            let mut at = 0;
            for (row, slot) in rows.iter_mut().zip(&self.kept) {
                at += self.times.iter().skip(at).position(|time| time.us == row.t_us).unwrap_or(0);
                // What the first time lacks came before the file began.
                let lacks = if at == 0 { self.times.first().map_or(0, |time| each - time.rows) } else { 0 };
                row.t_us += u64::from(slot + lacks) * step_us / u64::from(each);
            }
            said.push(format!(
                "{each} rows have each time: spread evenly over its {} s",
                step_us as f64 / 1e6
            ));
        }
        let first_us = rows.first().map_or(0, |row| row.t_us);
        if self.spreads {
            rows.iter_mut().for_each(|row| row.t_us -= first_us);
        }
        Ok(said)
    }

    /// How many rows each time has, and how long it lasts in µs.
    fn even(&self, repeated: &Place) -> Result<(u32, u64), (Place, String)> {
        let refused = |place: &Place, found: String| {
            let why = "time does not rise";
            let cure = "leave t_s out, and give the rows a second with --rate HZ";
            Err((place.clone(), format!("{why}: {found}; {cure}")))
        };
        let steps = || self.times.iter().zip(self.times.iter().skip(1)).map(|(one, next)| next.us - one.us);
        let Some(step_us) = steps().min() else {
            return refused(repeated, "all rows have one time".to_owned());
        };
        let last = self.times.len() - 1;
        let mut counts: BTreeMap<u32, usize> = BTreeMap::new();
        self.times.iter().for_each(|time| *counts.entry(time.rows).or_default() += 1);
        let each = counts.into_iter().max_by_key(|(_, times)| *times).map_or(1, |(rows, _)| rows);
        // The first and the last may be cut off by the file's ends, if others say how many there are.
        let wrong = (0..).zip(&self.times).find(|(k, time)| {
            let cut_off = last >= 2 && (*k == 0 || *k == last) && time.rows < each;
            time.rows != each && !cut_off
        });
        if let Some((_, time)) = wrong {
            let found = format!(
                "{} rows have the time of this one, others {each}, and only where all have as many are they spread",
                time.rows
            );
            return refused(if last >= 2 { &time.first } else { repeated }, found);
        }
        if u64::from(each) > step_us || steps().any(|step| step % step_us != 0) {
            return refused(repeated, format!("{each} rows have one time, and times are apart unevenly"));
        }
        Ok((each, step_us))
    }
}

/// A number of seconds, as short as it can be said.
fn short(seconds: f64) -> String {
    if seconds.abs() < 1e9 { seconds.to_string() } else { format!("{seconds:e}") }
}

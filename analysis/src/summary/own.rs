//! The user's own columns: their figures, and their spectrum for whoever asks. No verdict is built on them.

use ingest::plow::OwnColumn;
use schemars::JsonSchema;
use serde::Serialize;
use signals::run::Table;
use signals::{WorkingPart, even_stretches};
use spectra::welch::{segment_len_for, welch};
use stats::Moments;

/// Times that differ by less are the same: a file has them to the microsecond, and the ends of the working part are sums.
const SAME_S: f64 = 1e-6;

/// The readings of one such column, as they were recorded.
#[derive(Clone, Debug)]
pub struct OwnReadings {
    /// Which.
    pub column: OwnColumn,
    /// Run time of each reading, s; rows without one are not among them.
    t_s: Vec<f64>,
    /// The readings, in the column's unit.
    values: Vec<f64>,
}

/// Figures of one such column over the working part.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct OwnFigures {
    /// Its column in the tables: `own_engine_speed`.
    pub column: String,
    /// Its name, by the user.
    pub name: String,
    /// Its unit, by the user: that of mean, SD, least and most.
    pub unit: String,
    /// Mean of the readings, in the column's unit; null without one.
    pub mean: Option<f64>,
    /// Standard deviation (divisor n − 1), in the column's unit; null with fewer than two readings.
    pub sd: Option<f64>,
    /// The least reading, in the column's unit.
    pub least: Option<f64>,
    /// The largest reading, in the column's unit.
    pub most: Option<f64>,
    /// Rows of the working part with a reading, which all of this is of.
    pub rows: usize,
    /// How often more than one and a half of its usual time went by from one reading to the next.
    pub gaps: usize,
    /// Its spectrum, where it was asked for and the readings allow one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spectrum: Option<OwnSpectrum>,
}

/// A one-sided power spectral density by Welch's method, with its settings.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(extend("unit" = "square of the column's unit per Hz"))]
pub struct OwnSpectrum {
    /// Each bin, Hz.
    pub frequency_hz: Vec<f64>,
    /// One-sided density of each bin, square of the column's unit per Hz; its sum times the distance of the bins is the
    /// variance (mean removed by segment).
    pub density: Vec<f64>,
    /// Readings a second that it was worked out from, Hz.
    pub rate_hz: f64,
    /// Window over each segment: a periodic Hann window.
    pub window: &'static str,
    /// Length of a segment, s.
    pub segment_s: f64,
    /// Share of a segment that overlaps with the next.
    pub overlap_share: f64,
    /// Segments averaged; none reaches over a gap.
    pub segments: usize,
    /// Equivalent χ² degrees of freedom of a bin.
    pub dof: f64,
}

impl OwnReadings {
    /// Takes the readings of these columns out of the tables, in the order of the description.
    pub(super) fn take(columns: Vec<OwnColumn>, tables: &mut [Table]) -> Vec<Self> {
        let of_column = |column: OwnColumn| {
            let table = tables.iter_mut().find(|table| table.own.contains_key(column.column()))?;
            let values = table.own.remove(column.column())?;
            let there = table.t_s.iter().copied().zip(values).filter(|(_, value)| value.is_finite());
            let (t_s, values) = there.unzip();
            Some(Self { column, t_s, values })
        };
        columns.into_iter().filter_map(of_column).collect()
    }

    /// Times and readings of the working part.
    fn within(&self, part: WorkingPart) -> (&[f64], &[f64]) {
        let from = self.t_s.partition_point(|t_s| *t_s < part.from_s - SAME_S);
        let to = self.t_s.partition_point(|t_s| *t_s <= part.to_s + SAME_S).max(from);
        (self.t_s.get(from..to).unwrap_or(&[]), self.values.get(from..to).unwrap_or(&[]))
    }

    /// Its figures, without a spectrum.
    pub(super) fn figures(&self, part: WorkingPart) -> OwnFigures {
        let (t_s, values) = self.within(part);
        let moments = Moments::of(values);
        let some = |of: fn(f64, f64) -> f64| values.iter().copied().reduce(of);
        OwnFigures {
            column: self.column.column().to_owned(),
            name: self.column.name().to_owned(),
            unit: self.column.unit().to_owned(),
            mean: (moments.count > 0).then_some(moments.mean),
            sd: moments.sd(),
            least: some(f64::min),
            most: some(f64::max),
            rows: values.len(),
            gaps: even_stretches(t_s, values).map_or(0, |(_, stretches)| stretches.len().saturating_sub(1)),
            spectrum: None,
        }
    }

    /// Its spectrum over the working part.
    ///
    /// # Errors
    /// A sentence that says why there is none.
    pub fn spectrum(&self, part: WorkingPart) -> Result<OwnSpectrum, String> {
        let (t_s, values) = self.within(part);
        let none = |why: &str| format!("{}: no spectrum: {why}", self.column.column());
        let even = even_stretches(t_s, values).ok_or_else(|| none("it has fewer than two readings"))?;
        let (rate_hz, stretches) = even;
        let lengths: Vec<usize> = stretches.iter().map(Vec::len).collect();
        let segment_len = segment_len_for(&lengths, rate_hz);
        let stretches: Vec<&[f64]> = stretches.iter().map(Vec::as_slice).collect();
        let found = welch(&stretches, rate_hz, segment_len);
        let found = found.map_err(|_| none("its readings are too few, or too torn, for one"))?;
        Ok(OwnSpectrum {
            frequency_hz: found.frequency_hz,
            density: found.density,
            rate_hz,
            window: "hann",
            segment_s: segment_len as f64 / rate_hz,
            overlap_share: 0.5,
            segments: found.segments,
            dof: found.dof,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    fn readings(rows: impl Iterator<Item = (f64, f64)>) -> OwnReadings {
        let column = OwnColumn::new("engine speed", "1/min").unwrap();
        let (t_s, values): (Vec<f64>, Vec<f64>) = rows.unzip();
        let own = [(column.column().to_owned(), values)].into();
        let mut tables = [Table::default(), Table { t_s, own, ..Table::default() }];
        let other = OwnColumn::new("not there", "1").unwrap();
        let mut taken = OwnReadings::take(vec![other, column], &mut tables);
        assert!(taken.len() == 1 && tables[1].own.is_empty());
        taken.remove(0)
    }

    const PART: WorkingPart = WorkingPart { from_s: 10.0, to_s: 70.0 };

    #[test]
    fn figures_are_of_the_rows_of_the_working_part_that_have_a_reading() {
        // Ten a second of which every second is empty; far off outside of the part; two seconds are missing.
        let rows = (0..800).map(|k| f64::from(k) / 10.0).filter(|t| !(30.0..32.0).contains(t)).map(|t| {
            let empty = (t * 10.0).round() as u32 % 2 == 1;
            let value = if (10.0..=70.0).contains(&t) { 1500.0 + t } else { 9e9 };
            (t, if empty { f64::NAN } else { value })
        });
        let figures = readings(rows).figures(PART);
        assert_eq!((figures.rows, figures.gaps), (291, 1));
        assert_eq!((figures.least, figures.most), (Some(1510.0), Some(1570.0)));
        assert!((figures.mean.unwrap() - 1540.3).abs() < 0.1, "{figures:?}");
        assert!((figures.sd.unwrap() - 17.6).abs() < 0.2, "{figures:?}");
        let json = serde_json::to_value(&figures).unwrap();
        assert_eq!((json["unit"].as_str(), json.get("spectrum")), (Some("1/min"), None));
    }

    #[test]
    fn the_spectrum_has_its_peak_where_the_column_swings_and_says_how_it_was_made() {
        let swing = |t: f64| 1500.0 + 20.0 * (2.0 * PI * 2.5 * t).sin();
        let spectrum =
            readings((0..4000).map(|k| f64::from(k) / 50.0).map(|t| (t, swing(t)))).spectrum(PART).unwrap();
        let peak =
            (0..spectrum.density.len()).max_by(|a, b| spectrum.density[*a].total_cmp(&spectrum.density[*b]));
        assert!((spectrum.frequency_hz[peak.unwrap()] - 2.5).abs() < 0.06);
        let variance: f64 = spectrum.density.iter().sum::<f64>() / spectrum.segment_s;
        assert!((variance / 200.0 - 1.0).abs() < 0.01, "{variance}");
        assert!((spectrum.rate_hz - 50.0).abs() < 1e-6 && spectrum.segments >= 5, "{spectrum:?}");
    }

    #[test]
    fn what_has_no_readings_has_no_figures_and_says_why_there_is_no_spectrum() {
        for count in [0, 1, 7] {
            let few = readings((0..count).map(|k| (20.0 + f64::from(k), 1.0)));
            let figures = few.figures(PART);
            assert_eq!((figures.rows, figures.mean.is_some()), (count as usize, count > 0));
            assert_eq!(figures.sd.is_some(), count > 1);
            let why = few.spectrum(PART).unwrap_err();
            assert!(why.starts_with("own_engine_speed: no spectrum: it"), "{why}");
        }
        assert_eq!(readings([(0.0, f64::NAN)].into_iter()).figures(PART).rows, 0);
    }
}

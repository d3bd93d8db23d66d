//! What each content draws on its page.

use super::chart_content::Strip;
use super::charts::{Size, dots, measuring, scatter, spectrum, strip, wall};
use super::content::{ComparisonContent, RunContent, StaticsContent, TopContent};
use super::measuring::MeasuringContent;
use super::wall_content::WallContent;
use super::{Charts, Content, Result, Sheets};

impl Content for ComparisonContent {
    const TEMPLATE: &'static str = include_str!("templates/comparison.typ");

    fn ident(&self) -> String {
        format!("comparison {} {:?}", self.head.title, &*self.foot.provenance)
    }

    fn draw(&self, charts: &mut Charts) -> Result {
        // Dots stay dots: only their height follows the spacing.
        let size = Size { width_mm: 60.0, height_mm: charts.size(0.0, 13.0).height_mm.clamp(8.0, 17.0) };
        for (place, row) in self.rows.iter().enumerate() {
            let (a, b) = (&row.runs_a, &row.runs_b);
            let alt = format!("{}: {} runs of A and {} runs of B", row.name, a.len(), b.len());
            charts.put(&format!("dots{place}"), size, &alt, dots::draw(a, b, size)?);
        }
        Ok(())
    }
}

impl Content for StaticsContent {
    const TEMPLATE: &'static str = include_str!("templates/statics.typ");

    fn ident(&self) -> String {
        format!("statics {} {:?}", self.head.title, &*self.foot.provenance)
    }

    fn draw(&self, charts: &mut Charts) -> Result {
        charts.gauge(self.gauge.as_ref(), "Expected balance index")?;
        charts.forces(self.forces.as_ref(), "Side view of the plow with its forces to scale")
    }
}

impl Content for TopContent {
    const TEMPLATE: &'static str = include_str!("templates/top.typ");

    fn ident(&self) -> String {
        format!("top {} {:?}", self.head.title, &*self.foot.provenance)
    }

    fn draw(&self, charts: &mut Charts) -> Result {
        let size = charts.size(1.0, 92.0);
        let alt = "Plow and tractor from above with their forces to scale";
        charts.put("top", size, alt, wall::from_above(&self.panel, size)?);
        Ok(())
    }
}

impl Content for WallContent {
    const TEMPLATE: &'static str = include_str!("templates/wall.typ");

    fn ident(&self) -> String {
        format!("wall {} {}", self.title, self.provenance)
    }

    fn draw(&self, charts: &mut Charts) -> Result {
        let size = Size::landscape(charts.paper);
        let [weight, pull, soil, front, tail] = self.now.forces();
        let forces = [tail, front, weight, soil, pull].map(|arrow| arrow.label.as_str()).join(", ");
        let alt = format!("Side view of {} with its forces to scale: {forces}.", self.plow);
        charts.put("wall", size, &alt, wall::draw(self, size)?);
        Ok(())
    }
}

impl Content for MeasuringContent {
    const TEMPLATE: &'static str = include_str!("templates/measuring.typ");

    fn ident(&self) -> String {
        let kinds: Vec<&str> = self.kinds.iter().map(|kind| &*kind.name).collect();
        format!("measuring {} {}", kinds.join(", "), self.provenance)
    }

    /// Every page of every kind is one.
    fn sheets(&self, _: Sheets) -> Option<usize> {
        Some(self.kinds.iter().map(|kind| kind.pages.len()).sum())
    }

    fn draw(&self, charts: &mut Charts) -> Result {
        let size = charts.size(0.485, 26.0);
        for one in self.kinds.iter().flat_map(|kind| kind.pages.iter().flatten()) {
            let alt = format!("Where to measure {}: {}", one.what, one.how);
            charts.put(&one.chart, size, &alt, measuring::draw(&one.drawing, size)?);
        }
        Ok(())
    }
}

impl Content for RunContent {
    const TEMPLATE: &'static str = include_str!("templates/run.typ");

    fn ident(&self) -> String {
        format!("run {} {:?}", self.head.title, &*self.foot.provenance)
    }

    fn draw(&self, charts: &mut Charts) -> Result {
        let alt = self.gauge.as_ref().map_or("Balance index: not shown".to_owned(), |g| {
            format!("Balance index {:.2}, 95 % interval {:.2} to {:.2}", g.value, g.low, g.high)
        });
        charts.gauge(self.gauge.as_ref(), &alt)?;
        let alt = self.forces.as_ref().map_or("Forces: not shown".to_owned(), |f| {
            let labels = f.forces().map(|arrow| arrow.label.as_str());
            format!("Side view of the plow with its forces: {}", labels.join(", "))
        });
        charts.forces(self.forces.as_ref(), &alt)?;
        // On a sheet of their own they have room.
        let (strip_mm, chart_mm) = match charts.sheets {
            // Where a page is full, the strips give way first.
            Sheets::One => {
                (17.0 + 6.0 * ((charts.size(0.0, 1.0).height_mm - 0.56) / 0.44).clamp(0.0, 1.0), 30.0)
            }
            Sheets::Two => (40.0, 60.0),
        };
        let (depth, load) = (self.depth.as_ref(), self.tail_load.as_ref());
        let size = charts.size(1.0, strip_mm);
        let drawn = strip::draw(depth, "depth: not shown", size)?;
        charts.put("depth", size, &strip_alt("Depth", depth), drawn);
        let size = charts.size(1.0, strip_mm + 2.0);
        let drawn = strip::draw(load, "no load was measured that could be shown", size)?;
        charts.put("tail", size, &strip_alt(&load_alt(load), load), drawn);
        let size = charts.size(0.495, chart_mm);
        let alt = match self.spectrum.as_ref().map(|s| (s.bobbing.as_ref(), s)) {
            Some((Some(mark), s)) => format!("Spectrum of the {} with a peak: {}", s.name, mark.label),
            Some((None, s)) => format!("Spectrum of the {}: {}", s.name, s.no_bobbing),
            None => "Spectrum: not shown".to_owned(),
        };
        charts.put("spectrum", size, &alt, spectrum::draw(self.spectrum.as_ref(), size)?);
        let note = self.pull_tail.as_ref().map_or("", |scatter| &*scatter.note);
        let alt = format!("Tail load against pull, with the slopes that statics expects. {note}");
        charts.put("scatter", size, &alt, scatter::draw(self.pull_tail.as_ref(), size)?);
        Ok(())
    }
}

/// Name of the strip of the load, as a sentence begins.
fn load_alt(strip: Option<&Strip>) -> String {
    let name = strip.map_or("load", |strip| strip.name.as_str());
    let mut letters = name.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

fn strip_alt(name: &str, strip: Option<&Strip>) -> String {
    let Some(strip) = strip else { return format!("{name}: not shown") };
    let mean = strip.mean.filter(|mean| mean.is_finite());
    let mean = mean.map(|mean| format!(", mean {mean:.1} {}", strip.unit));
    format!("{name} against time{}", mean.unwrap_or_default())
}

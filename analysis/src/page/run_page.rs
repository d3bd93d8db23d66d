//! The page for one run.

use super::charts::{forces, gauge, scatter, spectrum, strip};
use super::content::{RunContent, Strip};
use super::data::{self, Collector};
use super::plain_text::shortened;
use super::{Draft, Format, Layout, PageError, Paper, fit};

/// Makes the page for one run.
///
/// # Errors
/// [`PageError`]: what could not be drawn or set, or that the content does not fit on one page.
pub fn render_run(content: &RunContent, paper: Paper, format: Format) -> Result<Vec<u8>, PageError> {
    let ident = format!("run {} {:?}", content.head.title, content.foot.provenance);
    fit(include_str!("templates/run.typ"), &ident, paper, format, |layout| draft(content, layout))
}

pub(super) fn draft(content: &RunContent, layout: Layout) -> Result<Draft, PageError> {
    let mut page = Collector::new(layout, "one run", &content.head, &content.foot);
    page.put("verdict", data::verdict(&content.verdict));
    page.put("figures", data::figures(&content.figures).into());
    page.put("advice", data::within(&content.advice, 900).into());
    page.put("causes", data::sentences(&content.causes, 3, 150).into());
    page.put("order_of_work", shortened(&content.order_of_work, 140).into());
    page.put("quality", data::within(&content.quality, 700).into());
    page.put("cautions", data::within(&content.cautions, 500).into());
    draw_balance(&mut page, content)?;
    draw_series(&mut page, content)?;
    Ok(page.finish())
}

fn draw_balance(page: &mut Collector, content: &RunContent) -> Result<(), PageError> {
    // The gauge keeps its height in every layout: it carries the verdict.
    let size = super::charts::Size { height_mm: 20.0, ..page.size(0.665, 0.0) };
    let alt = content.gauge.as_ref().map_or("Balance index: not shown".to_owned(), |g| {
        format!("Balance index {:.2}, 95 % interval {:.2} to {:.2}", g.value, g.low, g.high)
    });
    page.chart("gauge", size, &alt, gauge::draw(content.gauge.as_ref(), size)?);
    let size = page.size(0.64, 44.0);
    let alt = content.forces.as_ref().map_or("Forces: not shown".to_owned(), |f| {
        let labels =
            [&f.weight, &f.pull, &f.soil, &f.front_load, &f.tail_load].map(|arrow| arrow.label.as_str());
        format!("Side view of the plow with its forces: {}", labels.join(", "))
    });
    page.chart("forces", size, &alt, forces::draw(content.forces.as_ref(), size)?);
    Ok(())
}

fn draw_series(page: &mut Collector, content: &RunContent) -> Result<(), PageError> {
    let size = page.size(1.0, 23.0);
    let drawn = strip::draw(content.depth.as_ref(), "depth: not shown", size)?;
    page.chart("depth", size, &strip_alt("Depth", content.depth.as_ref()), drawn);
    let size = page.size(1.0, 26.0);
    let drawn = strip::draw(content.tail_load.as_ref(), "no load was measured that could be shown", size)?;
    page.chart(
        "tail",
        size,
        &strip_alt(&load_alt(content.tail_load.as_ref()), content.tail_load.as_ref()),
        drawn,
    );
    let size = page.size(0.495, 42.0);
    let alt = match content.spectrum.as_ref().map(|s| (s.bobbing.as_ref(), s)) {
        Some((Some(mark), s)) => format!("Spectrum of the {} with a peak: {}", s.name, mark.label),
        Some((None, s)) => format!("Spectrum of the {}: {}", s.name, s.no_bobbing),
        None => "Spectrum: not shown".to_owned(),
    };
    page.chart("spectrum", size, &alt, spectrum::draw(content.spectrum.as_ref(), size)?);
    let alt = "Tail load against pull, with the slopes that statics expects";
    page.chart("scatter", size, alt, scatter::draw(content.pull_tail.as_ref(), size)?);
    Ok(())
}

/// Name of the strip of the load, as a sentence begins.
fn load_alt(strip: Option<&Strip>) -> String {
    let name = strip.map_or("load", |strip| strip.name.as_str());
    let mut letters = name.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

fn strip_alt(name: &str, strip: Option<&Strip>) -> String {
    match strip {
        Some(s) => match s.mean.filter(|mean| mean.is_finite()) {
            Some(mean) => format!("{name} against time, mean {mean:.1} {}", s.unit),
            None => format!("{name} against time"),
        },
        None => format!("{name}: not shown"),
    }
}

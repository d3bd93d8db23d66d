//! The page for one run.

use super::charts::{scatter, spectrum, strip};
use super::content::{RunContent, Strip};
use super::data::{self, Collector};
use super::plain_text::shortened;
use super::{Draft, Format, Layout, PageError, Paper, Sheets, fit};

/// Makes the page for one run, with a second sheet of detail if it is asked for.
///
/// # Errors
/// [`PageError`]: what could not be drawn or set, or that the content does not fit on one page.
pub fn render_run(
    content: &RunContent,
    paper: Paper,
    format: Format,
    sheets: Sheets,
) -> Result<Vec<u8>, PageError> {
    let ident = format!("run {} {:?}", content.head.title, content.foot.provenance);
    let set = (paper, format, sheets);
    fit(include_str!("templates/run.typ"), &ident, set, |layout| draft(content, layout, sheets))
}

/// The page of a run in one layout.
pub fn draft(content: &RunContent, layout: Layout, sheets: Sheets) -> Result<Draft, PageError> {
    let mut page = Collector::new(layout, "one run", &content.head, &content.foot);
    page.put("verdict", data::verdict(&content.verdict));
    page.put("figures", data::figures(&content.figures).into());
    page.put("advice", data::what_to_do(&content.advice));
    page.put("detail", (sheets == Sheets::Two).into());
    page.put("causes", data::sentences(&content.causes, 3, 150).into());
    page.put("order_of_work", shortened(&content.order_of_work, 140).into());
    page.put("quality", data::within(&content.quality, 700).into());
    page.put("cautions", data::within(&content.cautions, 500).into());
    draw_balance(&mut page, content)?;
    draw_series(&mut page, content, sheets)?;
    Ok(page.finish())
}

fn draw_balance(page: &mut Collector, content: &RunContent) -> Result<(), PageError> {
    let alt = content.gauge.as_ref().map_or("Balance index: not shown".to_owned(), |g| {
        format!("Balance index {:.2}, 95 % interval {:.2} to {:.2}", g.value, g.low, g.high)
    });
    page.gauge(content.gauge.as_ref(), &alt)?;
    let alt = content.forces.as_ref().map_or("Forces: not shown".to_owned(), |f| {
        let labels =
            [&f.weight, &f.pull, &f.soil, &f.front_load, &f.tail_load].map(|arrow| arrow.label.as_str());
        format!("Side view of the plow with its forces: {}", labels.join(", "))
    });
    page.forces(content.forces.as_ref(), &alt)
}

fn draw_series(page: &mut Collector, content: &RunContent, sheets: Sheets) -> Result<(), PageError> {
    // On a sheet of their own they have room.
    let (strip_mm, chart_mm) = match sheets {
        Sheets::One => (17.0, 30.0),
        Sheets::Two => (40.0, 60.0),
    };
    let size = page.size(1.0, strip_mm);
    let drawn = strip::draw(content.depth.as_ref(), "depth: not shown", size)?;
    page.chart("depth", size, &strip_alt("Depth", content.depth.as_ref()), drawn);
    let size = page.size(1.0, strip_mm + 2.0);
    let drawn = strip::draw(content.tail_load.as_ref(), "no load was measured that could be shown", size)?;
    page.chart(
        "tail",
        size,
        &strip_alt(&load_alt(content.tail_load.as_ref()), content.tail_load.as_ref()),
        drawn,
    );
    let size = page.size(0.495, chart_mm);
    let alt = match content.spectrum.as_ref().map(|s| (s.bobbing.as_ref(), s)) {
        Some((Some(mark), s)) => format!("Spectrum of the {} with a peak: {}", s.name, mark.label),
        Some((None, s)) => format!("Spectrum of the {}: {}", s.name, s.no_bobbing),
        None => "Spectrum: not shown".to_owned(),
    };
    page.chart("spectrum", size, &alt, spectrum::draw(content.spectrum.as_ref(), size)?);
    let note = content.pull_tail.as_ref().map_or("", |scatter| scatter.note.as_str());
    page.put("scatter_note", shortened(note, 330).into());
    let alt = format!("Tail load against pull, with the slopes that statics expects. {note}");
    page.chart("scatter", size, &alt, scatter::draw(content.pull_tail.as_ref(), size)?);
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

//! Below the views: what every sign means, the scales, figures before and after, safety and provenance.

use super::pieces::{self, BODY, PIN, SOLE, STEADY_MM, WallLine};
use super::top;
use crate::Result;
use crate::charts::canvas::{Canvas, INK, LABEL, Lettering, Mm, Pen, SENTENCE, STEEL, Stand};
use crate::charts::region::Region;
use crate::charts::side_view::{SideView, bottom};
use crate::charts::supports;
use crate::force_diagram::SupportLook;
use crate::wall_content::WallContent;
use strum::VariantArray;

/// Distance of the legend's rows, mm.
const ROW_MM: f64 = 4.7;
/// Rows in a column of the legend.
const ROWS: usize = 10;
/// Width of a column of the legend, mm.
const COLUMN_MM: f64 = 84.0;
/// Room for a sign before its words, mm.
const SIGN_MM: f64 = 16.0;
/// Shares of the sheet's width that the columns of the foot have; the last holds the longest sentences.
const FOOT_SHARES: [f64; 3] = [0.32, 0.29, 0.39];

const WORDS: Lettering = Lettering { size_pt: 9.5, ..SENTENCE };
/// Cautions are no smaller than the words of the legend.
const FOOT: Lettering = WORDS;

pub fn draw(canvas: &Canvas, content: &WallContent, side: Option<&SideView>, region: Region) -> Result {
    let (left, top) = region.corner;
    let foot_top = region.far.1 - 18.0;
    canvas.line(&[(left, top), (region.far.0, top)], Pen(INK, 1.2))?;
    legend(canvas, content, side, (left, top))?;
    let table_left = left + 2.0 * COLUMN_MM + 2.0;
    let table = Region { corner: (table_left, top), far: (region.far.0, foot_top) };
    let below = figures(canvas, content, table)?;
    if let Some(side) = side {
        scales(canvas, content, side, (table_left, below))?;
    }
    foot(canvas, content, Region { corner: (left, foot_top), far: region.far })
}

fn legend(canvas: &Canvas, content: &WallContent, side: Option<&SideView>, (left, top): Mm) -> Result {
    let (now, moved) = (&content.now, content.after.is_some());
    let links = now.members.len() > 1;
    let looks = [now.front.look, now.tail.look];
    let mut count = 0;
    // A sign is drawn from its left end to its right one.
    let mut entry = |words: &str, sign: &dyn Fn(Mm, Mm) -> Result| {
        let at = (left + COLUMN_MM * (count / ROWS) as f64, top + ROW_MM * ((count % ROWS) as f64 + 0.9));
        count += 1;
        sign(at, (at.0 + SIGN_MM, at.1))?;
        let place = (at.0 + SIGN_MM + 2.0, at.1);
        canvas.text(words, place, WORDS.within(words, COLUMN_MM - SIGN_MM - 4.0))
    };
    // The place in the middle of a sign, so far ahead and below.
    let middle = |from: Mm, ahead: f64, below: f64| (from.0 + SIGN_MM / 2.0 + ahead, from.1 + below);
    for line in WallLine::VARIANTS.iter().filter(|line| match line {
        WallLine::PullAfter | WallLine::OffsetAfter => moved,
        WallLine::Link => links,
        _ => true,
    }) {
        entry(&line.words(content.then), &|from, to| pieces::line(canvas, &[from, to], *line))?;
    }
    entry("steady point: resistance meets weight line", &|from, _| {
        supports::diamond(canvas, middle(from, 0.0, 0.0), STEADY_MM)
    })?;
    let pin = if links { "pin, and where the links meet" } else { "pin of the hitch" };
    entry(pin, &|from, _| supports::pin(canvas, middle(from, 0.0, 0.0), PIN))?;
    if moved {
        let pin = if links { "pin, or where links meet, " } else { "pin " };
        entry(&format!("{pin}{}", content.then.words()), &|from, _| {
            pieces::moved_pin(canvas, middle(from, 0.0, 0.0))
        })?;
    }
    entry("bottoms (not their true distances)", &|from, _| {
        bottom(canvas, middle(from, 3.0, 1.6), 2.8, STEEL)
    })?;
    if side.is_some_and(SideView::has_lengthened) {
        entry("a force too short to be seen: drawn longer", &|from, _| {
            let foot = middle(from, 0.0, 1.9);
            pieces::force(canvas, foot, (foot.0, foot.1 - 3.8))
        })?;
    }
    if matches!(now.tail.look, SupportLook::Wheel { sprung: true, .. }) {
        entry("spring of the tail wheel", &|from, _| {
            supports::spring(canvas, (middle(from, 0.0, -2.0), middle(from, 0.0, 2.0)), 1.6, 1.2)
        })?;
    }
    if looks.iter().any(|look| matches!(look, SupportLook::Wheel { .. })) {
        entry("wheel", &|from, _| supports::wheel(canvas, middle(from, 0.0, 1.9), 3.8, 1.6, 0.7))?;
    }
    if now.tail.look == SupportLook::Sole {
        let sole = "heel, sliding on the furrow bottom";
        entry(sole, &|from, _| supports::sole(canvas, middle(from, 0.0, 1.3), SOLE))?;
    }
    if looks.contains(&SupportLook::RollingLandside) {
        entry("rolling landside, inclined to the wall", &|from, _| {
            supports::inclined_wheel(canvas, middle(from, 0.0, 1.6), (4.4, 3.4), 1.4)
        })?;
    }
    entry("frame (not its true shape)", &|from, to| canvas.line(&[from, to], BODY))?;
    entry("travel", &|from, to| canvas.arrow(from, to, Pen(INK, 1.0)))?;
    if content.top.is_some() {
        let plan = "from above: cut, and axles of the tractor";
        entry(plan, &|from, to| canvas.line(&[from, to], top::OUTLINE))?;
    }
    Ok(())
}

/// The table of figures; gives back where it ends.
fn figures(canvas: &Canvas, content: &WallContent, region: Region) -> Result<f64> {
    let moved = content.after.is_some();
    let (left, right) = (region.corner.0, region.far.0);
    let columns = if moved { [right - 26.0, right] } else { [right, right] };
    let words = SENTENCE.sized(11.5);
    let mut y = region.corner.1 + 4.0;
    let heads = if moved { vec!["now", content.then.head()] } else { vec!["now"] };
    for (head, at) in heads.iter().zip(columns) {
        canvas.text(head, (at, y), words.bold().standing(Stand::Left))?;
    }
    for row in &content.figures {
        y += 5.6;
        let room = columns[0] - left - 26.0;
        canvas.text(&row.name, (left, y), words.within(&row.name, room))?;
        for (value, at) in [&row.now, &row.after].into_iter().zip(columns).take(heads.len()) {
            canvas.text(value, (at, y), words.bold().standing(Stand::Left).within(value, 25.0))?;
        }
    }
    Ok(y + 6.0)
}

/// Both scales: the arrow of the force is drawn as the forces are.
fn scales(canvas: &Canvas, content: &WallContent, side: &SideView, (left, y): Mm) -> Result {
    let words = LABEL.sized(11.0).bold().standing(Stand::Right);
    let force = &content.now.force_scale;
    let length = force.size * side.mm_per_n;
    pieces::force(canvas, (left, y), (left + length, y))?;
    canvas.text(&format!("force {}", force.label), (left + length + 2.0, y), words)?;
    top::length_bar(canvas, &content.now.length_scale, side.mm_per_m, (left, y + 6.0))
}

fn foot(canvas: &Canvas, content: &WallContent, region: Region) -> Result {
    let (left, top) = region.corner;
    canvas.line(&[(left, top), (region.far.0, top)], Pen(INK, 1.2))?;
    let widths_mm = FOOT_SHARES.map(|share| region.width() * share);
    let columns = columns(&content.safety, widths_mm.map(|width_mm| width_mm - 5.0));
    let rows = columns.iter().map(Vec::len).max().unwrap_or(1).max(1);
    let step = (14.0 / rows as f64).min(4.2);
    let mut x = left;
    for (lines, width_mm) in columns.iter().zip(widths_mm) {
        for (i, text) in lines.iter().enumerate() {
            let at = (x, top + 3.0 + step * i as f64);
            canvas.text(text, at, FOOT.within(text, width_mm - 3.0))?;
        }
        x += width_mm;
    }
    let says = &content.provenance;
    canvas.text(says, (left, region.far.1 - 1.0), FOOT.sized(7.5).within(says, region.width()))
}

/// A sentence in lines of this width; a mark leads the first.
fn wrapped(sentence: &str, width_mm: f64) -> Vec<String> {
    pieces::wrapped(sentence, FOOT, width_mm, ("• ", "  "))
}

/// Sentences as columns of lines, none parted between two columns: of all ways to do so the one of which the longest
/// column is shortest.
fn columns(sentences: &[String], widths_mm: [f64; 3]) -> [Vec<String>; 3] {
    let count = sentences.len();
    let column = |from: usize, to: usize, width_mm: f64| -> Vec<String> {
        sentences.iter().take(to).skip(from).flat_map(|sentence| wrapped(sentence, width_mm)).collect()
    };
    let [first, second, third] = widths_mm;
    (0..=count)
        .flat_map(|a| (a..=count).map(move |b| (a, b)))
        .map(|(a, b)| [column(0, a, first), column(a, b, second), column(b, count, third)])
        .min_by_key(|columns| columns.iter().map(Vec::len).max())
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use ingest::safety::CAUTIONS;

    #[test]
    fn no_caution_loses_a_word() {
        for caution in CAUTIONS {
            let lines = wrapped(caution, 80.0);
            assert!(lines.iter().all(|line| FOOT.width_mm(line) <= 82.0), "{lines:?}");
            let again: Vec<&str> = lines.iter().flat_map(|line| line.split_whitespace()).skip(1).collect();
            assert_eq!(again.join(" "), caution);
        }
    }

    /// Found on the wall sheet: the caution for load cells began in one column and ended in the next.
    #[test]
    fn every_caution_is_in_one_column() {
        let cautions = CAUTIONS.map(str::to_owned);
        for sheet_mm in [261.0, 279.0] {
            let widths_mm = FOOT_SHARES.map(|share| share * sheet_mm - 5.0);
            let columns = columns(&cautions, widths_mm);
            let whole =
                columns.iter().flat_map(|lines| lines.join(" ").split('•').map(plain).collect::<Vec<_>>());
            let whole: Vec<String> = whole.filter(|sentence| !sentence.is_empty()).collect();
            assert_eq!(whole, cautions);
            assert!(columns.iter().all(|lines| (1..=4).contains(&lines.len())), "{columns:?}");
        }
    }

    fn plain(text: &str) -> String {
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }
}

//! The verdict on the last run: among the figures if all of it has room there, and on a sheet of its own. An order is
//! never shown without the caution that stands behind it.

use super::pen::Pen;
use super::scene::Scene;
use super::text::{broken, cut};
use crate::live::PassState;

/// What stands among the figures where not all of it has room.
const MORE: &str = "v shows all of it: verdict, move and cautions";

/// Each text stands alone: a caution is in the text of its order.
fn said(scene: &Scene<'_>) -> Vec<String> {
    match &scene.now.last_pass {
        None => vec!["no run yet".to_owned()],
        Some(pass) => match pass.state {
            // Why there is none is all that there is to be told.
            PassState::Failed => {
                let why = pass.lines.of(scene.hand.units).join(" ");
                vec![format!("last run {}: {}: {why}", pass.run, pass.headline)]
            }
            PassState::WorkingOut => vec![format!("last run {}: being worked out", pass.run)],
            PassState::Ready => {
                let units = scene.hand.units;
                let verdict = format!("last run {}: {}", pass.run, pass.headline);
                let more = pass.lines.of(units).iter().chain(pass.comparison.of(units));
                std::iter::once(verdict).chain(more.cloned()).collect()
            }
        },
    }
}

pub(super) fn draw(scene: &Scene<'_>, pen: &mut Pen<'_>, line: &mut usize, lines: usize) {
    let said = said(scene);
    let in_lines = |text: &String| broken(text, pen.width().saturating_sub(2));
    let mut shown: Vec<String> = said.iter().flat_map(in_lines).collect();
    if shown.len() > lines {
        shown = cut(said.first().map(in_lines).unwrap_or_default(), lines.saturating_sub(1));
        shown.push(MORE.to_owned());
    }
    for (place, text) in shown.iter().enumerate() {
        let style = if place == 0 { scene.look.bold() } else { scene.look.plain() };
        pen.text(*line + place, 1, text, style);
    }
    *line += lines;
}

/// Pages of so many lines; a text is on one page if a page can hold it.
fn pages_of(said: &[String], width: usize, lines: usize) -> Vec<Vec<String>> {
    let mut pages: Vec<Vec<String>> = vec![Vec::new()];
    for text in said {
        for part in broken(text, width).chunks(lines) {
            match pages.last_mut() {
                Some(page) if page.len() + part.len() <= lines => page.extend_from_slice(part),
                _ => pages.push(part.to_vec()),
            }
        }
    }
    pages
}

pub(super) fn draw_sheet(scene: &Scene<'_>, pen: &mut Pen<'_>, page: usize) {
    let lines = usize::from(pen.area.height).saturating_sub(1).max(1);
    let pages = pages_of(&said(scene), pen.width().saturating_sub(2).max(1), lines);
    let page = page % pages.len();
    for (line, text) in pages.iter().skip(page).take(1).flatten().enumerate() {
        let style = if page == 0 && line == 0 { scene.look.bold() } else { scene.look.plain() };
        pen.text(line, 1, text, style);
    }
    let keys = match pages.len() {
        1 => "Any key goes back.".to_owned(),
        all => format!("Page {} of {all}. v: the next. Any other key goes back.", page + 1),
    };
    pen.text(lines, 1, &keys, scene.look.at_work());
}

#[cfg(test)]
mod tests {
    use crate::live::{LastPass, PassState};
    use crate::panel::draw::tests::{seen_on, snapshot};
    use crate::reader_units::InBothUnits;

    /// Found: "no verdict" alone stood there, and why on a sheet of its own.
    #[test]
    fn a_pass_without_a_verdict_says_why_where_the_verdict_would_stand() {
        let mut now = snapshot();
        let why = vec!["The plow worked for 3.2 s, and a verdict needs 6 s: make a longer pass.".to_owned()];
        let lines = InBothUnits { si: why.clone(), us: why };
        let headline = "NO VERDICT ON THIS PASS".to_owned();
        now.last_pass =
            now.last_pass.map(|pass| LastPass { state: PassState::Failed, headline, lines, ..pass });
        let words = seen_on(&now, (60, 24)).split_whitespace().collect::<Vec<_>>().join(" ");
        let said = "NO VERDICT ON THIS PASS: The plow worked for 3.2 s, and a verdict needs 6 s: make a longer pass.";
        assert!(words.contains(said), "{words}");
    }
}

//! What is seen: one value in, signs on a screen out.

use super::bar::{Cell, Column, bar, place, strip};
use super::foot;
use super::keys::Sheet;
use super::last_run;
use super::link_sheet;
use super::pen::{Look, Pen};
use super::scene::Scene;
use super::text::{broken, counted, cut, time};
use crate::balance::{Balance, Shown};
use crate::live::{Phase, Snapshot, TroubleKind};
use ingest::calibration::ZERO_HINT;
use ingest::safety::CAUTIONS;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

/// The strip goes back so far, in s.
const STRIP_S: f64 = 20.0;
/// Smaller, and only what matters most is said.
pub(super) const COLUMNS_MIN: u16 = 60;
pub(super) const LINES_MIN: u16 = 20;
/// Lines besides the strip, the last pass and the notices.
const LINES_FIXED: usize = 13;
/// What is wrong takes so many at most; the strip keeps one.
const TROUBLE_LINES_MAX: usize = 3;

/// Draws it all.
pub(super) fn draw(scene: &Scene<'_>, area: Rect, buffer: &mut Buffer) {
    let mut pen = Pen { buffer, area, look: scene.look };
    match scene.hand.sheet {
        Sheet::Figures => {}
        Sheet::Cautions => return draw_cautions(scene, &mut pen),
        Sheet::Link(number) => return link_sheet::draw(scene, number, &mut pen),
        Sheet::LastRun(page) => return last_run::draw_sheet(scene, &mut pen, page),
    }
    if area.width < COLUMNS_MIN || area.height < LINES_MIN {
        return draw_little(scene, &mut pen);
    }
    let spare = usize::from(area.height) - LINES_FIXED;
    // At 20 lines: 3 of strip, 2 of the last pass, 2 of notices; of the rest the strip gets half. What is wrong takes from it.
    let (strip_lines, pass_lines) = (3 + (spare - 7) / 2, 2 + (spare - 7) / 4);
    let notice_lines = spare - strip_lines - pass_lines;
    let wrong = cut(broken(&troubles(scene), pen.width() - 4), TROUBLE_LINES_MAX);
    let strip_lines = strip_lines - wrong.len().saturating_sub(1);
    let mut line = 0;
    draw_state(scene, &mut pen, &mut line);
    draw_troubles(scene, &mut pen, &mut line, &wrong);
    draw_load(scene, &mut pen, &mut line);
    draw_strip(scene, &mut pen, &mut line, strip_lines);
    draw_balance(scene, &mut pen, &mut line);
    draw_figures(scene, &mut pen, &mut line);
    last_run::draw(scene, &mut pen, &mut line, pass_lines);
    foot::draw_notices(scene, &mut pen, &mut line, notice_lines);
    foot::draw_hand(scene, &mut pen, &mut line);
}

fn draw_cautions(scene: &Scene<'_>, pen: &mut Pen<'_>) {
    let zero = format!("For a zero check of the pull, {ZERO_HINT}.");
    let mut line = 1;
    for caution in CAUTIONS.into_iter().chain([zero.as_str()]) {
        for part in broken(caution, pen.width().saturating_sub(2)) {
            pen.text(line, 1, &part, scene.look.bold());
            line += 1;
        }
    }
    pen.text(line + 1, 1, "Any key goes on; what is recorded is recorded meanwhile.", scene.look.plain());
}

/// On a screen that is too small for the rest: the state, what is wrong, the load.
fn draw_little(scene: &Scene<'_>, pen: &mut Pen<'_>) {
    let mut line = 0;
    draw_state(scene, pen, &mut line);
    let wrong = cut(broken(&troubles(scene), pen.width().saturating_sub(4)), 2);
    draw_troubles(scene, pen, &mut line, &wrong);
    let name = scene.now.load.as_ref().map_or("load", |load| load.name);
    pen.text(
        line,
        1,
        &format!("{name} {}", scene.hand.units.force(scene.now.tail_load_n)),
        lifted_style(scene),
    );
    if scene.now.lifted {
        pen.text(line + 1, 1, "LIFTED", scene.look.wrong());
    }
    let too_small = format!("Too small for the panel: {COLUMNS_MIN} by {LINES_MIN}.");
    pen.text(line + 2, 1, &too_small, scene.look.plain());
    if let Some(question) = scene.hand.question.in_words(scene.now.phase == Phase::Recording) {
        pen.text(line + 3, 1, question, scene.look.bold());
    }
}

fn draw_state(scene: &Scene<'_>, pen: &mut Pen<'_>, line: &mut usize) {
    let (now, look) = (scene.now, scene.look);
    match (&now.run, now.phase) {
        (Some(run), _) => {
            let column = pen.text(*line, 0, " RECORDING ", look.at_work()) + 2;
            let mut told = vec![(time(run.t_s), look.bold())];
            match now.silent_s {
                Some(silent_s) => told.push((format!(" no readings for {} ", time(silent_s)), look.wrong())),
                None if run.losses.is_empty() => told.push(("nothing lost".to_owned(), look.plain())),
                None => {}
            }
            told.push((counted(run.marks, "mark", "marks"), look.bold()));
            told.push((format!("{} rows", run.rows), look.plain()));
            pen.parts_from(*line, column, &told);
            pen.text(
                *line + 1,
                1,
                &format!("{} with {} shares, into {}", run.setting, run.share, run.name),
                look.plain(),
            );
        }
        (None, Phase::Listening) => {
            pen.text(*line, 0, " LISTENING ", look.at_work());
            pen.text(*line, 12, "not all boxes have answered yet", look.bold());
        }
        (None, _) => {
            let column = pen.text(*line, 0, " STANDS BY ", look.at_work()) + 1;
            let ready = if misses_a_box(now) {
                "nothing is recorded, and a box is missing"
            } else {
                "nothing is recorded"
            };
            pen.text(*line, column, ready, look.bold());
            let setting = now.choice.setting.as_deref();
            let shares = now.choice.share.map_or_else(String::new, |share| format!(" with {share} shares"));
            let next = match setting {
                Some(setting) => format!("next run: {setting}{shares}"),
                None => "next run: no hitch setting chosen (h)".to_owned(),
            };
            pen.text(*line + 1, 1, &next, look.plain());
        }
    }
    *line += 2;
}

/// Whether nothing comes of a box, so that a run would wait for it.
fn misses_a_box(now: &Snapshot) -> bool {
    now.troubles.iter().any(|one| matches!(one.kind, TroubleKind::PortAway | TroubleKind::NoRows))
}

/// What is wrong and since when, the worst first; empty where nothing is.
fn troubles(scene: &Scene<'_>) -> String {
    let now = scene.now;
    let said = now.troubles.iter().map(|one| match one.kind {
        TroubleKind::RowsLost => one.text.clone(),
        _ => format!("{} ({})", one.text, time(now.t_s - one.since_s)),
    });
    said.collect::<Vec<_>>().join("; ")
}

/// What is wrong, or that nothing is, with the boxes.
fn draw_troubles(scene: &Scene<'_>, pen: &mut Pen<'_>, line: &mut usize, wrong: &[String]) {
    let now = scene.now;
    if wrong.is_empty() {
        let boxes: Vec<String> =
            now.boxes.iter().map(|one| format!("{} {:.0}/s", one.name, one.rows_per_s)).collect();
        let mut parts = vec![(format!("rows: {}", boxes.join(", ")), scene.look.plain())];
        if let Some(bytes) = now.disk_free_bytes {
            parts.push((format!("{:.1} GB free", bytes as f64 / 1e9), scene.look.plain()));
        }
        pen.parts(*line, &parts);
        *line += 1;
    }
    for (place, part) in wrong.iter().enumerate() {
        let sign = if place == 0 { "!" } else { " " };
        pen.text(*line, 0, &format!(" {sign} {part} "), scene.look.wrong());
        *line += 1;
    }
}

fn lifted_style(scene: &Scene<'_>) -> Style {
    if scene.now.lifted { scene.look.wrong() } else { scene.look.bold() }
}

fn sign(cell: Cell, look: Look) -> &'static str {
    match cell {
        Cell::Empty => " ",
        Cell::Full => look.sign("█", "#"),
        Cell::Eighths(eighths) => {
            let utf8 = ["▁", "▂", "▃", "▄", "▅", "▆", "▇"].get(usize::from(eighths).wrapping_sub(1));
            look.sign(utf8.copied().unwrap_or(" "), if eighths < 4 { "_" } else { "o" })
        }
        Cell::Part => look.sign("░", ":"),
        Cell::Zone => look.sign("╳", "x"),
    }
}

/// Name and figure, the bar, and the scale under it.
fn draw_load(scene: &Scene<'_>, pen: &mut Pen<'_>, line: &mut usize) {
    let (now, look, units) = (scene.now, scene.look, scene.hand.units);
    let Some(load) = &now.load else {
        let words = match now.phase {
            Phase::Listening => "no readings yet",
            Phase::StandsBy | Phase::Recording => "no load of tail or front is measured",
        };
        pen.text(*line, 1, words, look.plain());
        *line += 3;
        return;
    };
    let column = pen.text(*line, 1, load.name, look.plain()) + 1;
    let column = pen.text(*line, column, &units.force(now.tail_load_n), lifted_style(scene)) + 2;
    if now.lifted {
        pen.text(*line, column, " LIFTED ", look.wrong());
    }
    let width = pen.width() - 4;
    // Where nothing comes any more, the strip is of another time.
    let told = match (now.silent_s, count_of_lifts(&strip_of(scene, width, 1))) {
        (Some(silent_s), _) => format!("not read for {}", time(silent_s)),
        (None, 0) => "no lift".to_owned(),
        (None, lifts) => format!("{} {}", look.sign("╳", "x"), counted(lifts as u64, "lift", "lifts")),
    };
    let of = if now.silent_s.is_some() { String::new() } else { format!("last {STRIP_S:.0} s: ") };
    pen.text_at_right(*line, &format!("{of}{told} "), look.plain());
    let cells: String = bar(now.tail_load_n, load.lifted_under_n, load.scale_n, width)
        .into_iter()
        .map(|cell| sign(cell, look))
        .collect();
    pen.text(*line + 1, 1, look.sign("│", "|"), look.plain());
    pen.text(*line + 1, 2, &cells, if now.lifted { look.wrong() } else { look.plain() });
    pen.text(*line + 1, 2 + width, look.sign("│", "|"), look.plain());
    pen.text_at_right(*line + 2, &format!("{} ", units.force(Some(load.scale_n))), look.plain());
    if let Some(under_n) = load.lifted_under_n {
        let said = format!("{} lifted under {}", look.sign("╳", "x"), units.force(Some(under_n)));
        pen.text(*line + 2, 2, &said, look.plain());
    }
    if let Some(standing_n) = load.standing_n {
        let said = format!("{} standing {}", look.sign("▲", "^"), units.force(Some(standing_n)));
        let at = 2 + super::bar::filled(standing_n, load.scale_n, width).saturating_sub(1);
        pen.text(*line + 2, at, &said, look.plain());
    }
    *line += 3;
}

fn strip_of(scene: &Scene<'_>, width: usize, lines: usize) -> Vec<Column> {
    let Some(load) = &scene.now.load else { return Vec::new() };
    // Rows have a time of their own; where none come any more, it stands still.
    let now_s = scene.strip.last().map_or(0.0, |point| point.t_s);
    strip(scene.strip, (now_s, STRIP_S), (load.scale_n, load.lifted_under_n), (width, lines))
}

/// The strip, and under it where the load lifted.
fn draw_strip(scene: &Scene<'_>, pen: &mut Pen<'_>, line: &mut usize, lines: usize) {
    let look = scene.look;
    let width = pen.width() - 4;
    let columns = if scene.now.silent_s.is_some() { Vec::new() } else { strip_of(scene, width, lines) };
    if columns.is_empty() {
        *line += lines + 1;
        return;
    }
    for from_top in 0..lines {
        let cells: String = columns
            .iter()
            .map(|column| sign(column.cells.get(from_top).copied().unwrap_or(Cell::Empty), look))
            .collect();
        pen.text(*line + from_top, 1, look.sign("│", "|"), look.plain());
        pen.text(*line + from_top, 2, &cells, look.plain());
    }
    *line += lines;
    let axis = look.sign("─", "-").repeat(width);
    pen.text(*line, 1, look.sign("└", "+"), look.plain());
    pen.text(*line, 2, &axis, look.plain());
    for (place, _) in columns.iter().enumerate().filter(|(_, column)| column.lifted) {
        pen.text(*line, 2 + place, look.sign("╳", "x"), look.wrong());
    }
    *line += 1;
}

fn count_of_lifts(columns: &[Column]) -> usize {
    columns
        .chunk_by(|one, other| one.lifted == other.lifted)
        .filter(|alike| alike.first().is_some_and(|one| one.lifted))
        .count()
}

/// Word and index, the scale with its interval, the probabilities.
fn draw_balance(scene: &Scene<'_>, pen: &mut Pen<'_>, line: &mut usize) {
    let look = scene.look;
    match &scene.now.balance {
        Some(Balance::Shown(shown)) => draw_shown(scene, shown, pen, *line),
        Some(Balance::NotShown { why }) => {
            for (place, part) in
                broken(&format!("balance not shown: {why}"), pen.width() - 2).iter().take(3).enumerate()
            {
                pen.text(*line + place, 1, part, if place == 0 { look.bold() } else { look.plain() });
            }
        }
        None => {
            pen.text(*line, 1, "balance not shown yet", look.bold());
        }
    }
    *line += 3;
}

fn draw_shown(scene: &Scene<'_>, shown: &Shown, pen: &mut Pen<'_>, line: usize) {
    let (look, limits) = (scene.look, &scene.now.limits);
    let column = pen.text(line, 1, "balance", look.plain()) + 1;
    let word = shown.word.to_uppercase();
    let column = pen.text(line, column, &word, if shown.firm { look.bold() } else { look.plain() }) + 3;
    let told = [
        (format!("b {:+.2} ({:+.2} to {:+.2})", shown.b, shown.low, shown.high), look.plain()),
        (format!("last {:.0} s", shown.over_s), look.plain()),
    ];
    pen.parts_from(line, column, &told);
    let (left, right) = ("steep ", " flat");
    let width = pen.width() - left.len() - right.len() - 2;
    let mut scale: Vec<&str> = vec![look.sign("·", "."); width];
    let mut put = |index: f64, sign: &'static str| {
        if let Some(cell) = scale.get_mut(place(index, width)) {
            *cell = sign;
        }
    };
    for (limit, sign) in [(limits.leaning, ":"), (limits.balanced, look.sign("│", "|"))] {
        put(-limit, sign);
        put(limit, sign);
    }
    if let Some(interval) = scale.get_mut(place(shown.low, width)..=place(shown.high, width)) {
        let marks = [look.sign("│", "|"), ":"];
        interval.iter_mut().filter(|cell| !marks.contains(cell)).for_each(|cell| *cell = look.sign("━", "="));
    }
    if let Some(cell) = scale.get_mut(place(shown.b, width)) {
        *cell = look.sign("●", "O");
    }
    let column = pen.text(line + 1, 1, left, look.plain());
    let column = pen.text(line + 1, column, &scale.concat(), look.bold());
    pen.text(line + 1, column, right, look.plain());
    let parts: Vec<(String, Style)> = shown.chances.iter().map(|one| (one.clone(), look.plain())).collect();
    pen.parts(line + 2, &parts);
}

fn draw_figures(scene: &Scene<'_>, pen: &mut Pen<'_>, line: &mut usize) {
    let (now, look, units) = (scene.now, scene.look, scene.hand.units);
    let wanted = units.depth(Some(now.depth_target_mm));
    pen.parts(
        *line,
        &[
            (format!("depth {}, wanted {wanted}", units.depth(now.depth_mm)), look.bold()),
            (format!("pull {}", units.force(now.pull_n)), look.bold()),
            (format!("speed {}", units.speed(now.speed_mps)), look.bold()),
        ],
    );
    *line += 1;
}

#[cfg(test)]
pub(super) mod tests;

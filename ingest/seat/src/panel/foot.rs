//! What stands at the foot of the panel: notices, the answer to a key, the keys.

use super::keys::{KEYS, LINK_KEY};
use super::pen::Pen;
use super::scene::Scene;
use super::text::{broken, cut};
use crate::live::Phase;
use ingest::safety::BEFORE_HANDS;
use std::time::Instant;

/// The answer to a key takes so many lines at most.
const ANSWER_LINES_MAX: usize = 7;

/// As far as there is room those that matter most, the newest of them at the bottom, so that the eye finds it.
pub(super) fn draw_notices(scene: &Scene<'_>, pen: &mut Pen<'_>, line: &mut usize, lines: usize) {
    let mut shown: Vec<(u64, Vec<String>)> = Vec::new();
    let mut left = lines;
    for notice in &scene.now.notices {
        let of_run = notice.run.as_ref().map(|run| format!(" {run}")).unwrap_or_default();
        let parts = broken(&format!("{}{of_run}: {}", notice.at, notice.text), pen.width() - 2);
        if parts.len() > left && !shown.is_empty() || left == 0 {
            break;
        }
        let parts = cut(parts, left);
        left -= parts.len();
        shown.push((notice.number, parts));
    }
    shown.sort_by_key(|(number, _)| *number);
    for (place, text) in shown.iter().flat_map(|(_, parts)| parts).enumerate() {
        pen.text(*line + place, 1, text, scene.look.plain());
    }
    *line += lines;
}

/// The question or the answer, and the keys. What is longer than a line stands over what is above it as well.
pub(super) fn draw_hand(scene: &Scene<'_>, pen: &mut Pen<'_>, line: &mut usize) {
    let look = scene.look;
    let question = scene.hand.question.in_words(scene.now.phase == Phase::Recording);
    let answer = scene.hand.answer(Instant::now()).map(|said| (said, look.bold()));
    // Between runs hands go to the hitch.
    let caution = (scene.now.phase != Phase::Recording).then_some((BEFORE_HANDS, look.plain()));
    if let Some((said, style)) = question.map(|said| (said, look.at_work())).or(answer).or(caution) {
        let parts = cut(broken(said, pen.width() - 2), ANSWER_LINES_MAX);
        let first = *line + 1 - parts.len();
        for (place, part) in parts.iter().enumerate() {
            pen.text(first + place, 0, &" ".repeat(pen.width()), look.plain());
            pen.text(first + place, 1, part, style);
        }
    }
    let mut column = 1;
    let link = (!scene.hand.link.is_empty()).then_some(LINK_KEY);
    // All of them have room at 60 columns.
    let between = if pen.width() < 70 { 1 } else { 2 };
    for (key, does) in KEYS.into_iter().chain(link) {
        column = pen.text(*line + 1, column, key, look.at_work());
        column = pen.text(*line + 1, column, &format!(" {does}"), look.plain()) + between;
    }
    *line += 2;
}

#[cfg(test)]
mod tests {
    use crate::live::{NoticeLine, Snapshot};
    use crate::panel::draw::tests::{seen_on, snapshot};

    /// Found: on a small screen what was harmless pushed away what had cost readings.
    #[test]
    fn a_warning_keeps_its_place_before_what_is_newer_and_harmless() {
        let line = |number, at: &str, run: Option<&str>, text: &str| NoticeLine {
            number,
            t_s: 0.0,
            at: at.to_owned(),
            run: run.map(str::to_owned),
            warning: run.is_some(),
            text: text.to_owned(),
        };
        // As they are given out: what matters most first.
        let notices = vec![
            line(1, "09:14", Some("2027-04-11T0914_low"), "the disk fails"),
            line(3, "09:31", None, "the newest of all"),
            line(2, "09:30", None, "older and harmless"),
        ];
        let text = seen_on(&Snapshot { notices, ..snapshot() }, (60, 20));
        let at = |words: &str| text.find(words).unwrap_or_else(|| panic!("{words}:\n{text}"));
        assert!(at("09:14 2027-04-11T0914_low: the disk fails") < at("09:31: the newest of all"), "{text}");
        assert!(!text.contains("older and harmless"), "{text}");
    }
}

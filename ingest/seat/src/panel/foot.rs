//! What stands at the foot of the panel: notices, the answer to a key, the keys.

use super::keys::{KEYS, LINK_KEY};
use super::pen::Pen;
use super::scene::Scene;
use super::text::{broken, cut, time};
use crate::live::Phase;
use ingest::safety::BEFORE_HANDS;
use std::time::Instant;

/// The answer to a key takes so many lines at most.
const ANSWER_LINES_MAX: usize = 4;

/// The newest at the bottom, so that the eye finds it; whole, as far as there is room.
pub(super) fn draw_notices(scene: &Scene<'_>, pen: &mut Pen<'_>, line: &mut usize, lines: usize) {
    let mut shown: Vec<String> = Vec::new();
    for notice in scene.now.notices.iter().rev() {
        let ago_s = scene.now.t_s - notice.t_s;
        let parts = broken(&format!("{} ago: {}", time(ago_s), notice.text), pen.width() - 2);
        let left = lines - shown.len();
        if parts.len() > left && !shown.is_empty() || left == 0 {
            break;
        }
        shown.splice(0..0, cut(parts, left));
    }
    for (place, text) in shown.iter().enumerate() {
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

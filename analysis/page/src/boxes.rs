//! Where everything is on a page that is laid out.

use typst::layout::{Frame, FrameItem};

/// Letters above and below the baseline, in em: capitals and tails of the typeface.
pub const RISE_EM: f64 = 0.72;
/// The tails.
pub const TAIL_EM: f64 = 0.2;

/// What takes room: a line of text, or a picture.
#[derive(Clone, Debug)]
pub struct InkBox {
    /// The text; of a picture that it is one.
    pub what: String,
    /// Size of its letters; of a picture 0.
    pub size: f64,
    /// Left edge from the left of the sheet, as all lengths here in pt on a page.
    pub left: f64,
    /// Upper edge from the top.
    pub top: f64,
    /// Right edge.
    pub right: f64,
    /// Lower edge.
    pub bottom: f64,
}

/// How far these letters reach below the baseline, em: capitals do not.
fn tail_em(text: &str) -> f64 {
    let level = |c: char| c == ' ' || (c.is_ascii_uppercase() && !matches!(c, 'J' | 'Q'));
    if text.chars().all(level) { 0.02 } else { TAIL_EM }
}

/// Text and pictures of a laid-out sheet.
pub(super) fn boxes_of(frame: &Frame) -> Vec<InkBox> {
    let mut all = Vec::new();
    collect(frame, (0.0, 0.0), &mut all);
    all
}

fn collect(frame: &Frame, at: (f64, f64), all: &mut Vec<InkBox>) {
    for (pos, item) in frame.items() {
        let (x, y) = (at.0 + pos.x.to_pt(), at.1 + pos.y.to_pt());
        match item {
            FrameItem::Group(group) => {
                let moved = (group.transform.tx.to_pt(), group.transform.ty.to_pt());
                collect(&group.frame, (x + moved.0, y + moved.1), all);
            }
            FrameItem::Text(text) if !text.text.trim().is_empty() => {
                let size = text.size.to_pt();
                all.push(InkBox {
                    what: text.text.to_string(),
                    size,
                    left: x,
                    top: y - RISE_EM * size,
                    right: x + text.width().to_pt(),
                    bottom: y + tail_em(&text.text) * size,
                });
            }
            FrameItem::Image(_, size, _) => all.push(InkBox {
                what: "[picture]".to_owned(),
                size: 0.0,
                left: x,
                top: y,
                right: x + size.x.to_pt(),
                bottom: y + size.y.to_pt(),
            }),
            _ => {}
        }
    }
}

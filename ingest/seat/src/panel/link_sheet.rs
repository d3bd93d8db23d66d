//! A link of the page with its code, alone on the screen: of two codes beside each other a phone takes the wrong one.

use super::pen::Pen;
use super::scene::Scene;
use super::text::broken;
use crate::server::{LIGHT, SaidLine};

/// Draws the link of this number, from 0.
pub(super) fn draw(scene: &Scene<'_>, number: usize, pen: &mut Pen<'_>) {
    let look = scene.look;
    let several = scene.hand.links().count();
    let keys = match several {
        0 | 1 => "Any key goes back.".to_owned(),
        _ => format!("Link {} of {several}: l goes on, any other key back.", number + 1),
    };
    pen.text(0, 1, &keys, look.plain());
    let Some(link) = scene.hand.links().nth(number) else { return };
    let mut line = 1;
    for words in
        link.iter().filter_map(|one| if let SaidLine::Words(words) = one { Some(words) } else { None })
    {
        for part in broken(words, pen.width().saturating_sub(2)) {
            pen.text(line, 1, &part, look.plain());
            line += 1;
        }
    }
    let dots: Vec<&str> = link
        .iter()
        .filter_map(|one| if let SaidLine::Dots(dots) = one { Some(&**dots) } else { None })
        .collect();
    // Without an end of it a code is nothing to be read.
    let widest = dots.iter().map(|row| 1 + row.chars().count()).max().unwrap_or(0);
    let (columns, lines) = (widest.max(pen.width()), line + dots.len());
    if columns > pen.width() || lines > pen.height() {
        let needs = format!("Its code needs a terminal of {columns} by {lines}.");
        pen.text(line, 1, &needs, look.bold());
        return;
    }
    for (place, row) in dots.into_iter().enumerate() {
        for (column, sign) in row.chars().enumerate() {
            let (sign, style) = if sign == LIGHT { (' ', look.light_dot()) } else { (sign, look.code()) };
            pen.text(line + place, 1 + column, sign.encode_utf8(&mut [0; 4]), style);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::characters::Characters;
    use crate::panel::draw::draw;
    use crate::panel::draw::tests::{BARE, UTF8, lines_of, snapshot};
    use crate::panel::keys::{Hand, Sheet};
    use crate::panel::pen::Look;
    use ratatui::buffer::Buffer;
    use ratatui::layout::Rect;

    /// A code must be dark on light whatever the terminal's letters are.
    #[test]
    fn the_code_of_the_link_is_black_on_white() {
        use ratatui::style::Color;
        let link = vec![SaidLine::Words("page: http://x/".into()), SaidLine::Dots("█▀ ▄".into())];
        let hand = Hand { sheet: Sheet::Link(0), link, ..Hand::default() };
        let now = snapshot();
        let drawn = |look| {
            let mut buffer = Buffer::empty(Rect::new(0, 0, 60, 20));
            draw(&Scene { now: &now, strip: &[], hand: &hand, look }, buffer.area, &mut buffer);
            buffer
        };
        let colored = drawn(UTF8);
        for column in 1..5 {
            let cell = &colored[(column, 2)];
            assert_eq!((cell.fg, cell.bg), (Color::Indexed(231), Color::Indexed(16)), "column {column}");
        }
        assert_eq!(colored[(1, 1)].bg, Color::Reset, "words are as all others");
        let bare = drawn(Look { color: false, ..UTF8 });
        assert_eq!((bare[(1, 2)].symbol(), bare[(1, 2)].bg), ("█", Color::Reset));
        // One code a screen, and none of which a part is missing.
        let code = |right: &str| {
            let words =
                SaidLine::Words(format!("page, {right}: http://x/?token=0123456789abcdef0123456789abcdef"));
            std::iter::once(words).chain(std::iter::repeat_n(SaidLine::Dots("█▀ ▄".into()), 19))
        };
        let both: Vec<SaidLine> = code("to start").chain(code("to look on")).collect();
        let screen = |number, lines| {
            let hand = Hand { sheet: Sheet::Link(number), link: both.clone(), ..Hand::default() };
            let mut buffer = Buffer::empty(Rect::new(0, 0, 60, lines));
            draw(&Scene { now: &now, strip: &[], hand: &hand, look: UTF8 }, buffer.area, &mut buffer);
            lines_of(&buffer).join("\n")
        };
        let first = screen(0, 24);
        assert!(
            first.contains("to start") && !first.contains("to look on") && first.contains("Link 1 of 2"),
            "{first}"
        );
        assert_eq!(first.matches('▄').count(), 19, "{first}");
        assert!(screen(1, 24).contains("to look on"));
        let cut = screen(1, 20);
        assert!(cut.contains("Its code needs a terminal of 60 by 22.") && !cut.contains('▄'), "{cut}");
    }

    /// Two signs a dot, of which no letter is seen, and all of them or none.
    #[test]
    fn where_only_ascii_is_shown_the_code_is_of_spaces() {
        use crate::server::{Link, Right, said};
        use ratatui::style::{Color, Modifier};
        let url = format!("http://192.168.107.123:58377/?token={}", "0123456789abcdef".repeat(2));
        let link = said(&[Link { right: Right::LookOn, url }], Some(Characters::Ascii));
        let dots: Vec<String> = link
            .iter()
            .filter_map(|one| if let SaidLine::Dots(dots) = one { Some(dots.clone()) } else { None })
            .collect();
        let hand = Hand { sheet: Sheet::Link(0), link, ..Hand::default() };
        let now = snapshot();
        let drawn = |color, (columns, lines)| {
            let mut buffer = Buffer::empty(Rect::new(0, 0, columns, lines));
            let look = Look { color, ..BARE };
            draw(&Scene { now: &now, strip: &[], hand: &hand, look }, buffer.area, &mut buffer);
            buffer
        };
        let needs = lines_of(&drawn(true, (60, 20))).join("\n");
        assert!(needs.contains("Its code needs a terminal of 75 by 41."), "{needs}");
        for color in [true, false] {
            let buffer = drawn(color, (75, 41));
            for (row, line) in (3..).zip(&dots) {
                for (column, sign) in (1..).zip(line.chars()) {
                    let cell = &buffer[(column, row)];
                    let is_light = match color {
                        true => cell.bg == Color::Indexed(231),
                        false => cell.modifier.contains(Modifier::REVERSED),
                    };
                    assert_eq!((cell.symbol(), is_light), (" ", sign == '#'), "{column}, {row}");
                }
            }
        }
    }
}

//! Writing within a part of the screen: what does not fit is cut off, never wrapped or moved.

use crate::characters::Characters;
use crate::server::{BLACK, WHITE};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Color, Modifier, Style};

/// What a terminal can show.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Look {
    pub characters: Characters,
    /// Whether red may be used; what it says is always said otherwise too.
    pub color: bool,
}

impl Look {
    /// One sign or, where only ASCII is shown, another.
    pub fn sign(self, utf8: &'static str, ascii: &'static str) -> &'static str {
        match self.characters {
            Characters::Utf8 => utf8,
            Characters::Ascii => ascii,
        }
    }

    pub fn plain(self) -> Style {
        Style::new()
    }

    pub fn bold(self) -> Style {
        Style::new().add_modifier(Modifier::BOLD)
    }

    /// Of something that is wrong: the only color there is.
    pub fn wrong(self) -> Style {
        let style = self.bold().add_modifier(Modifier::REVERSED);
        if self.color { style.fg(Color::Red) } else { style }
    }

    /// Of a QR code: light letters on dark whatever the terminal's own are, so that its dots are dark on light.
    pub fn code(self) -> Style {
        let style = self.plain();
        if self.color { style.fg(Color::Indexed(WHITE)).bg(Color::Indexed(BLACK)) } else { style }
    }

    /// Of a dot of two signs that is light.
    pub fn light_dot(self) -> Style {
        let style = self.plain();
        if self.color { style.bg(Color::Indexed(WHITE)) } else { style.add_modifier(Modifier::REVERSED) }
    }

    /// Of what is being done.
    pub fn at_work(self) -> Style {
        self.bold().add_modifier(Modifier::REVERSED)
    }
}

/// Writes into an area, line by line.
pub(super) struct Pen<'a> {
    pub buffer: &'a mut Buffer,
    pub area: Rect,
    pub look: Look,
}

impl Pen<'_> {
    pub fn width(&self) -> usize {
        usize::from(self.area.width)
    }

    pub fn height(&self) -> usize {
        usize::from(self.area.height)
    }

    /// Writes a text from a column of a line on; gives the column after it.
    pub fn text(&mut self, line: usize, column: usize, text: &str, style: Style) -> usize {
        let (Ok(x), Ok(y)) = (u16::try_from(column), u16::try_from(line)) else { return column };
        if y >= self.area.height || x >= self.area.width {
            return column;
        }
        let shown = self.look.characters.plain(text);
        let left = usize::from(self.area.width - x);
        let (after, _) =
            self.buffer.set_stringn(self.area.x + x, self.area.y + y, shown.as_ref(), left, style);
        usize::from(after - self.area.x)
    }

    /// The same, so that it ends at the right edge.
    pub fn text_at_right(&mut self, line: usize, text: &str, style: Style) {
        let length = self.look.characters.plain(text).chars().count();
        self.text(line, self.width().saturating_sub(length), text, style);
    }

    /// Parts one after the other, with three spaces between them; those that do not fit whole are left out.
    pub fn parts(&mut self, line: usize, parts: &[(String, Style)]) {
        self.parts_from(line, 1, parts);
    }

    /// The same from a column on.
    pub fn parts_from(&mut self, line: usize, mut column: usize, parts: &[(String, Style)]) {
        for (text, style) in parts {
            let length = self.look.characters.plain(text).chars().count();
            if column + length > self.width() {
                continue;
            }
            column = self.text(line, column, text, *style) + 3;
        }
    }
}

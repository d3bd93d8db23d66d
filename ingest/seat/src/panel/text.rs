//! Texts in the lines of a screen.

/// A text in lines of so many signs at most, broken between words, and within one that is longer.
pub(super) fn broken(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let signs: Vec<Vec<char>> = text.split_whitespace().map(|word| word.chars().collect()).collect();
    for word in signs.iter().flat_map(|word| word.chunks(width.max(1))) {
        let word = &*word.iter().collect::<String>();
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// The first lines, so many at most; the last of them says if there are more.
pub(super) fn cut(mut lines: Vec<String>, most: usize) -> Vec<String> {
    if lines.len() > most {
        lines.truncate(most);
        if let Some(last) = lines.last_mut() {
            let kept = last.chars().count().saturating_sub(4);
            *last = format!("{} ...", last.chars().take(kept).collect::<String>());
        }
    }
    lines
}

/// A time, in the unit that tells most.
pub(super) fn time(seconds: f64) -> String {
    let whole = seconds.max(0.0) as u64;
    if whole < 100 { format!("{whole} s") } else { format!("{} min {:02} s", whole / 60, whole % 60) }
}

/// A number of things.
pub(super) fn counted(count: u64, one: &str, more: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { more })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A link is one word, and no part of it may be missing.
    #[test]
    fn a_word_that_is_longer_than_a_line_goes_on_in_the_next() {
        assert_eq!(
            broken("page: http://10.0.0.1/?token=12 on", 12),
            ["page:", "http://10.0.", "0.1/?token=1", "2 on"]
        );
    }

    #[test]
    fn what_is_cut_says_so() {
        let lines = |text: &str| cut(broken(text, 12), 2);
        assert_eq!(lines("one two three four"), ["one two", "three four"].map(str::to_owned));
        assert_eq!(lines("one two three four five"), ["one two", "three  ..."].map(str::to_owned));
        assert!(cut(broken("one", 12), 0).is_empty());
    }
}

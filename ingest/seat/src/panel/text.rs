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
}

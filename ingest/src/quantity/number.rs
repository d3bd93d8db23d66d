//! Numbers as people write them: wholes, decimals, fractions of an inch rule.

/// In how many parts the inch rule was read: the number under the fraction line; `None` if there is none.
pub(super) fn denominator_of(number: &str) -> Option<u32> {
    number.split_once('/').and_then(|(_, below)| below.trim().parse().ok())
}

/// `12`, `-0.5`, `1e3`, `3/4`, `13 1/2`, `-13 1/2` (the sign goes with the whole).
pub(super) fn parse_number(text: &str) -> Option<f64> {
    let fraction = |text: &str| -> Option<f64> {
        let (above, below) = text.split_once('/')?;
        let (above, below): (u32, u32) = (above.trim().parse().ok()?, below.trim().parse().ok()?);
        (below != 0).then(|| f64::from(above) / f64::from(below))
    };
    if !text.contains('/') {
        return text.parse().ok().filter(|number: &f64| number.is_finite());
    }
    let (negative, text) = match text.strip_prefix('-') {
        Some(rest) => (true, rest.trim_start()),
        None => (false, text),
    };
    let magnitude = match text.split_once(' ') {
        Some((whole, part)) => f64::from(whole.parse::<u32>().ok()?) + fraction(part)?,
        None => fraction(text)?,
    };
    Some(if negative { -magnitude } else { magnitude })
}

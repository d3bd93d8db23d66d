//! Reading `plow.toml`.

use super::{Plow, PlowToml};
use crate::description_file::{DescriptionError, DescriptionKind, parse_description, read_description};
use std::path::Path;

/// Reads and checks a plow description.
///
/// # Errors
/// [`DescriptionError`] if it cannot be read, is not TOML, or would make nonsense: all that is wrong in it, line by line.
pub fn read_plow(path: &Path) -> Result<Plow, DescriptionError> {
    read_plow_text(&read_description(path, DescriptionKind::Plow)?, path)
}

/// The same from text that is already there; `path` is for the errors.
///
/// ```
/// use ingest::plow::read_plow_text;
/// # let text = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../sample-runs/plows/two-bottom.toml"));
/// // `text` is that of sample-runs/plows/two-bottom.toml.
/// let plow = read_plow_text(text, "plow.toml".as_ref())?;
/// assert_eq!((plow.bottoms.count, plow.kind().name()), (2, "trailed"));
///
/// let wrong = text.replace("count = 2", "count = 0");
/// let error = read_plow_text(&wrong, "plow.toml".as_ref()).unwrap_err();
/// assert!(error.to_string().starts_with("plow.toml, line "), "{error}");
/// # Ok::<(), ingest::description_file::DescriptionError>(())
/// ```
pub fn read_plow_text(text: &str, path: &Path) -> Result<Plow, DescriptionError> {
    parse_description(text, path, |said: PlowToml| Plow::try_from(said))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(text: &str) -> String {
        read_plow_text(text, Path::new("p.toml")).unwrap_err().to_string()
    }

    /// Found by someone who wrote a description from scratch: "missing field `x`" names one of four tables.
    #[test]
    fn a_missing_key_is_named_with_its_table() {
        let start = "name = \"n\"\n[weight]\ntotal = \"1 kN\"\n";
        let both = said(start);
        assert!(both.contains("p.toml, line 2: weight.x: missing: write a length with its unit, like \"14 in\"\n    [weight]"), "{both}");
        assert!(
            both.contains(
                "p.toml, line 1: bottoms: missing: write the table [bottoms] with count, cut_width"
            ),
            "{both}"
        );
        assert!(
            said("").starts_with("p.toml, line 1: name: missing: write text between quotation marks"),
            "{}",
            said("")
        );
    }
}

//! What a page is, told from its bytes.

use std::fs;
use std::path::Path;

use crate::{Doing, Failure, Outcome};

/// Pages of a PDF: the objects of type Page, which are not compressed in what the typesetter writes.
pub fn pages_of(pdf: &Path) -> Outcome<usize> {
    let bytes = fs::read(pdf).doing(|| format!("read {}", pdf.display()))?;
    if !bytes.starts_with(b"%PDF-") {
        return Err(Failure(format!("{} is no PDF", pdf.display())));
    }
    let text = String::from_utf8_lossy(&bytes).replace("/Type /", "/Type/");
    Ok(text.split("/Type/Page").skip(1).filter(|after| !after.starts_with('s')).count())
}

//! Typst as a library: templates and one typeface from the binary, data as a JSON file, charts as SVG files,
//! all in memory. There is no disk, no network and no clock behind it, so a page depends on its content
//! alone.

use std::cell::RefCell;
use std::collections::HashMap;
use std::sync::LazyLock;

use typst::diag::{FileError, FileResult, SourceDiagnostic};
use typst::foundations::{Bytes, Datetime, Duration, Smart};
use typst::layout::Abs;
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook, FontInstance, FontVariant, FontVariations};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};
use typst_render::RenderOptions;

use super::{Format, PageError, Result};

/// The one family on every page and in every chart. A family that is not embedded would silently be replaced.
pub const TYPEFACE: &str = "Clear Sans";

/// Dots per inch of a PNG: enough to print A4 from it.
const PNG_DPI: f64 = 200.0;
const POINTS_PER_INCH: f64 = 72.0;

/// Faces that texts and charts are set in, the first of [`FONTS`].
const TEXT_FACES: usize = 2;
static FONTS: LazyLock<Vec<Font>> = LazyLock::new(|| {
    // The last is for formulas, which stand in the handbook alone.
    let faces: [&'static [u8]; TEXT_FACES + 1] = [
        include_bytes!("fonts/ClearSans-Regular.ttf"),
        include_bytes!("fonts/ClearSans-Bold.ttf"),
        include_bytes!("fonts/NewCMMath-Regular.otf"),
    ];
    faces.into_iter().filter_map(|face| Font::new(Bytes::new(face), 0)).collect()
});
/// The same faces ready to be measured: regular, bold. The size plays no part in faces without a size axis.
static MEASURED: LazyLock<Vec<FontInstance>> = LazyLock::new(|| {
    let ready = |font: &Font| {
        font.clone().instantiate(FontVariant::default(), Abs::pt(10.0), &FontVariations::default())
    };
    FONTS.iter().take(TEXT_FACES).map(ready).collect()
});
static BOOK: LazyLock<LazyHash<FontBook>> =
    LazyLock::new(|| LazyHash::new(FontBook::from_fonts(FONTS.iter())));
static LIBRARY: LazyLock<LazyHash<Library>> = LazyLock::new(|| LazyHash::new(Library::default()));

/// True if every face of the typeface has a glyph for `c`.
pub fn typeface_has(c: char) -> bool {
    !FONTS.is_empty() && FONTS.iter().take(TEXT_FACES).all(|font| font.info().coverage.contains(u32::from(c)))
}

/// Width of a line of text in em, from the advance widths of the typeface; an unknown character counts as 1
/// em.
pub fn width_em(text: &str, bold: bool) -> f64 {
    let Some(face) = MEASURED.get(usize::from(bold)) else {
        return text.chars().count() as f64;
    };
    let advance = |c: char| {
        face.ttf().glyph_index(c).and_then(|glyph| face.x_advance(glyph.0)).map_or(1.0, |em| em.get())
    };
    // A text is measured many times while it is fitted, and to find a glyph is slow.
    ADVANCES.with_borrow_mut(|known| {
        text.chars().map(|c| *known.entry((bold, c)).or_insert_with(|| advance(c))).sum()
    })
}

thread_local! {
    /// Advance widths in em that were asked for, by weight and character.
    static ADVANCES: RefCell<HashMap<(bool, char), f64>> = RefCell::default();
}

/// A template and the files it reads.
pub struct Sheet {
    main: FileId,
    sources: HashMap<FileId, Source>,
    files: HashMap<FileId, Bytes>,
}

impl Sheet {
    /// A sheet with `template` as its main source, and the sources that it imports by name beside it.
    pub fn new(template: &str, imported: &[(&str, &str)]) -> Result<Self> {
        let main = file_id("main.typ")?;
        let mut sources = HashMap::from([(main, Source::new(main, template.to_owned()))]);
        for (name, source) in imported {
            let id = file_id(name)?;
            sources.insert(id, Source::new(id, (*source).to_owned()));
        }
        Ok(Self { main, sources, files: HashMap::new() })
    }

    /// Puts a file where the template finds it.
    pub fn put(&mut self, name: &str, bytes: Vec<u8>) -> Result {
        self.files.insert(file_id(name)?, Bytes::new(bytes));
        Ok(())
    }

    /// Lays the sheet out; the number of pages is for the caller to judge.
    pub fn lay_out(&self) -> Result<PagedDocument> {
        typst::compile::<PagedDocument>(self).output.map_err(|found| typeset_error(&found))
    }
}

/// Turns a laid-out page into bytes.
pub fn export(document: &PagedDocument, format: Format, ident: &str) -> Result<Vec<u8>> {
    match format {
        Format::Pdf => {
            let standards = PdfStandards::new(&[PdfStandard::Ua_1])
                .map_err(|error| PageError::Typeset(error.message().to_string()))?;
            let options = PdfOptions {
                ident: Smart::Custom(ident.to_owned()),
                creator: Smart::Custom(Some("hitchwright".to_owned())),
                standards,
                ..PdfOptions::default()
            };
            typst_pdf::pdf(document, &options).map_err(|found| typeset_error(&found))
        }
        Format::Png => {
            let page = document.pages().first().ok_or(PageError::PageCount { found: 0, wanted: 1 })?;
            let scale = Abs::pt(PNG_DPI / POINTS_PER_INCH).to_pt();
            let options = RenderOptions { pixel_per_pt: scale.into(), ..RenderOptions::default() };
            typst_render::render(page, &options)
                .encode_png()
                .map_err(|error| PageError::Encode(error.to_string()))
        }
    }
}

fn file_id(name: &str) -> Result<FileId> {
    let path = VirtualPath::new(name).map_err(|_| PageError::Typeset(format!("{name} is not a path")))?;
    Ok(RootedPath::new(VirtualRoot::Project, path).intern())
}

fn typeset_error(found: &[SourceDiagnostic]) -> PageError {
    let messages: Vec<&str> = found.iter().map(|one| one.message.as_str()).collect();
    PageError::Typeset(messages.join("; "))
}

fn not_there(id: FileId) -> FileError {
    FileError::NotFound(id.get().vpath().get_without_slash().into())
}

impl World for Sheet {
    fn library(&self) -> &LazyHash<Library> {
        &LIBRARY
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &BOOK
    }

    fn main(&self) -> FileId {
        self.main
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        self.sources.get(&id).cloned().ok_or_else(|| not_there(id))
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        self.files.get(&id).cloned().ok_or_else(|| not_there(id))
    }

    fn font(&self, index: usize) -> Option<Font> {
        FONTS.get(index).cloned()
    }

    fn today(&self, _offset: Option<Duration>) -> Option<Datetime> {
        None
    }
}

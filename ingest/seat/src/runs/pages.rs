//! Pages that were made, in a folder of their own that goes with this program; the oldest makes room for the newest.

use super::RunName;
use super::RunsError;
use super::analyst::FILE_BYTES_MAX;
use super::list::Stamp;
use crate::reader_units::ReaderUnits;
use ingest::system::folder_for_owner_alone;
use std::collections::VecDeque;
use std::fs::DirBuilder;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// How much all pages together take, in bytes.
const BYTES_MAX: u64 = 32 * 1024 * 1024;

/// What a page is drawn as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Format {
    Pdf,
    Png,
}

impl Format {
    /// The format of `page.pdf` or `page.png`.
    pub fn of_file(file: &str) -> Option<Self> {
        match file {
            "page.pdf" => Some(Self::Pdf),
            "page.png" => Some(Self::Png),
            _ => None,
        }
    }

    pub const fn ending(self) -> &'static str {
        match self {
            Self::Pdf => "pdf",
            Self::Png => "png",
        }
    }

    pub const fn media_type(self) -> &'static str {
        match self {
            Self::Pdf => "application/pdf",
            Self::Png => "image/png",
        }
    }
}

/// What a page is of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct PageKey {
    /// The runs with their files as they were; of a comparison, those of A and those of B.
    pub runs: Vec<(RunName, Stamp)>,
    /// How many of them are A's; none for the page of a run.
    pub of_a: usize,
    pub format: Format,
    pub units: ReaderUnits,
}

/// The pages there are.
#[derive(Debug, Default)]
pub(super) struct Pages(Mutex<Made>);

#[derive(Debug, Default)]
struct Made {
    /// Made with the first page: a recorder that is killed leaves nothing behind if it has made none.
    folder: Option<PathBuf>,
    pages: VecDeque<(PageKey, PathBuf, u64)>,
    bytes: u64,
    number: u64,
}

impl Made {
    /// Where the next page goes.
    fn next(&mut self, ending: &str) -> io::Result<PathBuf> {
        let folder = match self.folder.take() {
            Some(folder) => folder,
            None => own_folder(&std::env::temp_dir())?,
        };
        self.number += 1;
        Ok(self.folder.insert(folder).join(format!("{}.{ending}", self.number)))
    }
}

impl Pages {
    fn made(&self) -> MutexGuard<'_, Made> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The page, if it is there.
    pub fn get(&self, key: &PageKey) -> Option<Vec<u8>> {
        let made = self.made();
        let (_, path, _) = made.pages.iter().find(|(known, _, _)| known == key)?;
        read(path).ok()
    }

    /// Has a page made into the file that `make` is given, and keeps it.
    ///
    /// # Errors
    /// What making it came to.
    pub fn make(
        &self,
        key: PageKey,
        make: impl FnOnce(&Path) -> Result<(), RunsError>,
    ) -> Result<Vec<u8>, RunsError> {
        let system = |cause: io::Error| RunsError::System(cause.to_string());
        let path = self.made().next(key.format.ending()).map_err(system)?;
        let page = make(&path).and_then(|()| read(&path).map_err(system));
        let page = page.inspect_err(|_| {
            let _ = std::fs::remove_file(&path);
            // What was being written when the child was ended.
            let _ = std::fs::remove_file(path.with_extension(format!("{}.new", key.format.ending())));
        })?;
        let mut made = self.made();
        made.bytes += page.len() as u64;
        made.pages.push_back((key, path, page.len() as u64));
        while made.bytes > BYTES_MAX {
            let Some((_, oldest, bytes)) = made.pages.pop_front() else { break };
            made.bytes -= bytes;
            let _ = std::fs::remove_file(oldest);
        }
        Ok(page)
    }
}

impl Drop for Pages {
    fn drop(&mut self) {
        if let Some(folder) = self.made().folder.take() {
            let _ = std::fs::remove_dir_all(folder);
        }
    }
}

fn read(path: &Path) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    std::fs::File::open(path)?.take(FILE_BYTES_MAX).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// A new folder that only we may look into.
fn own_folder(parent: &Path) -> io::Result<PathBuf> {
    let mut builder = DirBuilder::new();
    folder_for_owner_alone(&mut builder);
    let mut number = 0;
    loop {
        let folder = parent.join(format!("hitchwright-pages-{}-{number}", std::process::id()));
        // Making it is exclusive: what somebody else has put there is never written into.
        match builder.create(&folder) {
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists && number < 1000 => number += 1,
            done => return done.map(|()| folder),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(name: &str) -> PageKey {
        let (runs, units) = (Vec::new(), ReaderUnits::Si);
        PageKey { runs, of_a: name.len(), format: Format::Pdf, units }
    }

    #[test]
    fn pages_take_only_so_much_room_and_go_with_the_program() {
        let pages = Pages::default();
        assert_eq!(pages.made().folder, None);
        let names: Vec<String> = (1..=6).map(|n| "x".repeat(n)).collect();
        for name in &names {
            let large = vec![0; 9 * 1024 * 1024];
            let made = pages.make(key(name), |path| {
                std::fs::write(path, &large).map_err(|cause| RunsError::System(cause.to_string()))
            });
            assert_eq!(made.unwrap().len(), large.len());
        }
        let folder = pages.made().folder.clone().unwrap();
        let there: Vec<bool> = names.iter().map(|name| pages.get(&key(name)).is_some()).collect();
        assert_eq!(there, [false, false, false, true, true, true]);
        let half_made = pages.make(key("yyyyyyyy"), |path| {
            std::fs::write(path.with_extension("pdf.new"), b"half").unwrap();
            Err(RunsError::GaveWay)
        });
        assert_eq!(half_made, Err(RunsError::GaveWay));
        assert_eq!(folder.read_dir().unwrap().count(), 3);
        drop(pages);
        assert!(!folder.exists());
    }
}

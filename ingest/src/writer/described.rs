//! The files of a run that are written once: what was recorded, and what the columns are.

use super::Disk;
use crate::run_folder::{RowsFile, datapackage};
use crate::run_toml::RunDescription;
use std::io;

/// What `run.toml` and `datapackage.json` say.
#[derive(Debug)]
pub struct Described {
    /// The run; its id is the name of the folder that it was written into last.
    pub description: RunDescription,
    /// The boxes' files of rows.
    pub files: Vec<RowsFile>,
}

impl Described {
    /// Writes both into a folder, whose name the run takes.
    pub(super) fn write(&mut self, disk: &mut dyn Disk) -> io::Result<()> {
        if let Some(name) = disk.folder().file_name() {
            self.description.run.id = name.to_string_lossy().into_owned();
        }
        let toml = self.description.to_toml().map_err(io::Error::other)?;
        disk.replace("run.toml", toml.as_bytes())?;
        let has_gnss = self.description.gnss.is_some();
        let package = datapackage(&self.description.run.id, &self.files, has_gnss);
        disk.replace("datapackage.json", package.as_bytes())
    }
}

//! Where the built binaries are.

use std::path::PathBuf;

use crate::{Doing, Failure, Outcome};

/// A program of this workspace.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Program {
    /// `hitchwright`.
    Hitchwright,
    /// `hitchwright-recorder`.
    Recorder,
    /// `virtual-box`.
    VirtualBox,
    /// `virtual-receiver`.
    VirtualReceiver,
}

impl Program {
    /// Its file name without a suffix of the platform.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Hitchwright => "hitchwright",
            Self::Recorder => "hitchwright-recorder",
            Self::VirtualBox => "virtual-box",
            Self::VirtualReceiver => "virtual-receiver",
        }
    }

    /// The package that builds it.
    pub const fn package(self) -> &'static str {
        match self {
            Self::Hitchwright => "analysis",
            Self::Recorder => "ingest",
            Self::VirtualBox | Self::VirtualReceiver => "sample-runs",
        }
    }

    /// Its path: two folders above the running test (`target/PROFILE/deps/test-…`), where cargo puts the
    /// binaries of all members. Each of their packages has an integration test, for which cargo builds
    /// the binary, so `cargo test` always has them.
    ///
    /// # Errors
    /// If it is not there: with the command that builds it.
    pub fn path(self) -> Outcome<PathBuf> {
        let test = std::env::current_exe().doing(|| "find the running test".into())?;
        let file = format!("{}{}", self.name(), std::env::consts::EXE_SUFFIX);
        let path = test.ancestors().nth(2).map(|folder| folder.join(file)).filter(|path| path.is_file());
        path.ok_or_else(|| {
            Failure(format!(
                "{} is not built: run `cargo build -p {}` first, or `cargo test` for the whole workspace",
                self.name(),
                self.package()
            ))
        })
    }
}

//! Where the built binaries are.

use std::path::PathBuf;

use crate::{Doing, Failure, Outcome};

/// A program of this workspace.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Program {
    Hitchwright,
    Recorder,
    VirtualBox,
    VirtualReceiver,
}

impl Program {
    /// Its file name without a suffix of the platform, and the package that builds it.
    const fn name_and_package(self) -> (&'static str, &'static str) {
        match self {
            Self::Hitchwright => ("hitchwright", "analysis"),
            Self::Recorder => ("hitchwright-recorder", "seat"),
            Self::VirtualBox => ("virtual-box", "sample-runs"),
            Self::VirtualReceiver => ("virtual-receiver", "sample-runs"),
        }
    }

    pub const fn name(self) -> &'static str {
        self.name_and_package().0
    }

    /// Its path: two folders above the running test (`target/PROFILE/deps/test-…`), where cargo puts the
    /// binaries of all members. Each of their packages has an integration test, for which cargo builds
    /// the binary, so `cargo test` always has them.
    ///
    /// # Errors
    /// If it is not there: with the command that builds it.
    pub fn path(self) -> Outcome<PathBuf> {
        let test = std::env::current_exe().doing(|| "find the running test".into())?;
        let (name, package) = self.name_and_package();
        let file = format!("{name}{}", std::env::consts::EXE_SUFFIX);
        let path = test.ancestors().nth(2).map(|folder| folder.join(file)).filter(|path| path.is_file());
        path.ok_or_else(|| {
            Failure(format!(
                "{name} is not built: run `cargo build -p {package}` first, or `cargo test` for the whole workspace"
            ))
        })
    }
}

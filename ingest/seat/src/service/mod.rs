//! The recorder where nobody sits beside it: `hitchwright-recorder --config FILE`.

pub mod config;
pub mod copied;
pub mod deletion;
mod keeper;
mod kept_choice;
mod log;
pub mod notify;
pub mod port_name;
pub mod retention;
pub mod run_files;
mod shown;
mod status_line;
mod supervise;
mod token_file;
pub mod troubles;
mod view;

use crate::server::{Link, links, tokens_at};
use config::ServiceConfig;
use ingest::description_file::DescriptionError;
use ingest::recorder::{Computer, Controls, Host, Wish, WishRefused};
use ingest::system::Signal;
use keeper::Desk;
use log::Log;
use notify::Notify;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use token_file::{TokenFileError, kept_tokens, token_file_of};
use view::ServiceView;

/// Why the service did not begin.
#[derive(Debug, thiserror::Error)]
pub enum ServiceError {
    /// Its description cannot be used.
    #[error(transparent)]
    Config(#[from] DescriptionError),
    /// The computer gave no thread, timer or signal handler.
    #[error("the recorder cannot run here: {0}")]
    System(#[from] io::Error),
}

/// Records by itself until a signal ends it.
///
/// # Errors
/// [`ServiceError`] if it cannot begin; after that it waits for whatever it lacks.
pub fn run(file: &Path, software: &str) -> Result<(), ServiceError> {
    let config = ServiceConfig::read(file)?;
    let log = Log::begin(config.log);
    let served = serve_on(Arc::new(Computer::without_keyboard()), &config, Notify::to_manager(), software);
    log.finish();
    Ok(served?)
}

/// Why there are no links to the page of an unattended recorder.
#[derive(Debug, thiserror::Error)]
pub enum NoLinks {
    /// Its description cannot be used.
    #[error(transparent)]
    Config(#[from] DescriptionError),
    /// It serves no page.
    #[error("{}: it says nothing of a page: give it a [live] with an address, and restart the recorder", .0.display())]
    NoPage(PathBuf),
    /// It has not begun yet.
    #[error("{}: there is no such file: the recorder makes it when it first serves the page, so start it", .0.display())]
    NotStarted(PathBuf),
    /// Somebody else's.
    #[error("{}: you may not read this file, and only who may has the links to the page: try again with sudo", .0.display())]
    NotAllowed(PathBuf),
    /// The file of the tokens cannot be used.
    #[error(transparent)]
    Tokens(#[from] TokenFileError),
}

/// The links to the page of the unattended recorder that this file describes. Nothing is changed.
///
/// # Errors
/// [`NoLinks`] says what is missing.
pub fn page_links(file: &Path) -> Result<Vec<Link>, NoLinks> {
    let config = ServiceConfig::read(file)?;
    let address = config.live.as_ref().ok_or_else(|| NoLinks::NoPage(file.to_owned()))?.address;
    let tokens = tokens_at(address, || {
        let file = token_file_of(&config);
        match kept_tokens(&file) {
            Ok(tokens) => tokens.ok_or(NoLinks::NotStarted(file)),
            Err(TokenFileError::System { file, cause })
                if cause.kind() == io::ErrorKind::PermissionDenied =>
            {
                Err(NoLinks::NotAllowed(file))
            }
            Err(error) => Err(error.into()),
        }
    })?;
    Ok(links(address, tokens.as_ref()))
}

/// The same on any host, with a description that is read, and a log that has begun.
///
/// # Errors
/// If the computer gives no thread, timer or signal handler.
pub fn serve_on(
    host: Arc<dyn Host>,
    config: &ServiceConfig,
    notify: Notify,
    software: &str,
) -> io::Result<()> {
    tracing::info!(version = software, runs = %config.runs.display(), "service begins");
    for port in config.unstable_ports() {
        tracing::warn!(port = %port.display(), "the name of this port changes with the order of the cables: name it by serial_number");
    }
    let desk = Arc::new(Desk::default());
    let run_ended = keeper::begin(config, Arc::clone(&desk))?;
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
    runtime.block_on(async {
        let (controls, wishes) = Controls::new();
        tell_signals(&controls)?;
        let mut view = ServiceView::new(notify, Arc::clone(&desk), run_ended, controls);
        supervise::supervise(host, config, &desk, &mut view, wishes, software).await;
        io::Result::Ok(())
    })?;
    runtime.shutdown_background();
    tracing::info!("service ends");
    Ok(())
}

/// SIGTERM and Ctrl-C end the service, and the run in it, properly. SIGHUP changes nothing: no terminal belongs to it, and
/// the plow description is read again by itself.
fn tell_signals(controls: &Controls) -> io::Result<()> {
    for mut signal in Signal::all()? {
        let controls = controls.clone();
        tokio::spawn(async move {
            while signal.comes().await {
                if signal.name == "SIGHUP" {
                    tracing::info!(
                        "SIGHUP: nothing to do; the plow description is read again by itself when it changes"
                    );
                    continue;
                }
                while controls.wish(Wish::End(signal.name)) == Err(WishRefused::Busy) {
                    tokio::time::sleep(Duration::from_millis(10)).await;
                }
            }
        });
    }
    Ok(())
}

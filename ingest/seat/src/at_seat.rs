//! A recorder with somebody at the seat: `hitchwright-recorder --live`.

use crate::live::{Choice, Live, LiveView, Views, keep_status};
use crate::server::{Server, ServerError, Tokens, said};
use axum::Router;
use ingest::cli::{RecordArgs, show_cautions};
use ingest::recorder::{Begin, Computer, Destination, RecordError, Recorded, StderrView, View, record_by};
use ingest::run_folder::folder_of;
use std::io::IsTerminal;
use std::net::SocketAddr;
use std::sync::Arc;

/// Why nothing was recorded, or not all.
#[derive(Debug, thiserror::Error)]
pub enum LiveError {
    /// The recording.
    #[error(transparent)]
    Record(#[from] RecordError),
    /// The page.
    #[error(transparent)]
    Server(#[from] ServerError),
}

/// Records with a page at this address. With a setting, one run as soon as the boxes answer; without one, runs as they are
/// started and stopped at the page.
///
/// # Errors
/// [`LiveError`] is one sentence for stderr.
pub fn record_live(args: RecordArgs, address: SocketAddr, software: &str) -> Result<Recorded, LiveError> {
    let begin = if args.setting.is_some() { Begin::AtOnce } else { Begin::OnStart };
    let config = args.config(begin, software)?;
    let choice = Choice {
        setting: config.setting_name.clone(),
        share: config.share,
        field: config.field.clone(),
        note: config.note.clone(),
    };
    let live = Arc::new(Live::new(config.plow.clone(), &config.ports, choice));
    let computer = Computer::new();
    let tokens = Tokens::random().map_err(ServerError::from)?;
    let server = Server::start(address, tokens, Arc::clone(&live), computer.controls(), Router::new())?;
    let runs = match &config.destination {
        Destination::In(parent) => parent.clone(),
        Destination::Folder(folder) => folder_of(folder).to_owned(),
    };
    keep_status(&live, runs, None).map_err(ServerError::from)?;
    let mut view = Views::default().and(StderrView::default()).and(LiveView::new(live));
    show_cautions(&mut view);
    // The page needs no notice of where it is.
    let mut terminal = StderrView::default();
    for line in said(&server.links(), std::io::stderr().is_terminal()) {
        terminal.notice(&line);
    }
    Ok(record_by(computer, &config, &mut view)?)
}

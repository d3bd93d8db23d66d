//! A recorder with somebody at the seat: `hitchwright-recorder --live` and `--panel`.

use crate::characters::Characters;
use crate::live::{Choice, Live, LiveView, Views, keep_status};
use crate::live_balance::LiveBalance;
use crate::panel::{Panel, PanelError};
use crate::runs::{Runs, router};
use crate::server::{Server, ServerError, Tokens, has_color, said, tokens_at};
use ingest::cli::{RecordArgs, show_cautions, show_described, units_at_work};
use ingest::recorder::{Begin, Computer, Destination, RecordError, Recorded, StderrView, View, record_by};
use ingest::run_folder::folder_of;
use std::io::{IsTerminal, Write};
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
    /// The panel.
    #[error(transparent)]
    Panel(#[from] PanelError),
    /// The system gives no thread.
    #[error("cannot show what is recorded: {0}")]
    System(#[from] std::io::Error),
}

/// How it is shown at the seat.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Seat {
    /// Address of the page, if there is to be one.
    pub page: Option<SocketAddr>,
    /// Whether there is to be a panel in the terminal.
    pub panel: bool,
}

impl Seat {
    /// Whether nobody sits there.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

/// Records with a page, a panel or both. With a setting, one run as soon as the boxes answer; without one, runs as they are
/// started and stopped there.
///
/// # Errors
/// [`LiveError`] is one sentence for stderr.
pub fn record_live(args: RecordArgs, seat: Seat, software: &str) -> Result<Recorded, LiveError> {
    if seat.panel {
        Panel::needs_terminal()?;
    }
    let begin = if args.setting.is_some() { Begin::AtOnce } else { Begin::OnStart };
    let asked = args.units;
    let config = args.config(begin, software)?;
    // Of the panel, and of the page for whoever has not chosen others on it.
    let units = units_at_work(asked, &config)?;
    let choice = Choice {
        setting: config.setting_name.clone(),
        share: config.share,
        field: config.field.clone(),
        note: config.note.clone(),
        ..Choice::default()
    };
    let live = Arc::new(Live::new(config.plow.clone(), &config.ports, choice).shown_in(units.into()));
    // The panel reads the keyboard itself.
    let computer = if seat.panel { Computer::without_keyboard() } else { Computer::new() };
    let out = match &config.destination {
        Destination::In(parent) => parent.clone(),
        Destination::Folder(folder) => folder_of(folder).to_owned(),
    };
    let runs = Runs::shown_on(&live, out.clone())?;
    let server = match seat.page {
        None => None,
        Some(address) => {
            let tokens = tokens_at(address, Tokens::random).map_err(ServerError::from)?;
            let routes = router(runs.clone());
            Some(Server::start(address, tokens, Arc::clone(&live), computer.controls(), routes)?)
        }
    };
    let _status = keep_status(&live, out, None)?;
    let mut view = Views::default()
        .and(LiveView::new(Arc::clone(&live)))
        .and(LiveBalance::beside(&live)?)
        .and(runs.view());
    // The page needs no notice of where it is, nor may it tell those who only look on.
    let variable = |name: &str| std::env::var(name).ok();
    let link = |terminal: bool| {
        let codes = terminal.then(|| Characters::of_locale(variable));
        server.as_ref().map_or_else(Vec::new, |server| said(&server.links(), codes))
    };
    let _panel = if seat.panel {
        Some(Panel::start(Arc::clone(&live), computer.controls(), units.into(), link(true))?)
    } else {
        view = view.and(StderrView::in_units(units));
        None
    };
    // The panel shows both by itself.
    if !seat.panel {
        let mut lines = StderrView::in_units(units);
        show_cautions(&mut lines);
        show_described(&config, units, &mut lines);
        let is_terminal = std::io::stderr().is_terminal();
        let color = is_terminal && has_color(variable);
        for line in link(is_terminal) {
            // Nobody may be reading.
            let _ = writeln!(std::io::stderr(), "{}", line.on_terminal(color));
        }
    }
    if let Some(notice) = runs.notice() {
        view.notice(&notice);
    }
    Ok(record_by(computer, &config, &mut view)?)
}

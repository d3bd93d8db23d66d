//! The terminal: taken when the panel starts, given back however the program ends.

use super::draw::draw;
use super::keys::Hand;
use super::pen::Look;
use super::scene::Scene;
use crate::characters::Characters;
use crate::live::Live;
use crate::reader_units::ReaderUnits as Units;
use crate::server::{SaidLine, has_color};
use ingest::recorder::Controls;
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
use ratatui::crossterm::event::{self, Event};
use ratatui::crossterm::terminal::{
    EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use ratatui::crossterm::{cursor, execute};
use std::io::{self, IsTerminal, Stdout};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Once};
use std::thread::JoinHandle;
use std::time::Duration;

/// How often the screen is drawn, and the longest that a key waits.
const FRAME: Duration = Duration::from_millis(100);

/// Why there is no panel.
#[derive(Debug, thiserror::Error)]
pub enum PanelError {
    /// Input or output is a file or a pipe.
    #[error(
        "--panel needs a terminal, and this is none: leave it out, or use --live for a page in a browser"
    )]
    NoTerminal,
    /// The system refused.
    #[error("cannot set up the terminal for --panel: {0}")]
    System(#[from] io::Error),
}

/// The panel at work; the terminal is as it was before when this is dropped.
#[derive(Debug)]
pub struct Panel {
    ends: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Panel {
    /// Whether there is a terminal for it.
    ///
    /// # Errors
    /// [`PanelError::NoTerminal`].
    pub fn needs_terminal() -> Result<(), PanelError> {
        let there = io::stdin().is_terminal() && io::stdout().is_terminal();
        if there { Ok(()) } else { Err(PanelError::NoTerminal) }
    }

    /// Shows what is known live in this terminal, in these units, and passes on what is wished; `link` is how the page is
    /// reached, line by line, if there is one: it is shown to nobody else.
    ///
    /// # Errors
    /// [`PanelError`].
    pub fn start(
        live: Arc<Live>,
        controls: Controls,
        units: Units,
        link: Vec<SaidLine>,
    ) -> Result<Self, PanelError> {
        Self::needs_terminal()?;
        give_back_on_panic();
        let taken = Taken::take()?;
        let terminal = Terminal::new(CrosstermBackend::new(io::stdout()))?;
        let ends = Arc::new(AtomicBool::new(false));
        let thread = {
            let ends = Arc::clone(&ends);
            std::thread::Builder::new().name("panel".to_owned()).spawn(move || {
                // Given back by this thread, after its last frame.
                let _taken = taken;
                // A terminal that is gone is no reason to stop recording.
                let _ = show(terminal, (&live, &controls), Hand::reading(units, link), &ends);
            })?
        };
        Ok(Self { ends, thread: Some(thread) })
    }
}

impl Drop for Panel {
    fn drop(&mut self) {
        self.ends.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// What of the terminal is taken.
struct Taken;

impl Taken {
    fn take() -> io::Result<Self> {
        enable_raw_mode()?;
        // From here on it is given back even if the next step fails.
        let taken = Self;
        execute!(io::stdout(), EnterAlternateScreen, cursor::Hide)?;
        Ok(taken)
    }
}

impl Drop for Taken {
    fn drop(&mut self) {
        give_back();
    }
}

fn give_back() {
    let _ = execute!(io::stdout(), LeaveAlternateScreen, cursor::Show);
    let _ = disable_raw_mode();
}

/// Whatever thread panics, what it says must be readable and the terminal usable.
fn give_back_on_panic() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |what| {
            give_back();
            before(what);
        }));
    });
}

fn look() -> Look {
    let variable = |name: &str| std::env::var(name).ok();
    Look { characters: Characters::of_locale(variable), color: has_color(variable) }
}

fn show(
    mut terminal: Terminal<CrosstermBackend<Stdout>>,
    (live, controls): (&Live, &Controls),
    mut hand: Hand,
    ends: &AtomicBool,
) -> io::Result<()> {
    let look = look();
    while !ends.load(Ordering::Relaxed) {
        hand.hear(live);
        let now = live.snapshot();
        let (strip, _) = live.strip(0, u64::MAX);
        let scene = Scene { now: &now, strip: &strip, hand: &hand, look };
        terminal.draw(|frame| draw(&scene, frame.area(), frame.buffer_mut()))?;
        if event::poll(FRAME)? {
            // A new size is taken with the next frame.
            if let Event::Key(key) = event::read()? {
                let done = hand.press(key, &now);
                hand.pass_on(done, live, controls);
            }
        }
    }
    Ok(())
}

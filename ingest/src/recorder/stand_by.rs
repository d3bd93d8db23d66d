//! Between runs: the boxes are there and their rows are shown, and nothing is written.

use super::RecordError;
use super::console::{Order, PassChoice, Wish};
use super::listening::HELLO_PATIENCE;
use super::run::Asked;
use super::start::{check_channels, setting_of};
use super::state::Recorder;
use super::watching::TICK;
use tokio::time::Instant;

/// All ports, as what notices are of.
const ALL: usize = usize::MAX - 1;

/// There is nothing to be marked or to be stopped.
const NO_RUN: &str = "no run is being recorded";

impl Recorder<'_> {
    /// Stands by until a run is asked for; `None` when the recorder is to end.
    pub(super) async fn stand_by(&mut self) -> Option<Asked> {
        let mut tick = tokio::time::interval(TICK);
        tick.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Skip);
        let began = Instant::now();
        if self.live_since_us.is_some() {
            self.view.stands_by();
        }
        let mut pinged = false;
        let mut awaited = String::new();
        loop {
            // In this order, so that a flood of bytes holds up neither the person nor the tick.
            tokio::select! {
                biased;
                Some(wish) = self.wishes.recv() => match wish {
                    Wish::End(_) => return None,
                    Wish::Start(choice) => {
                        if let Some(asked) = self.asked_for(&choice) {
                            return Some(asked);
                        }
                    }
                    Wish::Enter => {
                        if let Some(asked) = self.asked_for(&PassChoice::default()) {
                            return Some(asked);
                        }
                    }
                    Wish::Choose(choice) => {
                        self.choose(&choice, Order::Choose);
                    }
                    Wish::Mark => self.view.not_done(Order::Mark, NO_RUN),
                    Wish::Stop(_) => self.view.not_done(Order::Stop, NO_RUN),
                },
                _ = tick.tick() => {
                    self.tick();
                    self.view.progress(&self.progress(None));
                    match self.check_ready() {
                        Ok(()) => {
                            awaited.clear();
                            if !std::mem::replace(&mut pinged, true) {
                                self.ping();
                            }
                            if self.live_since_us.is_none() {
                                self.go_live();
                                self.view.stands_by();
                            }
                        }
                        // Boxes need a while to say who they are, and a port that comes and goes is told of as such.
                        Err(error) => {
                            let why = match error {
                                RecordError::PortsAway(waits) => Some(waits),
                                error => (began.elapsed() >= HELLO_PATIENCE).then(|| format!("waiting: {error}")),
                            };
                            if let Some(why) = why.filter(|why| self.live_since_us.is_none() && *why != awaited) {
                                self.notices.show(self.view, (ALL, "awaited"), &why);
                                awaited = why;
                            }
                        }
                    }
                }
                message = self.messages.recv() => match message {
                    Some(message) => self.on_message(message),
                    None => return None,
                },
            }
            if let Some(asked) = self.asked_by_plow() {
                return Some(asked);
            }
        }
    }

    /// A run as a person asks for it, if it can begin; else the person is told why not.
    fn asked_for(&mut self, choice: &PassChoice) -> Option<Asked> {
        if !self.choose(choice, Order::Start) {
            return None;
        }
        let at_us = self.ledger.host_us(Instant::now());
        self.checked(Asked { at_us, pass: None })
    }

    /// The same of one that the plow asks for.
    fn asked_by_plow(&mut self) -> Option<Asked> {
        let (at_us, pass) = self.by_plow.as_mut()?.take_went_in()?;
        self.checked(Asked { at_us, pass: Some(pass) })
    }

    fn checked(&mut self, asked: Asked) -> Option<Asked> {
        let name = self.choice.setting_name.as_deref();
        let can = self.can_begin_run().and_then(|()| setting_of(&self.config.plow, name).map(drop));
        match can {
            Ok(()) => Some(asked),
            Err(error) => {
                self.view.not_done(Order::Start, &format!("no run begins: {error}"));
                None
            }
        }
    }

    /// Whether a run can begin now. A port that is away for the moment is waited for in the run, if its box is known.
    fn can_begin_run(&self) -> Result<(), RecordError> {
        if self.live_since_us.is_none() {
            self.check_ready()?;
        }
        self.fits()
    }

    /// Whether all boxes are there and fit; if not, what is missing. Runs begin without a receiver, which is told with
    /// the ports that are away.
    fn check_ready(&self) -> Result<(), RecordError> {
        self.check_refusals()?;
        let now = Instant::now();
        let boxes: Vec<_> = self.connections.iter().filter_map(|one| one.watch.waits(now)).collect();
        if boxes.is_empty() {
            return self.fits();
        }
        let gnss = self.gnss.as_ref().and_then(|gnss| gnss.lacking(now));
        Err(RecordError::PortsAway(boxes.into_iter().chain(gnss).collect::<Vec<_>>().join("; ")))
    }

    /// Whether what the boxes have said of themselves can be recorded with this plow.
    fn fits(&self) -> Result<(), RecordError> {
        self.check_refusals()?;
        let hellos = self.hellos().map_err(|silent| silent.no_hello(self.config.baud))?;
        check_channels(&self.connections, &hellos)
    }
}

//! What the person at the recorder does: presses Enter, or asks it to end.

use crate::plow::ShareCondition;
use crate::system::Signal;
use std::io::{BufRead, IsTerminal};
use tokio::sync::mpsc;

/// What a run is to be recorded with; what is `None` stays as it was, or as the plow description has it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PassChoice {
    /// Name of the hitch setting, as in the plow description.
    pub setting_name: Option<String>,
    /// It is taken as it was chosen last or configured, and nobody has said since the recorder was started that the
    /// hitch is in it.
    pub assumed: bool,
    /// Condition of the shares.
    pub share: Option<ShareCondition>,
    /// Field, as the person calls it.
    pub field: Option<String>,
    /// Notes on this pass.
    pub note: Option<String>,
}

impl PassChoice {
    /// This, with what somebody says now over it; an empty text takes back the one that was there.
    #[must_use]
    pub fn with(&self, said: &Self) -> Self {
        let text = |said: &Option<String>, before: &Option<String>| match said {
            Some(text) => Some(text.clone()).filter(|text| !text.is_empty()),
            None => before.clone(),
        };
        Self {
            setting_name: said.setting_name.clone().or_else(|| self.setting_name.clone()),
            assumed: self.assumed && said.setting_name.is_none(),
            share: said.share.or(self.share),
            field: text(&said.field, &self.field),
            note: text(&said.note, &self.note),
        }
    }
}

/// What the person at the recorder wishes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Wish {
    /// A mark in the run.
    Mark,
    /// Enter was pressed: a mark in a run, and between runs a run.
    Enter,
    /// The next runs, recorded with this.
    Choose(PassChoice),
    /// A run, recorded with this, as are those after it.
    Start(PassChoice),
    /// The end of the run, asked for by this; a recorder that stands by goes on.
    Stop(&'static str),
    /// The end of the recorder, asked for by this.
    End(&'static str),
}

/// What a person asks for and waits to see done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// A run.
    Start,
    /// The end of the run.
    Stop,
    /// A mark in the run.
    Mark,
    /// What the next runs are recorded with.
    Choose,
}

impl Order {
    /// What this wish asks for; none of one that is done in any case, or that can be either.
    #[must_use]
    pub fn of(wish: &Wish) -> Option<Self> {
        match wish {
            Wish::Start(_) => Some(Self::Start),
            Wish::Stop(_) => Some(Self::Stop),
            Wish::Mark => Some(Self::Mark),
            Wish::Choose(_) => Some(Self::Choose),
            Wish::Enter | Wish::End(_) => None,
        }
    }
}

/// Why a wish was not taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum WishRefused {
    /// Too many wait.
    #[error("the recorder is busy with what was asked before: try again")]
    Busy,
    /// It has ended.
    #[error("the recorder has ended")]
    Ended,
}

/// Passes wishes on to a recorder, from anywhere.
#[derive(Clone, Debug)]
pub struct Controls(mpsc::Sender<Wish>);

impl Controls {
    /// Controls, and what a recorder takes their wishes from.
    #[must_use]
    pub fn new() -> (Self, mpsc::Receiver<Wish>) {
        let (out, wishes) = mpsc::channel(8);
        (Self(out), wishes)
    }

    /// Passes a wish on; never waits.
    ///
    /// # Errors
    /// [`WishRefused`].
    pub fn wish(&self, wish: Wish) -> Result<(), WishRefused> {
        self.0.try_send(wish).map_err(|error| match error {
            mpsc::error::TrySendError::Full(_) => WishRefused::Busy,
            mpsc::error::TrySendError::Closed(_) => WishRefused::Ended,
        })
    }
}

/// Passes on a wish for each line on stdin, if somebody sits there.
pub fn tell_keyboard(controls: &Controls) {
    if !std::io::stdin().is_terminal() {
        return;
    }
    let Controls(out) = controls.clone();
    // The thread sleeps in its read until the process ends; there is no portable way to wake it.
    let _ = std::thread::Builder::new()
        .name("stdin".to_owned())
        .spawn(move || enter_for_each_line(std::io::stdin().lock(), &out));
}

/// A wish for each line, as long as there are any and a recorder that takes them.
fn enter_for_each_line(mut typed: impl BufRead, out: &mpsc::Sender<Wish>) {
    let mut line = Vec::new();
    while typed.read_until(b'\n', &mut line).is_ok_and(|length| length > 0) {
        line.clear();
        if out.blocking_send(Wish::Enter).is_err() {
            return;
        }
    }
}

/// Passes on the end for a signal that asks for it.
///
/// # Errors
/// If the system gives no signal handler.
pub fn tell_signals(Controls(out): &Controls) -> std::io::Result<()> {
    for mut signal in Signal::all()? {
        let out = out.clone();
        tokio::spawn(async move {
            while signal.comes().await && out.send(Wish::End(signal.name)).await.is_ok() {}
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_said_now_goes_before_what_was_and_an_empty_text_takes_it_back() {
        let text = |text: &str| Some(text.to_owned());
        let before = PassChoice { setting_name: text("low"), field: text("brook"), ..PassChoice::default() };
        assert_eq!(before.with(&PassChoice::default()), before);
        let share = Some(ShareCondition::Worn);
        let said = PassChoice { share, field: text(""), note: text("wet"), ..PassChoice::default() };
        let next =
            PassChoice { setting_name: text("low"), share, note: text("wet"), ..PassChoice::default() };
        assert_eq!(before.with(&said), next);
        // Shares say nothing of the hitch; to name the setting that is there already does.
        let assumed = PassChoice { assumed: true, ..before.clone() };
        assert!(assumed.with(&said).assumed && !assumed.with(&before).assumed);
    }

    /// Found: a key that is no letter of UTF-8 ended the reading of the keyboard.
    #[test]
    fn each_line_is_an_enter_whatever_is_typed_until_nobody_takes_it() {
        let (Controls(out), mut wishes) = Controls::new();
        enter_for_each_line(&b"\n\xff\xfe\nlast"[..], &out);
        let pressed: Vec<_> = std::iter::from_fn(|| wishes.try_recv().ok()).collect();
        assert_eq!(pressed, [const { Wish::Enter }; 3]);
        drop(wishes);
        let mut typed = &b"1\n2\n3\n"[..];
        enter_for_each_line(&mut typed, &out);
        assert_eq!(typed, b"2\n3\n", "it goes on reading for nobody");
    }

    #[test]
    fn a_wish_that_cannot_be_passed_on_is_refused_with_why() {
        let (controls, wishes) = Controls::new();
        let refused = (0..20).find_map(|_| controls.wish(Wish::Mark).err());
        assert_eq!(refused, Some(WishRefused::Busy));
        drop(wishes);
        assert_eq!(controls.wish(Wish::Mark), Err(WishRefused::Ended));
    }

    #[test]
    fn what_is_waited_for_is_an_order_and_the_rest_is_none() {
        let choice = PassChoice::default();
        let orders = [Wish::Start(choice.clone()), Wish::Stop("x"), Wish::Mark, Wish::Choose(choice)];
        let orders = orders.map(|wish| Order::of(&wish));
        assert_eq!(orders, [Order::Start, Order::Stop, Order::Mark, Order::Choose].map(Some));
        assert_eq!([Wish::Enter, Wish::End("x")].map(|wish| Order::of(&wish)), [None, None]);
    }
}

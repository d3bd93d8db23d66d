//! Orders from the seat, by the page or by a key of the panel, and what came of them: the same words for both.

use super::super::answers::AskedAt;
use super::super::snapshot::{CannotNow, Choice, Phase, RunNow, TroubleKind};
use super::{Live, State};
use ingest::plow::ShareCondition;
use ingest::recorder::{Controls, Order, PassChoice, Wish};
use std::time::{Duration, Instant};

/// Whoever asked hears something within this time.
const ANSWERED_WITHIN: Duration = Duration::from_millis(1800);
/// That is, if nothing else can be said.
const NOT_YET: &str = "The recorder has it and has not done it yet, as when the disk is slow: the words at the top say when it has.";

/// An order that was passed on to the recorder.
#[derive(Clone, Debug)]
pub struct Asked {
    wish: Wish,
    order: Order,
    since: AskedAt,
    at: Instant,
}

/// What came of an order, in a sentence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Answer {
    /// It is done.
    Done(String),
    /// It is not, and why.
    NotDone(String),
    /// Neither is known yet.
    NotYet(&'static str),
}

/// A message as a sentence: its first letter large, a full stop behind it.
#[must_use]
pub fn sentence(message: &str) -> String {
    let mut letters = message.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    let stop = if message.ends_with('.') { "" } else { "." };
    format!("{first}{}{stop}", letters.as_str())
}

impl Asked {
    /// Whether it says in which setting the hitch is.
    #[must_use]
    pub fn chooses_setting(&self) -> bool {
        matches!(&self.wish, Wish::Choose(said) if said.setting_name.is_some())
    }
}

impl Live {
    /// Passes a wish on to the recorder, if it makes sense now; nothing comes back of one that is done in any case.
    ///
    /// # Errors
    /// Why it was not passed on, in a sentence.
    pub fn ask(&self, controls: &Controls, wish: Wish) -> Result<Option<Asked>, String> {
        let (order, at) = (Order::of(&wish), Instant::now());
        let since = {
            let state = self.state();
            if let Some(why) = order.and_then(|order| state.cannot(order)) {
                return Err(sentence(&why));
            }
            state.answers.now(state.run.as_ref())
        };
        controls.wish(wish.clone()).map_err(|error| sentence(&error.to_string()))?;
        Ok(order.map(|order| Asked { wish, order, since, at }))
    }

    /// What has come of an order so far; `None`: nothing yet, and there is still time.
    #[must_use]
    pub fn heard(&self, asked: &Asked) -> Option<Answer> {
        let known = self.state().came_of(asked);
        known.or_else(|| (asked.at.elapsed() >= ANSWERED_WITHIN).then_some(Answer::NotYet(NOT_YET)))
    }

    /// Waits for what comes of an order.
    pub async fn answer(&self, asked: &Asked) -> Answer {
        let answer = async {
            loop {
                // Made before the look, so that what comes in between rings it.
                let rung = self.answered.notified();
                let known = self.state().came_of(asked);
                match known {
                    Some(answer) => return answer,
                    None => rung.await,
                }
            }
        };
        let left = ANSWERED_WITHIN.saturating_sub(asked.at.elapsed());
        tokio::time::timeout(left, answer).await.unwrap_or(Answer::NotYet(NOT_YET))
    }
}

impl State {
    /// What is wrong of this kind.
    fn trouble(&self, kind: TroubleKind) -> Option<String> {
        self.troubles.now().into_iter().find(|one| one.kind == kind).map(|one| one.text)
    }

    /// Why the orders that somebody may give make no sense now.
    pub(super) fn cannot_now(&self) -> CannotNow {
        let why = |order| self.cannot(order).map(|why| sentence(&why));
        CannotNow { start: why(Order::Start), stop: why(Order::Stop), mark: why(Order::Mark) }
    }

    /// Why an order makes no sense now.
    fn cannot(&self, order: Order) -> Option<String> {
        match (order, self.phase) {
            (Order::Choose, _) => None,
            (_, Phase::Listening) => Some(match self.trouble(TroubleKind::PortAway) {
                Some(waits) => format!("not all boxes have answered yet: {waits}"),
                None => "not all boxes have answered yet".to_owned(),
            }),
            // The recorder keeps it and begins the run after that.
            (Order::Start, Phase::Recording) if self.trouble(TroubleKind::StillWritten).is_some() => None,
            (Order::Start, Phase::Recording) => Some("a run is being recorded: stop it first".to_owned()),
            (Order::Stop | Order::Mark, Phase::StandsBy) => Some("no run is being recorded".to_owned()),
            _ => None,
        }
    }

    fn came_of(&self, asked: &Asked) -> Option<Answer> {
        match self.answers.to(asked.order, &asked.since, self.run.as_ref())? {
            Err(why) => Some(Answer::NotDone(sentence(&why))),
            Ok(()) => Some(match &asked.wish {
                Wish::Start(said) => {
                    started(said, self.run.as_ref(), self.trouble(TroubleKind::PortAway).as_deref())
                }
                Wish::Choose(said) => kept(said, &self.choice),
                Wish::Mark => Answer::Done("Mark set.".to_owned()),
                Wish::Stop(_) | Wish::Enter | Wish::End(_) => Answer::Done("Stopped.".to_owned()),
            }),
        }
    }
}

fn in_words(setting: &str, share: ShareCondition) -> String {
    format!("{setting}, {share} shares")
}

/// A run has begun; a box whose port is away is waited for in it.
fn started(said: &PassChoice, run: Option<&RunNow>, away: Option<&str>) -> Answer {
    let is_other = |run: &&RunNow| {
        said.setting_name.as_ref().is_some_and(|name| *name != run.setting)
            || said.share.is_some_and(|share| share != run.share)
    };
    match (run.filter(is_other), away) {
        (Some(run), _) => Answer::NotDone(format!(
            "Not yours: a run of {} is being recorded, begun elsewhere.",
            in_words(&run.setting, run.share)
        )),
        (None, Some(away)) => Answer::Done(sentence(&format!("started, {away}"))),
        (None, None) => Answer::Done("Started.".to_owned()),
    }
}

fn kept(said: &PassChoice, choice: &Choice) -> Answer {
    let has = PassChoice::from(choice.clone());
    let words = match (&choice.setting, choice.share) {
        (Some(setting), Some(share)) => in_words(setting, share),
        _ => "no setting yet".to_owned(),
    };
    // What somebody says over what is there changes nothing if it is there already.
    if has.with(said) == has {
        Answer::Done(format!("Next run: {words}."))
    } else {
        Answer::NotDone(format!("Not kept: somebody else chose at the same time. Next run: {words}."))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(setting: &str, share: ShareCondition) -> PassChoice {
        PassChoice { setting_name: Some(setting.to_owned()), share: Some(share), ..PassChoice::default() }
    }

    #[test]
    fn whoever_starts_is_told_whose_run_it_is_and_what_it_waits_for() {
        let run = RunNow::begun("run", "low", ShareCondition::Sharp);
        let mine = said("low", ShareCondition::Sharp);
        assert_eq!(started(&mine, Some(&run), None), Answer::Done("Started.".into()));
        assert_eq!(started(&PassChoice::default(), Some(&run), None), Answer::Done("Started.".into()));
        let away = "waiting for /dev/plow: there is no such port";
        assert_eq!(started(&mine, Some(&run), Some(away)), Answer::Done(format!("Started, {away}.")));
        let Answer::NotDone(why) = started(&said("low", ShareCondition::Worn), Some(&run), None) else {
            panic!("it is another run")
        };
        assert_eq!(why, "Not yours: a run of low, sharp shares is being recorded, begun elsewhere.");
    }

    #[test]
    fn a_choice_is_kept_if_the_recorder_has_it() {
        let choice = Choice {
            setting: Some("low".to_owned()),
            share: Some(ShareCondition::Sharp),
            ..Choice::default()
        };
        let mine = PassChoice { field: Some(String::new()), ..said("low", ShareCondition::Sharp) };
        assert_eq!(kept(&mine, &choice), Answer::Done("Next run: low, sharp shares.".into()));
        assert!(matches!(kept(&said("high", ShareCondition::Sharp), &choice), Answer::NotDone(_)));
    }

    #[test]
    fn a_message_becomes_one_sentence() {
        assert_eq!(
            (sentence("no run"), sentence("No run."), sentence("")),
            ("No run.".into(), "No run.".into(), ".".into())
        );
    }
}

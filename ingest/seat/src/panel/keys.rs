//! What a key does.

use crate::live::{Answer, Asked, Live, Phase, Snapshot};
use crate::reader_units::ReaderUnits as Units;
use crate::server::SaidLine;
use ingest::recorder::{Controls, PassChoice, Wish};
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use std::time::{Duration, Instant};

/// How long an answer to a key is shown: done is soon plain to see.
const ANSWER_SHOWN: Duration = Duration::from_secs(6);
/// Why not is read more slowly.
const WHY_SHOWN: Duration = Duration::from_secs(15);
/// Who ends a run from here, as it stands in its events.
const THE_PANEL: &str = "the panel";

/// Keys and what they do, as they are shown, the most needed first.
pub(super) const KEYS: [(&str, &str); 7] = [
    ("s", "start"),
    ("x", "stop"),
    ("m", "mark"),
    ("h", "hitch"),
    ("c", "shares"),
    ("u", "units"),
    ("q", "end"),
];

/// What has been asked and waits for the same key again.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Question {
    /// Nothing.
    #[default]
    Nothing,
    /// Whether to stop the run.
    Stop,
    /// Whether to end the program.
    End,
}

impl Question {
    /// The question.
    pub fn in_words(self, recording: bool) -> Option<&'static str> {
        match self {
            Self::Nothing => None,
            Self::Stop => Some("Stop this run? x again: stop. Any other key: go on."),
            Self::End if recording => {
                Some("Stop this run and end the program? q again: end. Any other key: go on.")
            }
            Self::End => Some("End the program? q again: end. Any other key: go on."),
        }
    }
}

/// The key that shows the link of the page, where there is one.
pub(super) const LINK_KEY: (&str, &str) = ("l", "link");

/// What the screen is used for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Sheet {
    /// Figures.
    #[default]
    Figures,
    /// Cautions, until a key is pressed.
    Cautions,
    /// One of the links of the page, from 0, until a key is pressed.
    Link(usize),
    /// A page of the verdict on the last run, from 0, until a key is pressed.
    LastRun(usize),
}

/// What the person at the panel has done with it.
#[derive(Clone, Debug, Default)]
pub(super) struct Hand {
    pub units: Units,
    pub question: Question,
    pub sheet: Sheet,
    /// Links and QR codes of the page, line by line; none where there is no page.
    pub link: Vec<SaidLine>,
    /// An answer, and until when it is shown.
    pub(super) answer: Option<(String, Instant)>,
    /// What the recorder was asked for last, and has not done yet.
    pub(super) waits_for: Option<Asked>,
}

/// What comes of a key, besides what changes in the [`Hand`].
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Done {
    /// Nothing.
    Nothing,
    /// To be passed on to the recorder.
    Wish(Wish),
}

impl Hand {
    /// At the beginning: the cautions come first.
    pub fn reading(units: Units, link: Vec<SaidLine>) -> Self {
        Self { units, link, sheet: Sheet::Cautions, ..Self::default() }
    }

    /// The answer to the last key, while it is shown.
    pub fn answer(&self, now: Instant) -> Option<&str> {
        self.answer.as_ref().filter(|(_, until)| now < *until).map(|(text, _)| text.as_str())
    }

    fn say(&mut self, text: impl Into<String>) -> Done {
        self.say_for(text, ANSWER_SHOWN)
    }

    fn say_for(&mut self, text: impl Into<String>, time: Duration) -> Done {
        self.answer = Some((text.into(), Instant::now() + time));
        Done::Nothing
    }

    /// Passes on what a key has come to; what comes of it is heard later.
    pub fn pass_on(&mut self, done: Done, live: &Live, controls: &Controls) {
        let Done::Wish(wish) = done else { return };
        let words = doing(&wish);
        match live.ask(controls, wish) {
            Ok(asked) => {
                self.waits_for = asked;
                self.say(words);
            }
            Err(why) => {
                self.say_for(why, WHY_SHOWN);
            }
        }
    }

    /// Hears what has come of it, in the words of the page.
    pub fn hear(&mut self, live: &Live) {
        let Some(answer) = self.waits_for.as_ref().and_then(|asked| live.heard(asked)) else { return };
        let (words, time) = match answer {
            Answer::Done(words) => (words, ANSWER_SHOWN),
            Answer::NotDone(why) => (why, WHY_SHOWN),
            Answer::NotYet(words) => {
                self.say(words);
                return;
            }
        };
        let (words, time) = match self.waits_for.take() {
            Some(asked) if asked.chooses_setting() => {
                (format!("{words} {}", holes_in_words(&live.snapshot(), self.units)), WHY_SHOWN)
            }
            _ => (words, time),
        };
        self.say_for(words, time);
    }

    /// What a key does while this is so.
    pub fn press(&mut self, key: KeyEvent, now: &Snapshot) -> Done {
        if key.kind == KeyEventKind::Release {
            return Done::Nothing;
        }
        let question = std::mem::take(&mut self.question);
        let recording = now.phase == Phase::Recording;
        // The terminal sends no signal for it while it passes on every key.
        if key.code == KeyCode::Char('c') && key.modifiers.contains(KeyModifiers::CONTROL) {
            return Done::Wish(Wish::End("Ctrl-C"));
        }
        let code = match key.code {
            KeyCode::Char(c) => KeyCode::Char(c.to_ascii_lowercase()),
            other => other,
        };
        match std::mem::take(&mut self.sheet) {
            Sheet::Figures => {}
            Sheet::LastRun(page) if code == KeyCode::Char('v') => {
                self.sheet = Sheet::LastRun(page.wrapping_add(1));
                return Done::Nothing;
            }
            Sheet::Link(number) if code == KeyCode::Char('l') && number + 1 < self.links().count() => {
                self.sheet = Sheet::Link(number + 1);
                return Done::Nothing;
            }
            _ => return Done::Nothing,
        }
        match code {
            KeyCode::Char('s') => self.start(now),
            // There is nothing to ask about where no run is: the answer says so.
            KeyCode::Char('x') if question == Question::Stop || !recording => {
                Done::Wish(Wish::Stop(THE_PANEL))
            }
            KeyCode::Char('x') => self.ask(Question::Stop),
            KeyCode::Char('q') if question == Question::End => Done::Wish(Wish::End(THE_PANEL)),
            KeyCode::Char('q') => self.ask(Question::End),
            KeyCode::Char('m') | KeyCode::Enter => Done::Wish(Wish::Mark),
            KeyCode::Char('h') => self.next_setting(now, recording),
            KeyCode::Char('c') => self.next_share(now, recording),
            KeyCode::Char('u') => {
                self.units = self.units.other();
                self.say(format!("Shown in {}.", self.units.names()))
            }
            KeyCode::Char('v') => {
                self.sheet = Sheet::LastRun(0);
                Done::Nothing
            }
            KeyCode::Char('l') if !self.link.is_empty() => {
                self.sheet = Sheet::Link(0);
                Done::Nothing
            }
            _ if question != Question::Nothing => self.say("Going on."),
            _ => self.say("This key does nothing: those that do stand below."),
        }
    }

    /// The links one by one, each with its code: two codes on one screen, and a phone takes the wrong one.
    pub fn links(&self) -> impl Iterator<Item = &[SaidLine]> {
        self.link.chunk_by(|_, next| matches!(next, SaidLine::Dots(_)))
    }

    fn ask(&mut self, question: Question) -> Done {
        self.question = question;
        Done::Nothing
    }

    fn start(&mut self, now: &Snapshot) -> Done {
        if now.phase == Phase::StandsBy && now.choice.setting.is_none() {
            return self.say("Choose the hitch setting first: h.");
        }
        // What is shown here is what the run is recorded with, whatever else is chosen at the same time elsewhere.
        Done::Wish(Wish::Start(now.choice.clone().into()))
    }

    fn next_setting(&mut self, now: &Snapshot, recording: bool) -> Done {
        if recording {
            let holes = holes_in_words(now, self.units);
            return self.say(format!("The hitch setting is chosen between runs. {holes}"));
        }
        let place = now.settings.iter().position(|name| Some(name) == now.choice.setting.as_ref());
        let next = place.map_or(0, |place| place + 1) % now.settings.len().max(1);
        let Some(name) = now.settings.get(next).cloned() else {
            return self.say("The plow description has no setting.");
        };
        Done::Wish(Wish::Choose(PassChoice { setting_name: Some(name), ..PassChoice::default() }))
    }

    fn next_share(&mut self, now: &Snapshot, recording: bool) -> Done {
        if recording {
            return self.say("The condition of the shares is chosen between runs.");
        }
        let place = now.shares.iter().position(|share| Some(*share) == now.choice.share);
        let next = place.map_or(0, |place| place + 1) % now.shares.len();
        let Some(share) = now.shares.get(next).copied() else { return Done::Nothing };
        Done::Wish(Wish::Choose(PassChoice { share: Some(share), ..PassChoice::default() }))
    }
}

/// The holes of the setting that the run or the next one is of, and what the last verdict orders.
fn holes_in_words(now: &Snapshot, units: Units) -> String {
    let setting = now.run.as_ref().map(|run| &run.setting).or(now.choice.setting.as_ref());
    let holes = now.settings.iter().zip(&now.holes).find(|(name, _)| Some(*name) == setting);
    let set = holes.map(|(name, holes)| format!("Set for {name}: {holes}."));
    let told = now.last_pass.as_ref().and_then(|pass| Some((pass, pass.order.of(units).as_ref()?)));
    let advice = told.map(|(pass, order)| format!("Told after {}: {order}", pass.run));
    set.into_iter().chain(advice).collect::<Vec<_>>().join(" ")
}

/// What is said until the answer comes.
fn doing(wish: &Wish) -> &'static str {
    match wish {
        Wish::Start(_) => "Starting ...",
        Wish::Stop(_) => "Stopping ...",
        Wish::Mark | Wish::Enter => "Marking ...",
        Wish::Choose(_) => "Keeping ...",
        Wish::End(_) => "Ending ...",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::live::{Choice, LastPass, LiveView};
    use crate::panel::draw::tests::snapshot;
    use crate::reader_units::InBothUnits;
    use ingest::plow::{ShareCondition, read_plow};
    use ingest::recorder::{Order, View};
    use std::path::{Path, PathBuf};
    use std::sync::Arc;

    fn press(hand: &mut Hand, key: char, now: &Snapshot) -> Done {
        hand.press(KeyEvent::from(KeyCode::Char(key)), now)
    }

    fn said(hand: &Hand) -> String {
        hand.answer(Instant::now()).unwrap_or_default().to_owned()
    }

    #[test]
    fn a_run_is_stopped_by_the_second_key_and_not_by_the_first() {
        let (mut hand, now) = (Hand::default(), snapshot());
        assert_eq!(press(&mut hand, 'x', &now), Done::Nothing);
        assert!(hand.question.in_words(true).unwrap().contains("x again"));
        assert_eq!(
            press(&mut hand, 'm', &now),
            Done::Wish(Wish::Mark),
            "another key takes the question back"
        );
        assert_eq!(press(&mut hand, 'x', &now), Done::Nothing);
        assert_eq!(press(&mut hand, 'x', &now), Done::Wish(Wish::Stop("the panel")));
        assert_eq!(press(&mut hand, 'q', &now), Done::Nothing);
        assert_eq!(press(&mut hand, 'q', &now), Done::Wish(Wish::End("the panel")));
        let ctrl_c = KeyEvent::new(KeyCode::Char('c'), KeyModifiers::CONTROL);
        assert_eq!(hand.press(ctrl_c, &now), Done::Wish(Wish::End("Ctrl-C")));
    }

    #[test]
    fn what_makes_no_sense_now_is_answered_and_not_passed_on() {
        let mut hand = Hand::default();
        let recording = snapshot();
        for (key, answer) in [('h', "between runs"), ('c', "between runs")] {
            assert_eq!(press(&mut hand, key, &recording), Done::Nothing);
            assert!(said(&hand).contains(answer), "{key}: {}", said(&hand));
        }
        let mut without = Snapshot { phase: Phase::StandsBy, run: None, ..snapshot() };
        without.choice.setting = None;
        assert_eq!(press(&mut hand, 's', &without), Done::Nothing);
        assert!(said(&hand).contains("setting first"), "{}", said(&hand));
    }

    /// Found: "Starting a run." stood there for good where no run began.
    #[test]
    fn what_the_recorder_does_not_say_is_not_said_here() {
        let plow = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-runs/plows/two-bottom.toml");
        let choice = Choice { setting: Some("middle".to_owned()), ..Choice::default() };
        let live = Arc::new(Live::new(read_plow(&plow).unwrap(), &[PathBuf::from("/dev/x")], choice));
        let (mut view, (controls, mut wishes)) = (LiveView::new(Arc::clone(&live)), Controls::new());
        let mut hand = Hand::default();
        let mut do_key = |hand: &mut Hand, key| {
            let done = press(hand, key, &live.snapshot());
            hand.pass_on(done, &live, &controls);
            hand.hear(&live);
            (said(hand), wishes.try_recv().ok())
        };
        let none = "Not all boxes have answered yet.".to_owned();
        assert_eq!(do_key(&mut hand, 's'), (none, None));
        view.stands_by();
        for key in ['x', 'm'] {
            assert_eq!(do_key(&mut hand, key), ("No run is being recorded.".to_owned(), None));
        }
        let (words, wish) = do_key(&mut hand, 's');
        assert_eq!(words, "Starting ...");
        assert!(matches!(wish, Some(Wish::Start(_))), "{wish:?}");
        hand.hear(&live);
        assert_eq!(said(&hand), "Starting ...", "as long as nothing has come of it");
        view.not_done(Order::Start, "no run begins: the disk is full");
        hand.hear(&live);
        assert_eq!(said(&hand), "No run begins: the disk is full.");
        assert_eq!(do_key(&mut hand, 'c').0, "Keeping ...");
        let next = PassChoice {
            setting_name: Some("middle".to_owned()),
            share: Some(ShareCondition::Blunt),
            ..PassChoice::default()
        };
        view.chosen(&next, true);
        hand.hear(&live);
        assert_eq!(said(&hand), "Next run: middle, blunt shares.");
        // Found: whoever chose a setting by its name went to the pins without knowing its holes.
        let order = "Engine off, plow lowered and blocked: move the pin to hole 4.";
        let order = InBothUnits { si: Some(order.to_owned()), us: None };
        live.set_last_pass(snapshot().last_pass.map(|pass| LastPass { order, ..pass }));
        assert_eq!(do_key(&mut hand, 'h').0, "Keeping ...");
        let steep = PassChoice { setting_name: Some("steep".to_owned()), ..next };
        view.chosen(&steep, true);
        hand.hear(&live);
        let now = live.snapshot();
        let steep = now.settings.iter().position(|name| name == "steep").unwrap();
        let told = format!(
            "Next run: steep, blunt shares. Set for steep: {}. Told after 2027-04-11T0900_flat: Engine off, plow lowered and \
             blocked: move the pin to hole 4.",
            now.holes[steep]
        );
        assert_eq!(said(&hand), told);
    }

    #[test]
    fn settings_and_shares_go_round_and_a_run_starts_with_what_was_chosen() {
        let mut hand = Hand::default();
        let mut now = Snapshot { phase: Phase::StandsBy, run: None, ..snapshot() };
        let mut seen = Vec::new();
        for _ in 0..3 {
            let Done::Wish(Wish::Choose(choice)) = press(&mut hand, 'h', &now) else {
                panic!("nothing chosen")
            };
            now.choice.setting = choice.setting_name;
            seen.push(now.choice.setting.clone().unwrap());
        }
        assert_eq!(seen, ["steep", "flat", "middle"]);
        let Done::Wish(Wish::Choose(choice)) = press(&mut hand, 'c', &now) else { panic!("nothing chosen") };
        assert_eq!(choice.share, Some(ShareCondition::Blunt));
        now.choice.share = choice.share;
        match press(&mut hand, 's', &now) {
            Done::Wish(Wish::Start(choice)) => {
                assert_eq!(choice.setting_name.as_deref(), Some("middle"));
                assert_eq!(choice.share, Some(ShareCondition::Blunt));
                assert_eq!(choice.field.as_deref(), Some("by the brook"));
            }
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn the_cautions_are_read_before_a_key_does_anything_else() {
        let (mut hand, now) =
            (Hand::reading(Units::Si, vec![SaidLine::Words("http://127.0.0.1:8377/".into()); 2]), snapshot());
        assert_eq!(hand.sheet, Sheet::Cautions);
        assert_eq!(press(&mut hand, 'm', &now), Done::Nothing);
        assert_eq!((hand.sheet, press(&mut hand, 'm', &now)), (Sheet::Figures, Done::Wish(Wish::Mark)));
        press(&mut hand, 'l', &now);
        assert_eq!(hand.sheet, Sheet::Link(0));
        press(&mut hand, 'l', &now);
        assert_eq!(hand.sheet, Sheet::Link(1));
        press(&mut hand, 'l', &now);
        assert_eq!(hand.sheet, Sheet::Figures);
        press(&mut hand, 'l', &now);
        press(&mut hand, 'v', &now);
        assert_eq!(hand.sheet, Sheet::Figures);
    }

    #[test]
    fn units_are_changed_at_any_time() {
        let (mut hand, now) = (Hand::default(), snapshot());
        press(&mut hand, 'u', &now);
        assert_eq!(hand.units, Units::Us);
        assert!(said(&hand).contains("lbf"));
    }
}

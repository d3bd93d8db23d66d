//! The balance once a second beside a recording, on a thread of its own.

use crate::balance::{Balance, DRAWS, Found, KEPT_S, NotShown, OVER_S, Window, balance_of, last_stretch};
use crate::live::Live;
use crate::system::lower_priority;
use ingest::plow::{Plow, Setting, ShareCondition};
use ingest::recorder::{BegunRun, LiveRows, View};
use statics::verdict::Class;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// How often it is worked out.
const EVERY: Duration = Duration::from_secs(1);
/// No row for this long, and nothing is said of the last seconds.
const SILENCE: Duration = Duration::from_millis(1_500);
/// What a verdict rests on costs more than the verdict: it is worked out for each class that is told, and again after so long,
/// so that a balance at a limit of two classes costs no more than twice.
const RESTS_AGAIN: Duration = Duration::from_secs(60);

/// The balance of the last seconds of a recording, as a view of it. Cheap to clone; the thread ends with the last one.
#[derive(Clone, Debug)]
pub struct LiveBalance {
    shared: Arc<Shared>,
    _last: Arc<EndsThread>,
}

#[derive(Debug)]
struct Shared {
    state: Mutex<State>,
    changed: Condvar,
}

impl Shared {
    fn state(&self) -> MutexGuard<'_, State> {
        // Each holder only copies or replaces whole values.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[derive(Debug)]
struct State {
    /// The plow, its shares as they are today.
    plow: Plow,
    setting: Option<(String, Setting)>,
    window: Option<Window>,
    last_rows: Option<Instant>,
    latest: Balance,
    ended: bool,
}

impl State {
    /// The plow is hitched in this setting, with shares in this condition; what was read before with others is
    /// forgotten. A setting that the plow does not have changes nothing.
    fn hitch(&mut self, setting_name: &str, share: ShareCondition) {
        let Some(setting) = self.plow.settings.get(setting_name).cloned() else { return };
        let same = self.setting.as_ref().is_some_and(|(name, _)| name == setting_name)
            && self.plow.bottoms.share == share;
        if same {
            return;
        }
        self.plow.bottoms.share = share;
        self.window = Some(Window::of(&self.plow, &setting, KEPT_S));
        self.setting = Some((setting_name.to_owned(), setting));
    }
}

/// Wakes the thread to its end.
#[derive(Debug)]
struct EndsThread(Arc<Shared>);

impl Drop for EndsThread {
    fn drop(&mut self) {
        self.0.state().ended = true;
        self.0.changed.notify_all();
    }
}

impl LiveBalance {
    /// Works it out for what is shown live, and says it there. Between runs the plow is taken to be hitched as is chosen
    /// for the next one.
    ///
    /// # Errors
    /// If the system gives no thread.
    pub fn beside(live: &Arc<Live>) -> std::io::Result<Self> {
        let (of_hitch, of_told) = (Arc::clone(live), Arc::clone(live));
        let hitched = move || {
            let now = of_hitch.snapshot();
            let of_run = now.run.map(|run| (run.setting, Some(run.share)));
            of_run.or_else(|| Some((now.choice.setting?, now.choice.share)))
        };
        Self::start(live.plow().clone(), hitched, move |balance| of_told.set_balance(Some(balance.clone())))
    }

    /// Starts the thread for recordings of this plow. `hitched` says in which setting it is now and, if it is not that of the
    /// description, with which shares; `told` gets each balance as it is worked out.
    ///
    /// # Errors
    /// If the system gives no thread.
    pub fn start(
        plow: Plow,
        hitched: impl Fn() -> Option<(String, Option<ShareCondition>)> + Send + 'static,
        told: impl Fn(&Balance) + Send + 'static,
    ) -> std::io::Result<Self> {
        let described_share = plow.bottoms.share;
        let state = State {
            plow,
            setting: None,
            window: None,
            last_rows: None,
            latest: Balance::NotShown { why: NotShown::NoSetting },
            ended: false,
        };
        let shared = Arc::new(Shared { state: Mutex::new(state), changed: Condvar::new() });
        let of_thread = Arc::clone(&shared);
        std::thread::Builder::new().name("balance".to_owned()).spawn(move || {
            lower_priority();
            work(&of_thread, &told, &|| {
                if let Some((setting_name, share)) = hitched() {
                    of_thread.state().hitch(&setting_name, share.unwrap_or(described_share));
                }
            });
        })?;
        Ok(Self { _last: Arc::new(EndsThread(Arc::clone(&shared))), shared })
    }

    /// The latest.
    #[must_use]
    pub fn latest(&self) -> Balance {
        self.shared.state().latest.clone()
    }
}

impl View for LiveBalance {
    fn began(&mut self, run: &BegunRun) {
        self.shared.state().hitch(&run.setting_name, run.share);
    }

    fn readings(&mut self, rows: &LiveRows<'_>) {
        let mut state = self.shared.state();
        state.last_rows = Some(Instant::now());
        if let Some(window) = &mut state.window {
            window.take(rows);
        }
    }
}

fn work(shared: &Shared, told: &dyn Fn(&Balance), look_at_hitch: &dyn Fn()) {
    let mut firmness = Firmness::default();
    look_at_hitch();
    let mut due = Instant::now() + EVERY;
    loop {
        let asked = {
            let mut state = shared.state();
            loop {
                if state.ended {
                    return;
                }
                let now = Instant::now();
                if now >= due {
                    break;
                }
                let waited = shared.changed.wait_timeout(state, due - now);
                state = waited.unwrap_or_else(PoisonError::into_inner).0;
            }
            let silent = state.last_rows.is_none_or(|last| last.elapsed() > SILENCE);
            let setting = state.setting.clone().zip(state.window.clone());
            setting.map(|((_, setting), window)| (state.plow.clone(), setting, window, silent))
        };
        due = Instant::now() + EVERY;
        look_at_hitch();
        let balance = match &asked {
            None => Balance::NotShown { why: NotShown::NoSetting },
            Some((.., true)) => Balance::NotShown { why: NotShown::RowsMissing },
            Some((plow, setting, window, false)) => latest((plow, setting), window, &mut firmness),
        };
        told(&balance);
        shared.state().latest = balance;
    }
}

fn latest((plow, setting): (&Plow, &Setting), window: &Window, firmness: &mut Firmness) -> Balance {
    let found = last_stretch((plow, setting), window)
        .and_then(|span_us| balance_of((plow, setting), window, span_us, DRAWS));
    match found {
        Err(why) => Balance::NotShown { why },
        Ok(Found { figures, mut judged, front }) => {
            let asked =
                (judged.verdict.class, judged.identified.as_ref().is_ok_and(|found| found.lifts_shown()));
            let known = firmness.known(asked, setting, plow.bottoms.share);
            judged.verdict.firm = known.unwrap_or_else(|| {
                let firm = judged.clone().resting((plow, setting), &figures).verdict.firm;
                firmness.learned(asked, setting, plow.bottoms.share, firm)
            });
            Balance::of(&judged, front, OVER_S)
        }
    }
}

/// Whether the classes that were told lately are firm.
#[derive(Default)]
struct Firmness(Vec<(Asked, Instant, bool)>);

/// The class, whether the soil lifts, and how the plow is hitched.
type Asked = (Class, bool, Setting, ShareCondition);

impl Firmness {
    fn known(&self, (class, lifts): (Class, bool), setting: &Setting, share: ShareCondition) -> Option<bool> {
        let same =
            |asked: &Asked| (asked.0, asked.1, asked.3) == (class, lifts, share) && asked.2 == *setting;
        let known = self.0.iter().find(|(asked, at, _)| same(asked) && at.elapsed() < RESTS_AGAIN);
        known.map(|(.., firm)| *firm)
    }

    fn learned(
        &mut self,
        (class, lifts): (Class, bool),
        setting: &Setting,
        share: ShareCondition,
        firm: bool,
    ) -> bool {
        self.0.retain(|(_, at, _)| at.elapsed() < RESTS_AGAIN);
        self.0.push(((class, lifts, setting.clone(), share), Instant::now(), firm));
        firm
    }
}

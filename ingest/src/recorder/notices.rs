//! Notices that come by the hundred are shown by the handful, and counted.

use super::View;
use std::collections::BTreeMap;
use std::time::Duration;
use tokio::time::Instant;

/// Notices of one kind that are shown at once within a stretch of time.
const SHOWN_MAX: u32 = 5;
/// That stretch; it doubles up to the last as long as more of them come.
const STRETCH_FIRST: Duration = Duration::from_secs(1);
const STRETCH_LAST: Duration = Duration::from_secs(60);

/// Kinds that cost readings or may, and that this is over: an event of `events.csv`, or of the disk.
const WARNINGS: [&str; 19] = [
    "gap",
    "without-readings",
    "reset",
    "restart",
    "port-gone",
    "port-back",
    "channels-changed",
    "refused",
    "no-rows",
    "rows-back",
    "box-dropped",
    "line-bad",
    "line-good",
    "not-kept",
    "saturated",
    "saturated-end",
    "clocks-apart",
    "fails",
    "well",
];

fn tell(view: &mut dyn View, (_, kind): Kind, line: &str) {
    if WARNINGS.contains(&kind) { view.warning(line) } else { view.notice(line) }
}

/// Which notices are like each other: port and kind.
pub type Kind = (usize, &'static str);

/// Notices of one kind.
#[derive(Debug)]
struct Limited {
    since: Instant,
    stretch: Duration,
    shown: u32,
    held_back: u32,
    last_held: String,
}

impl Limited {
    fn new(now: Instant) -> Self {
        Self { since: now, stretch: STRETCH_FIRST, shown: 0, held_back: 0, last_held: String::new() }
    }

    /// Once their stretch is over, or at the end: the last one that was held back, and how many were before it.
    fn turn(&mut self, view: &mut dyn View, kind: Kind, now: Instant, at_end: bool) {
        if !at_end && now.duration_since(self.since) < self.stretch {
            return;
        }
        let stretch = if self.held_back > 0 { (2 * self.stretch).min(STRETCH_LAST) } else { STRETCH_FIRST };
        match self.held_back {
            0 => {}
            1 => tell(view, kind, &self.last_held),
            more => {
                let line = format!("{} (and {} more of this kind before it)", self.last_held, more - 1);
                tell(view, kind, &line);
            }
        }
        *self = Self { stretch, ..Self::new(now) };
    }
}

/// Limits the flood of notices of each kind: the first of a kind is shown at once.
#[derive(Debug, Default)]
pub struct Notices {
    kinds: BTreeMap<Kind, Limited>,
}

impl Notices {
    /// Shows a notice, or counts it if there were too many of its kind.
    pub fn show(&mut self, view: &mut dyn View, kind: Kind, line: &str) {
        let now = Instant::now();
        let limited = self.kinds.entry(kind).or_insert_with(|| Limited::new(now));
        limited.turn(view, kind, now, false);
        if limited.shown < SHOWN_MAX {
            limited.shown += 1;
            tell(view, kind, line);
        } else {
            limited.held_back += 1;
            line.clone_into(&mut limited.last_held);
        }
    }

    /// Says what was held back where its time is over.
    pub fn tick(&mut self, view: &mut dyn View) {
        let now = Instant::now();
        self.kinds.iter_mut().for_each(|(kind, limited)| limited.turn(view, *kind, now, false));
    }

    /// Says at the end what is still held back.
    pub fn say_held_back(&mut self, view: &mut dyn View) {
        let now = Instant::now();
        self.kinds.iter_mut().for_each(|(kind, limited)| limited.turn(view, *kind, now, true));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::run_event::EventKind;

    #[derive(Default)]
    struct Shown(Vec<String>);

    impl View for Shown {
        fn notice(&mut self, line: &str) {
            self.0.push(line.to_owned());
        }
    }

    #[test]
    fn what_costs_readings_is_a_warning_and_what_is_to_be_known_is_not() {
        #[derive(Default)]
        struct Warned(Vec<String>);
        impl View for Warned {
            fn warning(&mut self, line: &str) {
                self.0.push(line.to_owned());
            }
        }
        let (mut notices, mut warned) = (Notices::default(), Warned::default());
        for kind in EventKind::ALL {
            notices.show(&mut warned, (0, kind.name()), kind.name());
        }
        for kind in ["fails", "well", "receiver", "awaited"] {
            notices.show(&mut warned, (0, kind), kind);
        }
        // Each of the list is there by its name.
        assert_eq!(warned.0.len(), WARNINGS.len(), "{:?}", warned.0);
        for harmless in ["mark", "fix-back", "receiver"] {
            assert!(!warned.0.iter().any(|kind| kind == harmless), "{harmless}");
        }
    }

    /// A cable that flaps for an hour, fifty times a second, and another box whose first notice comes within it.
    #[tokio::test(start_paused = true)]
    async fn a_flood_is_counted_and_the_first_of_each_kind_comes_at_once() {
        let (mut notices, mut shown) = (Notices::default(), Shown::default());
        for number in 0..180_000 {
            for kind in ["port-gone", "port-back"] {
                notices.show(&mut shown, (0, kind), &format!("{number} {kind}"));
            }
            if number == 100_000 {
                notices.show(&mut shown, (1, "port-gone"), "the other box");
                assert_eq!(shown.0.last().map(String::as_str), Some("the other box"));
            }
            tokio::time::advance(Duration::from_millis(20)).await;
            notices.tick(&mut shown);
        }
        notices.say_held_back(&mut shown);
        assert!((600..1_000).contains(&shown.0.len()), "{} lines in an hour", shown.0.len());
        assert!(shown.0.iter().any(|line| line == "49 port-gone (and 44 more of this kind before it)"));
        let told = |line: &String| {
            let more = line.split(" (and ").nth(1).and_then(|more| more.split(' ').next());
            1 + more.map_or(0, |more| more.parse::<usize>().unwrap())
        };
        assert_eq!(shown.0.iter().map(told).sum::<usize>(), 2 * 180_000 + 1);
        // Quiet again, each is shown as it comes.
        tokio::time::advance(Duration::from_secs(200)).await;
        notices.tick(&mut shown);
        for _ in 0..20 {
            let before = shown.0.len();
            notices.show(&mut shown, (0, "port-gone"), "gone");
            assert_eq!(shown.0.len(), before + 1);
            tokio::time::advance(Duration::from_secs(1)).await;
        }
    }
}

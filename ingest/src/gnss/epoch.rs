//! Sentences to epochs: what a receiver says of one moment, in up to three sentences.
//!
//! RMC and GGA carry the moment, as a UTC time of day (the *tag*); VTG carries none and belongs to the
//! tagged sentence that it came with. An epoch is over when a sentence of another moment comes, so its row
//! is written one epoch late; the raw bytes are on the disk long before.

use super::sentence::{Position, Sentence, SentenceKind};

/// The time between epochs before two have been seen, in µs.
const PERIOD_FIRST_US: u64 = 1_000_000;
/// No receiver is taken to be faster than this, in µs: a tag that is damaged must not shrink the period to
/// nothing.
const PERIOD_LEAST_US: u64 = 40_000;

/// A VTG, and when it came.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Vtg {
    sentence: Sentence,
    came_us: u64,
}

/// One moment as the receiver sees it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Epoch {
    /// UTC time of day in µs, if the receiver has the time.
    pub tag_us: Option<u64>,
    /// Host time at which its first sentence with the tag came, in µs.
    pub arrived_us: u64,
    /// Whether all its sentences say that there is a fix.
    pub has_fix: bool,
    pub position: Option<Position>,
    pub speed_mps: Option<f64>,
    pub course_deg: Option<f64>,
    last_tagged_us: u64,
    /// Kinds of its tagged sentences, a bit each.
    seen: u8,
    /// Until the epoch is over, as a nearer one may come.
    vtg: Option<Vtg>,
}

impl Epoch {
    fn begun(sentence: &Sentence, arrived_us: u64) -> Self {
        let mut epoch = Self { tag_us: sentence.tag_us, arrived_us, has_fix: true, ..Self::default() };
        epoch.add_tagged(sentence, arrived_us);
        epoch
    }

    fn has(&self, kind: SentenceKind) -> bool {
        self.seen & (1 << kind as u8) != 0
    }

    fn add_tagged(&mut self, sentence: &Sentence, arrived_us: u64) {
        self.seen |= 1 << sentence.kind as u8;
        self.last_tagged_us = arrived_us;
        self.add(sentence);
    }

    /// RMC is the first authority on speed, whatever came first: it is of the moment of its tag for sure.
    fn add(&mut self, sentence: &Sentence) {
        let outranks = sentence.kind == SentenceKind::Rmc;
        self.has_fix &= sentence.has_fix;
        let pick = |mine: Option<f64>, new: Option<f64>| if outranks { new.or(mine) } else { mine.or(new) };
        self.position = self.position.or(sentence.position);
        self.speed_mps = pick(self.speed_mps, sentence.speed_mps);
        self.course_deg = pick(self.course_deg, sentence.course_deg);
    }

    /// Time between the VTG and the tagged sentences, in µs.
    fn apart_us(&self, vtg: &Vtg) -> u64 {
        self.arrived_us.saturating_sub(vtg.came_us).max(vtg.came_us.saturating_sub(self.last_tagged_us))
    }

    /// The epoch with all that belongs to it.
    fn over(mut self) -> Self {
        if let Some(vtg) = self.vtg.take() {
            self.add(&vtg.sentence);
        }
        self
    }
}

/// Gathers sentences into epochs.
#[derive(Clone, Debug)]
pub struct Grouper {
    open: Option<Epoch>,
    /// A VTG that waits for its tagged sentence.
    waiting: Option<Vtg>,
    period_us: u64,
}

impl Default for Grouper {
    fn default() -> Self {
        Self { open: None, waiting: None, period_us: PERIOD_FIRST_US }
    }
}

impl Grouper {
    /// Takes a sentence that came at this host time; returns the epoch that is over with it.
    pub fn take(&mut self, sentence: &Sentence, arrived_us: u64) -> Option<Epoch> {
        if sentence.kind == SentenceKind::Vtg {
            self.take_vtg(Vtg { sentence: *sentence, came_us: arrived_us });
            return None;
        }
        if let Some(open) = &mut self.open {
            // A receiver without time sends the same kinds again and again: each round is an epoch.
            let again = sentence.tag_us.is_none() && open.has(sentence.kind);
            if open.tag_us == sentence.tag_us && !again {
                open.add_tagged(sentence, arrived_us);
                return None;
            }
        }
        let mut over = self.open.take();
        if let (Some(before), Some(now)) = (over.and_then(|epoch| epoch.tag_us), sentence.tag_us) {
            let step_us = now.saturating_sub(before);
            if step_us >= PERIOD_LEAST_US {
                self.period_us = self.period_us.min(step_us);
            }
        }
        // The first epochs show how near to them a VTG must be.
        if let Some(open) = &mut over
            && let Some(vtg) = open.vtg.filter(|vtg| !self.belongs(open, vtg))
        {
            open.vtg = None;
            self.waiting.get_or_insert(vtg);
        }
        // The arrival of a VTG is not the epoch's: it may be of the moment before, whose tagged sentence was lost.
        let mut epoch = Epoch::begun(sentence, arrived_us);
        epoch.vtg = self.waiting.take().filter(|vtg| self.belongs(&epoch, vtg));
        self.open = Some(epoch);
        over.map(Epoch::over)
    }

    /// It is of the open epoch, unless that has a nearer one, or of the next.
    fn take_vtg(&mut self, vtg: Vtg) {
        let open = self.open.filter(|open| {
            let is_nearer = |had: &Vtg| open.apart_us(&vtg) < open.apart_us(had);
            self.belongs(open, &vtg) && open.vtg.as_ref().is_none_or(is_nearer)
        });
        match open {
            Some(open) => self.open = Some(Epoch { vtg: Some(vtg), ..open }),
            None => self.waiting = Some(vtg),
        }
    }

    fn belongs(&self, epoch: &Epoch, vtg: &Vtg) -> bool {
        epoch.apart_us(vtg) <= self.period_us / 2
    }

    /// The epoch that is open is over: nothing more comes for now.
    pub fn close(&mut self) -> Option<Epoch> {
        self.waiting = None;
        self.open.take().map(Epoch::over)
    }
}

#[cfg(test)]
mod tests {
    use super::super::sentence::read_sentence;
    use super::*;

    /// Feeds `(host time in ms, body)` and gives the epochs as `(tag in s, position is there, speed)`.
    fn epochs(sentences: &[(u64, String)]) -> Vec<(Option<f64>, bool, Option<f64>)> {
        let mut grouper = Grouper::default();
        let mut all = Vec::new();
        for (ms, body) in sentences {
            let sentence = read_sentence(body).unwrap().unwrap();
            all.extend(grouper.take(&sentence, ms * 1000));
        }
        all.extend(grouper.close());
        let seconds = |us: u64| (us - 12 * 3_600_000_000) as f64 / 1e6;
        let speed = |mps: f64| (mps * 3.6 * 10.0).round() / 10.0;
        all.iter().map(|e| (e.tag_us.map(seconds), e.position.is_some(), e.speed_mps.map(speed))).collect()
    }

    fn gga(second: f64) -> String {
        format!("GPGGA,1200{second:05.2},4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,")
    }
    fn vtg(kmh: f64) -> String {
        format!("GPVTG,054.7,T,,M,,N,{kmh:.1},K")
    }

    #[test]
    fn a_vtg_goes_with_the_tagged_sentence_that_it_came_with_before_or_after_it() {
        for tenth in [1u64, 10] {
            let (mut after, mut before) = (Vec::new(), Vec::new());
            for k in 0..5u64 {
                let (ms, second) = (k * 100 * tenth, (k * tenth) as f64 / 10.0);
                after.extend([(ms, gga(second)), (ms + 10, vtg(k as f64))]);
                before.extend([(ms, vtg(k as f64)), (ms + 10, gga(second))]);
            }
            let right: Vec<_> =
                (0..5u64).map(|k| (Some((k * tenth) as f64 / 10.0), true, Some(k as f64))).collect();
            assert_eq!(epochs(&after), right);
            assert_eq!(epochs(&before), right);
            // One that is lost leaves its own epoch without speed and no other with a wrong one, from the first on.
            for (order, k) in [&after, &before].into_iter().flat_map(|order| (0..5).map(move |k| (order, k)))
            {
                let mut lost = order.clone();
                lost.retain(|(_, body)| *body != vtg(k as f64));
                let mut expected = right.clone();
                expected[k].2 = None;
                assert_eq!(epochs(&lost), expected, "without the VTG of epoch {k}");
                lost.clone_from(order);
                lost.retain(|(_, body)| *body != gga((k as u64 * tenth) as f64 / 10.0));
                let mut expected = right.clone();
                expected.remove(k);
                assert_eq!(epochs(&lost), expected, "without the GGA of epoch {k}");
            }
        }
    }

    /// Found: where the first tagged sentence or the second was lost, its VTG was taken for that of the next epoch, which
    /// came before its own moment then, and all epochs of the next half minute were early.
    #[test]
    fn an_epoch_does_not_come_before_its_moment() {
        for lost in 0..4u64 {
            let mut grouper = Grouper::default();
            let mut over = Vec::new();
            for k in 0..6u64 {
                let tagged = (100 * k + 46, gga(k as f64 / 10.0));
                for (ms, body) in [tagged, (100 * k + 46, vtg(7.0))].into_iter().skip(usize::from(k == lost))
                {
                    over.extend(grouper.take(&read_sentence(&body).unwrap().unwrap(), 1000 * ms));
                }
            }
            let late_us: Vec<u64> = over
                .iter()
                .map(|epoch| epoch.arrived_us + 12 * 3_600_000_000 - epoch.tag_us.unwrap())
                .collect();
            assert_eq!(late_us, [46_000; 4], "without the {lost}th");
        }
    }

    #[test]
    fn many_epochs_in_one_read_are_told_apart() {
        let all: Vec<_> = (0..5u32).flat_map(|k| [(9, gga(f64::from(k))), (9, vtg(f64::from(k)))]).collect();
        let right: Vec<_> = (0..5u32).map(|k| (Some(f64::from(k)), true, Some(f64::from(k)))).collect();
        assert_eq!(epochs(&all), right);
    }

    #[test]
    fn rounds_of_a_receiver_without_time_are_epochs_without_fix() {
        let round = || [(0, "GPRMC,,V,,,,,,,,,,N".to_owned()), (0, "GPGGA,,,,,,0,,,,,,,,".to_owned())];
        let all: Vec<_> = (0..3).flat_map(|_| round()).collect();
        assert_eq!(epochs(&all), vec![(None, false, None); 3]);
    }

    #[test]
    fn an_epoch_has_a_fix_only_if_all_its_sentences_say_so() {
        let mut grouper = Grouper::default();
        for body in
            ["GPGGA,120000,4807.038,N,01131.000,E,1,03,9.9,,M,,M,,", "GPRMC,120000,V,,,,,,,010127,,,N"]
        {
            assert_eq!(grouper.take(&read_sentence(body).unwrap().unwrap(), 0), None);
        }
        assert!(!grouper.close().unwrap().has_fix);
    }
}

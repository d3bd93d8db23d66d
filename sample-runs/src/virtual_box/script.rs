//! What is to happen at which second of the pass.

use super::Faults;

/// Something that happens once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum ScriptedEvent {
    /// The cable is pulled.
    Unplug,
    /// It is put back.
    Replug,
    /// The box resets.
    Reset,
    /// The button is pressed.
    Mark,
}

/// Everything that happens in a pass, the next one last.
#[derive(Clone, Debug)]
pub(super) struct Script(Vec<(f64, ScriptedEvent)>);

impl Script {
    pub(super) fn new(faults: &Faults) -> Self {
        let all = |times: &[f64], what| times.iter().map(move |t| (*t, what)).collect::<Vec<_>>();
        let back: Vec<f64> = faults.unplug_at_s.iter().map(|t| t + faults.unplug_for_s).collect();
        let mut events = all(&faults.unplug_at_s, ScriptedEvent::Unplug);
        events.extend(all(&back, ScriptedEvent::Replug));
        events.extend(all(&faults.reset_at_s, ScriptedEvent::Reset));
        events.extend(all(&faults.mark_at_s, ScriptedEvent::Mark));
        events.sort_by(|a, b| b.0.total_cmp(&a.0));
        Self(events)
    }

    /// When the next thing happens, in s of the pass.
    pub(super) fn next_s(&self) -> Option<f64> {
        self.0.last().map(|event| event.0)
    }

    /// Takes the next thing off the script.
    pub(super) fn take(&mut self) -> Option<(f64, ScriptedEvent)> {
        self.0.pop()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn things_happen_in_order_of_time() {
        let mut script = Script::new(&Faults {
            unplug_at_s: vec![2.0, 9.0],
            unplug_for_s: 3.0,
            reset_at_s: vec![4.0],
            mark_at_s: vec![1.0],
            ..Faults::default()
        });
        let mut seen = Vec::new();
        while let Some(next_s) = script.next_s() {
            let (t_s, what) = script.take().unwrap();
            assert_eq!(next_s, t_s);
            seen.push((t_s, what));
        }
        use ScriptedEvent::{Mark, Replug, Reset, Unplug};
        assert_eq!(
            seen,
            [(1.0, Mark), (2.0, Unplug), (4.0, Reset), (5.0, Replug), (9.0, Unplug), (12.0, Replug)]
        );
    }
}

//! The load that the bar shows, by the rule that a pass is judged by, and the pull.

use super::snapshot::LoadNow;
use ingest::plow::{CarriedLoad, ChannelRole, Plow, Setting};
use statics::judged_load::{JudgedLoad, PullFromLinks};

/// What turns readings into the load of the bar and the pull, for one plow in one setting with certain channels.
#[derive(Debug, Default)]
pub(super) struct Carried {
    load: Option<JudgedLoad>,
    shown: Option<LoadNow>,
    from_links: Option<PullFromLinks>,
}

impl Carried {
    /// For a plow in a setting, with these channels.
    pub fn of(plow: &Plow, setting: &Setting, channels: &[ChannelRole]) -> Self {
        let has = |role| channels.contains(&role) && plow.cannot_use(role).is_none();
        let load = JudgedLoad::of(plow, setting, has);
        let shown = load.as_ref().map(|load| shown(plow, load));
        Self { load, shown, from_links: PullFromLinks::of(plow, setting, has) }
    }

    /// What the bar shows.
    pub fn shown(&self) -> Option<&LoadNow> {
        self.shown.as_ref()
    }

    /// Whether this load counts as lifted.
    pub fn is_lifted(&self, load_n: f64) -> bool {
        self.shown.as_ref().and_then(|load| load.lifted_under_n).is_some_and(|under_n| load_n < under_n)
    }

    /// The load by the readings of one row, N; `None` for a row of another box.
    pub fn load_n(&self, reading: impl Fn(ChannelRole) -> Option<f64>) -> Option<f64> {
        let judged = self.load.as_ref()?;
        reading(judged.load.role()).map(|value| judged.load_n(value))
    }

    /// The pull by the readings of one row, N.
    pub fn pull_n(&self, reading: impl Fn(ChannelRole) -> Option<f64>) -> Option<f64> {
        let of_links = || {
            let from_links = self.from_links.as_ref()?;
            Some(from_links.pull_n(reading(ChannelRole::LowerLinks)?, reading(ChannelRole::TopLink)?))
        };
        reading(ChannelRole::Pull).or_else(of_links)
    }
}

fn shown(plow: &Plow, judged: &JudgedLoad) -> LoadNow {
    let standing_n = judged.standing_n;
    LoadNow {
        what: match judged.load {
            CarriedLoad::Tail | CarriedLoad::TailSpring => "tail",
            CarriedLoad::Front => "front",
            CarriedLoad::TopLink => "top_link",
        },
        name: judged.load.name(&plow.part_names()),
        standing_n,
        lifted_under_n: judged.lifted_under_n(),
        // Twice the standing load leaves room for what bobs; a link can pull as hard as the plow is heavy.
        scale_n: round_above(
            standing_n.map_or_else(|| plow.weight.total.value.n(), |standing_n| 2.0 * standing_n),
        ),
    }
}

/// The next round number that is not below it, in N.
fn round_above(n: f64) -> f64 {
    let power = 10_f64.powf(n.max(1.0).log10().floor());
    let steps = [1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0];
    let step = steps.into_iter().find(|step| step * power >= n * (1.0 - 1e-9));
    step.unwrap_or(10.0) * power
}

#[cfg(test)]
mod tests {
    use super::*;
    use ingest::plow::read_plow;
    use statics::plow_model::standing_loads;
    use std::path::Path;

    fn example(file: &str) -> Plow {
        read_plow(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-runs/plows").join(file)).unwrap()
    }

    fn carried(plow: &Plow, channels: &[ChannelRole]) -> Carried {
        Carried::of(plow, plow.settings.values().next().unwrap(), channels)
    }

    #[test]
    fn a_spring_is_read_by_the_load_table_and_a_cell_is_preferred_to_it() {
        let plow = example("two-bottom.toml");
        let of_spring = carried(&plow, &[ChannelRole::Pull, ChannelRole::Tail, ChannelRole::Depth]);
        let (deflection, load) = plow.tail.wheel().unwrap().load_table.lines().nth(1).unwrap();
        let read = |role| (role == ChannelRole::Tail).then_some(deflection.m() * 1000.0);
        assert!((of_spring.load_n(read).unwrap() - load.n()).abs() < 1e-9);
        let both = carried(&plow, &[ChannelRole::Tail, ChannelRole::TailLoad]);
        let read = |role| Some(if role == ChannelRole::TailLoad { 612.0 } else { 3.0 });
        assert_eq!(both.load_n(read), Some(612.0));
    }

    #[test]
    fn the_standing_load_says_what_is_lifted_and_how_long_the_bar_is() {
        let plow = example("two-bottom.toml");
        let tail = carried(&plow, &[ChannelRole::Tail]);
        let shown = tail.shown().unwrap();
        let (front, standing) = standing_loads(&plow, plow.settings.values().next().unwrap()).unwrap();
        assert_eq!((shown.what, shown.standing_n), ("tail", Some(standing.n())));
        let under_n = shown.lifted_under_n.unwrap();
        assert!((under_n / standing.n() - 0.05).abs() < 1e-12);
        assert!(tail.is_lifted(under_n - 0.1) && !tail.is_lifted(under_n + 0.1));
        assert!(shown.scale_n >= 2.0 * standing.n() && shown.scale_n <= 3.0 * standing.n());
        let front_load = carried(&plow, &[ChannelRole::FrontLoad]);
        assert_eq!(front_load.shown().unwrap().standing_n, Some(front.n()));
    }

    #[test]
    fn a_top_link_is_never_lifted_and_the_links_give_the_pull() {
        let plow = example("three-bottom-mounted.toml");
        let links = carried(&plow, &[ChannelRole::LowerLinks, ChannelRole::TopLink, ChannelRole::Depth]);
        let shown = links.shown().unwrap();
        assert_eq!((shown.what, shown.lifted_under_n), ("top_link", None));
        assert!(!links.is_lifted(-5000.0));
        let read = |role| match role {
            ChannelRole::LowerLinks => Some(9000.0),
            ChannelRole::TopLink => Some(-2000.0),
            _ => None,
        };
        let pull_n = links.pull_n(read).unwrap();
        assert!((6000.0..7100.0).contains(&pull_n), "{pull_n}");
        assert_eq!(links.pull_n(|_| None), None);
    }

    #[test]
    fn what_the_plow_cannot_use_is_not_shown() {
        let plow = example("three-bottom-rolling-landside.toml");
        assert!(carried(&plow, &[ChannelRole::Tail]).shown().is_none(), "it has no spring");
        assert!(carried(&plow, &[]).shown().is_none());
    }

    #[test]
    fn the_end_of_the_bar_is_round() {
        for (n, end) in [(1.0, 1.0), (1210.0, 1500.0), (1500.0, 1500.0), (2001.0, 2500.0), (9999.0, 10_000.0)]
        {
            assert!((round_above(n) - end).abs() < 1e-6, "{n}: {}", round_above(n));
        }
        assert!(round_above(f64::NAN).is_finite());
    }
}

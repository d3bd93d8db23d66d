//! The four cases of the stored runs and of the truth check.

use super::{FieldSpec, PassSpec, PassTimes, Plow, Setting, Share, SpeedWander};

/// Forward speed of the demo in m/s.
const SPEED_MPS: f64 = 1.6;

/// A setting and a share condition with a known fault, or none; said so on the command line of the virtual box.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, clap::ValueEnum, strum::IntoStaticStr)]
#[strum(serialize_all = "kebab-case")]
pub enum Case {
    /// Load on the front wheels, tail wheel light
    TooFlat,
    /// Line of pull near the steady point
    Balanced,
    /// Load on the tail wheel, front wheels light
    TooSteep,
    /// Worn shares in the setting that balances sharp ones
    WornShares,
}

impl Case {
    /// All four.
    pub const ALL: [Self; 4] = [Self::TooFlat, Self::Balanced, Self::TooSteep, Self::WornShares];

    /// Its name in files and on the command line.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.into()
    }

    /// Name of its setting in [`Plow::TWO_BOTTOM_TOML`].
    #[must_use]
    pub fn setting_name(self) -> &'static str {
        match self {
            Self::TooFlat => "flat",
            Self::Balanced | Self::WornShares => "middle",
            Self::TooSteep => "steep",
        }
    }

    /// Holes at the plow and at the tractor, counted from 1 at the lowest.
    #[must_use]
    pub fn holes(self) -> (usize, usize) {
        match self {
            Self::TooFlat => (9, 2),
            Self::Balanced | Self::WornShares => (4, 4),
            Self::TooSteep => (1, 7),
        }
    }

    /// Condition of the shares.
    #[must_use]
    pub fn share(self) -> Share {
        if self == Self::WornShares { Share::Worn } else { Share::Sharp }
    }

    /// Heights of the hitch pins.
    #[must_use]
    pub fn setting(self) -> Setting {
        let (plow_hole, tractor_hole) = self.holes();
        Setting {
            plow_hitch_z_m: Plow::PLOW_HOLES_M[plow_hole - 1],
            tractor_hitch_z_m: Plow::TRACTOR_HOLES_M[tractor_hole - 1],
        }
    }

    /// A pass of this case over the strip `field_seed`, with `working_s` at working depth.
    #[must_use]
    pub fn pass(self, field_seed: u64, working_s: f64) -> PassSpec {
        PassSpec {
            plow: Plow::TWO_BOTTOM,
            setting: self.setting(),
            share: self.share(),
            field: FieldSpec::DEMO,
            field_seed,
            speed_mps: SPEED_MPS,
            speed_wander: SpeedWander::NONE,
            times: PassTimes::working(working_s),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plow::{Pass, Truth};

    #[test]
    fn every_case_uses_holes_that_exist() {
        for case in Case::ALL {
            let (plow_hole, tractor_hole) = case.holes();
            assert_eq!(Setting::by_holes(plow_hole, tractor_hole), Some(case.setting()));
        }
        assert_eq!(Setting::by_holes(0, 1), None);
        assert_eq!(Setting::by_holes(1, 8), None);
    }

    #[test]
    fn each_case_has_the_fault_it_is_named_after() {
        for seed in 1..=5 {
            let truths = Case::ALL.map(|case| Truth::of(Pass::new(&case.pass(seed, 40.0)), 0.005).unwrap());
            let [flat, balanced, steep, worn] = truths;
            assert!((0.7..1.0).contains(&flat.balance_index), "{flat:?}");
            assert!(flat.lifted_share > 0.005, "{flat:?}");
            assert!(balanced.balance_index.abs() < 0.2 && balanced.lifted_share == 0.0, "{balanced:?}");
            assert!((-1.0..-0.65).contains(&steep.balance_index), "{steep:?}");
            assert!(worn.soil_slope > 0.05 && worn.depth_mm < balanced.depth_mm - 5.0, "{worn:?}");
            for t in truths {
                assert!((6_000.0..11_000.0).contains(&t.pull_n), "{t:?}");
                assert!((1.0..4.0).contains(&t.bobbing_hz.unwrap()), "{t:?}");
                assert!((0.03..0.15).contains(&t.bobbing_damping_ratio.unwrap()), "{t:?}");
                // By loads and by lines must tell the same story while both wheels carry.
                assert!((t.balance_index - t.line_balance_index).abs() < 0.05, "{t:?}");
            }
        }
    }

    /// Common practice, no source: raising the hitch at the plow moves the wheel load forward, raising the
    /// tractor's end moves it back.
    #[test]
    fn holes_move_the_load_the_way_the_trade_says() {
        let tail_share = |plow_hole, tractor_hole| {
            let setting = Setting::by_holes(plow_hole, tractor_hole).unwrap();
            let around = crate::plow::Surroundings::level(&setting, SPEED_MPS, 1.0);
            let (_, f) = crate::plow::settle(&Plow::TWO_BOTTOM, &setting, Share::Sharp, &around);
            f.tail_load_n / (f.tail_load_n + f.front_load_n)
        };
        assert!(tail_share(5, 4) < tail_share(4, 4));
        assert!(tail_share(4, 5) > tail_share(4, 4));
    }
}

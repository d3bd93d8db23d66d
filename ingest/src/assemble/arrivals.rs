//! The quickest arrival of each second: what a box that answers no ping shows of its clock.

/// How long the quickest arrival is looked for, in µs of the host.
const WINDOW_US: u64 = 1_000_000;

#[derive(Clone, Copy, Debug)]
struct Quickest {
    box_us: u64,
    host_us: u64,
}

impl Quickest {
    fn delay_us(self) -> i128 {
        i128::from(self.host_us) - i128::from(self.box_us)
    }
}

/// Arrivals since the boot.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Arrivals {
    from_us: u64,
    quickest: Option<Quickest>,
}

impl Arrivals {
    /// Takes what the box stamped at `box_us` and what came at `host_us`; gives the two for the quickest of
    /// the second before when a new one begins.
    pub(super) fn take(&mut self, box_us: u64, host_us: u64) -> Option<(u64, u64)> {
        let here = Quickest { box_us, host_us };
        let Some(before) = self.quickest else {
            self.begin(here);
            return None;
        };
        if host_us.saturating_sub(self.from_us) < WINDOW_US {
            if here.delay_us() < before.delay_us() {
                self.quickest = Some(here);
            }
            return None;
        }
        self.begin(here);
        Some((before.box_us, before.host_us))
    }

    fn begin(&mut self, here: Quickest) {
        *self = Self { from_us: here.host_us, quickest: Some(here) };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_second_gives_its_quickest() {
        let mut arrivals = Arrivals::default();
        let late = |n: u64| 5_000 + 700 * (n * 7 % 10);
        let taken: Vec<_> =
            (0..35).filter_map(|n| arrivals.take(900_000_000 + 100_000 * n, 100_000 * n + late(n))).collect();
        assert_eq!(taken, [(900_000_000, 5_000), (901_000_000, 1_005_000), (902_000_000, 2_005_000)]);
    }
}

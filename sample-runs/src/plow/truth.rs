//! What is true of a whole pass: the answer that the analysis, which never sees it, is held against.

use super::modes::Linear;
use super::{Mode, Pass, PassSpec, Plow, TrueState};

/// Cut off at both ends of the working part, in s, while the plow still swings from being let down.
const TRIM_S: f64 = 2.0;

/// Truth of one pass: time means over the working part, and the statics at the mean
/// state. Loads in N, heights and distances in m unless the name says otherwise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Truth {
    /// Start of the part that the means cover, in s of the pass.
    pub from_s: f64,
    /// Its end.
    pub to_s: f64,
    /// Readings in it.
    pub rows: u64,
    /// Mean pull along the drawbar.
    pub pull_n: f64,
    /// Mean of its part in the direction of travel: the draft P_x.
    pub pull_x_n: f64,
    /// Mean draft part S of the soil force.
    pub soil_draft_n: f64,
    /// Mean vertical part of the soil force divided by its mean draft part: σ.
    pub soil_slope: f64,
    /// Mean rise of the drawbar per length forward: t.
    pub drawbar_slope: f64,
    /// Mean tail load V_t.
    pub tail_load_n: f64,
    /// Standard deviation of the tail load.
    pub tail_load_sd_n: f64,
    /// Mean front load V_f.
    pub front_load_n: f64,
    /// V_t / (V_t + V_f) of the means.
    pub tail_share: f64,
    /// Where the wheel load acts, x_V, by the mean loads.
    pub wheel_load_at_m: f64,
    /// Pull-line offset e by the mean loads: V (x_V − x_w) / P_x.
    pub pull_line_offset_m: f64,
    /// Balance index b by the mean loads: the end at which e lies, scaled to ±1.
    pub balance_index: f64,
    /// e by the lines at the mean state: z_P(x_w) − z_S(x_w).
    pub line_offset_m: f64,
    /// b from that. It differs from [`Truth::balance_index`] by rolling resistance and by what the
    /// wheels cannot do: b by loads never passes ±1, b by the lines does.
    pub line_balance_index: f64,
    /// Share of the time with the tail load below 5 % of its value on the standing plow.
    pub lifted_share: f64,
    /// Mean depth in mm.
    pub depth_mm: f64,
    /// Standard deviation of the depth in mm.
    pub depth_sd_mm: f64,
    /// Mean pitch of the frame, nose up positive, in deg.
    pub pitch_deg: f64,
    /// Natural frequency of the slower mode about the rest at the mean hardness, linearised, in Hz;
    /// `None` where one wheel is off the ground at rest.
    pub bobbing_hz: Option<f64>,
    /// Its damping ratio.
    pub bobbing_damping_ratio: Option<f64>,
    /// The modes that swing, slowest first, and the RMS of the tail load (N) in the half-power band of each, by
    /// the linearised response to the land, the soil and the tractor's pin of that field ([`Linear::swing_in`]). Not
    /// in [`Truth::to_toml`].
    pub modes: [Option<(Mode, f64)>; 2],
}

impl Truth {
    /// Of a pass that is driven to its end with a reading every `gap_s`; `None` if none lay in the working part.
    #[must_use]
    pub fn of(mut pass: Pass, gap_s: f64) -> Option<Self> {
        let mut meter = TruthMeter::new(pass.spec());
        while !pass.is_over() {
            meter.take(&pass.state());
            pass.advance(gap_s);
        }
        meter.truth()
    }

    /// Its names and values in order; `None` for what does not exist in this pass.
    fn figures(&self) -> [(&'static str, Option<f64>); 23] {
        [
            ("from_s", Some(self.from_s)),
            ("to_s", Some(self.to_s)),
            ("rows", Some(self.rows as f64)),
            ("pull_n", Some(self.pull_n)),
            ("pull_x_n", Some(self.pull_x_n)),
            ("soil_draft_n", Some(self.soil_draft_n)),
            ("soil_slope", Some(self.soil_slope)),
            ("drawbar_slope", Some(self.drawbar_slope)),
            ("tail_load_n", Some(self.tail_load_n)),
            ("tail_load_sd_n", Some(self.tail_load_sd_n)),
            ("front_load_n", Some(self.front_load_n)),
            ("tail_share", Some(self.tail_share)),
            ("wheel_load_at_m", Some(self.wheel_load_at_m)),
            ("pull_line_offset_m", Some(self.pull_line_offset_m)),
            ("balance_index", Some(self.balance_index)),
            ("line_offset_m", Some(self.line_offset_m)),
            ("line_balance_index", Some(self.line_balance_index)),
            ("lifted_share", Some(self.lifted_share)),
            ("depth_mm", Some(self.depth_mm)),
            ("depth_sd_mm", Some(self.depth_sd_mm)),
            ("pitch_deg", Some(self.pitch_deg)),
            ("bobbing_hz", self.bobbing_hz),
            ("bobbing_damping_ratio", self.bobbing_damping_ratio),
        ]
    }

    /// The mode in whose half-power band the tail load swings most; `None` where there are none.
    #[must_use]
    pub fn strongest_mode(&self) -> Option<Mode> {
        let by_rms = self.modes.iter().flatten().max_by(|a, b| a.1.total_cmp(&b.1));
        by_rms.map(|(mode, _)| *mode)
    }

    /// The truth as TOML, one line a figure, the unit last in each name; a figure that does not exist
    /// in this pass has no line.
    #[must_use]
    pub fn to_toml(&self) -> String {
        let lines = self.figures().into_iter().filter_map(|(name, value)| {
            // Debug form: it always has a point or an exponent, which TOML needs in a float.
            value.filter(|v| v.is_finite()).map(|v| format!("{name} = {v:?}\n"))
        });
        std::iter::once("# Known to the virtual plow only: no analysis reads this.\n".to_owned())
            .chain(lines)
            .collect()
    }
}

/// Gathers the truth of a pass, reading by reading.
#[derive(Clone, Copy, Debug)]
pub struct TruthMeter {
    spec: PassSpec,
    rows: u64,
    lifted_rows: u64,
    sums: Sums,
}

#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    pull_n: f64,
    pull_x_n: f64,
    soil_draft_n: f64,
    soil_up_n: f64,
    drawbar_slope: f64,
    tail_n: f64,
    tail_n2: f64,
    front_n: f64,
    depth_mm: f64,
    depth_mm2: f64,
    pitch_deg: f64,
    hardness: f64,
    hitch_x_m: f64,
    hitch_z_m: f64,
    soil_x_m: f64,
    soil_z_m: f64,
}

impl TruthMeter {
    /// Nothing gathered yet.
    #[must_use]
    pub fn new(spec: &PassSpec) -> Self {
        Self { spec: *spec, rows: 0, lifted_rows: 0, sums: Sums::default() }
    }

    /// Start and end in s of the part that the means cover.
    #[must_use]
    pub fn part_s(&self) -> (f64, f64) {
        let times = &self.spec.times;
        (times.working_from_s() + TRIM_S, times.working_to_s() - TRIM_S)
    }

    /// Takes one reading; those outside the working part are passed over.
    pub fn take(&mut self, state: &TrueState) {
        let (from_s, to_s) = self.part_s();
        if state.t_s < from_s || state.t_s > to_s {
            return;
        }
        let f = &state.forces;
        self.rows += 1;
        self.lifted_rows += u64::from(f.tail_load_n < 0.05 * standing_tail_load_n(&self.spec.plow));
        let s = &mut self.sums;
        s.pull_n += state.pull_n;
        s.pull_x_n += f.pull_x_n;
        s.soil_draft_n += f.soil_draft_n;
        s.soil_up_n += f.soil_up_n;
        s.drawbar_slope += f.drawbar_slope;
        s.tail_n += f.tail_load_n;
        s.tail_n2 += f.tail_load_n * f.tail_load_n;
        s.front_n += f.front_load_n;
        s.depth_mm += state.depth_mm;
        s.depth_mm2 += state.depth_mm * state.depth_mm;
        s.pitch_deg += state.pitch_deg;
        s.hardness += state.hardness;
        s.hitch_x_m += f.hitch_at.x_m;
        s.hitch_z_m += f.hitch_at.z_m;
        s.soil_x_m += f.soil_at.x_m;
        s.soil_z_m += f.soil_at.z_m;
    }

    /// The truth, or `None` if no reading lay in the working part.
    #[must_use]
    pub fn truth(&self) -> Option<Truth> {
        if self.rows == 0 {
            return None;
        }
        let n = self.rows as f64;
        let (s, plow) = (&self.sums, &self.spec.plow);
        let (x_f, x_t, x_w) = (plow.front.contact.x_m, plow.tail.contact.x_m, plow.weight_at.x_m);
        let sd = |sum: f64, sum2: f64| (sum2 / n - (sum / n).powi(2)).max(0.0).sqrt();
        let (tail_load_n, front_load_n) = (s.tail_n / n, s.front_n / n);
        let both_n = tail_load_n + front_load_n;
        let pull_x_n = s.pull_x_n / n;
        let (drawbar_slope, soil_slope) = (s.drawbar_slope / n, s.soil_up_n / s.soil_draft_n);
        let wheel_load_at_m = (front_load_n * x_f + tail_load_n * x_t) / both_n;
        let pull_line_offset_m = both_n * (wheel_load_at_m - x_w) / pull_x_n;
        let z_pull = s.hitch_z_m / n + drawbar_slope * (x_w - s.hitch_x_m / n);
        let z_soil = s.soil_z_m / n + soil_slope * (s.soil_x_m / n - x_w);
        let line_offset_m = z_pull - z_soil;
        // The two ends: tail wheel off the ground, front wheels off the ground.
        let index = |offset_m: f64| {
            let arm_m = if offset_m >= 0.0 { x_f - x_w } else { x_w - x_t };
            offset_m * pull_x_n / (both_n * arm_m)
        };
        let linear = Linear::of_pass(&self.spec, s.hardness / n);
        let mut modes = [None; 2];
        let found = linear.iter().flat_map(|linear| linear.swing_in(&self.spec.field));
        for (slot, mode) in modes.iter_mut().zip(found) {
            *slot = Some(mode);
        }
        let bobbing = modes[0].map(|(mode, _)| mode);
        let (from_s, to_s) = self.part_s();
        Some(Truth {
            from_s,
            to_s,
            rows: self.rows,
            pull_n: s.pull_n / n,
            pull_x_n,
            soil_draft_n: s.soil_draft_n / n,
            soil_slope,
            drawbar_slope,
            tail_load_n,
            tail_load_sd_n: sd(s.tail_n, s.tail_n2),
            front_load_n,
            tail_share: tail_load_n / both_n,
            wheel_load_at_m,
            pull_line_offset_m,
            balance_index: index(pull_line_offset_m),
            line_offset_m,
            line_balance_index: index(line_offset_m),
            lifted_share: self.lifted_rows as f64 / n,
            depth_mm: s.depth_mm / n,
            depth_sd_mm: sd(s.depth_mm, s.depth_mm2),
            pitch_deg: s.pitch_deg / n,
            bobbing_hz: bobbing.map(|b| b.frequency_hz),
            bobbing_damping_ratio: bobbing.map(|b| b.damping_ratio),
            modes,
        })
    }
}

/// Tail load of the standing plow without a pull, in N: the lever rule, W (x_f − x_w) / L.
fn standing_tail_load_n(plow: &Plow) -> f64 {
    plow.weight_n * (plow.front.contact.x_m - plow.weight_at.x_m) / plow.wheelbase_m()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plow::Case;

    fn truth(case: Case) -> Truth {
        Truth::of(Pass::new(&case.pass(3, 10.0)), 0.01).unwrap()
    }

    #[test]
    fn figures_agree_with_each_other() {
        for case in Case::ALL {
            let t = truth(case);
            let plow = Plow::TWO_BOTTOM;
            let both = t.tail_load_n + t.front_load_n;
            assert!((t.tail_share - t.tail_load_n / both).abs() < 1e-12);
            // x_V = x_w + P_x e / V, and the ends of b by their definition.
            let x_v = plow.weight_at.x_m + t.pull_x_n * t.pull_line_offset_m / both;
            assert!((t.wheel_load_at_m - x_v).abs() < 1e-12);
            let end_m = if t.balance_index > 0.0 { plow.front.contact.x_m } else { plow.tail.contact.x_m };
            let way_to_end = (x_v - plow.weight_at.x_m) / (end_m - plow.weight_at.x_m);
            assert!((t.balance_index.abs() - way_to_end).abs() < 1e-12, "{t:?}");
            // 6 s at 100 Hz, give or take how the sum of the steps is rounded at the two ends.
            assert!((600..=601).contains(&t.rows));
        }
    }

    #[test]
    fn toml_holds_every_figure_that_exists() {
        let mut t = truth(Case::Balanced);
        let text = t.to_toml();
        assert!(text.lines().any(|line| line == format!("balance_index = {:?}", t.balance_index)), "{text}");
        assert!(text.contains("\nbobbing_hz = ") && text.lines().count() == 24, "{text}");
        t.bobbing_hz = None;
        assert!(!t.to_toml().contains("bobbing_hz"));
    }

    /// The truths beside the stored runs are what the virtual plow gives today: nothing that was added to it since
    /// has changed the demo's plow.
    #[test]
    fn stored_truths_are_what_the_plow_gives_today() {
        for (case, stored) in [
            (Case::TooFlat, include_str!("../../runs/too-flat.truth.toml")),
            (Case::Balanced, include_str!("../../runs/balanced.truth.toml")),
            (Case::TooSteep, include_str!("../../runs/too-steep.truth.toml")),
            (Case::WornShares, include_str!("../../runs/worn-shares.truth.toml")),
        ] {
            // The box samples by its own clock, some microseconds beside these rows.
            let today = Truth::of(Pass::new(&case.pass(411, 60.0)), 0.02).unwrap();
            for (name, value) in today.figures() {
                let line = stored.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(" = "));
                let stored: f64 = line.unwrap().parse().unwrap();
                let value = value.unwrap();
                assert!(
                    (value - stored).abs() <= 1e-3 * stored.abs().max(0.1),
                    "{} {name} {value} {stored}",
                    case.name()
                );
            }
        }
    }

    #[test]
    fn nothing_of_the_working_part_is_no_truth() {
        let spec = Case::Balanced.pass(1, 3.0); // shorter than what is cut off at both ends
        assert_eq!(Truth::of(Pass::new(&spec), 0.01), None);
    }
}

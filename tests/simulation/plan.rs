//! What happens in a simulated world, all of it drawn from a seed.

use firmware_protocol::Form;
use rand::seq::IndexedRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::disk::{DiskFault, DiskTrouble};

/// How far off the crystals of boxes are.
pub const DRIFT_MAX_PPM: f64 = 100.0;

/// Worlds of these seeds and above last for hours, with slow boxes.
pub const LONG_SEEDS: u64 = 1 << 63;

/// What goes wrong with a box or its cable.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BoxFault {
    /// The cable is out for so many s.
    Unplugged(f64),
    /// Boot number, clock and rows start anew.
    Reset,
    /// It says nothing for so many s.
    Silent(f64),
    /// It answers, but sends no rows for so many s.
    NoRows(f64),
    /// Its rows have a channel more than its hello says, for so many s.
    WrongRows(f64),
    /// So many bytes of noise.
    Noise(usize),
    /// Its button is pressed.
    Mark,
}

/// A box and what happens to it.
#[derive(Clone, Debug)]
pub struct BoxPlan {
    pub form: Form,
    /// A text box may answer no pings.
    pub answers: bool,
    /// A text box may count no boots.
    pub counts_boots: bool,
    pub rate_mhz: u32,
    pub rows_per_frame: usize,
    pub drift_ppm: f64,
    pub clock_start_us: u32,
    pub jitter_ms: f64,
    pub dropped: f64,
    pub doubled: f64,
    pub flipped_bits: f64,
    /// At so many s after the beginning, in order.
    pub faults: Vec<(f64, BoxFault)>,
}

/// What goes wrong with a GNSS receiver or its cable.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ReceiverFault {
    /// The cable is out for so many s.
    Unplugged(f64),
    /// It says that it has no fix, for so many s.
    NoFix(f64),
    /// It says nothing for so many s.
    Silent(f64),
    /// So many bytes of noise.
    Noise(usize),
}

/// A receiver and what happens to it.
#[derive(Clone, Debug)]
pub struct ReceiverPlan {
    pub rate_hz: u32,
    pub sends_rmc: bool,
    pub sends_gga_and_vtg: bool,
    pub latency_ms: f64,
    pub jitter_ms: f64,
    /// Share of epochs with a sentence that is damaged.
    pub damaged: f64,
    /// At so many s after the beginning, in order.
    pub faults: Vec<(f64, ReceiverFault)>,
}

/// How the run ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ending {
    Signal,
    Duration,
    PowerCut,
}

/// A world.
#[derive(Clone, Debug)]
pub struct Plan {
    pub seed: u64,
    pub lasts_s: f64,
    pub boxes: Vec<BoxPlan>,
    /// Which of them has a channel of the user's own besides.
    pub own: Option<usize>,
    pub receiver: Option<ReceiverPlan>,
    pub disk: Vec<DiskTrouble>,
    /// When the run folder is moved away.
    pub folder_gone_s: Vec<f64>,
    /// Steps of the wall clock: when, and by how many s.
    pub clock_steps: Vec<(f64, f64)>,
    /// When the computer goes to sleep, and for how many s.
    pub sleeps: Vec<(f64, f64)>,
    /// When the plow is in the ground, from and to, in s by the boxes' clock; without any its sensors show what no plow
    /// does.
    pub passes: Vec<(f64, f64)>,
    /// When the person sets a mark.
    pub marks_s: Vec<f64>,
    pub ending: Ending,
    /// The power is cut right after a recording that was ended properly.
    pub cut_after_end: bool,
}

/// How fast boxes are, and for how long nothing happens to one of them on average.
struct Pace {
    rates_hz: Vec<u32>,
    faults_s: [f64; 3],
}

impl Plan {
    pub fn of_seed(seed: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        // Most runs are passes; some are long enough for the clocks of boxes to wrap.
        let (lasts_s, pace) = if seed >= LONG_SEEDS {
            let fastest_hz = *[1, 1, 2, 5, 10, 20].choose(&mut rng).unwrap();
            let lasts_s = rng.random_range(20_000.0..90_000.0) / f64::from(fastest_hz);
            (lasts_s, Pace { rates_hz: vec![1, fastest_hz], faults_s: [60.0, 1_000.0, 1e9] })
        } else {
            let lasts_s = match rng.random_range(0..20) {
                0 => rng.random_range(4_400.0..20_000.0),
                1..4 => rng.random_range(600.0..3_600.0),
                _ => rng.random_range(8.0..400.0),
            };
            // Long runs at low rates, so that an hour of them takes no longer than a pass.
            let rates_hz = if lasts_s > 600.0 { vec![1, 5, 10, 20] } else { vec![5, 20, 50, 100, 200, 1000] };
            (lasts_s, Pace { rates_hz, faults_s: [15.0, 60.0, 1e9] })
        };
        let boxes: Vec<_> = (0..*[1, 1, 1, 1, 2, 3].choose(&mut rng).unwrap())
            .map(|_| BoxPlan::drawn(lasts_s, &pace, &mut rng))
            .collect();
        let mut disk: Vec<DiskTrouble> = Vec::new();
        let mut at_s = 0.0;
        while rng.random_bool(0.3) {
            let from_s = at_s + rng.random_range(2.0..lasts_s.max(4.0));
            let until_s = from_s + rng.random_range(0.1..20.0);
            let fault = [DiskFault::Full, DiskFault::Stalls, DiskFault::SyncFails];
            disk.push(DiskTrouble { from_s, until_s, fault: *fault.choose(&mut rng).unwrap() });
            at_s = until_s;
        }
        let times = |share: f64, rng: &mut ChaCha8Rng| {
            let mut times = Vec::new();
            while rng.random_bool(share) {
                times.push(rng.random_range(2.0..lasts_s));
            }
            times.sort_by(f64::total_cmp);
            times
        };
        let steps = times(0.15, &mut rng);
        let mut plan = Self {
            seed,
            lasts_s,
            own: own_of(seed, boxes.len()),
            boxes,
            receiver: None,
            disk,
            folder_gone_s: Vec::new(),
            sleeps: Vec::new(),
            passes: Vec::new(),
            clock_steps: steps.into_iter().map(|at| (at, rng.random_range(-4_000.0..4_000.0))).collect(),
            marks_s: times(0.3, &mut rng),
            ending: *[Ending::Signal, Ending::Signal, Ending::Duration, Ending::PowerCut]
                .choose(&mut rng)
                .unwrap(),
            cut_after_end: false,
        };
        // Drawn last, so that worlds of before stay as they are without it.
        plan.folder_gone_s = times(0.1, &mut rng);
        plan.sleeps = times(0.08, &mut rng).into_iter().map(|at_s| (at_s, 60.0)).collect();
        if !plan.sleeps.is_empty() && plan.ending == Ending::Duration {
            // A run that lasts for so long ends earlier by the computer's clock.
            plan.ending = Ending::Signal;
        }
        if rng.random_bool(0.15) {
            let from_s = rng.random_range(0.0..lasts_s);
            let until_s = from_s + rng.random_range(0.5..60.0);
            plan.disk.push(DiskTrouble { from_s, until_s, fault: DiskFault::Lies });
        }
        plan.cut_after_end = rng.random_bool(0.3);
        if rng.random_bool(0.3) {
            plan.receiver = Some(ReceiverPlan::drawn(lasts_s, &mut rng));
        }
        plan
    }
}

/// One world in ten has a channel of the user's own; none of those that found something before there was one, which stay
/// as they were.
fn own_of(seed: u64, boxes: usize) -> Option<usize> {
    let mixed = usize::try_from(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 40).unwrap();
    (mixed % 10 == 3).then(|| mixed / 10 % boxes)
}

impl Plan {
    /// Steps of the wall clock against the monotonic one: when, and by how many s.
    pub fn steps(&self) -> Vec<(f64, f64)> {
        self.clock_steps.iter().chain(&self.sleeps).copied().collect()
    }
}

impl ReceiverPlan {
    fn drawn(lasts_s: f64, rng: &mut ChaCha8Rng) -> Self {
        let (sends_rmc, sends_gga_and_vtg) =
            *[(true, true), (true, false), (false, true)].choose(rng).unwrap();
        let mean_s = *[20.0, 200.0, 1e9].choose(rng).unwrap();
        let mut faults = Vec::new();
        let mut at_s = 3.0;
        loop {
            at_s += 1.0 - mean_s * (1.0 - rng.random::<f64>()).ln();
            if at_s + 3.0 >= lasts_s {
                break;
            }
            let for_s = *[0.3, 3.0, 12.0].choose(rng).unwrap() * rng.random_range(0.2..1.5);
            let fault = match rng.random_range(0..4) {
                0 => ReceiverFault::Unplugged(for_s),
                1 => ReceiverFault::NoFix(for_s),
                2 => ReceiverFault::Silent(for_s),
                _ => ReceiverFault::Noise(rng.random_range(1..2_000)),
            };
            faults.push((at_s, fault));
            at_s += for_s;
        }
        Self {
            rate_hz: *(if lasts_s > 600.0 { &[1][..] } else { &[1, 5, 10] }).choose(rng).unwrap(),
            sends_rmc,
            sends_gga_and_vtg,
            latency_ms: rng.random_range(20.0..80.0),
            jitter_ms: rng.random_range(0.0..15.0),
            damaged: if rng.random_bool(0.5) { 0.1 * rng.random::<f64>() } else { 0.0 },
            faults,
        }
    }
}

impl BoxPlan {
    fn drawn(lasts_s: f64, pace: &Pace, rng: &mut ChaCha8Rng) -> Self {
        let form = if rng.random_bool(0.3) { Form::Text } else { Form::Binary };
        let text = form == Form::Text;
        let rate_hz = *pace.rates_hz.choose(rng).unwrap();
        let drawn_share = |share: f64, most: f64, rng: &mut ChaCha8Rng| {
            if rng.random_bool(share) { most * rng.random::<f64>().powi(3) } else { 0.0 }
        };
        let mut faults = Vec::new();
        let mut at_s = 0.0;
        let mean_s = *pace.faults_s.choose(rng).unwrap();
        loop {
            at_s += 1.0 - mean_s * (1.0 - rng.random::<f64>()).ln();
            // Before it, the recorder looks for the boxes.
            if at_s + 3.0 >= lasts_s {
                break;
            }
            let for_s = *[0.3, 2.0, 8.0].choose(rng).unwrap() * rng.random_range(0.2..1.5);
            let fault = match rng.random_range(0..7) {
                0 => BoxFault::Unplugged(for_s),
                1 => BoxFault::Reset,
                2 => BoxFault::Silent(for_s),
                3 => BoxFault::NoRows(for_s),
                4 => BoxFault::WrongRows(for_s),
                5 => BoxFault::Noise(rng.random_range(1..3_000)),
                _ => BoxFault::Mark,
            };
            faults.push((3.0 + at_s, fault));
            at_s += for_s;
        }
        Self {
            form,
            answers: !text || rng.random_bool(0.5),
            counts_boots: !text || rng.random_bool(0.5),
            rate_mhz: 1000 * rate_hz,
            // A frame a quarter of a second at the slowest.
            rows_per_frame: if text {
                1
            } else {
                rng.random_range(1..=usize::min(8, 1 + rate_hz as usize / 4))
            },
            drift_ppm: rng.random_range(-DRIFT_MAX_PPM..DRIFT_MAX_PPM),
            clock_start_us: rng.random(),
            jitter_ms: drawn_share(0.5, 3.0, rng),
            dropped: drawn_share(0.3, 0.05, rng),
            doubled: drawn_share(0.3, 0.05, rng),
            // A sentence's checksum of one byte lets wrong rows through, as its specification says.
            flipped_bits: if text { 0.0 } else { drawn_share(0.3, 1e-3, rng) },
            faults,
        }
    }
}

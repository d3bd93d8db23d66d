//! A plow drawn at random: another machine, another hitch, another field each time.
//!
//! Every range is invented, wide, and by choice: trailed plows of 150 to 900 kg with one to four bottoms. What
//! must hold of a drawn plow, whatever was drawn, is said at [`DrawnPlow::draw`].

use super::{FieldSpec, Linear, PassSpec, PassTimes, Plow, Point, Setting, Share, SpeedWander, Surroundings};
use super::{Wheel, parts::FREE_FALL_M_PER_S2, settle};
use rand::{Rng, RngExt};

/// The balance index that is drawn for lies between minus and plus this.
const BALANCE_MAX: f64 = 1.1;
/// How near to the balance index that was drawn some pair of holes must come.
const NEAR_ENOUGH: f64 = 0.08;
/// A plow that cannot be given a hitch or a pose is drawn anew this often before everything is.
const TRIES: usize = 400;
/// Damping ratios of modes that are taken.
const DAMPING: std::ops::RangeInclusive<f64> = 0.03..=0.3;
/// Rows per second of the boxes.
const RATES_HZ: [f64; 6] = [25.0, 50.0, 100.0, 200.0, 500.0, 1000.0];

/// A drawn plow at work on a drawn field, and the holes that it could have been hitched to.
///
/// ```
/// use rand::SeedableRng;
/// use sample_runs::plow::DrawnPlow;
///
/// let drawn = |seed| DrawnPlow::draw(&mut rand_chacha::ChaCha8Rng::seed_from_u64(seed));
/// assert_eq!(drawn(1), drawn(1), "a seed gives one plow");
/// assert_ne!(drawn(1), drawn(2));
/// assert!((1..=4).contains(&drawn(1).bottoms) && drawn(1).pass.speed_mps > 0.0);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct DrawnPlow {
    /// The pass to simulate.
    pub pass: PassSpec,
    /// How many bottoms cut [`Plow::cut_width_m`] together.
    pub bottoms: u32,
    /// Rows per second of the box.
    pub rate_hz: f64,
    /// Heights of the holes at the plow in m, the lowest first.
    pub plow_holes_m: Vec<f64>,
    /// Heights of the holes at the tractor in m, the lowest first.
    pub tractor_holes_m: Vec<f64>,
    /// Which of them it is hitched to, counted from 0: at the plow and at the tractor.
    pub holes: (usize, usize),
    /// Loads on front wheels and tail wheel in the measured pose, in soil of hardness 1, in N; one is below 0
    /// where the wheel would be off the ground.
    pub design_loads_n: (f64, f64),
}

fn between(rng: &mut impl Rng, low: f64, high: f64) -> f64 {
    low + (high - low) * rng.random::<f64>()
}

/// Log-uniform.
fn scale(rng: &mut impl Rng, low: f64, high: f64) -> f64 {
    between(rng, low.ln(), high.ln()).exp()
}

/// Near enough normal with standard deviation 1: the sum of twelve uniforms less 6 (Irwin–Hall).
fn normal(rng: &mut impl Rng) -> f64 {
    (0..12).map(|_| rng.random::<f64>()).sum::<f64>() - 6.0
}

/// What is drawn first and kept while the rest is drawn anew, so that no rejection bends its law.
struct Kept {
    mass_kg: f64,
    bottoms: u32,
    front_n_per_m: f64,
    tail_n_per_m: f64,
    balance_index: f64,
    share: Share,
}

impl Kept {
    fn draw(rng: &mut impl Rng) -> Self {
        let mass_kg = between(rng, 150.0, 900.0);
        // 75 to 350 kg a bottom.
        let fits: Vec<u32> = (1..=4).filter(|n| (75.0..350.0).contains(&(mass_kg / f64::from(*n)))).collect();
        let bottoms = fits.get(rng.random_range(0..fits.len().max(1))).copied().unwrap_or(4);
        let share = match rng.random_range(0..3) {
            0 => Share::Sharp,
            1 => Share::Blunt,
            _ => Share::Worn,
        };
        Self {
            mass_kg,
            bottoms,
            front_n_per_m: scale(rng, 15e3, 2e6),
            tail_n_per_m: scale(rng, 15e3, 2e6),
            balance_index: between(rng, -BALANCE_MAX, BALANCE_MAX),
            share,
        }
    }
}

impl DrawnPlow {
    /// Draws one: mass 150 to 900 kg, one to four bottoms, stiffness of front and tail 15 to 2,000 kN/m
    /// (log-uniform, straight or stiffening), shares sharp, blunt or worn, balance index −1.1 to +1.1 (by the
    /// lines, in the measured pose), speed 3 to 8 km/h wandering by up to 6 %, hardness over two scales between 1
    /// and 40 m, 25 Hz to 1 kHz, one to five minutes at work.
    ///
    /// Of each it holds that both wheels carry the standing plow, that springs at rest are pressed in by 120 mm at
    /// most, that at work in soil of hardness 1 the plow rests within a quarter of its depth and 3.5° of the
    /// measured pose with a drawbar no steeper than 0.4, and, where both wheels carry it then, that each mode that
    /// swings has a damping ratio of 0.03 to 0.3 and swings the tail load by no more than half of what it carries
    /// standing.
    #[must_use]
    pub fn draw(rng: &mut impl Rng) -> Self {
        loop {
            let kept = Kept::draw(rng);
            if let Some(drawn) = (0..TRIES).find_map(|_| Self::with(&kept, rng)) {
                return drawn;
            }
        }
    }

    /// The rest of it; `None` if what was drawn is absurd.
    fn with(kept: &Kept, rng: &mut impl Rng) -> Option<Self> {
        let mut plow = body(kept, rng);
        let (plow_holes_m, tractor_holes_m) =
            (holes(rng, 5..=9, (0.02, 0.08)), holes(rng, 4..=7, (0.2, 0.38)));
        let pairs = (0..plow_holes_m.len()).flat_map(|i| (0..tractor_holes_m.len()).map(move |k| (i, k)));
        let setting = |(i, k): (usize, usize)| {
            Some(Setting {
                plow_hitch_z_m: *plow_holes_m.get(i)?,
                tractor_hitch_z_m: *tractor_holes_m.get(k)?,
            })
        };
        let fit: Vec<_> = pairs
            .filter_map(|pair| {
                let setting = setting(pair)?;
                let loads = Loads::of(&plow, &setting, kept.share)?;
                ((loads.balance_index(&plow) - kept.balance_index).abs() < NEAR_ENOUGH)
                    .then_some((pair, setting, loads))
            })
            .collect();
        let (holes, setting, loads) = *fit.get(rng.random_range(0..fit.len().max(1)))?;
        set_wheels(&mut plow, &loads, rng)?;
        let pass = PassSpec {
            plow,
            setting,
            share: kept.share,
            field: field(rng),
            field_seed: rng.random(),
            speed_mps: between(rng, 3.0, 8.0) / 3.6,
            speed_wander: SpeedWander { sd_share: between(rng, 0.0, 0.06), time_s: scale(rng, 2.0, 15.0) },
            times: PassTimes::working(between(rng, 60.0, 300.0)),
        };
        if !runs_well(&pass) {
            return None;
        }
        Some(Self {
            pass,
            bottoms: kept.bottoms,
            rate_hz: *RATES_HZ.get(rng.random_range(0..RATES_HZ.len()))?,
            plow_holes_m,
            tractor_holes_m,
            holes,
            design_loads_n: (loads.front_n, loads.tail_n),
        })
    }
}

/// Everything but the hitch and the set of the wheels.
fn body<R: Rng>(kept: &Kept, rng: &mut R) -> Plow {
    let weight_n = kept.mass_kg * FREE_FALL_M_PER_S2;
    let n = f64::from(kept.bottoms);
    let wheelbase_m = between(rng, 1.1, 1.6) + n * between(rng, 0.2, 0.5);
    let weight_x_m = -wheelbase_m * between(rng, 0.25, 0.6);
    let radius_m = wheelbase_m * between(rng, 0.27, 0.42);
    let cut_m = between(rng, 0.25, 0.45);
    let depth_m = cut_m * between(rng, 0.4, 0.7);
    let wheel = |(x_m, z_m): (f64, f64), diameter_m: f64, stiffness_n_per_m: f64, share: f64, rng: &mut R| {
        let ratio = scale(rng, 0.02, 0.3);
        let stiffens = rng.random::<f64>() < 0.4;
        // Compression under the load that it carries standing, in a straight spring.
        let standing_m = share * weight_n / stiffness_n_per_m;
        Wheel {
            contact: Point { x_m, z_m },
            diameter_m,
            stiffness_n_per_m,
            stiffening_m: if stiffens { standing_m * scale(rng, 2.0, 12.0) } else { f64::INFINITY },
            damping_n_s_per_m: 2.0 * ratio * (stiffness_n_per_m * share * kept.mass_kg).sqrt(),
            set_compression_m: 0.0,
            stop_compression_m: f64::INFINITY,
        }
    };
    let tail_share = -weight_x_m / wheelbase_m;
    let front = wheel((0.0, 0.0), between(rng, 0.5, 0.9), kept.front_n_per_m, 1.0 - tail_share, rng);
    let tail = wheel((-wheelbase_m, -depth_m), between(rng, 0.35, 0.6), kept.tail_n_per_m, tail_share, rng);
    let slope_spread = match kept.share {
        Share::Sharp => 0.07,
        Share::Blunt => 0.05,
        Share::Worn => 0.06,
    };
    Plow {
        weight_n,
        weight_at: Point { x_m: weight_x_m, z_m: between(rng, 0.25, 0.5) },
        pitch_inertia_kg_m2: kept.mass_kg * radius_m.powi(2),
        front,
        tail,
        tail_play_m: 0.0,
        rolling_resistance: between(rng, 0.04, 0.12),
        hitch_x_m: between(rng, 0.1, 0.5),
        drawbar_length_m: between(rng, 0.7, 1.8),
        soil_at: Point {
            x_m: -wheelbase_m * between(rng, 0.3, 0.65),
            z_m: -depth_m * between(rng, 0.4, 0.75),
        },
        set_depth_m: depth_m,
        cut_width_m: n * cut_m,
        specific_draft_pa: scale(rng, 25e3, 90e3),
        soil_slope_shift: between(rng, -slope_spread, slope_spread),
        share_bearing: None,
        raised_clearance_m: 0.06,
    }
}

/// A plate of holes, 25 to 50 mm apart.
fn holes(rng: &mut impl Rng, count: std::ops::RangeInclusive<usize>, lowest_m: (f64, f64)) -> Vec<f64> {
    let (lowest_m, apart_m) = (between(rng, lowest_m.0, lowest_m.1), between(rng, 0.025, 0.05));
    (0..rng.random_range(count)).map(|i| lowest_m + i as f64 * apart_m).collect()
}

/// Hardness over a short and a long scale, land, and a tractor that nods.
fn field(rng: &mut impl Rng) -> FieldSpec {
    let (hardness_sd, long_share) = (scale(rng, 0.04, 0.2), rng.random::<f64>());
    FieldSpec {
        hardness_long: (hardness_sd * long_share.sqrt(), scale(rng, 6.0, 40.0)),
        hardness_short: (hardness_sd * (1.0 - long_share).sqrt(), scale(rng, 1.0, 6.0)),
        ground_long_m: (scale(rng, 0.002, 0.012), scale(rng, 3.0, 15.0)),
        ground_short_m: (scale(rng, 0.000_3, 0.005), scale(rng, 0.15, 0.6)),
        tractor_bounce_m: (scale(rng, 0.001, 0.005), scale(rng, 1.0, 4.0)),
    }
}

/// Wheel loads in the measured pose, in soil of hardness 1, by the balance of forces and moments; without a
/// wheel's kink, so that one is below 0 where the wheel would be off the ground.
#[derive(Clone, Copy)]
struct Loads {
    front_n: f64,
    tail_n: f64,
}

impl Loads {
    /// With S the draft part of the soil force, t the drawbar's slope and ρ the rolling resistance:
    /// P_x = S + ρV and V = W − σS − tP_x, so V = (W − σS − tS)/(1 + tρ); the moments about the front contact
    /// give V_t (x_t + ρ z_t) = W x_w − S (z_s + σ x_s) + P_x (z_h − t x_h).
    fn of(plow: &Plow, setting: &Setting, share: Share) -> Option<Self> {
        let rise_m = setting.tractor_hitch_z_m - setting.plow_hitch_z_m;
        let slope = rise_m / (plow.drawbar_length_m.powi(2) - rise_m.powi(2)).sqrt();
        let draft_n = plow.specific_draft_pa * plow.cut_width_m * plow.set_depth_m;
        let soil_slope = share.soil_slope() + plow.soil_slope_shift;
        let rolls = plow.rolling_resistance;
        let both_n = (plow.weight_n - (soil_slope + slope) * draft_n) / (1.0 + slope * rolls);
        let pull_x_n = draft_n + rolls * both_n;
        let moment = plow.weight_n * plow.weight_at.x_m
            - draft_n * (plow.soil_at.z_m + soil_slope * plow.soil_at.x_m)
            + pull_x_n * (setting.plow_hitch_z_m - slope * plow.hitch_x_m);
        let tail_n = moment / (plow.tail.contact.x_m + rolls * plow.tail.contact.z_m);
        // Absurd: a drawbar near its limit, wheels that carry next to nothing together, a pull that no such plow
        // has.
        let sound = slope.abs() < 0.4
            && both_n > 0.25 * plow.weight_n
            && (0.6..3.5).contains(&(pull_x_n / plow.weight_n));
        sound.then_some(Self { front_n: both_n - tail_n, tail_n })
    }

    fn both_n(self) -> f64 {
        self.front_n + self.tail_n
    }

    /// How far the wheel load acts from the weight, on the scale of the wheel that way.
    fn balance_index(self, plow: &Plow) -> f64 {
        let (x_t, x_w) = (plow.tail.contact.x_m, plow.weight_at.x_m);
        let off_m = self.tail_n * x_t / self.both_n() - x_w;
        if off_m > 0.0 { off_m / -x_w } else { off_m / (x_w - x_t) }
    }
}

/// Sets the wheels as a person does who levels the plow in the furrow: for this hitch, or for one nearer the
/// steady point and then never again.
fn set_wheels(plow: &mut Plow, loads: &Loads, rng: &mut impl Rng) -> Option<()> {
    let levelled = rng.random::<f64>();
    let both_n = loads.both_n();
    let standing_share = -plow.weight_at.x_m / plow.wheelbase_m();
    let share = standing_share + levelled * (loads.tail_n / both_n - standing_share);
    let share = share.clamp(0.02, 0.98);
    let now_share = (loads.tail_n / both_n).clamp(0.0, 1.0);
    for (wheel, share, now, standing) in [
        (&mut plow.front, 1.0 - share, 1.0 - now_share, 1.0 - standing_share),
        (&mut plow.tail, share, now_share, standing_share),
    ] {
        let set_m = wheel.compression_m(share * both_n);
        let moves_m = wheel.compression_m(now * both_n) - set_m;
        let standing_m = wheel.compression_m(standing * plow.weight_n);
        if moves_m.abs() > 0.04 || set_m.max(standing_m) > 0.12 {
            return None;
        }
        wheel.set_compression_m = set_m + 0.003 * normal(rng);
    }
    Some(())
}

/// Whether the pass is one that a person would drive: see [`DrawnPlow::draw`].
fn runs_well(pass: &PassSpec) -> bool {
    let plow = &pass.plow;
    let around = Surroundings::level(&pass.setting, pass.speed_mps, 1.0);
    let (pose, forces) = settle(plow, &pass.setting, pass.share, &around);
    let sound = (forces.depth_m / plow.set_depth_m - 1.0).abs() < 0.25
        && pose.nose_down_rad.to_degrees().abs() < 3.5
        && forces.drawbar_slope.abs() < 0.4;
    if !sound {
        return false;
    }
    let Some(linear) = Linear::of_pass(pass, 1.0) else { return true };
    let standing_n = plow.weight_n * -plow.weight_at.x_m / plow.wheelbase_m();
    linear
        .modes_in(&pass.field)
        .iter()
        .all(|(mode, rms_n)| DAMPING.contains(&mode.damping_ratio) && *rms_n < 0.5 * standing_n)
}

#[cfg(test)]
mod tests;

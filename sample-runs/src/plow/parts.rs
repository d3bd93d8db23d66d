//! What the plow is made of, how it is hitched, and how sharp its shares are.

use super::Point;

/// Standard acceleration of free fall in m/s² (ISO 80000-3).
pub(super) const FREE_FALL_M_PER_S2: f64 = 9.806_65;

/// Whole inches from `first` on, in m.
const fn inches_from<const N: usize>(first: usize) -> [f64; N] {
    let mut heights_m = [0.0; N];
    let mut i = 0;
    while i < N {
        heights_m[i] = (i + first) as f64 * 0.0254;
        i += 1;
    }
    heights_m
}

/// A wheel on a spring and a damper that only ever push.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wheel {
    /// Where it touches what it runs on in the measured pose: the land, z = 0, or the floor of the furrow.
    pub contact: Point,
    /// Diameter in m.
    pub diameter_m: f64,
    /// Stiffness of the spring where it begins to carry (for the front wheels: rim on soil, both together)
    /// in N/m.
    pub stiffness_n_per_m: f64,
    /// Compression c₂ at which a stiffening spring carries twice what its first stiffness k would make it:
    /// load = k·c·(1 + c/c₂). In m; infinite for a straight spring.
    pub stiffening_m: f64,
    /// Damping along the spring in N·s/m.
    pub damping_n_s_per_m: f64,
    /// Compression of the spring in the measured pose, in m.
    pub set_compression_m: f64,
    /// Compression at which the linkage runs into a hard stop, in m; infinite without one.
    pub stop_compression_m: f64,
}

impl Wheel {
    /// Load of the spring in N at a compression in m that is above 0.
    #[must_use]
    pub fn spring_n(&self, compression_m: f64) -> f64 {
        self.stiffness_n_per_m * compression_m * (1.0 + compression_m / self.stiffening_m)
    }

    /// Slope of the spring's load curve there, in N/m.
    #[must_use]
    pub fn rate_n_per_m(&self, compression_m: f64) -> f64 {
        self.stiffness_n_per_m * (1.0 + 2.0 * compression_m / self.stiffening_m)
    }

    /// Compression in m under a load in N that is not below 0: [`Wheel::spring_n`] the other way round.
    #[must_use]
    pub fn compression_m(&self, load_n: f64) -> f64 {
        // The root of k·c + k·c²/c₂ = F, written so that it does not cancel, nor fail at an infinite c₂.
        let straight_m = load_n / self.stiffness_n_per_m;
        2.0 * straight_m / (1.0 + (1.0 + 4.0 * straight_m / self.stiffening_m).sqrt())
    }
}

/// A plow in the side view. All numbers of [`Plow::TWO_BOTTOM`] are invented.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plow {
    /// Weight in N.
    pub weight_n: f64,
    /// Where the weight acts; the plow turns about it.
    pub weight_at: Point,
    /// Moment of inertia about the y axis through that point, in kg·m².
    pub pitch_inertia_kg_m2: f64,
    /// The front wheels, taken together.
    pub front: Wheel,
    /// The tail wheel; it runs on the floor of the furrow just cut.
    pub tail: Wheel,
    /// Play in the linkage between the tail wheel and the sensor of its deflection: how far the wheel moves
    /// after it has turned back before the sensor follows, in m.
    pub tail_play_m: f64,
    /// Motion resistance of a wheel divided by its load.
    pub rolling_resistance: f64,
    /// How far the hitch pin of the plow is forward of the front wheel axle, in m.
    pub hitch_x_m: f64,
    /// Length of the drawbar between its two pins, in m.
    pub drawbar_length_m: f64,
    /// Where the soil force acts.
    pub soil_at: Point,
    /// Depth of the bottoms below the land in the measured pose, in m; their depth is taken at
    /// the x of [`Plow::soil_at`].
    pub set_depth_m: f64,
    /// Width that all bottoms cut together, in m.
    pub cut_width_m: f64,
    /// Draft per cut area in soil of hardness 1, in Pa.
    pub specific_draft_pa: f64,
    /// How far this plow's soil slope lies from the usual one of its shares ([`Share::soil_slope`]).
    pub soil_slope_shift: f64,
    /// What the underside of the shares carries, if it carries; shares that cut carry nothing there.
    pub share_bearing: Option<ShareBearing>,
    /// How far the bottoms are above the land when the plow is raised, in m.
    pub raised_clearance_m: f64,
}

/// Soil under shares that are worn round: it bears them like the ground under a sled, harder ground at less depth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShareBearing {
    /// Force for each depth beyond [`ShareBearing::from_depth_m`] in soil of hardness 1, in N/m.
    pub stiffness_n_per_m: f64,
    /// Depth at which it begins, in m.
    pub from_depth_m: f64,
}

impl ShareBearing {
    /// Vertical force, up, in N.
    #[must_use]
    pub fn force_n(&self, depth_m: f64, hardness: f64) -> f64 {
        self.stiffness_n_per_m * hardness * (depth_m - self.from_depth_m).max(0.0)
    }
}

impl Plow {
    /// The invented two-bottom plow of the demo and the stored runs.
    pub const TWO_BOTTOM: Self = Self {
        weight_n: 3400.0,
        weight_at: Point { x_m: -0.60, z_m: 0.35 },
        pitch_inertia_kg_m2: 130.0,
        front: Wheel {
            contact: Point { x_m: 0.0, z_m: 0.0 },
            diameter_m: 0.60,
            stiffness_n_per_m: 150_000.0,
            stiffening_m: f64::INFINITY,
            damping_n_s_per_m: 1_500.0,
            set_compression_m: 0.012,
            stop_compression_m: f64::INFINITY,
        },
        tail: Wheel {
            contact: Point { x_m: -1.90, z_m: -0.18 },
            diameter_m: 0.45,
            stiffness_n_per_m: 25_000.0,
            stiffening_m: f64::INFINITY,
            damping_n_s_per_m: 40.0,
            set_compression_m: 0.034,
            stop_compression_m: f64::INFINITY,
        },
        tail_play_m: 0.0,
        rolling_resistance: 0.06,
        hitch_x_m: 0.30,
        drawbar_length_m: 1.12,
        soil_at: Point { x_m: -0.72, z_m: -0.10 },
        set_depth_m: 0.18,
        cut_width_m: 0.71,
        specific_draft_pa: 66_000.0,
        soil_slope_shift: 0.0,
        share_bearing: None,
        raised_clearance_m: 0.06,
    };

    /// The description of the same plow as `plow.toml`, with the three basic sensors of the virtual box.
    pub const TWO_BOTTOM_TOML: &str = include_str!("../../plows/two-bottom.toml");

    /// Heights of the holes for the hitch pin at the plow above the land, in m: 1 to 9 in.
    pub const PLOW_HOLES_M: [f64; 9] = inches_from(1);

    /// Heights of the holes for the drawbar pin at the tractor above the land, in m: 10 to 16 in.
    pub const TRACTOR_HOLES_M: [f64; 7] = inches_from(10);

    /// Mass in kg, with the standard acceleration of free fall.
    #[must_use]
    pub fn mass_kg(&self) -> f64 {
        self.weight_n / FREE_FALL_M_PER_S2
    }

    /// Distance between the front and the tail wheel in m.
    #[must_use]
    pub fn wheelbase_m(&self) -> f64 {
        self.front.contact.x_m - self.tail.contact.x_m
    }

    /// How far the lift raises the plow, in m.
    #[must_use]
    pub fn lift_m(&self) -> f64 {
        self.set_depth_m + self.raised_clearance_m
    }
}

/// Hitch heights above the land with the plow in its measured pose.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setting {
    /// Height of the hitch pin at the plow, in m; it moves with the plow.
    pub plow_hitch_z_m: f64,
    /// Height of the drawbar pin at the tractor, in m.
    pub tractor_hitch_z_m: f64,
}

impl Setting {
    /// A setting by holes, counted from 1 at the lowest; `None` if there is no such hole.
    #[must_use]
    pub fn by_holes(plow_hole: usize, tractor_hole: usize) -> Option<Self> {
        Some(Self {
            plow_hitch_z_m: *Plow::PLOW_HOLES_M.get(plow_hole.checked_sub(1)?)?,
            tractor_hitch_z_m: *Plow::TRACTOR_HOLES_M.get(tractor_hole.checked_sub(1)?)?,
        })
    }
}

/// Condition of the shares. The figures that go with it are invented: common practice knows only that
/// sharp shares draw themselves in and worn ones ride up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, strum::EnumString, strum::IntoStaticStr, strum::VariantNames)]
#[strum(serialize_all = "lowercase")]
pub enum Share {
    /// Sharp: the soil pulls the plow down.
    Sharp,
    /// Blunt: the soil force is level.
    Blunt,
    /// Worn: the soil lifts the plow.
    Worn,
}

impl Share {
    /// Soil slope σ (vertical part over draft part of the soil force, up positive) in the measured pose.
    #[must_use]
    pub fn soil_slope(self) -> f64 {
        match self {
            Self::Sharp => -0.12,
            Self::Blunt => 0.0,
            Self::Worn => 0.10,
        }
    }

    /// Change of the soil slope per rad by which the share points further down than its path: a share
    /// that points down draws in harder, and a sharp one answers the most.
    #[must_use]
    pub fn soil_slope_per_rad(self) -> f64 {
        match self {
            Self::Sharp => -0.10,
            Self::Blunt => -0.08,
            Self::Worn => -0.06,
        }
    }

    /// Its name in files and on the command line.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.into()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stiffening_spring_carries_twice_its_line_at_its_mark_and_is_read_backwards() {
        let wheel = Wheel { stiffening_m: 0.05, ..Plow::TWO_BOTTOM.tail };
        assert!((wheel.spring_n(0.05) - 2.0 * 25_000.0 * 0.05).abs() < 1e-9);
        for compression_m in [0.0, 0.001, 0.03, 0.2] {
            assert!((wheel.compression_m(wheel.spring_n(compression_m)) - compression_m).abs() < 1e-12);
            let small_m = 1e-6;
            let slope =
                (wheel.spring_n(compression_m + small_m) - wheel.spring_n(compression_m - small_m)) / 2e-6;
            assert!((slope - wheel.rate_n_per_m(compression_m)).abs() < 1e-3, "{slope}");
        }
        // A straight one is the line to the last bit.
        assert_eq!(Plow::TWO_BOTTOM.tail.spring_n(0.034).to_bits(), (25_000.0f64 * 0.034).to_bits());
        assert!((Plow::TWO_BOTTOM.tail.compression_m(850.0) - 0.034).abs() < 1e-15);
    }
}

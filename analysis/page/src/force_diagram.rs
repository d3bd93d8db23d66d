//! The free body of a plow as a diagram shows it: m and N, with the texts beside the arrows.

/// A point of the side view in m: x forward of the front wheel axle, z above the land surface (ISO 8855
/// directions).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PointM {
    /// Forward, m.
    pub x_m: f64,
    /// Up, m.
    pub z_m: f64,
}

/// A force in the side view, N: x forward, z up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ForceN {
    /// Forward part, N.
    pub x_n: f64,
    /// Upward part, N.
    pub z_n: f64,
}

/// A bar that shows how long a length or a force is drawn.
#[derive(Clone, Debug)]
pub struct ScaleBar {
    /// Size in the SI unit of the diagram (m, or N).
    pub size: f64,
    /// The same in display units ("0.5 m", "1 ft", "2 kN").
    pub label: String,
}

/// The free body in the side view.
#[derive(Clone, Debug)]
pub struct ForceDiagram {
    /// What carries the front.
    pub front: Support,
    /// What carries the tail.
    pub tail: Support,
    /// What pulls, pin to pin: a drawbar or chain, or the links.
    pub members: Vec<(PointM, PointM)>,
    /// Where the plow's weight acts.
    pub weight_at: PointM,
    /// A point on the line of pull: drawbar pin at the plow, or where links meet.
    pub plow_hitch: PointM,
    /// A point of it further ahead: drawbar pin at the tractor.
    pub tractor_hitch: PointM,
    /// What that pin is called.
    pub tractor_hitch_name: String,
    /// Where the soil force acts.
    pub soil_at: PointM,
    /// How many bottoms there are.
    pub bottoms: usize,
    /// Two points of the line of pull in holes that were asked about, as `plow_hitch` and `tractor_hitch`.
    pub tried: Option<(PointM, PointM)>,
    /// The shares are what is to be seen to: they stand out, and are named.
    pub shares_first: bool,
    /// Steady point; `None` where the soil slope is not shown.
    pub steady: Option<PointM>,
    /// Depth of the furrow bottom below the land surface, m.
    pub depth_m: f64,
    /// Weight.
    pub weight: Arrow,
    /// Pull, acting forward at the plow hitch.
    pub pull: Arrow,
    /// Soil force, acting back at the soil point.
    pub soil: Arrow,
    /// Front load, the ground pushing up.
    pub front_load: Arrow,
    /// Tail load, the ground pushing up.
    pub tail_load: Arrow,
    /// Pull-line offset, in words ("e = 31 mm above"), written at the steady point.
    pub offset_label: Option<String>,
    /// Scale of lengths, size in m.
    pub length_scale: ScaleBar,
    /// Scale of forces, size in N.
    pub force_scale: ScaleBar,
}

impl ForceDiagram {
    /// Every force with its name, the drawing ones first.
    pub fn forces(&self) -> [&Arrow; 5] {
        [&self.weight, &self.pull, &self.soil, &self.front_load, &self.tail_load]
    }

    /// Points that the body reaches to: hitch, soil, what carries it, and what pulls it.
    pub fn body_points(&self) -> Vec<PointM> {
        let mut points = vec![self.plow_hitch, self.soil_at];
        for support in [self.front, self.tail] {
            let (contact, diameter_m) = (support.contact, support.diameter_m());
            points.push(PointM { z_m: contact.z_m + support.height_m(), ..contact });
            points.extend([-0.5, 0.5].map(|way| PointM { x_m: contact.x_m + way * diameter_m, ..contact }));
        }
        points.extend(self.members.iter().flat_map(|member| [member.0, member.1]));
        points.extend(self.tried.iter().flat_map(|pins| [pins.0, pins.1]));
        points.push(PointM { x_m: self.soil_at.x_m, z_m: -self.depth_m });
        points
    }
}

/// One force with the text beside it.
#[derive(Clone, Debug)]
pub struct Arrow {
    /// The force.
    pub force: ForceN,
    /// Name and size in display units ("pull 6.1 kN").
    pub label: String,
}

/// What carries one end of a plow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Support {
    /// Where it carries.
    pub contact: PointM,
    /// What it looks like.
    pub look: SupportLook,
}

/// Looks of what carries a plow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SupportLook {
    /// A wheel on the ground.
    Wheel {
        /// Its diameter, m.
        diameter_m: f64,
        /// Whether a spring stands between it and the frame.
        sprung: bool,
    },
    /// Something that slides.
    Sole,
    /// A rolling landside: a small wheel on the furrow bottom, inclined against the furrow wall.
    RollingLandside,
    /// A pin of the tractor's linkage, or where its links meet.
    Pin,
}

/// Diameter that a rolling landside is drawn with, m, which no description has: a sign, not a measure.
const ROLLING_LANDSIDE_M: f64 = 0.4;
/// A wheel inclined by 40° is this much lower, seen from the side, than it is long (cos 40°): a sign, too.
const INCLINED: f64 = 0.766;

impl Support {
    /// Its length along the plow, which for a wheel is its diameter, m; 0 for what is no wheel.
    pub fn diameter_m(&self) -> f64 {
        match self.look {
            SupportLook::Wheel { diameter_m, .. } => diameter_m,
            SupportLook::RollingLandside => ROLLING_LANDSIDE_M,
            SupportLook::Sole | SupportLook::Pin => 0.0,
        }
    }

    /// How high it stands over its contact in the side view, m; 0 for what is no wheel.
    pub fn height_m(&self) -> f64 {
        match self.look {
            SupportLook::RollingLandside => ROLLING_LANDSIDE_M * INCLINED,
            _ => self.diameter_m(),
        }
    }
}

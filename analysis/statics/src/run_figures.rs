//! What a run measured: mean forces with what readings and calibration leave open, and where plow's pin and line of
//! pull are.

use super::distribution::Distribution;
use ingest::calibration::Uncertainty;
use ingest::plow::{Kind, Plow};
use ingest::quantity::{Angle, Force, Length};
use schemars::JsonSchema;
use serde::Serialize;
use stats::Estimate;
use stats::student::Z_975;

/// Of the pull: its calibration, where it says nothing itself (by choice; half of a 95 % interval, as all of these).
pub const PULL_CALIBRATION_SHARE: f64 = 0.02;
const FRONT_CALIBRATION_SHARE: f64 = 0.03;
const LINK_CALIBRATION_SHARE: f64 = 0.02;
/// Of the pull: the zero of a cell in a link, which pulls and pushes.
const LINK_ZERO_SHARE: f64 = 0.01;
/// Of the tail load: a load table and its spring.
pub const TAIL_TABLE_SHARE: f64 = 0.05;
/// Of the standing plow's tail load: the zero of a tail-wheel spring.
const TAIL_ZERO_SHARE: f64 = 0.03;

/// Standard deviation of the plow's pin about its measured height in a run: wheels that carry less or more than
/// on the level floor let the frame rise or sink (by choice; on the virtual plow up to 12 mm).
const PIN_POSE_SD_M: f64 = 0.008;
/// The same where the frame's pitch was measured, so that its turn is known: what the front wheels sink (by
/// choice).
const PIN_SINK_SD_M: f64 = 0.004;
/// An inclinometer set to zero on the level floor (by choice; half of a 95 % interval).
const PITCH_ZERO_HALF_WIDTH_DEG: f64 = 0.3;

/// A gauge of the front's height set to zero on the level floor (by choice; half of a 95 % interval).
const FRONT_HEIGHT_ZERO_HALF_WIDTH_M: f64 = 0.005;
/// A mean depth as a height of the bottoms: what a gauge's zero and the land beside it leave open (by choice; half of a
/// 95 % interval).
const DEPTH_HALF_WIDTH_M: f64 = 0.010;
/// An inclinometer on the drawbar (by choice; half of a 95 % interval).
pub(crate) const DRAWBAR_ZERO_HALF_WIDTH_DEG: f64 = 0.3;

/// A mean force of a run: its interval from the readings, and what the calibration leaves open.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeanForce {
    /// Mean over the working part with its 95 % interval for the process.
    pub mean: Estimate<Force>,
    /// Half of the 95 % interval of the calibration at that mean.
    pub calibration_half_width: Force,
}

impl MeanForce {
    fn known_to(mean: Estimate<Force>, half_width_n: f64) -> Self {
        Self { mean, calibration_half_width: Force::from_n(half_width_n) }
    }

    /// A mean pull whose calibration is known to 2 %, until [`Self::calibrated`] says more.
    pub fn pull(mean: Estimate<Force>) -> Self {
        Self::known_to(mean, PULL_CALIBRATION_SHARE * mean.value.n().abs())
    }

    /// A mean front load whose calibration is known to 3 %, until [`Self::calibrated`] says more.
    pub fn front(mean: Estimate<Force>) -> Self {
        Self::known_to(mean, FRONT_CALIBRATION_SHARE * mean.value.n().abs())
    }

    /// A mean tail load by a load cell: as well known as a front load.
    pub fn tail_cell(mean: Estimate<Force>) -> Self {
        Self::front(mean)
    }

    /// A mean force along a link, known to 2 %, and to 1 % of the pull for its zero, until [`Self::calibrated`] says
    /// more (by choice).
    pub fn link(mean: Estimate<Force>, pull: Force) -> Self {
        Self::known_to(mean, (LINK_CALIBRATION_SHARE * mean.value.n()).hypot(LINK_ZERO_SHARE * pull.n()))
    }

    /// A mean tail load by the deflection table: 5 % of it, and 3 % of the standing plow's for the zero.
    pub fn tail(mean: Estimate<Force>, standing: Force) -> Self {
        let table_n = TAIL_TABLE_SHARE * mean.value.n().abs();
        Self::known_to(mean, table_n.hypot(TAIL_ZERO_SHARE * standing.n().abs()))
    }

    /// The same with what the channel's own calibration, in N, shows at this mean. Where it cannot show how straight
    /// the sensor is there (two true values, or a mean beyond them), the default stands unless the
    /// calibration shows itself to be worse.
    #[must_use]
    pub fn calibrated(self, own: Option<&Uncertainty>) -> Self {
        let Some(own) = own.filter(|own| own.expanded.is_finite()) else { return self };
        let default_n = self.calibration_half_width.n();
        let half_width_n = if own.linearity_shown { own.expanded } else { own.expanded.max(default_n) };
        Self::known_to(self.mean, half_width_n)
    }

    /// The same with a further half of a 95 % interval, independent of what is there.
    #[must_use]
    pub fn widened_by(self, half_width: Force) -> Self {
        Self::known_to(self.mean, self.calibration_half_width.n().hypot(half_width.n()))
    }

    /// The same if what is true may as well lie `shift` off the mean: the interval then reaches as much farther.
    #[must_use]
    pub fn perhaps_off_by(self, shift: Force) -> Self {
        Self::known_to(self.mean, self.calibration_half_width.n() + shift.n().abs())
    }

    pub(super) fn distribution(&self) -> Distribution {
        let sd = self.readings_sd().n().hypot(self.calibration_sd().n());
        Distribution::Normal { mean: self.mean.value.n(), sd }
    }

    /// Standard uncertainty that the readings of this run leave.
    pub fn readings_sd(&self) -> Force {
        Force::from_n(self.mean.standard_uncertainty())
    }

    /// Standard uncertainty that the calibration leaves, the same error in all runs that it was used for.
    pub fn calibration_sd(&self) -> Force {
        Force::from_n(self.calibration_half_width.n() / Z_975)
    }

    pub(super) fn is_finite(&self) -> bool {
        let Estimate { value, low, high } = self.mean;
        [value, low, high, self.calibration_half_width].into_iter().all(|force| force.n().is_finite())
    }
}

/// What a run measured, as far as the statics needs it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RunFigures {
    /// Mean pull along the drawbar.
    pub pull: MeanForce,
    /// Whether that is the sum of the links' forces, and no sensor of its own.
    pub pull_from_links: bool,
    /// Mean tail load, if there is a channel for it.
    pub tail_load: Option<MeanForce>,
    /// Mean front load, if there is a channel for it.
    pub front_load: Option<MeanForce>,
    /// Mean force along the lower links of a mounted plow together, if there is a channel for it.
    pub lower_links: Option<MeanForce>,
    /// Mean force along its top link, if there is a channel for it.
    pub top_link: Option<MeanForce>,
    /// Mean depth, if there is a channel for it.
    pub depth: Option<Length>,
    /// Mean pitch of the frame, nose up +, 0 as it stood on the level floor; if there is a channel.
    pub pitch: Option<Estimate<Angle>>,
    /// Mean height of the frame over the land at x = 0, over the one on the level floor; if there is a channel.
    pub front_height: Option<Estimate<Length>>,
    /// Mean inclination of the drawbar, rising toward the tractor +; if there is a channel.
    pub drawbar_angle: Option<Estimate<Angle>>,
}

/// How a plow's pin stands in a run against how it was measured: by how much higher, and the standard
/// deviation of that.
///
/// A measured pitch turns the frame about the front carrier and moves the pin by x_h·tan(pitch); a measured front
/// height Δz lifts it by that. Of the two the pitch may be missing: the bottoms run deeper by Δd than on the level
/// floor, so tan(pitch) = (Δz + Δd)/(−x_s). They take the place of the allowance for the pose. Where the front hangs
/// on the tractor the pin is the point it turns about, so a pitch says nothing of its height, a front height all.
///
/// A run at another depth than the points were measured at, without either, had the pin at another height:
/// half of the difference is taken as a standard uncertainty of it. It is not corrected for, because a plow
/// that sank on all wheels lowers the pin and one that sank at the tail raises it.
pub fn pin_pose(plow: &Plow, run: &RunFigures) -> (Length, Length) {
    let deeper_m = run.depth_or_described(plow).m() - plow.bottoms.depth.m();
    let turns = matches!(plow.kind(), Kind::Trailed | Kind::Walking);
    let x_h_m = if turns { plow.plow_hitch.x.si() } else { 0.0 };
    let turned = run.pitch.map(|pitch| {
        let half_width_deg = pitch.half_width().hypot(PITCH_ZERO_HALF_WIDTH_DEG);
        (x_h_m * pitch.value.deg().to_radians().tan(), x_h_m * (half_width_deg / Z_975).to_radians())
    });
    let front_height = run.front_height.filter(|_| plow.kind() != Kind::Mounted);
    let lifted = front_height
        .map(|height| (height.value.m(), height.half_width().hypot(FRONT_HEIGHT_ZERO_HALF_WIDTH_M) / Z_975));
    let (higher_m, sd_m) = match (lifted, turned) {
        (Some(lifted), Some(turned)) => (lifted.0 + turned.0, lifted.1.hypot(turned.1)),
        (Some((higher_m, sd_m)), None) => {
            let lever = x_h_m / -plow.bottoms.x.si();
            let depth_sd_m = DEPTH_HALF_WIDTH_M / Z_975;
            (higher_m + lever * (higher_m + deeper_m), ((1.0 + lever) * sd_m).hypot(lever * depth_sd_m))
        }
        (None, Some((higher_m, sd_m))) if turns => (higher_m, sd_m.hypot(PIN_SINK_SD_M)),
        _ => (0.0, (deeper_m / 2.0).hypot(PIN_POSE_SD_M)),
    };
    (Length::from_m(higher_m), Length::from_m(sd_m))
}

/// Distribution of the drawbar's inclination in degrees, where it was measured and the plow has one.
pub(super) fn drawbar_angle(plow: &Plow, run: &RunFigures) -> Option<Distribution> {
    let measured = run.drawbar_angle.filter(|_| plow.kind() != Kind::Mounted)?;
    let sd = measured.half_width().hypot(DRAWBAR_ZERO_HALF_WIDTH_DEG) / Z_975;
    Some(Distribution::Normal { mean: measured.value.deg(), sd })
}

/// Which loads a run measured besides the pull.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum MeasuredLoads {
    /// The tail's.
    Tail,
    /// The front's.
    Front,
    /// Both.
    Both,
    /// Neither, but the line of pull: the soil force is as likely as it is beforehand, and the loads follow.
    LineOfPull,
}

/// What says, on a mounted plow, what its links carry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FromLinks {
    /// The force along the top link, with the pull. Where the lower links were measured besides, they are left out:
    /// the top link's force is the smaller one, and its error weighs less.
    TopLink,
    /// The forces along both kinds of link; the pull follows from them too.
    Both,
}

impl RunFigures {
    /// A run in which the pull alone was measured.
    pub const fn of_pull(pull: MeanForce) -> Self {
        Self {
            pull,
            pull_from_links: false,
            tail_load: None,
            front_load: None,
            lower_links: None,
            top_link: None,
            depth: None,
            pitch: None,
            front_height: None,
            drawbar_angle: None,
        }
    }

    /// Mean depth of the run, or that of the description where none was measured.
    pub fn depth_or_described(&self, plow: &Plow) -> Length {
        self.depth.unwrap_or(plow.bottoms.depth)
    }

    /// What says what the links carry, on a plow that hangs on links and whose front load was not measured.
    pub fn from_links(&self, plow: &Plow) -> Option<FromLinks> {
        let both = self.pull_from_links && self.lower_links.is_some();
        let from = if both { FromLinks::Both } else { FromLinks::TopLink };
        (plow.kind() == Kind::Mounted && self.front_load.is_none() && self.top_link.is_some()).then_some(from)
    }

    /// Which loads are known from the run; `None` if there is neither one nor a line of pull that was measured.
    pub fn measured(&self, plow: &Plow) -> Option<MeasuredLoads> {
        let front = self.front_load.is_some() || self.from_links(plow).is_some();
        let posed = self.pitch.is_some() || self.front_height.is_some();
        match (self.tail_load.is_some(), front) {
            (true, true) => Some(MeasuredLoads::Both),
            (true, false) => Some(MeasuredLoads::Tail),
            (false, true) => Some(MeasuredLoads::Front),
            (false, false) => {
                (posed && drawbar_angle(plow, self).is_some()).then_some(MeasuredLoads::LineOfPull)
            }
        }
    }

    /// Whether every figure is a finite number.
    pub fn is_finite(&self) -> bool {
        let forces = [Some(self.pull), self.tail_load, self.front_load, self.lower_links, self.top_link];
        let angles = [self.pitch, self.drawbar_angle].into_iter().flatten().map(|angle| angle.si());
        let mut figures = angles.chain(self.front_height.map(|height| height.si()));
        forces.into_iter().flatten().all(|force| force.is_finite())
            && self.depth.is_none_or(|depth| depth.m().is_finite())
            && figures.all(|figure| (figure.value + figure.low + figure.high).is_finite())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inputs::Inputs;
    use crate::invented_plow::{figures, plow, setting};
    use crate::plow_model::PlowModel;

    fn pose_m(plow: &Plow, run: &RunFigures) -> (f64, f64) {
        let (higher, sd) = pin_pose(plow, run);
        (higher.m(), sd.m())
    }

    /// A run 50 mm shallower than the plow was measured at leaves the height of its pin open by half of
    /// that, besides what its pose does in any run.
    #[test]
    fn another_depth_leaves_the_pin_height_open() {
        let plow = plow();
        let u_m = |depth_m: Option<f64>| {
            let run = RunFigures { depth: depth_m.map(Length::from_m), ..figures(8_000.0, 900.0, &plow) };
            let distributions = Inputs::of_plow(&plow, &setting("4", "4")).with_run(&plow, &run);
            distributions.plow_hole_height.standard_uncertainty()
        };
        let measured_m: f64 = 0.005 / Z_975;
        assert!((u_m(None) - measured_m.hypot(PIN_POSE_SD_M)).abs() < 1e-12);
        assert_eq!(u_m(Some(0.18)), u_m(None));
        assert!((u_m(Some(0.13)) - u_m(None).hypot(0.025)).abs() < 1e-12);
    }

    /// Nose up by 2 degrees lifts a pin 0.3 m ahead of the front axle by 10.5 mm, and is known to a few mm.
    #[test]
    fn a_measured_pitch_takes_the_place_of_the_allowance_for_the_pose() {
        let plow = plow();
        let run = RunFigures {
            pitch: Estimate::around(2.0, 0.1).map(Estimate::from_si),
            depth: Some(Length::from_m(0.13)),
            ..figures(8_000.0, 900.0, &plow)
        };
        let (higher_m, sd_m) = pose_m(&plow, &run);
        assert!((higher_m - 0.3 * 2.0f64.to_radians().tan()).abs() < 1e-12);
        assert!(sd_m < 0.6 * PIN_POSE_SD_M && sd_m > PIN_SINK_SD_M, "{sd_m}");
    }

    /// The line of pull is as it was measured in the run, wherever the hole at the tractor was in the yard.
    #[test]
    fn a_measured_inclination_takes_the_place_of_the_hole_at_the_tractor() {
        let plow = plow();
        let run = RunFigures {
            drawbar_angle: Estimate::around(7.0, 0.1).map(Estimate::from_si),
            ..figures(8_000.0, 900.0, &plow)
        };
        let plow_model = PlowModel::of(&plow);
        for tractor_hole in ["1", "7"] {
            let distributions = Inputs::of_plow(&plow, &setting("4", tractor_hole));
            let slope = |distributions: &Inputs<Distribution>| {
                plow_model.side_view(&distributions.centres()).unwrap().drawbar_slope()
            };
            assert!((slope(&distributions.with_run(&plow, &run)) - 7.0f64.to_radians().tan()).abs() < 1e-12);
            assert!((slope(&distributions) - 7.0f64.to_radians().tan()).abs() > 0.01);
        }
    }

    /// The front 20 mm up and the bottoms 10 mm deeper turn the frame by 30 mm over the 0.72 m between them; the pin
    /// is 0.3 m further ahead. With a pitch the turn is the one that was measured.
    #[test]
    fn a_front_height_says_where_the_pin_is() {
        let plow = plow();
        let run = RunFigures {
            front_height: Estimate::around(0.020, 0.001).map(Estimate::from_si),
            depth: Some(Length::from_m(0.19)),
            ..figures(8_000.0, 900.0, &plow)
        };
        let (higher_m, sd_m) = pose_m(&plow, &run);
        assert!((higher_m - (0.020 + 0.3 * 0.030 / 0.72)).abs() < 1e-12, "{higher_m}");
        assert!(sd_m < PIN_POSE_SD_M, "{sd_m}");
        let pitch = Estimate::around(1.0, 0.1).map(Estimate::from_si);
        let (higher_m, sd_m) = pose_m(&plow, &RunFigures { pitch, ..run });
        assert!((higher_m - (0.020 + 0.3 * 1.0f64.to_radians().tan())).abs() < 1e-12, "{higher_m}");
        assert!(sd_m < PIN_SINK_SD_M, "{sd_m}");
    }

    /// What a mounted plow's links say, and what is enough at all.
    #[test]
    fn what_was_measured_decides_how_it_is_solved() {
        let mounted = crate::from_priors::example("three-bottom-mounted.toml");
        let read = MeanForce::pull(Estimate::from_si(Estimate::around(1_000.0, 10.0).unwrap()));
        let (force, pull) = (Some(read), RunFigures::of_pull(read));
        assert_eq!(pull.measured(&plow()), None);
        let top = RunFigures { top_link: force, ..pull };
        assert_eq!(top.measured(&mounted), Some(MeasuredLoads::Front));
        assert_eq!(top.from_links(&mounted), Some(FromLinks::TopLink));
        assert_eq!((top.measured(&plow()), top.from_links(&plow())), (None, None));
        let all = RunFigures { lower_links: force, ..top };
        assert_eq!(all.from_links(&mounted), Some(FromLinks::TopLink));
        let no_pull = RunFigures { pull_from_links: true, ..all };
        assert_eq!(no_pull.from_links(&mounted), Some(FromLinks::Both));
        let angle = Estimate::around(5.0, 0.1).map(Estimate::from_si);
        let inclined = RunFigures { drawbar_angle: angle, ..pull };
        assert_eq!(inclined.measured(&plow()), None);
        let posed = RunFigures { pitch: angle, ..inclined };
        let measured = (posed.measured(&plow()), posed.measured(&mounted));
        assert_eq!(measured, (Some(MeasuredLoads::LineOfPull), None));
    }
}

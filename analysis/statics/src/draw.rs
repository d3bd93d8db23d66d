//! One draw of the Monte Carlo: from what was measured to the soil force, the loads and the balance.

use super::inputs::{Inputs, MeasuredLoads};
use super::plow_model::PlowModel;
use super::refusal::{Impossible, StaticsError};
use super::side::{Loads, Point, SideView};
use ingest::quantity::{Force, Length};

/// Inputs that can be, with all that follows from them.
#[derive(Clone, Copy, Debug)]
pub struct Draw {
    /// What was drawn; the height of the soil force is the one that the loads ask for.
    pub inputs: Inputs<f64>,
    /// The plow.
    pub side: SideView,
    /// Its loads; both at or above 0.
    pub loads: Loads,
}

/// What the measured forces ask of the soil, whether or not the loads can be.
#[derive(Clone, Copy, Debug)]
pub(super) struct Asked {
    /// The inputs, the height of the soil force (and with both loads its slope) as asked for.
    pub inputs: Inputs<f64>,
    /// The plow with that soil force.
    pub side: SideView,
    /// V_f; below 0 where the tail carries more than is left on the ground.
    pub front_n: f64,
    /// V_t.
    pub tail_n: f64,
}

/// Solves the statics backwards: from the pull and the loads that were measured to the soil force.
///
/// With one load measured, the drawn σ gives the other: upwards,
/// (1 − σρ_f) V_f + (1 − σρ_t) V_t = W − (t+σ)P_x. With both, S = P_x − ρ_f V_f − ρ_t V_t and
/// σ = (W − V − tP_x)/S. Either way, moments about the front carrier give the line of the soil force:
/// S·z_S(x_f) = P_x·z_P(x_f) − ρ_f V_f z_f − ρ_t V_t z_t − W(x_f − x_w) + V_t·L.
///
/// # Errors
/// [`Impossible`] if this combination of inputs cannot be.
pub fn solve_backwards(
    plow_model: &PlowModel,
    inputs: &Inputs<f64>,
    measured: MeasuredLoads,
) -> Result<Draw, Impossible> {
    let Asked { inputs, side, front_n, tail_n } = asked(plow_model, inputs, measured)?;
    if tail_n < 0.0 {
        return Err(Impossible::TailLoadBelowZero);
    }
    if front_n < 0.0 || front_n + tail_n <= 0.0 {
        return Err(Impossible::FrontLoadBelowZero);
    }
    let loads = side.loads().map_err(why_not)?;
    Ok(Draw { inputs, side, loads })
}

/// The same with loads below 0 let through: how far off they are says how far description and readings are
/// apart.
///
/// # Errors
/// [`Impossible::Geometry`], [`Impossible::PullTooSmall`].
pub(super) fn asked(
    plow_model: &PlowModel,
    inputs: &Inputs<f64>,
    measured: MeasuredLoads,
) -> Result<Asked, Impossible> {
    let mut inputs = *inputs;
    let mut side = plow_model.side_view(&inputs).map_err(|_| Impossible::Geometry)?;
    let (t, sigma) = (side.drawbar_slope(), side.soil_slope);
    let (front, tail) = (side.front, side.tail);
    let pull_x_n = inputs.pull / t.hypot(1.0);
    let up = |resistance: f64| 1.0 - sigma * resistance;
    let left_n = side.weight.n() - (t + sigma) * pull_x_n;
    let (front_n, tail_n) = match measured {
        MeasuredLoads::Both => (inputs.front_load, inputs.tail_load),
        MeasuredLoads::Tail => {
            let tail_n = inputs.tail_load;
            ((left_n - up(tail.resistance) * tail_n) / up(front.resistance), tail_n)
        }
        MeasuredLoads::Front => {
            let front_n = inputs.front_load;
            (front_n, (left_n - up(front.resistance) * front_n) / up(tail.resistance))
        }
        // Forwards: from the pull, and a soil force drawn as it is likely beforehand, to the loads.
        MeasuredLoads::LineOfPull => {
            let side = side.with_pull(Force::from_n(inputs.pull)).map_err(why_not)?;
            let Loads { front_load, tail_load, .. } = side.loads().map_err(why_not)?;
            return Ok(Asked { inputs, side, front_n: front_load.n(), tail_n: tail_load.n() });
        }
    };
    let roll_n = (front.resistance * front_n, tail.resistance * tail_n);
    let soil_draft_n = pull_x_n - roll_n.0 - roll_n.1;
    side.soil_draft = Force::from_n(soil_draft_n);
    if soil_draft_n <= 0.0 {
        return Err(Impossible::PullTooSmall);
    }
    if measured == MeasuredLoads::Both {
        side.soil_slope = (side.weight.n() - front_n - tail_n - t * pull_x_n) / soil_draft_n;
        inputs.soil_slope = side.soil_slope;
    }
    let x_f = front.at.x.m();
    let soil_line_at_front_z_m = (pull_x_n * side.pull_line_z(front.at.x).m()
        - roll_n.0 * front.at.z.m()
        - roll_n.1 * tail.at.z.m()
        - side.weight.n() * (x_f - side.weight_x.m())
        + tail_n * side.wheelbase().m())
        / soil_draft_n;
    let soil_z_m = soil_line_at_front_z_m - side.soil_slope * (side.soil_at.x.m() - x_f);
    side.soil_at = Point { z: Length::from_m(soil_z_m), ..side.soil_at };
    inputs.soil_height = soil_z_m;
    Ok(Asked { inputs, side, front_n, tail_n })
}

fn why_not(error: StaticsError) -> Impossible {
    match error {
        StaticsError::PullTooSmall { .. } => Impossible::PullTooSmall,
        StaticsError::NoGroundLoad { .. } => Impossible::FrontLoadBelowZero,
        _ => Impossible::Geometry,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::invented_plow::{figures, plow, setting};
    use rand::SeedableRng;

    /// Solved backwards and then forwards, pull and wheel loads are what was put in: to rounding, with a
    /// rolling resistance large enough to be seen.
    #[test]
    fn the_loads_that_come_out_are_those_that_went_in() {
        let mut plow = plow();
        plow.rolling.coefficient = 0.3;
        let holes = setting("4", "4");
        let distributions = Inputs::of_plow(&plow, &holes).with_run(&plow, &figures(8_000.0, 900.0, &plow));
        let plow_model = PlowModel::of(&plow);
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(1);
        let mut solved = 0;
        for _ in 0..500 {
            let mut inputs = distributions.draw(&mut rng);
            inputs.front_load = 2_000.0;
            inputs.tail_load = inputs.tail_load.max(0.0);
            for measured in [MeasuredLoads::Tail, MeasuredLoads::Front, MeasuredLoads::Both] {
                let Ok(draw) = solve_backwards(&plow_model, &inputs, measured) else { continue };
                solved += 1;
                assert!((draw.loads.pull.n() - inputs.pull).abs() < 1e-6, "{draw:?}");
                let tail_off_n = draw.loads.tail_load.n() - inputs.tail_load;
                assert!(measured == MeasuredLoads::Front || tail_off_n.abs() < 1e-6, "{draw:?}");
                let front_off_n = draw.loads.front_load.n() - 2_000.0;
                assert!(measured == MeasuredLoads::Tail || front_off_n.abs() < 1e-6, "{draw:?}");
                let slope = draw.side.soil_slope;
                assert!(measured == MeasuredLoads::Both || slope == inputs.soil_slope, "{draw:?}");
            }
        }
        assert!(solved > 1_200, "{solved}");
    }
}

//! One draw of the Monte Carlo: from what was measured to the soil force, the loads and the balance.

use super::inputs::{Input, Inputs};
use super::side::{Loads, PointM, SideView, StaticsError};
use serde::Serialize;

/// Why a draw cannot be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Impossible {
    /// The tail load came out below 0.
    TailLoadBelowZero,
    /// The front load came out below 0: the tail wheel carries more than is left on the ground.
    FrontLoadBelowZero,
    /// The pull came out below the rolling resistance.
    PullTooSmall,
    /// The geometry does not hold (drawbar on end, weight outside the wheels).
    Geometry,
}

/// Inputs that can be, with all that follows from them.
#[derive(Clone, Copy, Debug)]
pub struct Draw {
    /// What was drawn; the height of the soil force is the one that the loads ask for.
    pub inputs: Inputs,
    /// The plow.
    pub side: SideView,
    /// Its loads; both at or above 0.
    pub loads: Loads,
}

/// Solves the statics backwards: from pull and tail load (and front load, if it was measured) to the soil
/// force.
///
/// Without a front load, the drawn σ gives V = (W − (t+σ)P_x)/(1 − σρ) and V_f = V − V_t; with one, V = V_f +
/// V_t gives σ = (W − V − tP_x)/(P_x − ρV). Either way, moments about the front wheels give the line of the
/// soil force: S·z_S(x_f) = P_x·z_P(x_f) − ρV·z_g − W(x_f − x_w) + V_t·L.
///
/// # Errors
/// [`Impossible`] if this combination of inputs cannot be.
pub fn solve_backwards(inputs: &Inputs, front_measured: bool) -> Result<Draw, Impossible> {
    let mut inputs = *inputs;
    let mut side = inputs.side_view().map_err(|_| Impossible::Geometry)?;
    let t = side.drawbar_slope();
    let rho = side.rolling;
    let pull_x_n = inputs.get(Input::Pull) / t.hypot(1.0);
    let tail_load_n = inputs.get(Input::TailLoad);
    if tail_load_n < 0.0 {
        return Err(Impossible::TailLoadBelowZero);
    }
    let ground_load_n = if front_measured {
        tail_load_n + inputs.get(Input::FrontLoad)
    } else {
        (side.weight_n - (t + side.soil_slope) * pull_x_n) / (1.0 - side.soil_slope * rho)
    };
    if ground_load_n < tail_load_n || ground_load_n <= 0.0 {
        return Err(Impossible::FrontLoadBelowZero);
    }
    side.soil_draft_n = pull_x_n - rho * ground_load_n;
    if side.soil_draft_n <= 0.0 {
        return Err(Impossible::PullTooSmall);
    }
    if front_measured {
        side.soil_slope = (side.weight_n - ground_load_n - t * pull_x_n) / side.soil_draft_n;
        inputs.set(Input::SoilSlope, side.soil_slope);
    }
    let soil_line_at_front_z_m = (pull_x_n * side.pull_line_z_m(side.front_x_m)
        - rho * ground_load_n * side.ground_z_m
        - side.weight_n * (side.front_x_m - side.weight_x_m)
        + tail_load_n * side.wheelbase_m())
        / side.soil_draft_n;
    let soil_z_m = soil_line_at_front_z_m - side.soil_slope * (side.soil_at.x_m - side.front_x_m);
    side.soil_at = PointM { z_m: soil_z_m, ..side.soil_at };
    inputs.set(Input::SoilHeight, soil_z_m);
    let loads = side.loads().map_err(|error| match error {
        StaticsError::PullTooSmall { .. } => Impossible::PullTooSmall,
        StaticsError::NoGroundLoad { .. } => Impossible::FrontLoadBelowZero,
        _ => Impossible::Geometry,
    })?;
    Ok(Draw { inputs, side, loads })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statics::inputs::InputSpreads;
    use crate::verdict::studies::invented_plow::{figures, plow, setting};
    use rand::SeedableRng;

    /// Solved backwards and then forwards, pull and wheel loads are what was put in: to rounding, with a
    /// rolling resistance large enough to be seen.
    #[test]
    fn the_loads_that_come_out_are_those_that_went_in() {
        let mut plow = plow();
        plow.rolling.coefficient = 0.3;
        let holes = setting("4", "4");
        let spreads = InputSpreads::of_plow(&plow, &plow.pins(&holes).unwrap())
            .with_run(&plow, &figures(8_000.0, 900.0, &plow));
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(1);
        let mut solved = 0;
        for _ in 0..500 {
            let mut inputs = spreads.draw(&mut rng);
            inputs.set(Input::FrontLoad, 2_000.0);
            for front_measured in [false, true] {
                let Ok(draw) = solve_backwards(&inputs, front_measured) else { continue };
                solved += 1;
                assert!((draw.loads.pull_n - inputs.get(Input::Pull)).abs() < 1e-6, "{draw:?}");
                assert!((draw.loads.tail_load_n - inputs.get(Input::TailLoad)).abs() < 1e-6, "{draw:?}");
                let front_off_n = draw.loads.front_load_n - 2_000.0;
                assert!(!front_measured || front_off_n.abs() < 1e-6, "{draw:?}");
                let sigma = inputs.get(Input::SoilSlope);
                assert!(front_measured || draw.side.soil_slope == sigma, "{draw:?}");
            }
        }
        assert!(solved > 800, "{solved}");
    }
}

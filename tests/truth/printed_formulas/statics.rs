//! "The plow as a body", "From a run to the balance", "Draft".

use super::{RUN, near, percentile};
use ::statics::draft::{MOLDBOARD, moldboard_draft, soil_factor};
use ::statics::draw::Draw;
use ::statics::side::{Carrier, Point, SideView, tractor_pin};
use ingest::plow::SoilClass;
use ingest::quantity::{Length, Speed};

/// The symbols of "The plow as a body" for one draw.
struct Body {
    w: f64,
    x_w: f64,
    x_f: f64,
    z_f: f64,
    x_t: f64,
    z_t: f64,
    rho_f: f64,
    rho_t: f64,
    t: f64,
    x_h: f64,
    z_h: f64,
    sigma: f64,
    x_s: f64,
    z_s: f64,
    p_x: f64,
    v_t: f64,
}

impl Body {
    fn of(draw: &Draw) -> Self {
        let SideView {
            weight, weight_x, front, tail, plow_hitch, tractor_hitch, soil_at, soil_slope, ..
        } = draw.side;
        let at = |point: Point| (point.x.m(), point.z.m());
        let ((x_f, z_f), (x_t, z_t), (x_s, z_s)) = (at(front.at), at(tail.at), at(soil_at));
        let ((x_h, z_h), (x_big_t, z_big_t)) = (at(plow_hitch), at(tractor_hitch));
        let t = (z_big_t - z_h) / (x_big_t - x_h);
        let (rho_f, rho_t) = (front.resistance, tail.resistance);
        let p_x = draw.inputs.pull / (1.0 + t * t).sqrt();
        let (w, x_w, v_t) = (weight.n(), weight_x.m(), draw.inputs.tail_load);
        Self { w, x_w, x_f, z_f, x_t, z_t, rho_f, rho_t, t, x_h, z_h, sigma: soil_slope, x_s, z_s, p_x, v_t }
    }

    fn z_p(&self, x: f64) -> f64 {
        self.z_h + self.t * (x - self.x_h)
    }

    fn z_s(&self, x: f64) -> f64 {
        self.z_s + self.sigma * (self.x_s - x)
    }

    /// V_f by the first of the two equations, from the load of the tail.
    fn v_f(&self) -> f64 {
        let Self { sigma, rho_f, rho_t, w, t, p_x, v_t, .. } = *self;
        (w - (t + sigma) * p_x - (1.0 - sigma * rho_t) * v_t) / (1.0 - sigma * rho_f)
    }

    fn s(&self) -> f64 {
        self.p_x - self.rho_f * self.v_f() - self.rho_t * self.v_t
    }

    /// From the run: e without the height of the soil force.
    fn e_of_the_run(&self) -> f64 {
        let (lever, length) = (self.x_f - self.x_w, self.x_f - self.x_t);
        (self.w * lever - self.v_t * length) / self.p_x - (self.t + self.sigma * self.s() / self.p_x) * lever
    }

    /// e as the distance of two lines on the weight line.
    fn e_of_the_lines(&self) -> f64 {
        let resisting = self.s() * self.z_s(self.x_w)
            + self.rho_f * self.v_f() * self.z_f
            + self.rho_t * self.v_t * self.z_t;
        self.z_p(self.x_w) - resisting / self.p_x
    }

    /// V_t of the two equations for a pull whose draft part is `p_x`.
    fn tail_by_pull(&self, p_x: f64) -> f64 {
        let Self { w, x_w, x_f, z_f, x_t, z_t, rho_f, rho_t, t, sigma, .. } = *self;
        let (h_p, h_s) = (self.z_p(x_f) - z_f, self.z_s(x_f) - z_f);
        let (a, b, r) = (1.0 - sigma * rho_f, 1.0 - sigma * rho_t, w - (t + sigma) * p_x);
        let (c, d) = (h_s * rho_f, x_f - x_t + rho_t * (h_s - z_t + z_f));
        let q = w * (x_f - x_w) - (h_p - h_s) * p_x;
        (a * q - c * r) / (a * d - b * c)
    }
}

/// The referee's question: which e, x_V, b and β follow from the printed formulas, and which of all draws is told.
#[test]
fn the_statics_are_those_of_the_book() {
    let found = RUN.identified.as_ref().unwrap();
    let (mut offsets, mut indices, mut places, mut gains) = (vec![], vec![], vec![], vec![]);
    for draw in found.draws.iter() {
        let body = Body::of(draw);
        let (v_f, e) = (body.v_f(), body.e_of_the_run());
        let v = v_f + body.v_t;
        near(body.e_of_the_lines(), e, 1e-8, "e by its two formulas");
        near(v, body.w - body.t * body.p_x - body.sigma * body.s(), 1e-9, "V");
        near(body.tail_by_pull(body.p_x), body.v_t, 1e-7, "V_t from the pull");
        let x_v = body.x_w + body.p_x * e / v;
        near(x_v, (v_f * body.x_f + body.v_t * body.x_t) / v, 1e-8, "x_V as the mean of the wheels");
        let end = if e >= 0.0 { body.x_f - body.x_w } else { body.x_w - body.x_t };
        let per_draft = body.tail_by_pull(body.p_x + 1.0) - body.tail_by_pull(body.p_x);
        let beta = per_draft / (1.0 + body.t * body.t).sqrt();
        near(e, draw.loads.pull_line_offset.m(), 1e-8, "e of a draw");
        near(beta, draw.loads.expected_gain_n_per_n, 1e-6, "β of a draw");
        offsets.push(1e3 * e);
        places.push(x_v);
        indices.push((body.p_x * e / (v * end)).clamp(-1.0, 1.0));
        gains.push(beta);
    }
    let told = RUN.summary.statics.as_ref().unwrap();
    for (values, figure, what) in [
        (offsets, told.pull_line_offset_mm, "e"),
        (places, told.wheel_load_at_m, "x_V"),
        (indices, told.balance_index, "b"),
        (gains, told.expected_gain_n_per_n, "β"),
    ] {
        for (share, end) in [(0.5, figure.value), (0.025, figure.low), (0.975, figure.high)] {
            near(percentile(values.clone(), share), end, 1e-6, what);
        }
    }
}

/// β without resistance, and the step of e with a pin: the drawbar keeps its length.
#[test]
fn gain_and_steps_without_resistance_are_those_of_the_book() {
    for draw in RUN.identified.as_ref().unwrap().draws.iter().take(50) {
        let without = |carrier: Carrier| Carrier { resistance: 0.0, ..carrier };
        let side = SideView { front: without(draw.side.front), tail: without(draw.side.tail), ..draw.side };
        let loads = side.loads().unwrap();
        let body = Body { rho_f: 0.0, rho_t: 0.0, ..Body::of(draw) };
        let (e, t) = (loads.pull_line_offset.m(), body.t);
        let beta =
            -((t + body.sigma) * (body.x_f - body.x_w) + e) / ((body.x_f - body.x_t) * (1.0 + t * t).sqrt());
        near(beta, loads.expected_gain_n_per_n, 1e-9, "β");
        let (plow, tractor) = (side.plow_hitch, side.tractor_hitch);
        let reach = tractor.x.m() - plow.x.m();
        let length = Length::from_m(reach.hypot(tractor.z.m() - plow.z.m()));
        let up = |point: Point, by_m: f64| Point { z: point.z + Length::from_m(by_m), ..point };
        let step = 1e-6;
        let moved = |plow: Point, tractor: Point| {
            let moved = SideView {
                plow_hitch: plow,
                tractor_hitch: tractor_pin(plow, tractor.z, length).unwrap(),
                ..side
            };
            (moved.loads().unwrap().pull_line_offset.m() - e) / step
        };
        let by_tractor = (1.0 + t * t) * (body.x_w - body.x_h) / reach;
        near(by_tractor, moved(plow, up(tractor, step)), 1e-4, "∂e/∂z_T");
        near(1.0 - by_tractor, moved(up(plow, step), tractor), 1e-4, "∂e/∂z_h");
    }
}

/// The published draft.
#[test]
fn the_draft_is_that_of_the_book() {
    let (v_km_h, w_m, depth_cm) = (6.3, 0.71, 17.0);
    let polynomial = MOLDBOARD.a + MOLDBOARD.b * v_km_h + MOLDBOARD.c * v_km_h * v_km_h;
    let draft_n = soil_factor(SoilClass::Medium) * polynomial * w_m * depth_cm;
    let (width, depth) = (Length::from_m(w_m), Length::from_m(depth_cm / 100.0));
    let told = moldboard_draft(SoilClass::Medium, Speed::from_mps(v_km_h / 3.6), width, depth).draft;
    near(draft_n, told.n(), 1e-12, "D");
}

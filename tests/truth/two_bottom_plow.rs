//! The description of the demo's plow and the virtual plow itself are the same plow, number for number.

use std::path::Path;

use ingest::plow::{Hole, Plow as Described, read_plow_text};
use sample_runs::plow::{Case, Plow};
use sample_runs::sensors::Sensor;

fn described() -> Described {
    read_plow_text(Plow::TWO_BOTTOM_TOML, Path::new("two-bottom.toml")).unwrap()
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-12 * b.abs().max(1.0)
}

#[test]
fn the_description_is_the_virtual_plow() {
    let described = described();
    let plow = Plow::TWO_BOTTOM;
    let (front, tail) = (described.front.wheels().unwrap(), described.tail.wheel().unwrap());
    for (what, described, real) in [
        ("weight", described.weight.total.si(), plow.weight_n),
        ("weight.x", described.weight.x.si(), plow.weight_at.x_m),
        ("front diameter", front.diameter.m(), plow.front.diameter_m),
        ("tail x", tail.x.si(), plow.tail.contact.x_m),
        ("front contact", described.ground_z_m(front.runs_in()), plow.front.contact.z_m),
        ("tail contact", described.ground_z_m(described.tail.runs_in()), plow.tail.contact.z_m),
        ("tail diameter", tail.diameter.m(), plow.tail.diameter_m),
        ("tail load at 34 mm", tail.load_table.load_n(0.034), 0.034 * plow.tail.stiffness_n_per_m),
        ("tail load at 100 mm", tail.load_table.load_n(0.1), 0.1 * plow.tail.stiffness_n_per_m),
        ("rolling", described.rolling.coefficient, plow.rolling_resistance),
        ("cut", described.total_cut_m(), plow.cut_width_m),
        ("depth", described.bottoms.depth.m(), plow.set_depth_m),
        ("bottoms x", described.bottoms.x.si(), plow.soil_at.x_m),
        ("soil force z", described.bottoms.soil_force_z.unwrap().si(), plow.soil_at.z_m),
        ("plow hitch x", described.plow_hitch.x.si(), plow.hitch_x_m),
        ("drawbar", described.link.length.si(), plow.drawbar_length_m),
    ] {
        assert!(near(described, real), "{what}: described {described}, real {real}");
    }
    let same_holes = |described: &[Hole], real: &[f64]| {
        assert_eq!(described.len(), real.len());
        for (i, (hole, z_m)) in described.iter().zip(real).enumerate() {
            assert_eq!(hole.name, (i + 1).to_string());
            assert!(near(hole.z.si(), *z_m), "{hole:?} {z_m}");
        }
    };
    same_holes(&described.plow_hitch.holes, &Plow::PLOW_HOLES_M);
    same_holes(&described.tractor_hitch.holes, &Plow::TRACTOR_HOLES_M);
    assert_eq!(Plow::TWO_BOTTOM.front.contact.x_m, 0.0, "the front axle is the origin");
}

#[test]
fn each_case_is_a_setting_of_the_description() {
    let described = described();
    for case in Case::ALL {
        let setting = &described.settings[case.setting_name()];
        assert!(near(setting.plow_hole.z.si(), case.setting().plow_hitch_z_m), "{}", case.name());
        assert!(near(setting.tractor_hole.z.si(), case.setting().tractor_hitch_z_m), "{}", case.name());
    }
}

#[test]
fn each_sensor_is_calibrated_as_it_counts() {
    let described = described();
    assert_eq!(described.sensors.len(), Sensor::BASIC.len());
    for (described, real) in described.sensors.iter().zip(Sensor::BASIC) {
        assert_eq!((described.channel.as_str(), described.measures.column()), (real.channel, real.column));
        assert_eq!(described.count_limits, Some(real.count_limits));
        for point in &described.calibration.points {
            let reading = described.measures.in_column_unit(&point.1).unwrap();
            assert!(near(real.zero_count + real.counts_per_unit * reading, point.0), "{point:?} {real:?}");
        }
    }
}

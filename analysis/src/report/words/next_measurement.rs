//! Which measurement would narrow the balance index most.

use super::capital;
use super::inputs::input;
use crate::report::units::Units;
use ingest::plow::PartNames;
use statics::inputs::Input;
use statics::value_of_information::{Accuracy, Measurement, NextMeasurement};

/// What to measure, and what it would do.
pub fn next_measurement(of: &NextMeasurement, parts: &PartNames, units: Units) -> String {
    format!(
        "{}: the index would be known to about ±{:.2} instead of ±{:.2}.",
        capital(&what(&of.what, &accuracy(of.to, units), parts)),
        of.half_width_then,
        of.half_width_now
    )
}

fn accuracy(of: Accuracy, units: Units) -> String {
    match of {
        Accuracy::Share(share) => format!("{:.0} %", 100.0 * share),
        Accuracy::Length(length) => units.height(length.m()),
        Accuracy::Angle(angle) => format!("{} degrees", angle.deg()),
    }
}

fn what(of: &Measurement, to: &str, parts: &PartNames) -> String {
    match of {
        Measurement::Again(Input::Weight) => format!("weigh the whole plow again, to {to}"),
        Measurement::Again(Input::WeightPlace) => {
            format!("weigh front and tail apart, for the place of the weight to {to}")
        }
        Measurement::Again(Input::Pull) => format!("calibrate the pull sensor again, to {to}"),
        Measurement::Again(Input::TailLoad) => {
            format!("calibrate the load of the {} again, to {to}", parts.tail)
        }
        Measurement::Again(length) => format!("measure {} again, to {to}", input(*length, parts)),
        Measurement::AddTailLoad => format!("add a load cell for the {}, good to {to}", parts.tail_load),
        Measurement::AddFrontLoad => format!("add a sensor for the {}, good to {to}", parts.front_load),
        Measurement::AddPitch => format!("add a sensor for the pitch of the frame, good to {to}"),
        Measurement::Pass { tractor_hole } => format!(
            "drive one more pass with hole {tractor_hole} at the {}, and take the runs together",
            parts.puller
        ),
    }
}

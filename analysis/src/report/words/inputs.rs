//! The inputs of the statics as a plowman names them, and which measurement would narrow the balance index most.

use super::capital;
use crate::report::units::Units;
use ingest::plow::PartNames;
use statics::inputs::Input;
use statics::value_of_information::{Accuracy, Measurement, NextMeasurement};

/// An input, with the names of that plow's parts.
pub fn input(of: Input, parts: &PartNames) -> String {
    let words = match of {
        Input::Weight => "the weight of the plow",
        Input::WeightPlace => "the place of the weight",
        Input::TailPlace => return format!("the place of the {}", parts.tail),
        Input::PlowHitchPlace => "the place of the hitch at the plow",
        Input::PlowHoleHeight => "the height of the hole at the plow",
        Input::TractorHoleHeight => return format!("the height of the {}", parts.puller_end),
        Input::MemberLength => return format!("the length of the {}", parts.member),
        Input::BottomsPlace => "the place of the bottoms",
        Input::RollingResistance => "the rolling resistance",
        Input::TailResistance => return format!("the resistance of the {}", parts.tail),
        Input::SoleFriction => "the friction under the point of the share",
        Input::LowerLinkPlowHeight => "the height of the lower links' pins at the plow",
        Input::LowerLinkTractorHeight => "the height of the lower links' pins at the tractor",
        Input::LowerLinkLength => "the length of the lower links",
        Input::Pull => "the calibration of the pull sensor",
        Input::TailLoad => return format!("the load on the {}", parts.tail),
        Input::FrontLoad => return format!("the load on the {}", parts.front),
        Input::LowerLinksForce => "the force along the lower links",
        Input::TopLinkForce => "the force along the top link",
        Input::DrawbarAngle => return format!("the inclination of the {}", parts.member),
        Input::SoilSlope => "how far the soil pulls the shares down or lifts them",
        Input::SoilHeight => "the height at which the soil acts on the bottoms",
    };
    words.to_owned()
}

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

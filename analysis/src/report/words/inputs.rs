//! The inputs of the statics as a plowman names them.

use ingest::plow::PartNames;
use statics::inputs::Input;

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

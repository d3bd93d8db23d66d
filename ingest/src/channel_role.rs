//! What a channel of a sensor box can measure, and which column of the run it fills.

use crate::quantity::{Angle, Force, Length, Quantity, Speed, Unit, UnitSystem, parse_quantity};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use strum::{EnumString, IntoStaticStr, VariantArray};

/// What a channel measures, and so which column of the run it fills.
#[derive(
    Clone,
    Copy,
    Debug,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Serialize,
    JsonSchema,
    Deserialize,
    IntoStaticStr,
    EnumString,
    VariantArray,
)]
#[serde(rename_all = "kebab-case")]
#[strum(serialize_all = "kebab-case")]
pub enum ChannelRole {
    /// Force along the drawbar: `pull_n`.
    Pull,
    /// Deflection of the tail-wheel spring: `tail_mm`.
    Tail,
    /// Working depth: `depth_mm`.
    Depth,
    /// Vertical load that carries the front: on the front wheels together, or what the lower links hold up:
    /// `front_load_n`.
    FrontLoad,
    /// Side force: `side_n`.
    Side,
    /// Forward speed: `speed_mps`.
    Speed,
    /// Pitch of the frame, nose up +: `pitch_deg`.
    Pitch,
    /// Vertical load on what carries the tail (tail wheel, rolling landside or heel on a load cell): `tail_load_n`.
    TailLoad,
    /// Force along the lower links together, pulling +: `lower_links_n`.
    LowerLinks,
    /// Force along the top link, pulling +: `top_link_n`.
    TopLink,
    /// Height of the frame over the land at the front, over the one on the level floor, up +: `front_height_mm`.
    FrontHeight,
    /// Inclination of the drawbar (chain, lower links of a semi-mounted plow), rising toward the tractor +:
    /// `drawbar_deg`.
    DrawbarAngle,
}

/// What kind of quantity a channel can measure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RoleDimension {
    /// In N.
    Force,
    /// In mm.
    Length,
    /// In m/s.
    Speed,
    /// In degrees.
    Angle,
}

impl ChannelRole {
    /// All roles, in the order of the columns.
    pub const ALL: &'static [Self] = Self::VARIANTS;

    /// As it is written in a description.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.into()
    }

    /// The role with this name.
    ///
    /// # Errors
    /// A sentence that lists the names.
    pub fn of_name(name: &str) -> Result<Self, String> {
        name.parse().map_err(|_| {
            let known = Self::ALL.iter().map(|role| role.name()).collect::<Vec<_>>().join(", ");
            format!("'{name}' is nothing that a channel measures (it measures {known})")
        })
    }

    /// All that is written of a role: its column, what kind of quantity it is, decimals of a cell and of what is shown
    /// live, and its name there.
    const fn facts(self) -> (&'static str, RoleDimension, usize, usize, &'static str) {
        use RoleDimension::{Angle, Force, Length, Speed};
        match self {
            Self::Pull => ("pull_n", Force, 2, 0, "pull"),
            Self::Tail => ("tail_mm", Length, 4, 1, "tail"),
            Self::Depth => ("depth_mm", Length, 3, 0, "depth"),
            Self::FrontLoad => ("front_load_n", Force, 2, 0, "front load"),
            Self::Side => ("side_n", Force, 2, 0, "side"),
            Self::Speed => ("speed_mps", Speed, 4, 1, "speed"),
            Self::Pitch => ("pitch_deg", Angle, 4, 1, "pitch"),
            Self::TailLoad => ("tail_load_n", Force, 2, 0, "tail load"),
            Self::LowerLinks => ("lower_links_n", Force, 2, 0, "lower links"),
            Self::TopLink => ("top_link_n", Force, 2, 0, "top link"),
            Self::FrontHeight => ("front_height_mm", Length, 3, 0, "front height"),
            Self::DrawbarAngle => ("drawbar_deg", Angle, 4, 1, "drawbar"),
        }
    }

    /// Name of the column, its unit included.
    #[must_use]
    pub const fn column(self) -> &'static str {
        self.facts().0
    }

    /// Decimals of a cell of the column.
    #[must_use]
    pub const fn decimals(self) -> usize {
        self.facts().2
    }

    /// A reading, in the column's unit, as it is shown live: `"pull 7345 N"`.
    #[must_use]
    pub fn shown(self, reading: f64, units: UnitSystem) -> String {
        let (_, _, _, decimals, name) = self.facts();
        let unit = self.unit_in(units);
        // A unit that is ten times as large, or more, has a digit more behind its point.
        let one = unit.per(self.column_unit());
        let decimals = if one >= 10.0 { decimals + 1 } else { decimals };
        format!("{name} {:.decimals$} {}", reading / one, unit.symbol)
    }

    /// The unit in which whoever reads this system reads it.
    #[must_use]
    pub const fn unit_in(self, units: UnitSystem) -> Unit {
        match self.dimension() {
            RoleDimension::Force => units.force(),
            RoleDimension::Length => units.small_length(),
            RoleDimension::Speed => units.speed(),
            RoleDimension::Angle => Unit::DEGREE,
        }
    }

    /// The channel in a sentence: "the pull channel".
    #[must_use]
    pub fn in_words(self) -> String {
        format!("the {} channel", self.name().replace('-', " "))
    }

    /// The role that fills a column of this name.
    #[must_use]
    pub fn of_column(column: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|role| role.column() == column)
    }

    /// What kind of quantity it is.
    #[must_use]
    pub const fn dimension(self) -> RoleDimension {
        self.facts().1
    }

    /// The unit of the column.
    #[must_use]
    pub const fn column_unit(self) -> Unit {
        match self.dimension() {
            RoleDimension::Force => Unit::NEWTON,
            RoleDimension::Length => Unit::MILLIMETRE,
            RoleDimension::Speed => Unit::METRE_PER_SECOND,
            RoleDimension::Angle => Unit::DEGREE,
        }
    }

    /// A quantity with its unit as a number in the column's unit.
    ///
    /// # Errors
    /// [`crate::quantity::QuantityError`] if the text is no quantity of the role's dimension.
    pub fn in_column_unit(self, text: &str) -> Result<f64, crate::quantity::QuantityError> {
        Ok(match self.dimension() {
            RoleDimension::Force => parse_quantity::<Force>(text)?.si(),
            RoleDimension::Length => parse_quantity::<Length>(text)?.si() * 1000.0,
            RoleDimension::Speed => parse_quantity::<Speed>(text)?.si(),
            RoleDimension::Angle => parse_quantity::<Angle>(text)?.si(),
        })
    }
}

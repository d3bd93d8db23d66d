//! Which system of units a person reads, and who decides it.

use super::{Force, Length, Unit};
use serde::{Deserialize, Serialize};
use strum::{Display, EnumString};

/// The variable of the environment that says it for every command.
pub const UNITS_VARIABLE: &str = "HITCHWRIGHT_UNITS";

/// A system of units.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, Display, EnumString, clap::ValueEnum,
)]
#[serde(rename_all = "lowercase")]
#[strum(serialize_all = "lowercase")]
pub enum UnitSystem {
    /// mm, N, km/h.
    #[default]
    #[value(help = "mm, N, km/h")]
    Si,
    /// in, lbf, mph.
    #[value(help = "in, lbf, mph")]
    Us,
}

impl UnitSystem {
    /// The unit of heights, depths and what a spring gives.
    #[must_use]
    pub const fn small_length(self) -> Unit {
        match self {
            Self::Si => Unit::MILLIMETRE,
            Self::Us => Unit::INCH,
        }
    }

    /// The unit of forces.
    #[must_use]
    pub const fn force(self) -> Unit {
        match self {
            Self::Si => Unit::NEWTON,
            Self::Us => Unit::POUND_FORCE,
        }
    }

    /// The unit of speeds.
    #[must_use]
    pub const fn speed(self) -> Unit {
        match self {
            Self::Si => Unit::KILOMETRE_PER_HOUR,
            Self::Us => Unit::MILE_PER_HOUR,
        }
    }

    /// A force in a sentence.
    #[must_use]
    pub fn force_text(self, force: Force) -> String {
        let Unit { symbol, factor, .. } = self.force();
        format!("{:.0} {symbol}", force.n() / factor)
    }

    /// A place or length in a sentence.
    #[must_use]
    pub fn length_text(self, length: Length) -> String {
        match self {
            Self::Si => format!("{:.3} m", length.m()),
            Self::Us => format!("{:.1} in", length.m() / Unit::INCH.factor),
        }
    }
}

/// An error whose sentence has figures, which are told in the units of whoever reads it.
pub trait SaidIn {
    /// The sentence; [`ToString`] gives it in SI.
    fn said_in(&self, units: UnitSystem) -> String;
}

/// The system of whoever reads: what was asked for on the command line, else what the variable
/// [`UNITS_VARIABLE`] says, else what the description of the plow says; `None` if nobody says.
///
/// # Errors
/// A sentence, if the variable is neither.
pub fn units_of_reader(
    asked: Option<UnitSystem>,
    described: Option<UnitSystem>,
) -> Result<Option<UnitSystem>, String> {
    decided(
        asked,
        std::env::var_os(UNITS_VARIABLE).map(|text| text.to_string_lossy().into_owned()),
        described,
    )
}

fn decided(
    asked: Option<UnitSystem>,
    variable: Option<String>,
    described: Option<UnitSystem>,
) -> Result<Option<UnitSystem>, String> {
    if asked.is_some() {
        return Ok(asked);
    }
    match variable.as_deref().map(str::trim) {
        None | Some("") => Ok(described),
        Some(text) => match text.to_lowercase().parse() {
            Ok(system) => Ok(Some(system)),
            Err(_) => Err(format!("{UNITS_VARIABLE} is '{text}': set it to us or si")),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::{UnitSystem, decided};

    #[test]
    fn the_command_line_goes_before_the_variable_and_that_before_the_description() {
        let (si, us) = (Some(UnitSystem::Si), Some(UnitSystem::Us));
        let variable = |text: &str| Some(text.to_owned());
        assert_eq!(decided(si, variable("us"), us), Ok(si));
        assert_eq!(decided(si, variable("ells"), us), Ok(si));
        assert_eq!(decided(None, variable("US"), si), Ok(us));
        assert_eq!(decided(None, variable(""), us), Ok(us));
        assert_eq!(decided(None, None, us), Ok(us));
        assert_eq!(decided(None, None, None), Ok(None));
        assert!(decided(None, variable("ells"), us).unwrap_err().contains("set it to us or si"));
    }
}

//! A known load or length, as a person types it.

use ingest::plow::{ChannelRole, RoleDimension};
use ingest::quantity::{Unit, WrongUnit, unit_for};

/// Reads known values of one kind.
#[derive(Clone, Debug)]
pub(super) struct ValueReader {
    pub(super) role: ChannelRole,
    /// Unit of numbers that come without one.
    unit: Option<Unit>,
}

impl ValueReader {
    pub(super) fn new(role: ChannelRole, unit: Option<&str>) -> Result<Self, String> {
        let named = |symbol: &str| {
            unit_for(role.column_unit().dimension, symbol)
                .copied()
                .map_err(|error: WrongUnit| format!("--unit '{symbol}' {error}"))
        };
        Ok(Self { role, unit: unit.map(named).transpose()? })
    }

    /// The value with its unit, as it goes into a calibration.
    ///
    /// # Errors
    /// A sentence that says what would be right.
    pub(super) fn read(&self, text: &str) -> Result<String, String> {
        let text = text.trim();
        let bare = text.ends_with(|c: char| c.is_ascii_digit() || c == '.');
        let whole = match self.unit {
            Some(unit) if bare => format!("{text} {}", unit.symbol),
            _ => text.to_owned(),
        };
        match self.role.in_column_unit(&whole) {
            Ok(_) => Ok(whole),
            Err(error) => Err(error.to_string()),
        }
    }

    /// Two values for an explanation.
    pub(super) fn examples(&self) -> String {
        let symbol = self.unit.map_or("", |unit| unit.symbol);
        match self.role.dimension() {
            RoleDimension::Force if symbol.is_empty() => "\"0 N\", then \"500 lbf\"".to_owned(),
            RoleDimension::Length if symbol.is_empty() => "\"0 mm\", then \"4 in\"".to_owned(),
            RoleDimension::Speed if symbol.is_empty() => "\"0 km/h\", then \"3.5 mph\"".to_owned(),
            RoleDimension::Angle if symbol.is_empty() => "\"0 deg\", then \"5 deg\"".to_owned(),
            _ => format!("\"0 {symbol}\", or only the number"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bare_number_takes_the_unit_that_was_named_and_no_other() {
        let named = ValueReader::new(ChannelRole::Pull, Some("lbf")).unwrap();
        assert_eq!(named.read(" 500 "), Ok("500 lbf".to_owned()));
        assert_eq!(named.read("13 1/2"), Ok("13 1/2 lbf".to_owned()));
        assert_eq!(named.read("2 kN"), Ok("2 kN".to_owned()));
        let unnamed = ValueReader::new(ChannelRole::Pull, None).unwrap();
        assert!(unnamed.read("500").unwrap_err().contains("has no unit"));
        assert!(unnamed.read("500 mm").unwrap_err().contains("is no unit of a force"));
        let wrong = ValueReader::new(ChannelRole::Depth, Some("lbf")).unwrap_err();
        assert!(wrong.contains("--unit 'lbf' is no unit of a length"), "{wrong}");
    }
}

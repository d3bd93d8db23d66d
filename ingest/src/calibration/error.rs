//! Why a calibration cannot be used.

use crate::quantity::QuantityError;

/// Why a calibration gives no readings. Each is one sentence.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the sentences say what they are, the names of fields their unit")]
pub enum CalibrationError {
    #[error("a calibration needs at least two points with different counts")]
    OneCount,
    /// A sensor whose reading never changes measures nothing.
    #[error("a calibration needs at least two different true values")]
    OneValue,
    #[error("a calibration's counts and true values must be finite numbers of a reasonable size")]
    NotFinite,
    /// A table whose counts turn back gives two readings for one count.
    #[error(
        "a table's counts must rise or fall all the way with the true values, and around {0} they turn \
         back: take those steps again, or use a straight line (fit = \"line\")"
    )]
    TableTurnsBack(String),
    #[error(transparent)]
    Value(Box<QuantityError>),
    /// Of a column of the user's own, whose unit is only a name.
    #[error("'{text}' is no number of \"{unit}\": write it as \"100 {unit}\"")]
    OwnValue { text: String, unit: String },
    /// The accuracy of the reference is neither a percentage nor a quantity of the kind wanted.
    #[error(
        "the accuracy of the reference, '{text}', must be a percentage of the value like \"0.2 %\", below 100, or \
         a quantity with its unit like \"2 {unit}\", and not below 0"
    )]
    Reference { text: String, unit: &'static str },
}

/// A calibration that gives no readings, with its channel.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("calibration of channel \"{channel}\": {cause}")]
pub struct CalibrationFault {
    /// Name of the channel.
    pub channel: String,
    /// What is wrong.
    pub cause: CalibrationError,
}

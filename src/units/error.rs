//! Why a text is not the quantity asked for, and the text to write instead.

use super::Unit;

/// Why a text is not the quantity asked for.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum UnitError {
    /// There is no number at the start of the text.
    #[error("\"{found}\" is not a number with a unit: {}", self.expected())]
    NotANumber {
        /// The text.
        found: String,
        /// The unit asked for.
        unit: Unit,
    },
    /// A comma stands where the decimal point belongs.
    #[error("\"{found}\" has a decimal comma: {}", self.expected())]
    DecimalComma {
        /// The text.
        found: String,
        /// The same with a point.
        better: String,
    },
    /// A number without unit or prefix.
    #[error("\"{found}\" has no unit: {}", self.expected())]
    NoUnit {
        /// The text.
        found: String,
        /// The unit asked for.
        unit: Unit,
    },
    /// The unit is another one, or none that is known.
    #[error("\"{found}\" has the unit \"{name}\": {}", self.expected())]
    WrongUnit {
        /// The text.
        found: String,
        /// The unit found.
        name: String,
        /// The unit asked for.
        unit: Unit,
    },
    /// Too large for a number.
    #[error("\"{found}\" is out of range")]
    OutOfRange {
        /// The text.
        found: String,
    },
}

impl UnitError {
    /// Returns the text to write instead, with an example.
    pub fn expected(&self) -> String {
        match self {
            Self::NotANumber { unit, .. } | Self::WrongUnit { unit, .. } => {
                format!("expected {}, such as \"{}\"", unit.noun(), unit.example())
            }
            Self::NoUnit {
                found,
                unit: Unit::Second,
            } => {
                let number = found.trim();
                format!("write {number} s, {number} min or {number} h")
            }
            Self::NoUnit { unit, .. } => format!(
                "expected {} with its unit, such as \"{}\"",
                unit.noun(),
                unit.example()
            ),
            Self::DecimalComma { better, .. } => format!("write {better}, with a point"),
            Self::OutOfRange { .. } => "expected a smaller number".to_owned(),
        }
    }
}

/// Returns a text that begins with a number with a decimal comma, `0,2 mm`, with a point instead; `None` for any other.
pub fn with_point(text: &str) -> Option<String> {
    let (whole, rest) = text.split_once(',')?;
    let digits = whole.strip_prefix(['+', '-']).unwrap_or(whole);
    let is_number = !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit());
    let behind = rest.trim_start_matches(|sign: char| sign.is_ascii_digit());
    let is_decimal = behind.len() < rest.len() && !behind.contains([',', '.']);
    (is_number && is_decimal).then(|| format!("{whole}.{rest}"))
}

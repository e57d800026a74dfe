//! Engineering numbers in and out: `"0.2 mm"`, `4.7k`, `3.204 MHz`.
//!
//! Everywhere else in the program a quantity is an `f64` in the SI unit its name ends in; prefixes exist here alone. A prefix
//! moves the decimal exponent of the text before it is read as a number. So `4.012345 MHz` and `4012345 Hz` are the same `f64` to
//! the last bit.

mod error;
mod number;
mod span;

pub use error::{UnitError, with_point};
pub use number::{split_number, with_exponent};
pub use span::Span;

/// A unit that a quantity may be written in. The value itself is always in the SI unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Unit {
    /// Hertz.
    Hertz,
    /// Volt.
    Volt,
    /// Ampere.
    Ampere,
    /// Ohm.
    Ohm,
    /// Farad.
    Farad,
    /// Henry.
    Henry,
    /// Watt.
    Watt,
    /// Metre; `in` and `mil` (0.001 inch) are read as well.
    Metre,
    /// Second; `min` and `h` are read as well.
    Second,
    /// Kilogram, written in grams.
    Gram,
    /// Degree Celsius, never with a prefix.
    Celsius,
    /// Per cent, never with a prefix; the value is the plain ratio.
    Percent,
    /// Ampere hour: charge as the battery trade counts it.
    AmpereHour,
    /// Watt hour: energy as the battery trade counts it.
    WattHour,
}

impl Unit {
    /// The symbol as printed.
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Hertz => "Hz",
            Self::Volt => "V",
            Self::Ampere => "A",
            Self::Ohm => "Ω",
            Self::Farad => "F",
            Self::Henry => "H",
            Self::Watt => "W",
            Self::Metre => "m",
            Self::Second => "s",
            Self::Gram => "g",
            Self::Celsius => "°C",
            Self::Percent => "%",
            Self::AmpereHour => "Ah",
            Self::WattHour => "Wh",
        }
    }

    /// Spellings accepted beside the symbol.
    const fn aliases(self) -> &'static [&'static str] {
        match self {
            Self::Ohm => &["\u{2126}", "ohm", "Ohm", "ohms", "R"],
            Self::Celsius => &["degC", "C"],
            Self::Second => &["sec"],
            _ => &[],
        }
    }

    /// An example to show beside an error.
    pub const fn example(self) -> &'static str {
        match self {
            Self::Hertz => "4.2 MHz",
            Self::Volt => "6.5 V",
            Self::Ampere => "300 mA",
            Self::Ohm => "22 kohm",
            Self::Farad => "100 nF",
            Self::Henry => "490 uH",
            Self::Watt => "3 W",
            Self::Metre => "16 mm",
            Self::Second => "500 ms",
            Self::Gram => "6.4 g",
            Self::Celsius => "20 degC",
            Self::Percent => "2 %",
            Self::AmpereHour => "200 mAh",
            Self::WattHour => "1.6 Wh",
        }
    }

    /// Returns the quantity measured in it, with its article.
    pub const fn noun(self) -> &'static str {
        match self {
            Self::Hertz => "a frequency",
            Self::Volt => "a voltage",
            Self::Ampere => "a current",
            Self::Ohm => "a resistance",
            Self::Farad => "a capacitance",
            Self::Henry => "an inductance",
            Self::Watt => "a power",
            Self::Metre => "a length",
            Self::Second => "a time",
            Self::Gram => "a mass",
            Self::Celsius => "a temperature",
            Self::Percent => "a percentage",
            Self::AmpereHour => "a charge",
            Self::WattHour => "an energy",
        }
    }

    const fn takes_prefix(self) -> bool {
        !matches!(self, Self::Celsius | Self::Percent)
    }

    /// `5m` could be five minutes or milliseconds, `16m` metres or millimetres: there the unit must be written.
    const fn takes_bare_prefix(self) -> bool {
        self.takes_prefix() && !matches!(self, Self::Second | Self::Metre | Self::Gram)
    }

    /// Units of the trade that are not a power of ten away: their size in the SI unit.
    const fn odd_units(self) -> &'static [(&'static str, f64)] {
        match self {
            Self::Second => &[("min", 60.0), ("h", 3600.0)],
            // The inch is 25.4 mm exactly (international yard and pound agreement, 1959).
            Self::Metre => &[("in", 0.0254), ("mil", 0.0000254)],
            _ => &[],
        }
    }
}

const PREFIXES: &[(&str, i32)] = &[
    ("p", -12),
    ("n", -9),
    ("u", -6),
    ("\u{b5}", -6),
    ("\u{3bc}", -6),
    ("m", -3),
    ("c", -2),
    ("k", 3),
    ("K", 3),
    ("M", 6),
    ("G", 9),
];

/// How a unit's text changes a number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Scale {
    /// Add this to the decimal exponent: exact.
    Exponent(i32),
    /// Multiply by this: minutes, hours, inches.
    Factor(f64),
}

/// Reads a unit's text (`"kHz"`, `"mm"`, `"k"`) as a scale to the SI unit; `None` if it is not that unit.
pub fn scale_of(text: &str, unit: Unit) -> Option<Scale> {
    if let Some(&(_, factor)) = unit.odd_units().iter().find(|(name, _)| *name == text) {
        return Some(Scale::Factor(factor));
    }
    let names = std::iter::once(unit.symbol()).chain(unit.aliases().iter().copied());
    // A gram is the one unit here whose SI form carries a prefix.
    let base = if unit == Unit::Gram { -3 } else { 0 };
    for name in names {
        let Some(prefix) = text.strip_suffix(name) else {
            continue;
        };
        if prefix.is_empty() {
            return match unit {
                Unit::Percent => Some(Scale::Exponent(-2)),
                _ => Some(Scale::Exponent(base)),
            };
        }
        if unit.takes_prefix()
            && (prefix != "c" || unit == Unit::Metre)
            && let Some(&(_, exponent)) = PREFIXES.iter().find(|(p, _)| *p == prefix)
        {
            return Some(Scale::Exponent(exponent + base));
        }
    }
    if unit.takes_bare_prefix()
        && text != "c"
        && let Some(&(_, exponent)) = PREFIXES.iter().find(|(p, _)| *p == text)
    {
        return Some(Scale::Exponent(exponent));
    }
    None
}

/// Reads a quantity with its unit, `"16 mm"`, `"4.7k"`, `"3.204 MHz"`, in the SI unit.
///
/// # Errors
/// [`UnitError`] when there is no number, no unit, another unit, or a value too large to hold.
pub fn parse(text: &str, unit: Unit) -> Result<f64, UnitError> {
    let found = || text.to_owned();
    let trimmed = text.trim();
    if let Some(better) = with_point(trimmed) {
        return Err(UnitError::DecimalComma {
            found: found(),
            better,
        });
    }
    let (mantissa, exponent, rest) =
        split_number(trimmed).ok_or_else(|| UnitError::NotANumber {
            found: found(),
            unit,
        })?;
    let name = rest.trim();
    if name.is_empty() {
        return Err(UnitError::NoUnit {
            found: found(),
            unit,
        });
    }
    let value = match scale_of(name, unit) {
        Some(Scale::Exponent(shift)) => with_exponent(mantissa, exponent.saturating_add(shift)),
        Some(Scale::Factor(factor)) => with_exponent(mantissa, exponent) * factor,
        None => {
            return Err(UnitError::WrongUnit {
                found: found(),
                name: name.to_owned(),
                unit,
            });
        }
    };
    if value.is_finite() {
        Ok(value)
    } else {
        Err(UnitError::OutOfRange { found: found() })
    }
}

/// The decimal digits and exponent of a finite value, `±d.ddd × 10^e`, rounded to `digits` or shortest when `None`.
fn decimal(value: f64, digits: Option<usize>) -> (bool, String, i32) {
    let text = match digits {
        Some(digits) => format!("{:.*e}", digits.saturating_sub(1), value.abs()),
        None => format!("{:e}", value.abs()),
    };
    let (mantissa, exponent) = text.split_once('e').unwrap_or((&text, "0"));
    let digits = mantissa.chars().filter(char::is_ascii_digit).collect();
    (
        value.is_sign_negative() && value != 0.0,
        digits,
        exponent.parse().unwrap_or(0),
    )
}

const STEPS: &[(i32, &str)] = &[
    (-12, "p"),
    (-9, "n"),
    (-6, "µ"),
    (-3, "m"),
    (0, ""),
    (3, "k"),
    (6, "M"),
    (9, "G"),
];

/// The prefix of a power of ten, from `p` to `G`; none for 0 and for a power between.
pub fn prefix(exponent: i32) -> &'static str {
    let found = STEPS.iter().find(|(step, _)| *step == exponent);
    found.map_or("", |(_, prefix)| prefix)
}

/// Returns a number and the prefix before its unit; `None` where it is not finite.
fn engineering(value: f64, unit: Unit, digits: Option<usize>) -> Option<(String, &'static str)> {
    if !value.is_finite() {
        return None;
    }
    let value = match unit {
        Unit::Gram => value * 1000.0,
        Unit::Percent => value * 100.0,
        _ => value,
    };
    let (negative, digits, exponent) = decimal(value, digits);
    let step = if unit.takes_prefix() && value != 0.0 {
        exponent.div_euclid(3) * 3
    } else {
        0
    };
    let step = step.clamp(-12, 9);
    let sign = if negative { "-" } else { "" };
    let number = place_point(&digits, exponent - step);
    Some((format!("{sign}{number}"), prefix(step)))
}

fn with_unit(value: f64, unit: Unit, digits: Option<usize>) -> String {
    match engineering(value, unit, digits) {
        Some((number, prefix)) => format!("{number} {prefix}{}", unit.symbol()),
        None => "—".to_owned(),
    }
}

/// Writes digits with the decimal point after digit `exponent + 1`.
fn place_point(digits: &str, exponent: i32) -> String {
    let Ok(whole) = usize::try_from(exponent + 1) else {
        return format!(
            "0.{}{digits}",
            "0".repeat(usize::try_from(-exponent - 1).unwrap_or(0))
        );
    };
    if whole == 0 {
        return format!("0.{digits}");
    }
    if digits.len() <= whole {
        return format!("{digits}{}", "0".repeat(whole - digits.len()));
    }
    let (left, right) = digits.split_at(whole);
    format!("{left}.{right}")
}

/// Writes a value with its unit and prefix, with as many digits as read back to the same value.
pub fn exact(value: f64, unit: Unit) -> String {
    with_unit(value, unit, None)
}

/// Writes a value with its unit and prefix to `digits` significant digits, trailing zeros kept.
pub fn rounded(value: f64, unit: Unit, digits: usize) -> String {
    with_unit(value, unit, Some(digits))
}

/// Writes a range so, `5.656–6.592 MHz`; with both units where they differ.
pub fn rounded_span(span: Span, unit: Unit, digits: usize) -> String {
    let number = |end| engineering(end, unit, Some(digits));
    let high = rounded(span.high, unit, digits);
    match (number(span.low), number(span.high)) {
        (Some((low, prefix)), Some((_, same))) if prefix == same => format!("{low}–{high}"),
        _ => format!("{}–{high}", rounded(span.low, unit, digits)),
    }
}

#[cfg(test)]
mod tests;

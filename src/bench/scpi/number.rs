//! Numbers as the standard writes them.

/// To how many digits an instrument reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Resolution {
    /// To this power of ten of the unit: -1 for 0.1 Hz.
    Decade(i32),
    /// To this number of significant digits.
    Digits(usize),
}

/// Returns a number in the standard's NR3 form, `+6.2312345E+06`.
pub(super) fn nr3(value: f64, resolution: Resolution) -> String {
    let (value, decimals) = match resolution {
        Resolution::Digits(digits) => (value, digits.saturating_sub(1)),
        Resolution::Decade(decade) => {
            let steps_per_unit = 10.0_f64.powi(-decade);
            let value = (value * steps_per_unit).round() / steps_per_unit;
            let (_, exponent) = decimal(value, 17);
            (value, usize::try_from(exponent - decade).unwrap_or(0))
        }
    };
    // Minus zero is no reading.
    let (mantissa, exponent) = decimal(value + 0.0, decimals);
    let sign = if mantissa.starts_with('-') { "" } else { "+" };
    let exponent_sign = if exponent < 0 { '-' } else { '+' };
    format!(
        "{sign}{mantissa}E{exponent_sign}{:02}",
        exponent.unsigned_abs()
    )
}

/// Returns the mantissa with this number of decimals, and the exponent of ten.
fn decimal(value: f64, decimals: usize) -> (String, i32) {
    let text = format!("{value:.decimals$E}");
    match text.split_once('E') {
        Some((mantissa, exponent)) => (mantissa.to_owned(), exponent.parse().unwrap_or(0)),
        None => (text, 0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_in_nr3_form_at_the_resolution_of_the_instrument() {
        let cases = [
            (6_231_234.56, Resolution::Decade(-1), "+6.2312346E+06"),
            (8.9124, Resolution::Decade(-3), "+8.912E+00"),
            (0.301, Resolution::Decade(-4), "+3.010E-01"),
            (0.06, Resolution::Decade(-1), "+1E-01"),
            (0.0, Resolution::Decade(-3), "+0.000E+00"),
            (-0.00001, Resolution::Decade(-3), "+0.000E+00"),
            (9.99996, Resolution::Decade(-3), "+1.0000E+01"),
            (6_231_234.56, Resolution::Digits(4), "+6.231E+06"),
            (-0.5, Resolution::Digits(2), "-5.0E-01"),
        ];
        for (value, resolution, want) in cases {
            assert_eq!(nr3(value, resolution), want, "{value}");
        }
    }
}

//! A decimal number at the head of a text.

use std::fmt::Write as _;

/// Splits a decimal number (`+4.5`, `.5`, `5.`, `1e-3`) from the text behind it.
///
/// Returns the number's text without its exponent, the exponent, and the rest; `None` if no digit leads.
pub fn split_number(text: &str) -> Option<(&str, i32, &str)> {
    let bytes = text.as_bytes();
    let mut at = usize::from(matches!(bytes.first(), Some(b'+' | b'-')));
    let mut digits = 0;
    let mut point = false;
    while let Some(&byte) = bytes.get(at) {
        match byte {
            b'0'..=b'9' => digits += 1,
            b'.' if !point => point = true,
            _ => break,
        }
        at += 1;
    }
    if digits == 0 {
        return None;
    }
    let (mantissa, rest) = text.split_at(at);
    let tail = rest.as_bytes();
    if matches!(tail.first(), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(tail.get(1), Some(b'+' | b'-')));
        let end = tail
            .iter()
            .skip(1 + sign)
            .take_while(|byte| byte.is_ascii_digit())
            .count()
            + 1
            + sign;
        if end > 1 + sign
            && let Some(exponent) = rest.get(1..end)
        {
            // Beyond the range of an i32 any mantissa is zero or infinite, which the caller finds out.
            let exponent = exponent.parse().unwrap_or_else(|_| {
                if exponent.starts_with('-') {
                    -99_999
                } else {
                    99_999
                }
            });
            return Some((mantissa, exponent, rest.get(end..).unwrap_or("")));
        }
    }
    Some((mantissa, 0, rest))
}

/// Reads mantissa and decimal exponent as one number, correctly rounded once.
pub fn with_exponent(mantissa: &str, exponent: i32) -> f64 {
    if let Some(value) = exactly(mantissa, exponent) {
        return value;
    }
    let mut text = String::with_capacity(mantissa.len() + 8);
    // Writing to a String cannot fail.
    write!(text, "{mantissa}e{exponent}").ok();
    text.parse().unwrap_or(f64::NAN)
}

/// The powers of ten that an `f64` holds exactly.
const EXACT_POWERS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
];

/// The same without a text between, where whole number and power of ten are both exact, so that their product or quotient is
/// rounded once. It is `None` elsewhere. The source is W. D. Clinger, "How to read floating point numbers accurately", 1990.
fn exactly(mantissa: &str, exponent: i32) -> Option<f64> {
    let (sign, digits) = match mantissa.as_bytes() {
        [b'-', digits @ ..] => (-1.0, digits),
        [b'+', digits @ ..] | digits => (1.0, digits),
    };
    // Nineteen digits fit in 64 bits whatever they are; a longer text is seldom exact.
    if digits.len() > 19 {
        return None;
    }
    let (mut whole, mut count, mut decimals) = (0_u64, 0, None);
    for &byte in digits {
        match byte {
            b'0'..=b'9' => {
                whole = whole * 10 + u64::from(byte - b'0');
                count += 1;
                decimals = decimals.map(|decimals| decimals + 1);
            }
            b'.' if decimals.is_none() => decimals = Some(0),
            _ => return None,
        }
    }
    if count == 0 || whole >= 1 << f64::MANTISSA_DIGITS {
        return None;
    }
    let power = exponent.checked_sub(decimals.unwrap_or(0))?;
    let size = EXACT_POWERS.get(usize::try_from(power.unsigned_abs()).ok()?)?;
    let value = whole as f64;
    Some(
        sign * if power < 0 {
            value / size
        } else {
            value * size
        },
    )
}

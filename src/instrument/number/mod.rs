//! One value of an answer: a number, or a word for why there is none.
//!
//! Accepts the IEEE 488.2 decimal forms NR1, NR2 and NR3 (`273`, `0.273`, `2.73E+2`) and its hexadecimal one (`#H1F`). The number
//! of digits and the exponent are free, and a unit may stand behind. A number in another unit than the profile's is refused,
//! never scaled on a guess.

mod grouping;
pub(in crate::instrument) mod marks;
mod period;
pub(in crate::instrument) mod rule;
pub(in crate::instrument) mod unit;
pub(in crate::instrument) mod value;

use crate::instrument::number::grouping::without_groups;
use crate::instrument::number::marks::Marks;
use crate::instrument::number::rule::NumberRule;
use crate::instrument::number::unit::{BLANKS, fits, unit_scale};
use crate::instrument::number::value::Value;
use crate::instrument::refusal::Refusal;
use crate::reading::Channel;
use crate::units::{self, Scale};

/// SCPI-1999, 7.2.1.4 and 7.2.1.5: 9.9E37 stands for infinity, 9.91E37 for not a number. Some instruments print them from
/// 32-bit floats or to four digits, so all beyond this is no reading.
const NO_READING_FROM: f64 = 9.0e37;

/// How near a number must be to a mark to be it: closer than 9.9E37 is to 9.91E37, wider than 32 bits round.
const MARK_TOLERANCE: f64 = 1e-4;

/// Reads one value.
pub fn read_number(text: &str, rule: &NumberRule, channel: Channel) -> Value {
    read_scaled(text, rule, rule.scale, channel)
}

/// Reads one value; `scale` is that of a number that has no unit of its own.
pub(in crate::instrument) fn read_scaled(
    text: &str,
    rule: &NumberRule,
    scale: Option<Scale>,
    channel: Channel,
) -> Value {
    let text = text.trim_matches(BLANKS);
    if let Some(mark) = rule.marks.value(text, rule.unit) {
        return mark;
    }
    // After the marks: a profile may give an empty value a meaning.
    if text.is_empty() {
        return Value::Garbled(Refusal::Empty);
    }
    without_groups(text, rule)
        .and_then(|text| read_decimal(&text, rule, scale, channel))
        .unwrap_or_else(Value::Garbled)
}

fn read_decimal(
    text: &str,
    rule: &NumberRule,
    scale: Option<Scale>,
    channel: Channel,
) -> Result<Value, Refusal> {
    if let Some(digits) = text.strip_prefix('#') {
        let whole = hexadecimal(digits).ok_or(Refusal::BrokenNumber)?;
        return read_decimal(&whole.to_string(), rule, scale, channel);
    }
    let (mantissa, exponent, rest) = units::split_number(text).ok_or(Refusal::NotANumber)?;
    let (exponent, rest) = spaced_exponent(rest).unwrap_or((exponent, rest));
    let plain = units::with_exponent(mantissa, exponent);
    if plain.abs() >= NO_READING_FROM {
        return beyond(plain, &rule.marks);
    }
    if plain == 0.0 && mantissa.bytes().any(|byte| matches!(byte, b'1'..=b'9')) {
        // 4E-32000 is legal, and not the zero that means a silent coil.
        return Err(Refusal::TooSmall);
    }
    let scale = match (rest.trim_matches(BLANKS), scale) {
        ("", Some(scale)) => scale,
        ("", None) => return Err(Refusal::WithoutUnit),
        (unit, _) => unit_scale(unit, rule.unit).ok_or(Refusal::OtherUnit)?,
    };
    if rule.is_period {
        return period::frequency(mantissa, exponent, scale, rule.multiplier);
    }
    fits(scale, channel)?;
    let shift = rule.multiplier.shift;
    let value = match scale {
        Scale::Exponent(unit) => {
            units::with_exponent(mantissa, exponent.saturating_add(unit + shift))
        }
        Scale::Factor(factor) => {
            units::with_exponent(mantissa, exponent.saturating_add(shift)) * factor
        }
    };
    judge(rule.multiplier.apply(value), channel)
}

/// A whole hexadecimal number behind its `#`: `H1F` (IEEE 488.2).
fn hexadecimal(text: &str) -> Option<u64> {
    // A sign would be read by the library, but is none of the standard.
    let digits = text.strip_prefix(['H', 'h'])?.trim_matches(BLANKS);
    let is_digits = digits.bytes().all(|byte| byte.is_ascii_hexdigit());
    u64::from_str_radix(digits, 16).ok().filter(|_| is_digits)
}

/// An exponent with blanks around its letter, `4.0157 E +06`, as IEEE 488.2 allows (from memory), and the text after it.
fn spaced_exponent(rest: &str) -> Option<(i32, &str)> {
    let tail = rest
        .trim_start_matches(BLANKS)
        .strip_prefix(['e', 'E'])?
        .trim_start_matches(BLANKS);
    // Read as the exponent of 1, so that its size is limited in one place.
    let (unsigned, sign) = match tail.strip_prefix('-') {
        Some(unsigned) => (unsigned, "-"),
        None => (tail.strip_prefix('+').unwrap_or(tail), ""),
    };
    let end = unsigned
        .find(|c: char| !c.is_ascii_digit())
        .unwrap_or(unsigned.len());
    let (digits, behind) = unsigned.split_at(end);
    let text = format!("1e{sign}{digits}");
    let (_, exponent, left) = units::split_number(&text)?;
    left.is_empty().then_some((exponent, behind))
}

/// A frequency of zero means that the coil is silent; a negative one cannot be.
fn judge(value: f64, channel: Channel) -> Result<Value, Refusal> {
    if !value.is_finite() {
        return Err(Refusal::TooLarge);
    }
    match channel {
        Channel::FrequencyHz if value == 0.0 => Ok(Value::NoSignal),
        Channel::FrequencyHz if value < 0.0 => Err(Refusal::NegativeFrequency),
        _ => Ok(Value::Number(value)),
    }
}

fn beyond(value: f64, marks: &Marks) -> Result<Value, Refusal> {
    let is_mark = |mark: &String| {
        mark.parse::<f64>()
            .is_ok_and(|mark| ((value - mark) / mark).abs() < MARK_TOLERANCE)
    };
    if value.is_infinite() {
        Err(Refusal::TooLarge)
    } else if marks.no_signal.iter().any(is_mark) {
        Ok(Value::NoSignal)
    } else {
        Ok(Value::Overload)
    }
}

#[cfg(test)]
mod tests;

//! One value of an answer: a number, or a word for why there is none.
//!
//! Accepts the IEEE 488.2 decimal forms NR1, NR2 and NR3 (`273`, `0.273`, `2.73E+2`) with any number of digits, with a
//! unit behind them or not. A number in another unit than the profile's is refused, never scaled on a guess.

use crate::reading::Channel;
use crate::units::{self, Scale, Unit};

/// Answers that are no number.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Marks {
    /// The instrument works and finds nothing to measure.
    pub no_signal: Vec<String>,
    /// The value is beyond the instrument's range.
    pub overload: Vec<String>,
}

/// How the number of one value is read.
#[derive(Debug, Clone, PartialEq)]
pub struct NumberRule {
    /// The quantity's unit.
    pub unit: Unit,
    /// The scale of a number that has no unit of its own; `None` where the unit must stand in the line.
    pub scale: Option<Scale>,
    /// A factor beside the unit, for a divider that is built in; 1 where there is none.
    pub factor: f64,
    /// The decimal sign: a point or a comma.
    pub decimal_sign: char,
    /// Answers that are no number.
    pub marks: Marks,
}

/// What an answer came to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Value {
    /// A number in the SI unit.
    Number(f64),
    /// The instrument finds nothing to measure.
    NoSignal,
    /// Beyond its range.
    Overload,
    /// It cannot be read, and why.
    Garbled(&'static str),
}

/// SCPI-1999, 7.2.1.4 and 7.2.1.5: 9.9E37 stands for infinity, 9.91E37 for not a number. Some instruments print them from
/// 32-bit floats or to four digits, so all beyond this is no reading.
const NO_READING_FROM: f64 = 9.0e37;

/// How near a number must be to a mark to be it: closer than 9.9E37 is to 9.91E37, wider than 32 bits round.
const MARK_TOLERANCE: f64 = 1e-4;

/// Reads one value.
pub fn read_number(text: &str, rule: &NumberRule, channel: Channel) -> Value {
    let text = text.trim();
    if text.is_empty() {
        return Value::Garbled("an empty value");
    }
    let is_word = |mark: &String| mark.eq_ignore_ascii_case(text);
    if rule.marks.no_signal.iter().any(is_word) {
        return Value::NoSignal;
    }
    if rule.marks.overload.iter().any(is_word) {
        return Value::Overload;
    }
    match rule.decimal_sign {
        ',' if text.contains('.') => {
            Value::Garbled("a decimal point where the profile has a comma")
        }
        ',' => read_decimal(&text.replacen(',', ".", 1), rule, channel),
        _ => read_decimal(text, rule, channel),
    }
}

fn read_decimal(text: &str, rule: &NumberRule, channel: Channel) -> Value {
    let Some((mantissa, exponent, rest)) = units::split_number(text) else {
        return Value::Garbled("not a number");
    };
    let plain = units::with_exponent(mantissa, exponent);
    if plain.abs() >= NO_READING_FROM {
        return beyond(plain, &rule.marks);
    }
    let scale = match (rest.trim(), rule.scale) {
        ("", Some(scale)) => scale,
        ("", None) => return Value::Garbled("a number without its unit"),
        (unit, _) => match units::scale_of(unit, rule.unit) {
            Some(scale) => scale,
            None => return Value::Garbled("a number with another unit or other text behind it"),
        },
    };
    let value = match scale {
        Scale::Exponent(shift) => units::with_exponent(mantissa, exponent.saturating_add(shift)),
        Scale::Factor(factor) => plain * factor,
    };
    // Multiplying by exactly 1 changes no bit.
    judge(value * rule.factor, channel)
}

/// A frequency of zero means that the coil is silent; a negative one cannot be.
fn judge(value: f64, channel: Channel) -> Value {
    if !value.is_finite() {
        return Value::Garbled("a number too large");
    }
    match channel {
        Channel::FrequencyHz if value == 0.0 => Value::NoSignal,
        Channel::FrequencyHz if value < 0.0 => Value::Garbled("a negative frequency"),
        _ => Value::Number(value),
    }
}

fn beyond(value: f64, marks: &Marks) -> Value {
    let is_mark = |mark: &String| {
        mark.parse::<f64>()
            .is_ok_and(|mark| ((value - mark) / mark).abs() < MARK_TOLERANCE)
    };
    if value.is_infinite() {
        Value::Garbled("a number too large")
    } else if marks.no_signal.iter().any(is_mark) {
        Value::NoSignal
    } else {
        Value::Overload
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn rule() -> NumberRule {
        let words = |list: &[&str]| list.iter().map(|word| (*word).to_owned()).collect();
        NumberRule {
            unit: Unit::Hertz,
            scale: Some(Scale::Exponent(0)),
            factor: 1.0,
            decimal_sign: '.',
            marks: Marks {
                no_signal: words(&["9.91E37", "nan", "----"]),
                overload: words(&["9.9E37", "-9.9E37", "OL"]),
            },
        }
    }

    fn read(text: &str) -> Value {
        read_number(text, &rule(), Channel::FrequencyHz)
    }

    /// IEEE 488.2 numeric forms (NR1 `273`, NR2 `0.273`, NR3 `2.73E+2` as an instrument programming guide prints them) and
    /// what occurs beside them.
    #[test]
    fn every_number_form_of_ieee_488_2_is_read() {
        for (text, want) in [
            ("273", 273.0),
            ("0.273", 0.273),
            ("2.73E+2", 273.0),
            ("+4.012345E+06", 4012345.0),
            ("4012345.0", 4012345.0),
            ("4.01e6", 4.01e6),
            (".5", 0.5),
            ("5.", 5.0),
            (" +5 ", 5.0),
            ("4.0157 MHz", 4015700.0),
            ("4015.7kHz", 4015700.0),
        ] {
            assert_eq!(read(text), Value::Number(want), "{text}");
        }
        let long = format!("{}.{}", "4012345", "3".repeat(293));
        assert_eq!(read(&long), Value::Number(long.parse().unwrap()));
    }

    /// SCPI-1999, 7.2.1.4 and 7.2.1.5.
    #[test]
    fn infinity_and_not_a_number_are_words_and_not_numbers() {
        for text in [
            "9.91E37",
            "+9.91000000E+37",
            "9.9100003E37",
            "nan",
            "NAN",
            "----",
            "0",
            "0.000E+00",
        ] {
            assert_eq!(read(text), Value::NoSignal, "{text}");
        }
        for text in [
            "9.9E37",
            "-9.9E37",
            "9.90E+37",
            "9.8999999E37",
            "1e38",
            "OL",
            "ol",
        ] {
            assert_eq!(read(text), Value::Overload, "{text}");
        }
    }

    #[test]
    fn what_is_no_number_is_refused_and_never_scaled() {
        for text in [
            "",
            "4,012",
            "4.01 4.02",
            "4012345abc",
            "1e400",
            "--5",
            "+",
            "4.0 V",
            "0x1F",
            "-3",
            "40\u{fffd}12",
        ] {
            assert!(
                matches!(read(text), Value::Garbled(_)),
                "{text}: {:?}",
                read(text)
            );
        }
    }

    #[test]
    fn a_decimal_comma_is_read_where_the_profile_says_so() {
        let rule = NumberRule {
            decimal_sign: ',',
            ..rule()
        };
        assert_eq!(
            read_number("4012,5", &rule, Channel::FrequencyHz),
            Value::Number(4012.5)
        );
        assert!(matches!(
            read_number("4012.5", &rule, Channel::FrequencyHz),
            Value::Garbled(_)
        ));
    }

    proptest! {
        #[test]
        fn any_text_gives_a_finite_number_or_a_word(text in "\\PC{0,30}") {
            if let Value::Number(value) = read(&text) {
                prop_assert!(value.is_finite() && value > 0.0);
            }
        }

        #[test]
        fn digits_survive_a_prefix(value in 1_u64..10_000_000_000) {
            let text = format!("{}.{:03} kHz", value / 1000, value % 1000);
            prop_assert_eq!(read(&text), Value::Number(value as f64));
        }
    }
}

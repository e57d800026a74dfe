//! One value of an answer: a number, or a word for why there is none.
//!
//! Accepts the IEEE 488.2 decimal forms NR1, NR2 and NR3 (`273`, `0.273`, `2.73E+2`) with any number of digits and any
//! exponent, with a unit behind them or not, and its other bases (`#H1F`, `#Q77`, `#B101`). A number in another unit than
//! the profile's is refused, never scaled on a guess.

use super::grouping::without_groups;
use super::marks::Marks;
use super::period;
use super::unit_text::{BLANKS, misfit, unit_scale};
use crate::reading::Channel;
use crate::units::{self, Scale, Unit};

/// How the number of one value is read.
#[derive(Debug, Clone, PartialEq)]
pub struct NumberRule {
    /// The quantity's unit.
    pub unit: Unit,
    /// The scale of a number that has no unit of its own; `None` where the unit must stand in the line.
    pub scale: Option<Scale>,
    /// What the number is multiplied by beside its unit: dividers, probes, shunts.
    pub multiplier: Multiplier,
    /// The decimal sign: a point or a comma.
    pub decimal_sign: char,
    /// What stands between groups of three digits before the decimal sign, if anything may.
    pub thousands: Option<char>,
    /// Answers that are no number.
    pub marks: Marks,
    /// Whether the number is the period of what is meant: its reciprocal is recorded.
    pub is_period: bool,
}

/// A factor between what the instrument saw and what is meant, split so that powers of ten stay exact.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Multiplier {
    /// The power of ten in it, added to the decimal exponent.
    shift: i32,
    /// The rest; exactly 1 for ×10, ×100, ×0.1.
    factor: f64,
}

/// A product is written to so many significant digits: more than any divider is known to, fewer than its rounding shows in.
const PRODUCT_DIGITS: usize = 15;

impl Multiplier {
    /// No factor.
    pub const ONE: Self = Self {
        shift: 0,
        factor: 1.0,
    };

    /// The multiplier for a factor.
    pub fn new(factor: f64) -> Self {
        let text = format!("{factor:e}");
        match text.strip_prefix("1e").and_then(|shift| shift.parse().ok()) {
            Some(shift) => Self { shift, factor: 1.0 },
            None => Self { shift: 0, factor },
        }
    }

    /// Both, one after the other.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self {
            shift: self.shift + other.shift,
            factor: self.factor * other.factor,
        }
    }

    /// A value that is no text, multiplied.
    pub fn scale(self, value: f64) -> f64 {
        let value = if self.shift == 0 {
            value
        } else {
            // 2.94 V of a divider by ten is 0.294 V, not 0.29400000000000004 V.
            let text = format!(
                "{:.*e}",
                PRODUCT_DIGITS - 1,
                value * 10.0_f64.powi(self.shift)
            );
            text.parse().unwrap_or(f64::NAN)
        };
        self.apply(value)
    }

    fn apply(self, value: f64) -> f64 {
        if self.factor.to_bits() == 1.0_f64.to_bits() {
            return value;
        }
        // 0.8912 × 11 is to stand as 9.8032 in the file, not as 9.803199999999999.
        let text = format!("{:.*e}", PRODUCT_DIGITS - 1, value * self.factor);
        text.parse().unwrap_or(f64::NAN)
    }
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
    /// There is something to measure, but it has no one value.
    Unsteady,
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
    read_scaled(text, rule, rule.scale, channel)
}

/// Reads one value; `scale` is that of a number that has no unit of its own.
pub(super) fn read_scaled(
    text: &str,
    rule: &NumberRule,
    scale: Option<Scale>,
    channel: Channel,
) -> Value {
    let text = text.trim_matches(BLANKS);
    if let Some(mark) = rule.marks.value(text, rule.unit) {
        return mark;
    }
    // After the marks: a profile may say what an empty value means.
    if text.is_empty() {
        return Value::Garbled("an empty value");
    }
    match without_groups(text, rule) {
        Ok(text) => read_decimal(&text, rule, scale, channel),
        Err(why) => Value::Garbled(why),
    }
}

fn read_decimal(text: &str, rule: &NumberRule, scale: Option<Scale>, channel: Channel) -> Value {
    if let Some(digits) = text.strip_prefix('#') {
        return match other_base(digits) {
            Some(whole) => read_decimal(&whole.to_string(), rule, scale, channel),
            None => Value::Garbled("a block of bytes or a broken number where a number is wanted"),
        };
    }
    let Some((mantissa, exponent, rest)) = units::split_number(text) else {
        return Value::Garbled("not a number");
    };
    let (exponent, rest) = spaced_exponent(rest).unwrap_or((exponent, rest));
    let plain = units::with_exponent(mantissa, exponent);
    if plain.abs() >= NO_READING_FROM {
        return beyond(plain, &rule.marks);
    }
    if plain == 0.0 && mantissa.bytes().any(|byte| matches!(byte, b'1'..=b'9')) {
        // 4E-32000 is legal, and not the zero that means a silent coil.
        return Value::Garbled("a number too small");
    }
    let scale = match (rest.trim_matches(BLANKS), scale) {
        ("", Some(scale)) => scale,
        ("", None) => return Value::Garbled("a number without its unit"),
        (unit, _) => match unit_scale(unit, rule.unit) {
            Some(scale) => scale,
            None => return Value::Garbled("a number with another unit or other text behind it"),
        },
    };
    if rule.is_period {
        return period::frequency(mantissa, exponent, scale, rule.multiplier);
    }
    if let Some(why) = misfit(scale, channel) {
        return Value::Garbled(why);
    }
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

/// A whole number in another base, behind its `#`: `H1F`, `Q77`, `B101` (IEEE 488.2).
fn other_base(text: &str) -> Option<u64> {
    let base = match text.bytes().next()?.to_ascii_uppercase() {
        b'H' => 16,
        b'Q' => 8,
        b'B' => 2,
        _ => return None,
    };
    // A sign would be read by the library, but is none of the standard.
    let digits = text.get(1..)?.trim_matches(BLANKS);
    let is_digits = digits.bytes().all(|byte| byte.is_ascii_alphanumeric());
    u64::from_str_radix(digits, base).ok().filter(|_| is_digits)
}

/// An exponent with blanks around its letter, `4.0157 E +06`, as IEEE 488.2 allows (from memory), and what comes behind it.
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
            multiplier: Multiplier::ONE,
            decimal_sign: '.',
            thousands: None,
            marks: Marks {
                no_signal: words(&["9.91E37", "nan", "----"]),
                overload: words(&["9.9E37", "-9.9E37", "OL", "0.L"]),
                unsteady: words(&["unsteady"]),
            },
            is_period: false,
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

    /// IEEE 488.2-1987, 7.7.2.4.1 as instruments' error tables quote it (-124 and -123): mantissas up to 255 digits, exponents
    /// up to 32000. The digits of the first are those of the value; the expected values are by powers of ten alone.
    #[test]
    fn mantissas_of_255_digits_and_exponents_of_32000_are_read() {
        let long = format!("4012345{}", "0".repeat(248));
        assert_eq!(long.len(), 255);
        assert_eq!(read(&format!("{long}E-248")), Value::Number(4012345.0));
        let fraction = format!("0.{}4012345", "0".repeat(247));
        assert_eq!(read(&format!("{fraction}E+254")), Value::Number(4012345.0));
        assert_eq!(read("4E+32000"), Value::Garbled("a number too large"));
        assert_eq!(read("4E-32000"), Value::Garbled("a number too small"));
        assert_eq!(read("0E-32000"), Value::NoSignal);
        assert_eq!(read("4E+99999999999"), Value::Garbled("a number too large"));
    }

    /// The forms as a public SCPI parser's own page prints them; the values by counting.
    #[test]
    fn other_bases_are_read_and_a_block_is_not_taken_for_one() {
        for (text, want) in [
            ("#H1F", 31.0),
            ("#hff", 255.0),
            ("#Q77", 63.0),
            ("#B101", 5.0),
        ] {
            assert_eq!(read(text), Value::Number(want), "{text}");
        }
        for text in [
            "#", "#H", "#H1G", "#Q8", "#B2", "#B-1", "#0abc", "#3512", "#H-1", "#\u{e9}1",
        ] {
            assert!(matches!(read(text), Value::Garbled(_)), "{text}");
        }
    }

    #[test]
    fn blanks_around_the_exponents_letter_are_allowed() {
        for text in ["4.0157 E +06", "4.0157E +06", "4.0157 e6", "4015.7 E3 Hz"] {
            assert_eq!(read(text), Value::Number(4015700.0), "{text}");
        }
        for text in ["4.0157 E", "4.0157 E+", "4.0157 E 6.5", "4.0157 E+ -6"] {
            assert!(matches!(read(text), Value::Garbled(_)), "{text}");
        }
    }

    #[test]
    fn a_unit_that_could_be_milli_or_mega_is_refused() {
        for text in ["4.0157 MHZ", "4015.7 KHZ", "4015700 HZ"] {
            assert_eq!(read(text), Value::Number(4015700.0), "{text}");
        }
        let volts = NumberRule {
            unit: Unit::Volt,
            ..rule()
        };
        let read_volts = |text| read_number(text, &volts, Channel::BatteryV);
        assert_eq!(read_volts("8912 mV"), Value::Number(8.912));
        for value in [
            read_volts("8912 MV"),
            read_volts("8.9 A"),
            read("4.0 mHz"),
            read("4.0 mhz"),
        ] {
            assert!(matches!(value, Value::Garbled(_)), "{value:?}");
        }
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

    /// `0.L    V`: from memory of a handheld meter.
    #[test]
    fn a_mark_is_one_with_blanks_and_its_unit_behind_it() {
        for text in ["0.L", "0.L    kHz", "ol  Hz", "OL HZ"] {
            assert_eq!(read(text), Value::Overload, "{text}");
        }
        assert_eq!(read("unsteady"), Value::Unsteady);
        assert!(matches!(read("OL 5"), Value::Garbled(_)));
        assert!(matches!(read("OL V"), Value::Garbled(_)));
    }

    #[test]
    fn only_blanks_and_tabs_are_blanks() {
        assert_eq!(read("4.0157 E\t06"), Value::Number(4015700.0));
        for text in [
            "4.0157E\u{b}06",
            "4.0157\u{c}MHz",
            "4015700\u{b}",
            "4015700 \u{a0}Hz",
        ] {
            assert!(matches!(read(text), Value::Garbled(_)), "{text:?}");
        }
    }

    #[test]
    fn thousands_are_read_where_the_profile_says_so_and_they_are_grouped_by_threes() {
        let with = |sign: char, text: &str| {
            let decimal_sign = if sign == '.' { ',' } else { '.' };
            let rule = NumberRule {
                thousands: Some(sign),
                decimal_sign,
                ..rule()
            };
            read_number(text, &rule, Channel::FrequencyHz)
        };
        for (sign, text, want) in [
            (',', "6,231,234 Hz", 6231234.0),
            (',', "+6,231.5kHz", 6231500.0),
            (',', "6231234 Hz", 6231234.0),
            ('.', "6.231.234,5", 6231234.5),
            (' ', "6 231 234 Hz", 6231234.0),
            ('\'', "6'231'234", 6231234.0),
        ] {
            assert_eq!(with(sign, text), Value::Number(want), "{text}");
        }
        for (sign, text) in [
            (',', "6,23,234"),
            (',', "6231,234"),
            (',', ",231"),
            (',', "6,231,23"),
            (',', "6,231.234,5"),
            ('.', "6.23,5"),
            (' ', "62 31234 Hz"),
        ] {
            assert!(matches!(with(sign, text), Value::Garbled(_)), "{text}");
        }
        assert!(matches!(read("6,231,234 Hz"), Value::Garbled(_)));
    }

    #[test]
    fn no_battery_has_picovolts_or_kilovolts() {
        let volts = NumberRule {
            unit: Unit::Volt,
            ..rule()
        };
        for (text, why) in [
            ("8.9pV", "pV is no unit of a battery voltage"),
            ("8.9 nV", "nV is no unit of a battery voltage"),
            ("8.9kV", "kV is no unit of a battery voltage"),
        ] {
            let value = |channel| read_number(text, &volts, channel);
            assert_eq!(value(Channel::BatteryV), Value::Garbled(why), "{text}");
            assert!(matches!(value(Channel::AmplitudeV), Value::Number(_)));
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
    fn a_divider_of_ten_moves_the_point_and_no_digit() {
        let rule = NumberRule {
            multiplier: Multiplier::new(10.0),
            unit: Unit::Volt,
            ..rule()
        };
        for (text, want) in [("0.8912", 8.912), ("0.93", 9.3), ("8.401E-01", 8.401)] {
            assert_eq!(
                read_number(text, &rule, Channel::BatteryV),
                Value::Number(want),
                "{text}"
            );
        }
        let eleven = NumberRule {
            multiplier: Multiplier::new(11.0),
            ..rule
        };
        assert_eq!(
            read_number("0.8912", &eleven, Channel::BatteryV),
            Value::Number(9.8032)
        );
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

        /// What the instrument said can be had back from the file: the value over the factor, to twelve digits.
        #[test]
        fn a_raw_value_is_recoverable(raw in 1_u32..100_000_000, factor in prop_oneof![Just(10.0), Just(11.0), Just(0.1), 0.001_f64..1000.0]) {
            let raw_text = format!("{raw}e-6");
            let rule = NumberRule { multiplier: Multiplier::new(factor), unit: Unit::Volt, ..rule() };
            let Value::Number(value) = read_number(&raw_text, &rule, Channel::BatteryV) else { panic!("{raw_text}") };
            prop_assert_eq!(format!("{:.11e}", value / factor), format!("{:.11e}", f64::from(raw) / 1e6));
        }

        #[test]
        fn digits_survive_a_prefix(value in 1_u64..10_000_000_000) {
            let text = format!("{}.{:03} kHz", value / 1000, value % 1000);
            prop_assert_eq!(read(&text), Value::Number(value as f64));
        }
    }
}

//! A period that an instrument reports where a frequency is meant.

use crate::instrument::number::value::{Multiplier, Value};
use crate::instrument::refusal::Refusal;
use crate::units::{self, Scale};

/// Returns the frequency of a period, to the digits that the period's last digit makes meaningful.
///
/// A factor is the frequency's: a divider by ten before the counter makes the period ten times as long.
pub(in crate::instrument) fn frequency(
    mantissa: &str,
    exponent: i32,
    scale: Scale,
    multiplier: Multiplier,
) -> Result<Value, Refusal> {
    let period_s = match scale {
        Scale::Exponent(unit) => units::with_exponent(mantissa, exponent.saturating_add(unit)),
        Scale::Factor(factor) => units::with_exponent(mantissa, exponent) * factor,
    };
    if period_s <= 0.0 {
        return Err(Refusal::PeriodNotAboveZero);
    }
    let frequency_hz = multiplier.scale(1.0 / period_s);
    if !(frequency_hz.is_finite() && frequency_hz > 0.0) {
        return Err(Refusal::PeriodOutOfRange);
    }
    let digits: String = mantissa.chars().filter(char::is_ascii_digit).collect();
    // One step of the period's last digit is this share of the period, and so of the frequency.
    let step_hz = frequency_hz / units::with_exponent(&digits, 0);
    let kept = usize::try_from(power(frequency_hz) - power(step_hz)).unwrap_or(0);
    let text = format!("{frequency_hz:.kept$e}");
    Ok(Value::Number(text.parse().unwrap_or(frequency_hz)))
}

/// The power of ten of a value's first digit.
fn power(value: f64) -> i32 {
    let text = format!("{value:e}");
    let power = text
        .split_once('e')
        .and_then(|(_, power)| power.parse().ok());
    power.unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use crate::instrument::{Marks, Multiplier, NumberRule, Value, read_number};
    use crate::reading::Channel;
    use crate::units::{Scale, Unit};
    use proptest::prelude::*;

    fn read_with(text: &str, unit: i32, multiplier: Multiplier) -> Value {
        let rule = NumberRule {
            unit: Unit::Second,
            scale: Some(Scale::Exponent(unit)),
            multiplier,
            decimal_sign: '.',
            marks: Marks {
                no_signal: vec!["----".to_owned()],
                ..Marks::default()
            },
            thousands: None,
            is_period: true,
        };
        read_number(text, &rule, Channel::FrequencyHz)
    }

    fn read(text: &str, unit: i32) -> Value {
        read_with(text, unit, Multiplier::ONE)
    }

    /// The first period is that of a counter in the tests of a general-purpose instrument library: 100 ns are 10 MHz. The
    /// others by hand: 1/160.4818 ns = 6.231235...e6 Hz, where 0.0001 ns is 3.9 Hz, so that hertz are kept.
    #[test]
    fn a_period_becomes_its_frequency_with_the_digits_that_mean_something() {
        for (text, unit, want) in [
            ("+000100.00000E-09", 0, 10e6),
            ("160.4818", -9, 6_231_236.0),
            ("0.1604818", -6, 6_231_236.0),
            ("0.1604818 us", 0, 6_231_236.0),
            ("160.4818 NS", 0, 6_231_236.0),
            // 1/160 ns = 6.25 MHz, known to 39 kHz.
            ("160", -9, 6_250_000.0),
            ("161", -9, 6_210_000.0),
            ("2.5", 0, 0.4),
        ] {
            assert_eq!(read(text, unit), Value::Number(want), "{text}");
        }
        // 10 MHz behind a divider by ten is 100 MHz.
        assert_eq!(
            read_with("100.00", -9, Multiplier::new(10.0)),
            Value::Number(100e6)
        );
    }

    #[test]
    fn a_period_that_is_none_is_refused() {
        for text in ["0", "-100E-9", "0.000E+00", "1 kHz", "160 MS", "1E-400"] {
            assert!(
                matches!(read(text, 0), Value::Garbled(_)),
                "{text}: {:?}",
                read(text, 0)
            );
        }
        assert_eq!(read("----", 0), Value::NoSignal);
        assert_eq!(read("9.9E37", 0), Value::Overload);
    }

    proptest! {
        /// Rounding moves a frequency by less than one step of the period's last digit does.
        #[test]
        fn no_digit_that_means_something_is_lost(digits in 1_u32..100_000_000, power in -12_i32..0) {
            let text = format!("{digits}E{power}");
            let Value::Number(frequency_hz) = read(&text, 0) else { panic!("{text}") };
            let exact_hz = 1.0 / text.parse::<f64>().unwrap();
            prop_assert!((frequency_hz - exact_hz).abs() <= exact_hz / f64::from(digits));
        }
    }
}

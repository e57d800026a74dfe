//! Numbers as they stand in a table, written without the general formatter: at full speed that takes a tenth of all time.

use std::fmt::Write as _;

/// Whole numbers below this have at most 15 digits: no two of them, with the same decimals, are the same `f64`.
const FIFTEEN_DIGITS: f64 = 1e15;

/// The powers of ten up to which decimals are tried; each is exact.
const POWERS: [f64; 10] = [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9];

/// Adds the shortest decimal that reads back to the same bits, as the standard library does.
pub(super) fn push_shortest(text: &mut String, value: f64) {
    match few_digits(value) {
        Some((whole, decimals)) => {
            if value.is_sign_negative() {
                text.push('-');
            }
            push_decimal(text, whole, decimals);
        }
        // Writing to a String cannot fail.
        None => write!(text, "{value}").unwrap_or(()),
    }
}

/// Returns the size of a number as a whole number of at most 15 digits, with the fewest decimals that there can be. It is `None`
/// if the number has more digits.
///
/// Whole number and power of ten are both exact, so that their quotient is rounded once, as it is when the text is read.
/// With fewer decimals no text reads back to the value, and with as many only this one does.
fn few_digits(value: f64) -> Option<(i64, usize)> {
    let size = value.abs();
    POWERS.iter().enumerate().find_map(|(decimals, power)| {
        let scaled = size * power;
        if scaled >= FIFTEEN_DIGITS {
            return None;
        }
        let whole = nearest_whole(scaled);
        (whole as f64 / power)
            .to_bits()
            .eq(&size.to_bits())
            .then_some((whole, decimals))
    })
}

/// The nearest whole number to one between 0 and 10^15; faster than the library's, which knows no bounds.
#[expect(
    clippy::cast_possible_truncation,
    reason = "the bounds leave nothing to cut off but decimals"
)]
const fn nearest_whole(value: f64) -> i64 {
    (value + 0.5) as i64
}

/// Adds a whole number with the point before its last `decimals` digits; of a number below 0 the sign comes first.
pub(super) fn push_decimal(text: &mut String, whole: i64, decimals: usize) {
    if whole < 0 {
        text.push('-');
    }
    let mut rest = whole.unsigned_abs();
    // 20 digits, a zero before the point, and the point.
    let mut buffer = [0; 22];
    let mut at = buffer.len();
    let mut push = |byte| {
        at -= 1;
        buffer[at] = byte;
    };
    let mut next_digit = || {
        let digit = u8::try_from(rest % 10).unwrap_or(0);
        rest /= 10;
        (b'0' + digit, rest == 0)
    };
    for _ in 0..decimals {
        push(next_digit().0);
    }
    if decimals > 0 {
        push(b'.');
    }
    loop {
        let (digit, is_last) = next_digit();
        push(digit);
        if is_last {
            break;
        }
    }
    text.push_str(std::str::from_utf8(&buffer[at..]).unwrap_or(""));
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn shortest(value: f64) -> String {
        let mut text = String::new();
        push_shortest(&mut text, value);
        text
    }

    fn decimal(whole: i64, decimals: usize) -> String {
        let mut text = String::new();
        push_decimal(&mut text, whole, decimals);
        text
    }

    #[test]
    fn times_are_written_to_the_microsecond() {
        assert_eq!(decimal(0, 6), "0.000000");
        assert_eq!(decimal(1, 6), "0.000001");
        assert_eq!(decimal(61_000_001, 6), "61.000001");
        assert_eq!(decimal(-1, 6), "-0.000001");
        assert_eq!(decimal(i64::MAX, 6), "9223372036854.775807");
        assert_eq!(decimal(i64::MIN, 0), "-9223372036854775808");
        assert_eq!(decimal(0, 0), "0");
    }

    proptest! {
        /// The standard library's is the measure: the shortest that reads back, never with an exponent.
        #[test]
        fn the_shortest_form_is_that_of_the_standard_library(
            any in any::<f64>(),
            whole in -10_000_000_000_000_000_i64..10_000_000_000_000_000,
            decimals in 0_i32..12,
            off in -2_i64..3,
        ) {
            let read: f64 = format!("{whole}e-{decimals}").parse().unwrap();
            let near = f64::from_bits(read.to_bits().wrapping_add_signed(off));
            for value in [any, read, near, 0.0, -0.0, 1e15, 999_999_999_999_999.0, 5e-324] {
                if value.is_finite() {
                    prop_assert_eq!(shortest(value), format!("{}", value));
                }
            }
        }
    }
}

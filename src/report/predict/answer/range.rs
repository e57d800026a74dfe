//! A range and its digits, as an answer has them.

use crate::report::layout::kept;

/// Digits of a frequency that half of its band leaves: one digit of that half, or two where it begins with 1.
pub(super) fn digits(value_hz: f64, half_hz: f64) -> usize {
    let (value, half) = (value_hz.log10(), half_hz.log10());
    let more = if half - half.floor() < 0.301 {
        2.0
    } else {
        1.0
    };
    let digits = value.floor() - half.floor() + more;
    // No band at all gives an infinity, which no digit follows.
    (2..=6)
        .find(|count| f64::from(*count) >= digits)
        .map_or(6, |count| usize::try_from(count).unwrap_or(6))
}

/// A range, its unit once where both ends have the same.
pub(in crate::report) fn to(low: &str, high: &str) -> String {
    if low == high {
        return kept(low);
    }
    match (low.split_once(' '), high.split_once(' ')) {
        (Some((number, unit)), Some((_, same))) if unit == same => {
            kept(&format!("{number} to {high}"))
        }
        _ => format!("{} to {}", kept(low), kept(high)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_frequency_has_the_digits_that_its_band_leaves() {
        assert_eq!(digits(6.2e6, 0.46e6), 2);
        assert_eq!(digits(6.2e6, 0.12e6), 3);
        assert_eq!(digits(6.2e6, 30e3), 3);
        assert_eq!(digits(6.2e6, 0.0), 6);
    }

    #[test]
    fn a_range_has_its_unit_once_where_both_ends_have_the_same() {
        assert_eq!(to("5.8 MHz", "6.7 MHz"), "5.8\u{a0}to\u{a0}6.7\u{a0}MHz");
        assert_eq!(to("950 kHz", "1.1 MHz"), "950\u{a0}kHz to 1.1\u{a0}MHz");
        assert_eq!(to("5 V", "5 V"), "5\u{a0}V");
    }
}

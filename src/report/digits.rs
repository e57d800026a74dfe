//! How many digits of a computed number are written for other programs.

/// The value to nine significant digits, so that a file does not change with the last bit of a machine's logarithm.
pub(super) fn nine_digits(value: f64) -> f64 {
    format!("{value:.8e}").parse().unwrap_or(f64::NAN)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nine_digits_are_kept_and_what_is_no_number_stays_none() {
        assert_eq!(nine_digits(1.0 / 3.0).to_bits(), 0.333333333_f64.to_bits());
        assert_eq!(
            nine_digits(-5849225.0841).to_bits(),
            (-5849225.08_f64).to_bits()
        );
        assert!(nine_digits(f64::NAN).is_nan());
    }
}

//! Straight lines between the rows of a printed table.

/// Returns the two rows around `x` and how far it lies from the first to the second, 0 to 1; `None` outside the table.
///
/// The rows' keys rise. A key of the table gives its own row with a share of exactly 0 or 1.
pub(crate) fn between<T>(rows: &[T], key: impl Fn(&T) -> f64, x: f64) -> Option<(&T, &T, f64)> {
    let upper = rows.iter().position(|row| key(row) >= x)?;
    let (low, high) = (rows.get(upper.saturating_sub(1))?, rows.get(upper)?);
    if upper == 0 {
        return (x >= key(low)).then_some((low, high, 0.0));
    }
    Some((low, high, (x - key(low)) / (key(high) - key(low))))
}

/// Returns the value at `share` of the way from `low` to `high`, exact at both ends.
pub(crate) fn mix(low: f64, high: f64, share: f64) -> f64 {
    low * (1.0 - share) + high * share
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_found_exactly_and_nothing_is_found_outside() {
        let found = |x| {
            between(&[1.0, 2.0, 4.0], |key| *key, x).map(|(low, high, share)| (*low, *high, share))
        };
        assert_eq!(found(1.0), Some((1.0, 1.0, 0.0)));
        assert_eq!(found(2.0), Some((1.0, 2.0, 1.0)));
        assert_eq!(found(3.0), Some((2.0, 4.0, 0.5)));
        assert_eq!(found(4.0), Some((2.0, 4.0, 1.0)));
        assert_eq!(found(0.99), None);
        assert_eq!(found(4.01), None);
        assert_eq!(found(f64::NAN), None);
        assert_eq!(mix(3.0, 5.0, 0.5).to_bits(), 4.0_f64.to_bits());
    }
}

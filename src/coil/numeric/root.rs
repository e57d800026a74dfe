//! Where a function of one number is zero.

use crate::units::Span;

/// Most rounds. Chosen: bisection alone would need 50 for a bracket of 1 to 10¹⁵.
const MOST_ROUNDS: u32 = 100;

/// Why no zero was found.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub(crate) enum RootError<E> {
    /// The function has the same sign at both ends of the bracket.
    #[error("root: found the same sign at both ends: expected different signs")]
    NoBracket,
    /// The search went on too long.
    #[error("root: found none in {MOST_ROUNDS} rounds")]
    NotSettled,
    /// The function failed.
    #[error(transparent)]
    Function(#[from] E),
}

/// Returns a zero of `f` in a bracket, at whose ends its signs differ, to within `near`.
///
/// Brent, Algorithms for Minimization without Derivatives, 1973, chapter 4: inverse quadratic steps or secants where they
/// shrink the bracket, else halving, so that it never takes more rounds than the square of halving alone.
///
/// # Errors
/// [`RootError::NoBracket`] without a change of sign, [`RootError::NotSettled`] after 100 rounds, and the errors of `f`.
pub(crate) fn brent<E>(
    mut f: impl FnMut(f64) -> Result<f64, E>,
    bracket: Span,
    near: f64,
) -> Result<f64, RootError<E>> {
    let Span {
        low: mut a,
        high: mut b,
    } = bracket;
    let (mut fa, mut fb) = (f(a)?, f(b)?);
    if fa * fb > 0.0 {
        return Err(RootError::NoBracket);
    }
    let (mut c, mut fc) = (a, fa);
    let (mut step, mut last) = (b - a, b - a);
    for _ in 0..MOST_ROUNDS {
        if fb * fc > 0.0 {
            (c, fc) = (a, fa);
            (step, last) = (b - a, b - a);
        }
        if fc.abs() < fb.abs() {
            (a, b, c) = (b, c, b);
            (fa, fb, fc) = (fb, fc, fb);
        }
        let least = 2.0 * f64::EPSILON * b.abs() + near / 2.0;
        let half = (c - b) / 2.0;
        if half.abs() <= least || fb == 0.0 {
            return Ok(b);
        }
        let trial = quadratic([a, b, c], [fa, fb, fc]);
        let is_short = trial.abs() < (0.75 * (c - b)).abs() && trial.abs() < (last / 2.0).abs();
        let is_inwards = trial * half > 0.0;
        (last, step) = if fa.abs() > fb.abs() && is_short && is_inwards {
            (step, trial)
        } else {
            (half, half)
        };
        (a, fa) = (b, fb);
        b += if step.abs() > least {
            step
        } else {
            least.copysign(half)
        };
        fb = f(b)?;
    }
    Err(RootError::NotSettled)
}

/// Returns the step from the second place to the zero of the parabola, sideways, through three, or of the line through two.
fn quadratic([a, b, c]: [f64; 3], [fa, fb, fc]: [f64; 3]) -> f64 {
    let s = fb / fa;
    let (p, q) = if a.to_bits() == c.to_bits() {
        ((c - b) * s, 1.0 - s)
    } else {
        let (q, r) = (fa / fc, fb / fc);
        (
            s * ((c - b) * q * (q - r) - (b - a) * (r - 1.0)),
            (q - 1.0) * (r - 1.0) * (s - 1.0),
        )
    };
    -p / q
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::convert::Infallible;

    fn root(f: impl Fn(f64) -> f64, bracket: Span) -> Result<(f64, u32), RootError<Infallible>> {
        let mut calls = 0;
        let found = brent(
            |x| {
                calls += 1;
                Ok(f(x))
            },
            bracket,
            1e-12,
        )?;
        Ok((found, calls))
    }

    #[test]
    fn known_zeros_are_found_in_few_calls() {
        let (half_pi, calls) = root(f64::cos, Span::new(0.0, 3.0)).unwrap();
        assert!(
            (half_pi - std::f64::consts::FRAC_PI_2).abs() < 1e-11 && calls < 12,
            "{calls}"
        );
        let (steep, calls) = root(|x| 1.0 / x - 1e-3, Span::new(1.0, 1e5)).unwrap();
        assert!(
            (steep - 1000.0).abs() < 1e-6 && calls < 60,
            "{steep} {calls}"
        );
        let (at_end, _) = root(|x| x - 2.0, Span::new(2.0, 5.0)).unwrap();
        assert!((at_end - 2.0).abs() < 1e-15);
    }

    #[test]
    fn a_bracket_without_a_change_of_sign_is_refused() {
        assert_eq!(
            root(|x| x * x + 1.0, Span::new(-1.0, 1.0)),
            Err(RootError::NoBracket)
        );
    }

    proptest::proptest! {
        #[test]
        fn a_cubic_s_only_zero_is_found_from_any_bracket(zero in -5.0_f64..5.0, low in 0.1_f64..9.0, high in 0.1_f64..9.0) {
            let f = |x: f64| (x - zero) * ((x - zero).powi(2) + 0.5);
            let (found, _) = root(f, Span::new(zero - low, zero + high)).unwrap();
            proptest::prop_assert!((found - zero).abs() < 1e-11);
        }
    }
}

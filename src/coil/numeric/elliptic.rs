//! Complete elliptic integrals, from which every inductance of circles and sheets is made.

use std::f64::consts::FRAC_PI_2;

/// The complete elliptic integrals of one parameter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Complete {
    /// First kind, K.
    pub k: f64,
    /// Second kind, E.
    pub e: f64,
    /// K − E, summed on its own so that long coils (small parameter) lose no digits.
    pub k_minus_e: f64,
}

/// Returns K and E for the **complementary** parameter m₁ = 1 − m, by the arithmetic-geometric mean.
///
/// Source: NIST DLMF §19.8(i), with m = k². Taking m₁ keeps all digits where two circles nearly touch and m rounds to 1. Range 0
/// < m₁ ≤ 1; at m₁ = 0 K is infinite, elsewhere the result is NaN. The mean converges quadratically: it is below 2⁻⁵² after at
/// most 12 rounds for every normal m₁. So the error is a few units in the last place, of either sign.
pub fn complete(m1: f64) -> Complete {
    if !(0.0..=1.0).contains(&m1) {
        let nan = f64::NAN;
        return Complete {
            k: nan,
            e: nan,
            k_minus_e: nan,
        };
    }
    if m1 == 0.0 {
        return Complete {
            k: f64::INFINITY,
            e: 1.0,
            k_minus_e: f64::INFINITY,
        };
    }
    let (mut a, mut b) = (1.0, m1.sqrt());
    let mut weight = 0.5;
    let mut sum = weight * (1.0 - m1);
    loop {
        let c = 0.5 * (a - b);
        (a, b) = (0.5 * (a + b), (a * b).sqrt());
        weight *= 2.0;
        sum += weight * c * c;
        // The next difference is c²/4a: once this one is below √ε the next is below ε.
        if c.abs() <= 1e-8 * a {
            break;
        }
    }
    let k = FRAC_PI_2 / a;
    let k_minus_e = k * sum;
    Complete {
        k,
        e: k * (1.0 - sum),
        k_minus_e,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_independent_library_agrees_to_the_last_digits() {
        for step in 1_u32..1000 {
            let m = f64::from(step) / 1000.0;
            let ours = complete(1.0 - m);
            let (k, e) = (ellip::ellipk(m).unwrap(), ellip::ellipe(m).unwrap());
            assert!((ours.k / k - 1.0).abs() < 1e-14, "K({m}): {} {k}", ours.k);
            assert!((ours.e / e - 1.0).abs() < 2e-14, "E({m}): {} {e}", ours.e);
        }
    }

    #[test]
    fn the_difference_keeps_its_digits_for_a_small_parameter() {
        // DLMF 19.5.1, 19.5.2: K − E = (π/4)·m·(1 + 3m/8 + …).
        let m = 1e-12;
        let ours = complete(1.0 - m).k_minus_e;
        let want = FRAC_PI_2 / 2.0 * m;
        assert!((ours / want - 1.0).abs() < 1e-4, "{ours} {want}");
    }

    #[test]
    fn the_ends_of_the_range_are_told_apart_from_what_is_outside() {
        let touching = complete(0.0);
        assert!(touching.k.is_infinite() && (touching.e - 1.0).abs() < 1e-15);
        assert!((complete(1.0).k - FRAC_PI_2).abs() < 1e-15);
        assert!(complete(1.5).k.is_nan() && complete(-0.1).e.is_nan());
        // K → ln(4/√m₁) as m₁ → 0 (DLMF 19.12.1), also for the smallest numbers.
        let smallest = complete(f64::MIN_POSITIVE).k;
        let want = (4.0 / f64::MIN_POSITIVE.sqrt()).ln();
        assert!((smallest / want - 1.0).abs() < 1e-13, "{smallest} {want}");
    }
}

//! Student's t: how many standard errors a 95 % interval reaches for a given number of degrees of freedom.

use std::f64::consts::{FRAC_2_PI, FRAC_PI_2};

/// Share of cases that the interval is to hold.
const SHARE: f64 = 0.95;

/// The normal distribution's 97.5 % point (Abramowitz & Stegun, Handbook of Mathematical Functions, 1964, table 26.5).
const NORMAL_975: f64 = 1.959963984540054;

/// Above this the expansion in 1/ν is good to 1e-10 (checked against the exact sum in the tests), below it the sum is cheap.
const EXACT_UP_TO: usize = 200;

/// Half the width of a two-sided 95 % interval in standard errors, for `degrees` degrees of freedom.
///
/// Up to 200 degrees the finite sums of Abramowitz & Stegun 26.7.3 and 26.7.4 are inverted by bisection, above that the
/// expansion 26.7.5 is used; both are good to 1e-9 relative. `None` without a degree of freedom.
pub fn half_width_95(degrees: usize) -> Option<f64> {
    match degrees {
        0 => None,
        1..=EXACT_UP_TO => Some(inverse_sum(degrees)),
        _ => Some(expansion(degrees as f64)),
    }
}

/// P(|T| ≤ √ν tan θ), Abramowitz & Stegun 26.7.3 (odd ν) and 26.7.4 (even ν).
fn inner_probability(theta: f64, degrees: usize) -> f64 {
    let (sine, cosine) = theta.sin_cos();
    let odd = degrees % 2 == 1;
    let mut term = match (odd, degrees) {
        (true, 1) => 0.0,
        (true, _) => cosine,
        (false, _) => 1.0,
    };
    let mut sum = term;
    let mut power = if odd { 3 } else { 2 };
    while power + 2 <= degrees {
        let k = power as f64;
        term *= cosine * cosine * (k - 1.0) / k;
        sum += term;
        power += 2;
    }
    if odd {
        FRAC_2_PI * sine.mul_add(sum, theta)
    } else {
        sine * sum
    }
}

fn inverse_sum(degrees: usize) -> f64 {
    let (mut low, mut high) = (0.0, FRAC_PI_2);
    // Each step halves the bracket: 60 of them leave less than the last bit of θ.
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if inner_probability(middle, degrees) < SHARE {
            low = middle;
        } else {
            high = middle;
        }
    }
    (degrees as f64).sqrt() * low.tan()
}

/// Abramowitz & Stegun 26.7.5 with x the normal quantile, to the term in ν⁻⁴.
fn expansion(nu: f64) -> f64 {
    let x = NORMAL_975;
    let polynomial = |coefficients: &[f64]| {
        coefficients
            .iter()
            .fold(0.0_f64, |sum, &c| sum.mul_add(x * x, c))
            * x
    };
    let g1 = polynomial(&[1.0, 1.0]) / 4.0;
    let g2 = polynomial(&[5.0, 16.0, 3.0]) / 96.0;
    let g3 = polynomial(&[3.0, 19.0, 17.0, -15.0]) / 384.0;
    let g4 = polynomial(&[79.0, 776.0, 1482.0, -1920.0, -945.0]) / 92160.0;
    x + (g1 + (g2 + (g3 + g4 / nu) / nu) / nu) / nu
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_are_those_of_the_printed_tables() {
        // Abramowitz & Stegun, table 26.10, column A = 0.95, printed to three decimals.
        for (degrees, printed) in [
            (1, 12.706),
            (2, 4.303),
            (3, 3.182),
            (4, 2.776),
            (5, 2.571),
            (10, 2.228),
            (15, 2.131),
            (30, 2.042),
            (60, 2.000),
            (120, 1.980),
        ] {
            let got = half_width_95(degrees).unwrap();
            assert!((got - printed).abs() <= 0.0005, "{degrees}: {got}");
        }
    }

    #[test]
    fn quantiles_agree_with_an_independent_library() {
        // scipy 1.17.1: scipy.stats.t.ppf(0.975, df), as printed to 12 decimals.
        for (degrees, printed) in [(34, 2.032244509318), (198, 1.972017477836)] {
            let got = half_width_95(degrees).unwrap();
            assert!((got - printed).abs() <= 1e-11, "{degrees}: {got}");
        }
    }

    #[test]
    fn sum_and_expansion_meet_where_one_takes_over() {
        let (sum, expansion) = (inverse_sum(EXACT_UP_TO), expansion(EXACT_UP_TO as f64));
        assert!((sum - expansion).abs() < 1e-10, "{sum} {expansion}");
        assert!((half_width_95(usize::MAX).unwrap() - NORMAL_975).abs() < 1e-15);
    }

    #[test]
    fn without_a_degree_of_freedom_there_is_no_interval() {
        assert_eq!(half_width_95(0), None);
    }
}

//! Inductance of single-layer windings on a cylinder, and of coaxial circles.

use std::f64::consts::{PI, TAU};

use super::elliptic::complete;

/// Permeability of free space, H/m: 4π·10⁻⁷, which the CODATA 2018 value meets within 6·10⁻¹⁰.
pub const MU0_H_PER_M: f64 = 4e-7 * PI;

/// Where in the wire's cross-section the current runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Current {
    /// Evenly over the section: direct current and low frequencies.
    Uniform,
    /// On the surface alone: high frequencies, no flux inside the wire.
    Surface,
}

/// Returns Nagaoka's factor K(D/l): the share of the infinite solenoid's flux that a current sheet keeps.
///
/// With u = D/l, k² = u²/(1+u²), k'² = 1/(1+u²): K = 4/(3πk')·[(k'²/k²)(K−E) + E − k]. Lorenz 1879, Nagaoka 1909.
/// Exact for a current sheet; the error is rounding, below 10⁻¹³ for D/l from 0.01 to 100.
pub fn nagaoka(diameter_over_length: f64) -> f64 {
    let u2 = diameter_over_length * diameter_over_length;
    let (m, m1) = (u2 / (1.0 + u2), 1.0 / (1.0 + u2));
    let sum = complete(m1);
    4.0 / (3.0 * PI * m1.sqrt()) * (m1 / m * sum.k_minus_e + sum.e - m.sqrt())
}

/// Returns the inductance of a cylindrical current sheet, in henries: L = μ0·π·(D/2)²·N²/l·K(D/l).
///
/// `mean_diameter_m` is taken through the wire's centre, `length_m` is turns × pitch. Exact for the sheet; a winding of
/// round wire differs by [`rosa_ks`] and [`rosa_km`].
pub fn current_sheet_h(turns: f64, mean_diameter_m: f64, length_m: f64) -> f64 {
    let (n, r, l) = (turns, mean_diameter_m / 2.0, length_m);
    MU0_H_PER_M * PI * r * r * n * n / l * nagaoka(mean_diameter_m / length_m)
}

/// Returns Rosa's correction of a turn's own inductance, round wire instead of a strip as wide as the pitch.
///
/// ks = 5/4 − ln(2p/d), and 3/2 − ln(2p/d) with the current on the surface. Rosa 1906, NBS Scientific Paper 169 p. 122.
/// Exact for d ≪ D; positive for close windings, where the sheet's value is too high.
pub fn rosa_ks(pitch_m: f64, bare_diameter_m: f64, current: Current) -> f64 {
    let inside = match current {
        Current::Uniform => 1.25,
        Current::Surface => 1.5,
    };
    inside - (2.0 * pitch_m / bare_diameter_m).ln()
}

/// Returns Rosa's correction of the mutual inductances between turns, for `turns` ≥ 1.
///
/// ln 2π − 3/2 − lnN/(6N) − 0.33084236/N − 1/(120N³) + 1/(504N⁵) − 0.0011923/N⁷ + 0.0005068/N⁹: the sum behind Rosa's
/// printed table, as an asymptotic series (the last two terms from memory). It meets the pair sum within 1.3·10⁻⁸ for
/// N from 2 to 1000; old printed tables are off by up to 0.002.
pub fn rosa_km(turns: f64) -> f64 {
    let n = turns;
    TAU.ln() - 1.5 - n.ln() / (6.0 * n) - 0.33084236 / n - 1.0 / (120.0 * n.powi(3))
        + 1.0 / (504.0 * n.powi(5))
        - 0.0011923 / n.powi(7)
        + 0.0005068 / n.powi(9)
}

/// Returns the inductance of a single layer of round wire, in henries: the current sheet less μ0·r·N·(ks + km).
///
/// Rosa 1906. Checked against the sum over 450 coaxial rings: 8·10⁻⁶ high. With callipers a coil's inductance has been
/// met within 0.1 % (Knight 2008).
pub fn single_layer_h(
    turns: f64,
    mean_diameter_m: f64,
    length_m: f64,
    bare_diameter_m: f64,
    current: Current,
) -> f64 {
    let (n, r, p) = (turns, mean_diameter_m / 2.0, length_m / turns);
    let correction = rosa_ks(p, bare_diameter_m, current) + rosa_km(n);
    current_sheet_h(n, mean_diameter_m, length_m) - MU0_H_PER_M * r * n * correction
}

/// Returns the mutual inductance of two coaxial circles, in henries.
///
/// Maxwell's Treatise, art. 701 (from memory); NIST DLMF §19.34 has the same in another form: M = μ0√(Aa)·[(2/k − k)K − (2/k)E],
/// k² = 4Aa/((A+a)² + z²). Exact for thin circles; rounding grows as 10⁻¹⁶/k² when they are far apart.
pub fn coaxial_circles_h(radius_m: f64, other_radius_m: f64, distance_m: f64) -> f64 {
    let (a, b, z2) = (radius_m, other_radius_m, distance_m * distance_m);
    let reach2 = (a + b) * (a + b) + z2;
    // The complement is formed from the distances, so that near circles keep their digits.
    let m1 = ((a - b) * (a - b) + z2) / reach2;
    let k = (4.0 * a * b / reach2).sqrt();
    let sum = complete(m1);
    MU0_H_PER_M * (a * b).sqrt() * (2.0 / k * sum.k_minus_e - k * sum.k)
}

/// Returns the inductance of one circle of round wire, in henries: μ0·R·[ln(16R/d) − 7/4], and −2 with the current on the
/// surface.
///
/// Rosa & Grover 1912 (NBS Bulletin 8); leaves out terms of the order (d/4R)²·ln, about 0.2 % at d = R/5.
pub fn circle_h(radius_m: f64, bare_diameter_m: f64, current: Current) -> f64 {
    let inside = match current {
        Current::Uniform => 1.75,
        Current::Surface => 2.0,
    };
    MU0_H_PER_M * radius_m * ((16.0 * radius_m / bare_diameter_m).ln() - inside)
}

/// Returns the inductance of a few turns as a stack of circles, in henries: the turns' own and all their mutual inductances.
///
/// For primaries, where a sheet of three turns would be 5 % high. It leaves out the leads and the helix's pitch.
pub fn stack_of_circles_h(
    turns: u32,
    radius_m: f64,
    pitch_m: f64,
    bare_diameter_m: f64,
    current: Current,
) -> f64 {
    let own = f64::from(turns) * circle_h(radius_m, bare_diameter_m, current);
    let mutual: f64 = (1..turns)
        .map(|apart| {
            let distance_m = f64::from(apart) * pitch_m;
            2.0 * f64::from(turns - apart) * coaxial_circles_h(radius_m, radius_m, distance_m)
        })
        .sum();
    own + mutual
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn close(got: f64, want: f64, relative: f64) {
        assert!(
            (got / want - 1.0).abs() <= relative,
            "{got} is not {want} within {relative}"
        );
    }

    #[test]
    fn rings_and_the_corrected_sheet_agree_for_many_turns() {
        // Two methods that share only the elliptic integrals. 1e-5: the sheet's terms of order (d/D)² are left out.
        for (turns, d, l, bare) in [
            (450_u32, 0.01622, 0.099, 0.0002),
            (200, 0.032, 0.064, 0.00025),
        ] {
            for current in [Current::Uniform, Current::Surface] {
                let n = f64::from(turns);
                let rings = stack_of_circles_h(turns, d / 2.0, l / n, bare, current);
                close(single_layer_h(n, d, l, bare, current), rings, 1e-5);
            }
        }
    }

    #[test]
    fn one_turn_needs_no_correction_for_its_neighbours() {
        assert!(rosa_km(1.0).abs() < 1e-6, "{}", rosa_km(1.0));
    }

    #[test]
    fn a_very_long_sheet_is_the_infinite_solenoid() {
        // K → 1 − 4/(3π)·D/l.
        close(nagaoka(1e-3), 1.0 - 4.0 / (3.0 * PI) * 1e-3, 1e-6);
    }

    #[test]
    fn far_circles_are_two_dipoles() {
        // M → μ0·π·A²a²/(2z³).
        let want = MU0_H_PER_M * PI * (0.01_f64 * 0.02).powi(2) / 2.0;
        close(coaxial_circles_h(0.01, 0.02, 1.0), want, 2e-3);
    }

    proptest! {
        #[test]
        fn more_turns_or_a_wider_coil_never_lower_the_inductance(
            turns in 20.0_f64..2000.0, d in 0.005_f64..0.2, ratio in 0.3_f64..20.0
        ) {
            let l = d * ratio;
            let bare = 0.8 * l / turns;
            let of = |n: f64, d: f64| single_layer_h(n, d, l, bare, Current::Surface);
            prop_assert!(of(turns * 1.01, d) > of(turns, d));
            prop_assert!(of(turns, d * 1.01) > of(turns, d));
        }

        #[test]
        fn all_lengths_times_s_give_s_times_the_inductance(turns in 20.0_f64..2000.0, s in 0.1_f64..10.0) {
            let of = |s: f64| single_layer_h(turns, 0.016 * s, 0.1 * s, 0.05 * s / turns, Current::Surface);
            prop_assert!((of(s) / of(1.0) / s - 1.0).abs() < 1e-12);
        }

        #[test]
        fn either_circle_may_be_named_first(a in 0.001_f64..0.1, b in 0.001_f64..0.1, z in 0.001_f64..0.1) {
            let (one, other) = (coaxial_circles_h(a, b, z), coaxial_circles_h(b, a, z));
            prop_assert!((one - other).abs() <= 1e-12 * one.abs());
        }
    }
}

//! The coupling of two coaxial rings to each other, and of a ring to itself.

use std::f64::consts::{PI, TAU};

use crate::coil::elliptic::complete;
use crate::coil::inductance::MU0_H_PER_M;

/// Permittivity of free space, F/m; CODATA 2018.
pub const EPSILON0_F_PER_M: f64 = 8.854_187_812_8e-12;

/// A ring on the common axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ring {
    /// Its radius, in metres.
    pub radius_m: f64,
    /// Its height above the winding's lower edge, in metres.
    pub height_m: f64,
}

impl Ring {
    /// Returns the ring as far below a plane as this one is above it.
    #[must_use]
    pub fn mirrored(self, plane_m: f64) -> Self {
        Self {
            height_m: 2.0 * plane_m - self.height_m,
            ..self
        }
    }
}

/// The coefficients that a pair of rings shares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// Potential of one over the charge of the other, in volts per coulomb.
    pub potential_v_per_c: f64,
    /// Mutual inductance, in henries.
    pub mutual_h: f64,
}

impl Pair {
    /// Computes the pair of two thin coaxial rings.
    ///
    /// Charge: K(m)/(2π²ε₀s), the potential of a uniform ring (textbook). Current: Maxwell's circles, as
    /// [`crate::coil::inductance::coaxial_circles_h`]. s² = (a+b)² + z², m = 4ab/s², both from one pair of integrals.
    /// The complement of m is formed from the distances, so rings that nearly touch keep their digits. Exact for thin
    /// rings.
    pub fn of(one: Ring, other: Ring) -> Self {
        let (a, b) = (one.radius_m, other.radius_m);
        let z2 = (one.height_m - other.height_m).powi(2);
        let reach2 = (a + b) * (a + b) + z2;
        let m1 = ((a - b) * (a - b) + z2) / reach2;
        let k = (4.0 * a * b / reach2).sqrt();
        let sum = complete(m1);
        Self {
            potential_v_per_c: sum.k / (TAU * PI * EPSILON0_F_PER_M * reach2.sqrt()),
            mutual_h: MU0_H_PER_M * (a * b).sqrt() * (2.0 / k * sum.k_minus_e - k * sum.k),
        }
    }
}

/// Returns the potential of a ring of wire over its own charge, in volts per coulomb: ln(8R/a)/(4π²ε₀R), a the wire's radius.
///
/// Textbook; leaves out terms of the order (a/R)²·ln. For one ring in place of a strip of width h, a = h/2π makes the
/// sum over equal strips exact but for the edges.
pub fn own_potential_v_per_c(radius_m: f64, wire_radius_m: f64) -> f64 {
    (8.0 * radius_m / wire_radius_m).ln() / (4.0 * PI * PI * EPSILON0_F_PER_M * radius_m)
}

/// Returns the inductance of a ring of wire with the current on its surface, in henries: μ₀R·[ln(8R/a) − 2], a the wire's radius.
///
/// Rosa & Grover 1912 (NBS Bulletin 8). For one ring in place of a strip of width h, a = h/2π as above.
pub fn own_inductance_h(radius_m: f64, wire_radius_m: f64) -> f64 {
    MU0_H_PER_M * radius_m * ((8.0 * radius_m / wire_radius_m).ln() - 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coil::inductance::coaxial_circles_h;

    fn ring(radius_m: f64, height_m: f64) -> Ring {
        Ring { radius_m, height_m }
    }

    #[test]
    fn a_pair_is_the_same_from_both_sides_and_agrees_with_the_circles() {
        let (one, other) = (ring(0.02, 0.01), ring(0.05, -0.03));
        let pair = Pair::of(one, other);
        assert_eq!(pair, Pair::of(other, one));
        let circles_h = coaxial_circles_h(0.02, 0.05, 0.04);
        assert!((pair.mutual_h / circles_h - 1.0).abs() < 1e-14);
    }

    #[test]
    fn far_rings_are_point_charges() {
        // 1/(4πε₀z).
        let pair = Pair::of(ring(0.01, 0.0), ring(0.02, 10.0));
        let want = 1.0 / (4.0 * PI * EPSILON0_F_PER_M * 10.0);
        assert!((pair.potential_v_per_c / want - 1.0).abs() < 1e-5);
    }

    #[test]
    fn a_small_ring_in_the_middle_of_a_large_one_is_at_its_centre_s_potential() {
        // Every charge is R away: 1/(4πε₀R).
        let pair = Pair::of(ring(1e-5, 0.0), ring(0.1, 0.0));
        let want = 1.0 / (4.0 * PI * EPSILON0_F_PER_M * 0.1);
        assert!((pair.potential_v_per_c / want - 1.0).abs() < 1e-8);
    }
}

//! Potential coefficients between rings, and the charge that a body of rings holds.

use nalgebra::{Cholesky, DMatrix, Dyn, LU};

use super::conductor::Charged;
use super::kernel::{Pair, own_potential_v_per_c};

/// Returns the potential of one ring over the charge of another, in volts per coulomb, with an earthed plane at a height or none.
///
/// The plane is replaced by the opposite charge behind it (Thomson's images), which is exact for an infinite plane.
pub(super) fn influence_v_per_c(one: Charged, other: Charged, plane_m: Option<f64>) -> f64 {
    let direct = Pair::of(one.ring, other.ring).potential_v_per_c;
    direct - image_v_per_c(one, other, plane_m)
}

fn image_v_per_c(one: Charged, other: Charged, plane_m: Option<f64>) -> f64 {
    plane_m.map_or(0.0, |plane_m| {
        Pair::of(one.ring, other.ring.mirrored(plane_m)).potential_v_per_c
    })
}

/// Returns the symmetric matrix of potential coefficients of a set of rings.
pub(super) fn potentials(rings: &[Charged], plane_m: Option<f64>) -> DMatrix<f64> {
    let mut matrix = DMatrix::zeros(rings.len(), rings.len());
    for (column, one) in rings.iter().enumerate() {
        let own = own_potential_v_per_c(one.ring.radius_m, one.wire_radius_m);
        matrix[(column, column)] = own - image_v_per_c(*one, *one, plane_m);
        for (below, other) in rings.iter().skip(column + 1).enumerate() {
            let row = column + 1 + below;
            let value = influence_v_per_c(*one, *other, plane_m);
            matrix[(row, column)] = value;
            matrix[(column, row)] = value;
        }
    }
    matrix
}

/// A matrix of potential coefficients, ready to be solved.
#[derive(Debug)]
pub(super) enum Factored {
    /// Positive, as that of rings well apart is.
    Positive(Cholesky<f64, Dyn>),
    /// Of rings nearer to each other than they are wide, by Gauss.
    Any(LU<f64, Dyn, Dyn>),
}

/// Least share of the largest pivot that the smallest may be: chosen, the rest of 16 digits is worth nothing below.
const LEAST_PIVOT: f64 = 1e-13;

impl Factored {
    /// `None` if two rings are the same, so that the charges on them are anything.
    pub(super) fn new(matrix: DMatrix<f64>) -> Option<Self> {
        if let Some(cholesky) = Cholesky::new(matrix.clone()) {
            return Some(Self::Positive(cholesky));
        }
        let lu = LU::new(matrix);
        let pivots = lu.u().diagonal().abs();
        (pivots.min() > LEAST_PIVOT * pivots.max()).then_some(Self::Any(lu))
    }

    /// Returns the charges for potentials, column by column.
    pub(super) fn solve(&self, potentials_v: &DMatrix<f64>) -> DMatrix<f64> {
        match self {
            Self::Positive(cholesky) => cholesky.solve(potentials_v),
            // Checked for its pivots, so there is an answer.
            Self::Any(lu) => lu.solve(potentials_v).unwrap_or_else(|| {
                DMatrix::from_element(potentials_v.nrows(), potentials_v.ncols(), f64::NAN)
            }),
        }
    }
}

/// Returns the capacitance of a body, all its rings at one potential and everything else far away, in farads.
///
/// `None` if two rings are the same. Bodies may touch.
pub fn isolated_f(rings: &[Charged]) -> Option<f64> {
    Some(isolated_shares_f(rings)?.iter().sum())
}

/// Returns the charge of each ring of such a body over its potential, in farads.
///
/// `None` as for [`isolated_f`].
pub fn isolated_shares_f(rings: &[Charged]) -> Option<Vec<f64>> {
    let factored = Factored::new(potentials(rings, None))?;
    let shares = factored.solve(&DMatrix::from_element(rings.len(), 1, 1.0));
    Some(shares.iter().copied().collect())
}

#[cfg(test)]
mod tests {
    use super::super::conductor::{disc, sphere};
    use super::super::kernel::EPSILON0_F_PER_M;
    use super::*;
    use std::f64::consts::PI;

    #[test]
    fn a_disc_and_a_sphere_hold_what_the_textbooks_say() {
        // Disc 8ε₀R, sphere 4πε₀R: exact.
        let disc_f = isolated_f(&disc(0.05, 0.0, 12)).unwrap();
        assert!((disc_f / (8.0 * EPSILON0_F_PER_M * 0.05) - 1.0).abs() < 2.5e-3);
        let sphere_f = isolated_f(&sphere(0.05, 0.1, 16)).unwrap();
        assert!((sphere_f / (4.0 * PI * EPSILON0_F_PER_M * 0.05) - 1.0).abs() < 3e-5);
    }

    #[test]
    fn touching_spheres_hold_what_the_exact_series_says() {
        // 2·ln 2 times a lone sphere's 4πε₀R, the series of images for two equal spheres that touch (Maxwell, Treatise, § 175).
        let spheres = [sphere(1.0, 0.0, 200), sphere(1.0, 2.0, 200)].concat();
        let found_f = isolated_f(&spheres).unwrap();
        let want_f = 8.0 * PI * EPSILON0_F_PER_M * 2.0_f64.ln();
        assert!(
            (found_f / want_f - 1.0).abs() < 4e-8,
            "{}",
            found_f / want_f - 1.0
        );
    }

    #[test]
    fn a_ring_twice_in_the_same_place_is_no_body() {
        let rings = [disc(0.05, 0.0, 4), disc(0.05, 0.0, 4)].concat();
        assert_eq!(isolated_f(&rings), None);
    }

    #[test]
    fn a_ring_on_the_plane_holds_no_potential() {
        let ring = disc(0.05, 0.0, 1)[0];
        let far = disc(0.02, 0.03, 1)[0];
        assert!(influence_v_per_c(ring, far, Some(0.0)).abs() < 1e-3);
    }
}

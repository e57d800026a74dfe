//! A board under the winding, alone or over a plane: the parts that its faces and the plane behind it add to the potentials.
//!
//! Above layered media a charge's potential is its own and that of a reflection, ∫ Γ(k)·J₀(ka)·J₀(kb)·e^(−k(z+z')) dk over 4πε₀
//! (textbook, from memory: the spectral form of a point charge). With β = (ε−1)/(ε+1), p = e^(−2kt) and q = e^(−2kg) for a board
//! of thickness t over a gap g to an earthed plane, three media in line give Γ = (−β + rp)/(1 − βrp), r = (β − q)/(1 − βq).
//! Without the plane q = 0, and Γ is a series of images; the plane adds −pq·(1 − β²)²/[(1 − β²p)·((1 − βq) − βp(β − q))], summed
//! here by quadrature since its own images are thousands.

use std::f64::consts::PI;

use nalgebra::DMatrix;

use super::kernel::{EPSILON0_F_PER_M, Pair, Ring};
use super::scene::Board;

/// Gauss and Legendre's rule of eight points on −1 to 1: the positive abscissas with their weights (Abramowitz & Stegun,
/// table 25.4; digits by numpy's `leggauss`).
const GAUSS: [(f64, f64); 4] = [
    (0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887_3),
    (0.796_666_477_413_626_7, 0.222_381_034_453_374_5),
    (0.960_289_856_497_536_3, 0.101_228_536_290_376_3),
];

/// Where the integral ends, times the distance to the plane: beyond lies e^(−24) of it.
const REACH: f64 = 12.0;

/// A board at height 0 below the rings of a winding.
#[derive(Debug)]
pub(super) struct Layers {
    board: Board,
    /// The part that an earthed plane behind the board adds to each pair, in volts per coulomb.
    plane_v_per_c: Option<DMatrix<f64>>,
}

impl Layers {
    /// Creates a board with an earthed plane at a height below it, or none, as the rings of a winding see it.
    pub(super) fn new(board: Board, plane_m: Option<f64>, rings: &[Ring]) -> Self {
        Self {
            board,
            plane_v_per_c: plane_m.map(|plane_m| behind(board, -plane_m, rings)),
        }
    }

    /// Returns the part that board and plane add to the potential of a ring over the charge of another, in volts per coulomb.
    ///
    /// `places` are the rings' places in the row; `nearest_v_per_c` stands for the image of a ring that lies on the board,
    /// which is the ring itself.
    pub(super) fn reflected_v_per_c(
        &self,
        places: (usize, usize),
        one: Ring,
        other: Ring,
        nearest_v_per_c: f64,
    ) -> f64 {
        let beta = self.board.beta();
        let image_v_per_c = |depth_m: f64| {
            let image = other.mirrored(-depth_m / 2.0);
            Pair::of(one, image).potential_v_per_c
        };
        let at_face = if places.0 == places.1 && one.height_m <= 0.0 {
            nearest_v_per_c
        } else {
            image_v_per_c(0.0).min(nearest_v_per_c)
        };
        let mut sum = -beta * at_face;
        // The series is cut where a term weighs less than 1e-6.
        let (mut weight, mut depth_m) = (beta * (1.0 - beta * beta), 2.0 * self.board.thickness_m);
        while weight > 1e-6 {
            sum += weight * image_v_per_c(depth_m);
            weight *= beta * beta;
            depth_m += 2.0 * self.board.thickness_m;
        }
        sum + self
            .plane_v_per_c
            .as_ref()
            .map_or(0.0, |plane| plane[places])
    }
}

impl Board {
    /// Returns (ε−1)/(ε+1): how much of a charge its face mirrors.
    fn beta(self) -> f64 {
        (self.permittivity - 1.0) / (self.permittivity + 1.0)
    }

    /// Returns the part that a plane at a distance below the board's upper face adds to its reflection at a wave number.
    fn behind(self, distance_m: f64, per_m: f64) -> f64 {
        let beta = self.beta();
        let gap_m = (distance_m - self.thickness_m).max(0.0);
        let (p, q) = (
            (-2.0 * per_m * self.thickness_m).exp(),
            (-2.0 * per_m * gap_m).exp(),
        );
        let kept = 1.0 - beta * beta;
        let both = (1.0 - beta * q) - beta * p * (beta - q);
        -p * q * kept * kept / ((1.0 - beta * beta * p) * both)
    }
}

/// Returns the part that the plane adds to each pair of rings, in volts per coulomb.
fn behind(board: Board, distance_m: f64, rings: &[Ring]) -> DMatrix<f64> {
    let widest_m = rings.iter().map(|ring| ring.radius_m).fold(0.0, f64::max);
    // A panel holds half a wave of both Bessel functions, and a part of the fall.
    let panel_per_m = (PI / 2.0 / widest_m).min(3.0 / distance_m);
    let panels = (REACH / distance_m / panel_per_m).ceil();
    let half_per_m = REACH / distance_m / panels / 2.0;
    let nodes: Vec<(f64, f64)> = std::iter::successors(Some(1.0), |index| Some(index + 2.0))
        .take_while(|index| *index < 2.0 * panels)
        .flat_map(|middle| {
            let node = move |(at, weight): (f64, f64)| ((middle + at) * half_per_m, weight);
            GAUSS
                .into_iter()
                .flat_map(move |(at, weight)| [node((at, weight)), node((-at, weight))])
        })
        .collect();
    let roots = DMatrix::from_fn(nodes.len(), rings.len(), |node, ring| {
        let ((per_m, weight), ring) = (nodes[node], rings[ring]);
        let share = -board.behind(distance_m, per_m) * weight * half_per_m;
        share.sqrt() * bessel_j0(per_m * ring.radius_m) * (-per_m * ring.height_m).exp()
    });
    roots.tr_mul(&roots) / (-4.0 * PI * EPSILON0_F_PER_M)
}

/// Returns Bessel's function J₀ for x ≥ 0, within 10⁻¹².
///
/// Below 25 the mean of cos(x·sin θ) over 32 even steps, which is exact but for J₆₄; above, Hankel's series to the tenth
/// power of 1/x (Abramowitz & Stegun 9.1.18 and 9.2.5).
fn bessel_j0(x: f64) -> f64 {
    if x < 25.0 {
        let step = PI / 32.0;
        let inner: f64 = (1..16)
            .map(|index| (x * (f64::from(index) * step).sin()).cos())
            .sum();
        return (1.0 + x.cos() + 2.0 * inner) / 32.0;
    }
    let (mut even, mut odd, mut term) = (1.0, 0.0, 1.0);
    for order in 1..=10 {
        let order = f64::from(order);
        term *= (2.0 * order - 1.0).powi(2) / (8.0 * order * x);
        match order % 4.0 {
            1.0 => odd -= term,
            2.0 => even -= term,
            3.0 => odd += term,
            _ => even += term,
        }
    }
    let phase = x - PI / 4.0;
    (2.0 / (PI * x)).sqrt() * (even * phase.cos() - odd * phase.sin())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rings(height_m: f64) -> [Ring; 4] {
        [0.050, 0.038, 0.026, 0.016].map(|radius_m| Ring { radius_m, height_m })
    }

    #[test]
    fn the_bessel_function_is_that_of_the_tables_on_both_sides_of_its_joint() {
        // Abramowitz & Stegun, table 9.1 (digits by scipy's `j0`), and the tenth zero.
        for (x, want) in [
            (0.0, 1.0),
            (1.0, 0.765_197_686_557_966_6),
            (10.0, -0.245_935_764_451_348_4),
            (24.9, 0.083_245_968_353_015_36),
            (25.1, 0.108_275_671_499_949_38),
            (30.634_606_468_431_975, 0.0),
            (100.0, 0.019_985_850_304_223_12),
            (700.5, -0.019_651_788_520_541_467),
        ] {
            let got = bessel_j0(x);
            assert!((got - want).abs() < 1e-12, "{x}: {got} is not {want}");
        }
    }

    #[test]
    fn a_board_of_air_over_a_plane_is_the_plane_alone() {
        // The plane's image in closed form (Thomson), for rings on the board and above it.
        for (thickness_m, height_m) in [(1e-4, 0.0), (2e-3, 0.0), (5e-3, 0.0), (2e-3, 0.004)] {
            let air = Board {
                thickness_m,
                permittivity: 1.0,
            };
            let rings = rings(height_m);
            let added = behind(air, 5e-3, &rings);
            for (row, one) in rings.iter().enumerate() {
                for (column, other) in rings.iter().enumerate() {
                    let image = Pair::of(*one, other.mirrored(-5e-3)).potential_v_per_c;
                    let off = added[(row, column)] / -image - 1.0;
                    assert!(off.abs() < 1e-7, "{thickness_m} {row} {column}: {off}");
                }
            }
        }
    }

    #[test]
    fn a_board_that_lies_on_the_plane_is_the_series_of_its_images() {
        // Textbook: a grounded slab's reflection (-beta - p)/(1 + beta*p), so images of -beta at its face and then, twice the
        // thickness deeper each, of -(1 - beta^2)*(-beta)^(n-1).
        let board = Board {
            thickness_m: 0.003,
            permittivity: 3.0,
        };
        let beta: f64 = 0.5;
        for height_m in [0.0, 0.002] {
            let rings = rings(height_m);
            let layers = Layers::new(board, Some(-0.003), &rings);
            for (row, one) in rings.iter().enumerate() {
                for (column, other) in rings.iter().enumerate() {
                    let at = |depth_m: f64| {
                        Pair::of(*one, other.mirrored(-depth_m / 2.0)).potential_v_per_c
                    };
                    let face = if row == column && height_m <= 0.0 {
                        1e12
                    } else {
                        at(0.0)
                    };
                    let series: f64 = (1..60)
                        .map(|n| {
                            let weight = (1.0 - beta * beta) * (-beta).powi(n - 1);
                            -weight * at(0.006 * f64::from(n))
                        })
                        .sum();
                    let want = -beta * face + series;
                    let got = layers.reflected_v_per_c((row, column), *one, *other, face);
                    assert!((got / want - 1.0).abs() < 2e-6, "{row} {column}");
                }
            }
        }
    }
}

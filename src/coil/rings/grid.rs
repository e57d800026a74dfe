//! The winding cut into rings: charges at the middles of its elements, currents at their edges.

use std::f64::consts::{PI, TAU};

use nalgebra::{Cholesky, DMatrix, DVector};

use super::conductor::Charged;
use super::kernel::{Pair, Ring, own_inductance_h, own_potential_v_per_c};
use super::layers::Layers;
use super::meridian::Meridian;
use super::pairs::{Pairs, symmetric};
use super::scene::{RingError, Scene};
use crate::coil::inductance::Current;

/// A winding in elements of equal width.
#[derive(Debug)]
pub(super) struct Grid<'s> {
    scene: &'s Scene,
    count: usize,
    step_m: f64,
    /// Elements' middles.
    middles: Vec<Ring>,
    /// Elements' edges, foot and top included.
    edges: Vec<Ring>,
    /// Turns that an edge's current runs through: those of its two half elements.
    turns: DVector<f64>,
}

/// Self and mutual inductances of the currents at the edges.
#[derive(Debug)]
pub(super) struct Inductances {
    /// The matrix, in henries, foot and top included.
    pub(super) matrix_h: DMatrix<f64>,
    /// The same current in every turn, in henries.
    pub(super) uniform_h: f64,
}

impl<'s> Grid<'s> {
    pub(super) fn new(scene: &'s Scene, count: usize) -> Self {
        let meridian = &scene.meridian;
        let elements = count as f64;
        let whole = meridian.turns / elements;
        let mut turns = DVector::from_element(count + 1, whole);
        turns[0] = whole / 2.0;
        turns[count] = whole / 2.0;
        let at = |share: f64| meridian.at(share / elements);
        Self {
            scene,
            count,
            step_m: meridian.slope_m() / elements,
            middles: (0..count).map(|index| at(index as f64 + 0.5)).collect(),
            edges: (0..=count).map(|index| at(index as f64)).collect(),
            turns,
        }
    }

    /// Returns the elements as rings of charge, each a strip as wide as the element.
    pub(super) fn strips(&self) -> impl Iterator<Item = Charged> + '_ {
        let wire_radius_m = self.step_m / TAU;
        self.middles.iter().map(move |ring| Charged {
            ring: *ring,
            wire_radius_m,
        })
    }

    /// Returns the elements' edges with the turns that a current there runs through, foot and top included.
    pub(super) fn carrying(&self) -> impl Iterator<Item = (Ring, f64)> + '_ {
        self.edges.iter().copied().zip(self.turns.iter().copied())
    }

    /// Returns the part that round wire adds to a strip's own potential, times the radius: ln(p/πd) on the turns' share of an
    /// element.
    ///
    /// With one element a turn this leaves exactly a ring of the wire's own radius. Negative for close windings.
    fn wire_term(&self, meridian: &Meridian) -> f64 {
        let pitch_m = meridian.slope_m() / meridian.turns;
        (pitch_m / (PI * meridian.bare_m)).ln() * self.count as f64 / meridian.turns
    }

    /// Returns the elements' potential coefficients over the plane, in volts per coulomb.
    pub(super) fn potentials(&self) -> DMatrix<f64> {
        let wire_term = self.wire_term(&self.scene.meridian);
        let is_cylinder = self.scene.meridian.is_cylinder();
        let direct = Pairs::direct(&self.middles, is_cylinder);
        let layers = self
            .scene
            .board
            .map(|board| Layers::new(board, self.scene.plane_m(), &self.middles));
        // Behind a board the plane is one of its layers.
        let image = match (&layers, self.scene.plane_m()) {
            (None, Some(plane_m)) => Some(Pairs::image(&self.middles, plane_m, is_cylinder)),
            _ => None,
        };
        symmetric(self.count, |row, column| {
            let direct = if row == column {
                let radius_m = self.middles[row].radius_m;
                // A radius smaller by e^-term adds term/(4 pi^2 epsilon0 R).
                own_potential_v_per_c(radius_m, self.step_m / TAU * (-wire_term).exp())
            } else {
                direct.at(row, column).potential_v_per_c
            };
            let reflected = layers.as_ref().map_or(0.0, |layers| {
                let (one, other) = (self.middles[row], self.middles[column]);
                layers.reflected_v_per_c((row, column), one, other, direct)
            });
            direct + reflected
                - image
                    .as_ref()
                    .map_or(0.0, |image| image.at(row, column).potential_v_per_c)
        })
    }

    /// Returns the edges' inductances, scaled so that the same current in every turn has the inductance of the round wire. The
    /// parts that planes of metal and eddy currents take are subtracted.
    ///
    /// # Errors
    /// [`RingError::Crowded`] if the rings of the eddy currents lie in each other.
    pub(super) fn inductances(&self) -> Result<Inductances, RingError> {
        let size = self.count + 1;
        let is_cylinder = self.scene.meridian.is_cylinder();
        let direct = Pairs::direct(&self.edges, is_cylinder);
        let own_h = |index: usize| {
            let is_end = index == 0 || index == self.count;
            let width_m = if is_end {
                self.step_m / 2.0
            } else {
                self.step_m
            };
            own_inductance_h(self.edges[index].radius_m, width_m / TAU)
        };
        let weight = |row: usize, column: usize| self.turns[row] * self.turns[column];
        let sheet_h = symmetric(size, |row, column| {
            let ring_h = if row == column {
                own_h(row)
            } else {
                direct.at(row, column).mutual_h
            };
            ring_h * weight(row, column)
        });
        let free_h = self.scene.meridian.inductance_h(Current::Surface);
        let mut matrix_h = &sheet_h * (free_h / sheet_h.sum());
        let mut uniform_h = free_h;
        if let Some(metal_m) = self.scene.metal_m() {
            let image = Pairs::image(&self.edges, metal_m, is_cylinder);
            let image_h = symmetric(size, |row, column| {
                image.at(row, column).mutual_h * weight(row, column)
            });
            uniform_h -= image_h.sum();
            matrix_h -= image_h;
        }
        if !self.scene.eddies.is_empty() {
            let eddies_h = self.eddies_h()?;
            uniform_h -= eddies_h.sum();
            matrix_h -= eddies_h;
        }
        Ok(Inductances {
            matrix_h,
            uniform_h,
        })
    }

    /// Returns the part that eddy currents in closed rings of good metal take from the inductances. No flux goes through such a
    /// ring, so its current is -N^-1*C*i, with N the rings' own inductances and C those with the edges. The loss is C^T*N^-1*C.
    fn eddies_h(&self) -> Result<DMatrix<f64>, RingError> {
        let (eddies, metal_m) = (&self.scene.eddies, self.scene.metal_m());
        let image_h = |one: Ring, other: Ring| {
            metal_m.map_or(0.0, |metal_m| {
                Pair::of(one, other.mirrored(metal_m)).mutual_h
            })
        };
        let own_h = symmetric(eddies.len(), |row, column| {
            let (one, other) = (eddies[row], eddies[column]);
            let direct_h = if row == column {
                own_inductance_h(one.ring.radius_m, one.wire_radius_m)
            } else {
                Pair::of(one.ring, other.ring).mutual_h
            };
            direct_h - image_h(one.ring, other.ring)
        });
        let with_edges_h = DMatrix::from_fn(eddies.len(), self.edges.len(), |row, column| {
            let (one, edge) = (eddies[row].ring, self.edges[column]);
            (Pair::of(one, edge).mutual_h - image_h(one, edge)) * self.turns[column]
        });
        let driven = Cholesky::new(own_h)
            .ok_or(RingError::Crowded)?
            .solve(&with_edges_h);
        Ok(with_edges_h.tr_mul(&driven))
    }

    /// Returns the mutual inductance of each edge's current with the primary, in henries.
    pub(super) fn primary_mutuals_h(&self) -> DVector<f64> {
        let metal_m = self.scene.metal_m();
        let to_primary_h = |edge: &Ring| -> f64 {
            let circles = self.scene.primary.iter();
            circles
                .map(|circle| {
                    let image_h = metal_m.map_or(0.0, |metal_m| {
                        Pair::of(*edge, circle.mirrored(metal_m)).mutual_h
                    });
                    Pair::of(*edge, *circle).mutual_h - image_h
                })
                .sum()
        };
        let rings_h: Vec<f64> = self.edges.iter().map(to_primary_h).collect();
        DVector::from_vec(rings_h).component_mul(&self.turns)
    }
}

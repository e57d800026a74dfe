//! The charges on straight thin wires in the coil's field: a stub, and the lead whose screen begins behind it.
//!
//! Each wire is cut into pieces with an even charge on the axis; the potential is held at the middle of each piece's surface
//! (the method of moments with point matching, textbook). Checked against the closed forms for a lone wire and a short dipole.

use std::f64::consts::PI;

use nalgebra::{DMatrix, DVector, Dyn, LU};

use super::PickUpError;
use crate::coil::rings::kernel::EPSILON0_F_PER_M;

/// Length of the pieces at a wire's end, in metres, and how much longer each next one is. Chosen: halving both moves the results
/// by less than 2 %.
const FIRST_PIECE_M: f64 = 5e-3;
const GROWTH: f64 = 1.2;

/// A straight piece of wire.
#[derive(Debug, Clone, Copy)]
pub(super) struct Piece {
    middle_m: [f64; 3],
    /// Its direction, of length 1.
    along: [f64; 3],
    length_m: f64,
    radius_m: f64,
}

fn minus(one: [f64; 3], other: [f64; 3]) -> [f64; 3] {
    [one[0] - other[0], one[1] - other[1], one[2] - other[2]]
}

fn dot(one: [f64; 3], other: [f64; 3]) -> f64 {
    one[0] * other[0] + one[1] * other[1] + one[2] * other[2]
}

impl Piece {
    fn between(from_m: [f64; 3], to_m: [f64; 3], radius_m: f64) -> Self {
        let way_m = minus(to_m, from_m);
        let length_m = dot(way_m, way_m).sqrt();
        Self {
            middle_m: [0, 1, 2].map(|axis: usize| f64::midpoint(from_m[axis], to_m[axis])),
            along: way_m.map(|part| part / length_m),
            length_m,
            radius_m,
        }
    }

    /// Returns the potential of its charge at a place on the surface of another, in volts per coulomb.
    ///
    /// [asinh((L/2+u)/ρ) + asinh((L/2−u)/ρ)]/(4πε₀L), u along it from its middle and ρ across it (textbook).
    fn potential_v_per_c(&self, at_m: [f64; 3], at_radius_m: f64) -> f64 {
        let away_m = minus(at_m, self.middle_m);
        let u = dot(away_m, self.along);
        let across2 = dot(away_m, away_m) - u * u;
        let rho = across2.max(self.radius_m.max(at_radius_m).powi(2)).sqrt();
        let half = self.length_m / 2.0;
        let sum = ((half + u) / rho).asinh() + ((half - u) / rho).asinh();
        sum / (4.0 * PI * EPSILON0_F_PER_M * self.length_m)
    }
}

/// Returns a wire in equal pieces.
pub(super) fn even(from_m: [f64; 3], to_m: [f64; 3], radius_m: f64, count: u32) -> Vec<Piece> {
    let at = |index: u32| {
        let share = f64::from(index) / f64::from(count);
        [0, 1, 2].map(|axis: usize| from_m[axis] + (to_m[axis] - from_m[axis]) * share)
    };
    (0..count)
        .map(|index| Piece::between(at(index), at(index + 1), radius_m))
        .collect()
}

/// Returns a wire in pieces that grow from its beginning on.
pub(super) fn growing(from_m: [f64; 3], to_m: [f64; 3], radius_m: f64) -> Vec<Piece> {
    let way_m = minus(to_m, from_m);
    let length_m = dot(way_m, way_m).sqrt();
    let mut edges_m = vec![0.0];
    let (mut edge_m, mut piece_m) = (0.0, FIRST_PIECE_M);
    while edge_m + 1.5 * piece_m < length_m {
        edge_m += piece_m;
        edges_m.push(edge_m);
        piece_m *= GROWTH;
    }
    edges_m.push(length_m);
    let at =
        |edge_m: f64| [0, 1, 2].map(|axis: usize| from_m[axis] + way_m[axis] * edge_m / length_m);
    let pairs = edges_m.iter().zip(edges_m.iter().skip(1));
    pairs
        .map(|(from, to)| Piece::between(at(*from), at(*to), radius_m))
        .collect()
}

/// Wires whose charges can be solved for.
#[derive(Debug)]
pub(super) struct Wires {
    pieces: Vec<Piece>,
    factored: LU<f64, Dyn, Dyn>,
}

/// A stub and the lead behind it as two terminals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Terminals {
    /// Open-circuit voltage of the stub against the lead, for the potentials it was solved with.
    pub(super) open_v: f64,
    /// The capacitance between the two, in farads.
    pub(super) source_f: f64,
}

impl Wires {
    /// Creates wires above an earthed plane at a height, or none.
    pub(super) fn new(pieces: Vec<Piece>, plane_m: Option<f64>) -> Self {
        let matrix = DMatrix::from_fn(pieces.len(), pieces.len(), |row, column| {
            let (at, of) = (&pieces[row], &pieces[column]);
            let image = plane_m.map_or(0.0, |plane_m| {
                let [x, y, height] = at.middle_m;
                of.potential_v_per_c([x, y, 2.0 * plane_m - height], at.radius_m)
            });
            of.potential_v_per_c(at.middle_m, at.radius_m) - image
        });
        Self {
            pieces,
            factored: LU::new(matrix),
        }
    }

    fn charges(&self, potentials_v: &DVector<f64>) -> Result<DVector<f64>, PickUpError> {
        let found = self.factored.solve(potentials_v);
        found
            .filter(|charges| charges.iter().all(|charge| charge.is_finite()))
            .ok_or(PickUpError::Crowded)
    }

    /// Returns the potentials at the pieces' middles, for a function of the place.
    pub(super) fn potentials_v(&self, of: impl Fn([f64; 3]) -> f64) -> DVector<f64> {
        let middles = self.pieces.iter().map(|piece| of(piece.middle_m));
        DVector::from_iterator(self.pieces.len(), middles)
    }

    /// Returns Σqφ of the charges that a field draws onto the wires from earth: −qφ summed, in joules for volts.
    pub(super) fn drawn_j(&self, outer_v: &DVector<f64>) -> Result<f64, PickUpError> {
        Ok(-self.charges(&-outer_v)?.dot(outer_v))
    }

    /// Returns the first `stub` pieces against the others in a field: the lead at earth, then the lead floating.
    ///
    /// With C the capacitances of the two wires and Q the charge that the field draws onto each of them while both are at earth:
    /// a floating wire takes the potential at which its charge is none.
    pub(super) fn terminals(
        &self,
        stub: usize,
        outer_v: &DVector<f64>,
    ) -> Result<(Terminals, Terminals), PickUpError> {
        let size = self.pieces.len();
        let on = |is_in: &dyn Fn(usize) -> bool| {
            DVector::from_fn(size, |index, _| f64::from(u8::from(is_in(index))))
        };
        let stub_alone = on(&|index| index < stub);
        let lead_alone = on(&|index| index >= stub);
        let drawn = self.charges(&-outer_v)?;
        let by_stub = self.charges(&stub_alone)?;
        let by_lead = self.charges(&lead_alone)?;
        let (drawn_stub, drawn_lead) = (drawn.dot(&stub_alone), drawn.dot(&lead_alone));
        let (stub_f, lead_f) = (by_stub.dot(&stub_alone), by_lead.dot(&lead_alone));
        // Both ways give the same but for the error of the coarse pieces.
        let between_f = f64::midpoint(by_stub.dot(&lead_alone), by_lead.dot(&stub_alone));
        let earthed = Terminals {
            open_v: -drawn_stub / stub_f,
            source_f: stub_f,
        };
        let whole = stub_f * lead_f - between_f.powi(2);
        let stub_v = (between_f * drawn_lead - lead_f * drawn_stub) / whole;
        let lead_v = (between_f * drawn_stub - stub_f * drawn_lead) / whole;
        let floating = Terminals {
            open_v: stub_v - lead_v,
            source_f: whole / (stub_f + 2.0 * between_f + lead_f),
        };
        Ok((earthed, floating))
    }
}

//! The objects on the bench: the winding, the joints of its ends, and the metal near it.

use nalgebra::DMatrix;

use super::charge::Factored;
use super::conductor::{Charged, Conductor, Joint, Rod, Thing};
use super::kernel::Ring;
use super::meridian::Meridian;

/// The joint of an end of the winding.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// Nothing: no current leaves it.
    Open,
    /// Earth.
    Earthed,
    /// The conductors that belong to it.
    Joined,
}

/// A plane below the foot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Plane {
    /// Nothing within a few coil lengths.
    None,
    /// A table or floor: the electric field ends on it, the magnetic field passes.
    Table {
        /// From the winding's lower edge, in metres.
        distance_m: f64,
    },
    /// A metal sheet: neither field passes.
    Metal {
        /// From the winding's lower edge, in metres.
        distance_m: f64,
    },
}

impl Plane {
    /// Returns how far below the winding's lower edge it lies, in metres; `None` without one.
    pub const fn distance_m(self) -> Option<f64> {
        match self {
            Self::None => None,
            Self::Table { distance_m } | Self::Metal { distance_m } => Some(distance_m),
        }
    }
}

/// A wide sheet of insulation that a winding lies or stands on, its upper face at height 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Board {
    /// Its thickness, in metres.
    pub thickness_m: f64,
    /// Its relative permittivity.
    pub permittivity: f64,
}

/// A winding in its surroundings.
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    /// The winding.
    pub meridian: Meridian,
    /// The plane below it.
    pub plane: Plane,
    /// A board below the winding, above the plane. Conductors do not see it: with any of them take a ratio.
    pub board: Option<Board>,
    /// The joint of its foot.
    pub foot: End,
    /// The joint of its top.
    pub top: End,
    /// Capacitance from the very top to earth, in farads.
    pub top_f: f64,
    /// The metal near it. Conductors of an end that is not [`End::Joined`] are at earth.
    pub conductors: Vec<Conductor>,
    /// Closed rings of good metal in which the winding drives eddy currents: a conductor's again, or none. The primary's
    /// coupling does not see them.
    pub eddies: Vec<Charged>,
    /// The circles of the primary, for the coupling.
    pub primary: Vec<Ring>,
}

/// Why a scene has no solution.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RingError {
    /// Too few turns for rings in place of a helix.
    #[error(
        "ring model of the winding: found {} turns: expected at least {MIN_TURNS}",
        (.found * 1e3).round() / 1e3
    )]
    TooFewTurns {
        /// Turns.
        found: f64,
    },
    /// Turns that lie in each other.
    #[error(
        "ring model of the winding: found a pitch of {pitch_over_wire:.3} bare wires: expected at least 1"
    )]
    PitchBelowWire {
        /// Pitch over bare wire.
        pitch_over_wire: f64,
    },
    /// The innermost turn would cross the axis.
    #[error(
        "ring model of the winding: found a turn of {found_m:.4} m radius: expected more than the pitch"
    )]
    NoHole {
        /// The smallest radius, in metres.
        found_m: f64,
    },
    /// A conductor is in the winding.
    #[error("ring model of {thing}: found it in the winding: expected it clear of the wire")]
    InWinding {
        /// The conductor.
        thing: Thing,
    },
    /// A conductor is in or below the plane.
    #[error("ring model of {thing}: found it in the plane below: expected it above that")]
    InPlane {
        /// The conductor.
        thing: Thing,
    },
    /// Two parts lie in each other, or touch without being joined.
    #[error("ring model of {one} and {other}: found them in each other, expected them apart")]
    Overlap {
        /// One of them.
        one: Thing,
        /// The other.
        other: Thing,
    },
    /// The charges have no stable answer, and no two parts can be blamed for it.
    #[error(
        "ring model of the surroundings: found no stable charges, expected more room between the parts"
    )]
    Crowded,
    /// The search for the lowest mode did not settle.
    #[error(
        "ring model of the resonance: found no settled mode in {rounds} rounds: expected a change below 1e-11"
    )]
    NotSettled {
        /// Rounds made.
        rounds: u32,
    },
}

/// Fewest turns of a build that rings stand for. Chosen: full-wave runs confirm 12 within 1 %, nothing was compared below.
pub const MIN_TURNS: f64 = 5.0;

/// Fewest turns that a scene may have: a build of [`MIN_TURNS`] is varied downwards to see the effect.
const FEWEST_VARIED: f64 = 3.0;

impl Scene {
    /// Creates the scene of a winding with its foot earthed, its top open, and nothing near.
    pub fn bare(meridian: Meridian) -> Self {
        Self {
            meridian,
            plane: Plane::None,
            board: None,
            foot: End::Earthed,
            top: End::Open,
            top_f: 0.0,
            conductors: Vec::new(),
            eddies: Vec::new(),
            primary: Vec::new(),
        }
    }

    /// Returns the height of the plane, in metres below zero; `None` without one.
    pub fn plane_m(&self) -> Option<f64> {
        self.plane.distance_m().map(|distance_m| -distance_m)
    }

    /// Returns the plane again, if the magnetic field ends on it too.
    pub fn metal_m(&self) -> Option<f64> {
        match self.plane {
            Plane::Metal { distance_m } => Some(-distance_m),
            Plane::None | Plane::Table { .. } => None,
        }
    }

    /// Returns the end's index among the live nodes beside the coil; `None` for a conductor at earth.
    pub(super) fn node_of(&self, joint: Joint) -> Option<usize> {
        let foot = usize::from(self.foot == End::Joined);
        match joint {
            Joint::Foot if self.foot == End::Joined => Some(0),
            Joint::Top if self.top == End::Joined => Some(foot),
            Joint::Earth | Joint::Foot | Joint::Top => None,
        }
    }

    /// Refuses a scene that cannot stand on a bench.
    pub(super) fn check(&self) -> Result<(), RingError> {
        let meridian = &self.meridian;
        if meridian.turns < FEWEST_VARIED {
            let found = meridian.turns;
            return Err(RingError::TooFewTurns { found });
        }
        let pitch_m = meridian.slope_m() / meridian.turns;
        let pitch_over_wire = pitch_m / meridian.bare_m;
        if pitch_over_wire < 1.0 {
            return Err(RingError::PitchBelowWire { pitch_over_wire });
        }
        let found_m = meridian.foot.radius_m.min(meridian.top.radius_m);
        if found_m <= pitch_m {
            return Err(RingError::NoHole { found_m });
        }
        for conductor in &self.conductors {
            let thing = conductor.thing;
            let is_in_plane = |one: &Charged| {
                let lowest_m = one.ring.height_m - one.wire_radius_m;
                self.plane_m().is_some_and(|plane_m| lowest_m <= plane_m)
            };
            if conductor.rings.iter().any(is_in_plane) {
                return Err(RingError::InPlane { thing });
            }
            let clear_m = |one: &Charged| distance_m(meridian, one.ring) - meridian.bare_m / 2.0;
            if conductor.rings.iter().any(|one| clear_m(one) <= 0.0) {
                return Err(RingError::InWinding { thing });
            }
        }
        match self.gaps().find(|gap| !gap.1 && gap.0 <= TOUCHING_M) {
            Some((_, _, one, other)) => Err(RingError::Overlap { one, other }),
            None => Ok(()),
        }
    }

    /// Returns a matrix of the conductors' potential coefficients, factored; refused if two of them lie in each other.
    ///
    /// Rings of bodies that touch are nearer to each other than they are wide. Their matrix is no longer positive and still gives
    /// the right charges: two touching spheres hold the charge of the exact series within 3e-8.
    pub(super) fn factored(&self, matrix: DMatrix<f64>) -> Result<Factored, RingError> {
        match Factored::new(matrix) {
            Some(found @ Factored::Positive(_)) => Ok(found),
            found => match self.overlap() {
                Some(error) => Err(error),
                None => found.ok_or(RingError::Crowded),
            },
        }
    }

    /// Returns the first two conductors that lie in each other.
    fn overlap(&self) -> Option<RingError> {
        let (_, _, one, other) = self.gaps().find(|gap| gap.0 < -TOUCHING_M)?;
        Some(RingError::Overlap { one, other })
    }

    /// Returns the gap between each two conductors, in metres, whether they are joined, and their kinds.
    fn gaps(&self) -> impl Iterator<Item = (f64, bool, Thing, Thing)> + '_ {
        let each = self.conductors.iter().enumerate();
        each.flat_map(move |(index, one)| {
            self.conductors.iter().skip(index + 1).map(move |other| {
                let joined =
                    self.node_of(one.joint) == self.node_of(other.joint) && !one.is_same_as(other);
                (one.gap_m(other), joined, one.thing, other.thing)
            })
        })
    }

    /// Returns an error with the parts that are nearest to each other, where it names none itself.
    pub(super) fn named(&self, error: RingError) -> RingError {
        if error != RingError::Crowded {
            return error;
        }
        let winding = Rod {
            from: self.meridian.foot,
            to: self.meridian.top,
            radius_m: self.meridian.bare_m / 2.0,
        };
        let to_winding = self.conductors.iter().map(|one| {
            let gap_m = one
                .rods
                .iter()
                .map(|rod| rod.gap_m(winding))
                .fold(f64::INFINITY, f64::min);
            (gap_m, false, one.thing, Thing::Winding)
        });
        let nearest = to_winding
            .chain(self.gaps())
            .min_by(|one, other| one.0.total_cmp(&other.0));
        nearest.map_or(error, |(_, _, one, other)| RingError::Overlap {
            one,
            other,
        })
    }
}

/// Parts this near or nearer touch, in metres: chosen, no more than rounding.
const TOUCHING_M: f64 = 1e-9;

/// Returns how far a circle is from the winding's line, in metres.
fn distance_m(meridian: &Meridian, ring: Ring) -> f64 {
    let line = Rod {
        from: meridian.foot,
        to: meridian.top,
        radius_m: 0.0,
    };
    line.distance_m(ring)
}

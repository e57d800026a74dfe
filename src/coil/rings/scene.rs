//! What stands on the bench: the winding, what its ends are joined to, and the metal near it.

use super::conductor::{Charged, Conductor, Joint};
use super::kernel::Ring;
use super::meridian::Meridian;
use crate::coil::surroundings::Plane;

/// What an end of the winding is joined to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// Nothing: no current leaves it.
    Open,
    /// Earth.
    Earthed,
    /// The conductors that belong to it.
    Joined,
}

/// A wide sheet of insulation that a winding lies or stands on, its upper face at height 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Board {
    /// Its thickness, in metre.
    pub thickness_m: f64,
    /// Its relative permittivity.
    pub permittivity: f64,
}

/// A winding in its surroundings.
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    /// The winding.
    pub meridian: Meridian,
    /// What lies below it.
    pub plane: Plane,
    /// A board below the winding, above the plane. Conductors do not see it: with any of them take a ratio.
    pub board: Option<Board>,
    /// What its foot is joined to.
    pub foot: End,
    /// What its top is joined to.
    pub top: End,
    /// Capacitance from the very top to earth, in farad.
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
        "ring model of the winding: found {} turns, at least {MIN_TURNS} are wanted",
        (.found * 1e3).round() / 1e3
    )]
    TooFewTurns {
        /// Turns.
        found: f64,
    },
    /// Turns that lie in each other.
    #[error(
        "ring model of the winding: found a pitch of {pitch_over_wire:.3} bare wires, at least 1 is wanted"
    )]
    PitchBelowWire {
        /// Pitch over bare wire.
        pitch_over_wire: f64,
    },
    /// The innermost turn would cross the axis.
    #[error(
        "ring model of the winding: found a turn of {found_m:.4} m radius, more than the pitch is wanted"
    )]
    NoHole {
        /// The smallest radius, in metre.
        found_m: f64,
    },
    /// A conductor is in the winding.
    #[error("ring model of {name}: found it in the winding, clear of the wire is wanted")]
    InWinding {
        /// The conductor.
        name: &'static str,
    },
    /// A conductor is in or below the plane.
    #[error("ring model of {name}: found it in the plane below, above that is wanted")]
    InPlane {
        /// The conductor.
        name: &'static str,
    },
    /// Conductors lie in each other.
    #[error("ring model of the surroundings: found conductors in each other, all apart are wanted")]
    Overlap,
    /// The search for the lowest mode did not settle.
    #[error(
        "ring model of the resonance: found no settled mode in {rounds} rounds, a change below 1e-11 is wanted"
    )]
    NotSettled {
        /// Rounds made.
        rounds: u32,
    },
}

/// Fewest turns of a build that rings stand for. Chosen: full-wave runs confirm 12 within 1 %, nothing was compared below.
pub const MIN_TURNS: f64 = 5.0;

/// Fewest turns that a scene may have: a build of [`MIN_TURNS`] is varied downwards to see what that does to it.
const FEWEST_VARIED: f64 = 3.0;

impl Scene {
    /// A winding with its foot earthed, its top open, and nothing near.
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

    /// Height of the plane, in metre below zero; `None` without one.
    pub fn plane_m(&self) -> Option<f64> {
        match self.plane {
            Plane::None => None,
            Plane::Table { distance_m } | Plane::Metal { distance_m } => Some(-distance_m),
        }
    }

    /// The plane again, if the magnetic field ends on it too.
    pub fn metal_m(&self) -> Option<f64> {
        match self.plane {
            Plane::Metal { distance_m } => Some(-distance_m),
            Plane::None | Plane::Table { .. } => None,
        }
    }

    /// The end's index among the live nodes beside the coil; `None` for a conductor at earth.
    pub(super) fn node_of(&self, joint: Joint) -> Option<usize> {
        let foot = usize::from(self.foot == End::Joined);
        match joint {
            Joint::Foot if self.foot == End::Joined => Some(0),
            Joint::Top if self.top == End::Joined => Some(foot),
            Joint::Earth | Joint::Foot | Joint::Top => None,
        }
    }

    /// Refuses what cannot stand on a bench.
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
            let name = conductor.name;
            let is_in_plane = |one: &Charged| {
                let lowest_m = one.ring.height_m - one.wire_radius_m;
                self.plane_m().is_some_and(|plane_m| lowest_m <= plane_m)
            };
            if conductor.rings.iter().any(is_in_plane) {
                return Err(RingError::InPlane { name });
            }
            let clear_m = |one: &Charged| distance_m(meridian, one.ring) - meridian.bare_m / 2.0;
            if conductor.rings.iter().any(|one| clear_m(one) <= 0.0) {
                return Err(RingError::InWinding { name });
            }
        }
        Ok(())
    }
}

/// How far a circle is from the winding's line, in metre.
fn distance_m(meridian: &Meridian, ring: Ring) -> f64 {
    let (foot, top) = (meridian.foot, meridian.top);
    let (wide_m, high_m) = (top.radius_m - foot.radius_m, top.height_m - foot.height_m);
    let along = (ring.radius_m - foot.radius_m) * wide_m + (ring.height_m - foot.height_m) * high_m;
    let nearest = meridian.at((along / meridian.slope_m().powi(2)).clamp(0.0, 1.0));
    (ring.radius_m - nearest.radius_m).hypot(ring.height_m - nearest.height_m)
}

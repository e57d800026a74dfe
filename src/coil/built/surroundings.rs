//! The place of the build: the joint of its foot and the objects nearby.

use crate::coil::rings::Board;
pub use crate::coil::rings::Plane;

/// The joint of the circuit, and with it of the secondary's foot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EarthState {
    /// It stands on an insulating table.
    Standing,
    /// A hand holds the battery or the circuit.
    Held,
    /// The ground clip of a mains-earthed instrument is on it.
    Clipped,
    /// A wire joins it to earth.
    Earthed,
}

impl EarthState {
    /// Each state by the word a sheet uses.
    pub const WORDS: [(&str, Self); 4] = [
        ("standing", Self::Standing),
        ("held", Self::Held),
        ("clipped", Self::Clipped),
        ("earthed", Self::Earthed),
    ];

    /// Returns the word a sheet uses.
    pub fn name(self) -> &'static str {
        Self::WORDS
            .iter()
            .find(|(_, state)| *state == self)
            .map_or("", |(word, _)| word)
    }

    /// Whether the foot has no firm earth. A hand counts as none: it may be anything from a few pF to nearly earth.
    pub fn is_floating(self) -> bool {
        matches!(self, Self::Standing | Self::Held)
    }
}

/// A piece of metal on the coil's top, centred on its axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TopLoad {
    /// The body.
    pub body: Body,
    /// From the winding's top to its lowest point, in metres.
    pub gap_m: f64,
}

impl TopLoad {
    /// Returns how far its highest point lies above the winding's top, in metres.
    pub fn reach_m(&self) -> f64 {
        self.gap_m
            + match self.body {
                Body::Sphere { diameter_m } => diameter_m,
                Body::Disc { .. } => 0.0,
                Body::Toroid { tube_m, .. } => tube_m,
            }
    }
}

/// The shape of a top load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Body {
    /// A ball.
    Sphere {
        /// Its diameter, in metres.
        diameter_m: f64,
    },
    /// A thin plate.
    Disc {
        /// Its diameter, in metres.
        diameter_m: f64,
    },
    /// A ring of tube.
    Toroid {
        /// Its diameter outside, in metres.
        diameter_m: f64,
        /// The tube's diameter, in metres.
        tube_m: f64,
    },
}

/// Diameter of the disc that stands for a circuit with its battery whose size is not given, in metres.
///
/// Chosen: a 9 V battery is 48.5 × 26.5 mm and the circuit lies beside it; common practice, no source.
pub const USUAL_CIRCUIT_M: f64 = 0.06;

/// How far below the winding that disc lies if nothing is given and no plane is nearer than twice that, in metres: chosen.
pub const USUAL_CIRCUIT_BELOW_M: f64 = 0.01;

/// Radius of the disc that stands for a hand or a lamp held above the top, in metres: chosen, a flat hand.
pub const HAND_RADIUS_M: f64 = 0.04;

/// Radius of the disc that stands for a ceiling, in metres: chosen, a room.
pub const CEILING_RADIUS_M: f64 = 2.5;

/// Where a build stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surroundings {
    /// The plane below it.
    pub plane: Plane,
    /// A board that a cylinder or cone stands on, its upper face at the winding's lower edge. A flat winding's is its former.
    pub board: Option<Board>,
    /// Diameter of the disc that stands for the circuit with its battery, in metres; `None` if not given.
    pub circuit_m: Option<f64>,
    /// How far below the winding's lower edge the circuit lies, in metres; `None` if not given.
    pub circuit_below_m: Option<f64>,
    /// A hand or a lamp that is usually held so far above the top, in metres.
    pub hand_m: Option<f64>,
    /// A ceiling so far above the top, in metres.
    pub ceiling_m: Option<f64>,
    /// The load on the top.
    pub top_load: Option<TopLoad>,
    /// Capacitance from the top to earth beside that, in farads: a probe, or the value found by a fit.
    pub top_f: f64,
}

impl Surroundings {
    /// Returns the diameter of the disc that stands for the circuit, in metres.
    pub fn circuit_size_m(&self) -> f64 {
        self.circuit_m.unwrap_or(USUAL_CIRCUIT_M)
    }

    /// Returns how far that disc lies below the winding's lower edge, in metres.
    ///
    /// The stated depth, which is above the plane or the scene is refused; else [`USUAL_CIRCUIT_BELOW_M`], or half way to a plane
    /// that is nearer than twice that, so that it moves with the plane without a step.
    pub fn circuit_depth_m(&self) -> f64 {
        let room_m = self.plane.distance_m().unwrap_or(f64::INFINITY);
        self.circuit_below_m
            .unwrap_or_else(|| USUAL_CIRCUIT_BELOW_M.min(room_m / 2.0))
    }

    /// Nothing near, nothing on the top, and a circuit of unknown size.
    pub const EMPTY: Self = Self {
        plane: Plane::None,
        board: None,
        circuit_m: None,
        circuit_below_m: None,
        hand_m: None,
        ceiling_m: None,
        top_load: None,
        top_f: 0.0,
    };
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_wire_to_earth_ends_the_floating() {
        let floating: Vec<_> = EarthState::WORDS
            .iter()
            .filter(|(_, state)| state.is_floating())
            .map(|(word, _)| *word)
            .collect();
        assert_eq!(floating, ["standing", "held"]);
        assert_eq!(EarthState::Clipped.name(), "clipped");
    }
}

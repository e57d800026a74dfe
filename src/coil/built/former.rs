//! The effect of former and enamel on the resonance, as a lump.

use crate::coil::numeric::interpolate::{between, mix};
use crate::coil::rings::conductor::Thing;
use crate::coil::rings::{Board, End, Fineness, Plane, RingError, Scene, frequency_hz};

/// The support of a winding.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Former {
    /// Nothing is given.
    Unsaid,
    /// Nothing: a winding that holds itself, or ribs.
    Air,
    /// A plastic tube of thin wall.
    Tube,
    /// A solid rod.
    Rod,
    /// Whatever it is, its shift was found from a measured resonance.
    Fitted {
        /// The shift, as a share of the resonance.
        shift: f64,
    },
    /// A flat sheet below a flat winding.
    Board {
        /// Its thickness, in metres.
        thickness_m: f64,
        /// Its relative permittivity.
        permittivity: f64,
    },
}

impl Former {
    /// The words that a sheet may use for a winding that is not flat.
    pub const WORDS: [(&str, Self); 3] =
        [("air", Self::Air), ("tube", Self::Tube), ("rod", Self::Rod)];
}

/// A shift of the resonance as a share of it, with its edges.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shift {
    /// The likely shift.
    pub value: f64,
    /// The lowest.
    pub low: f64,
    /// The highest.
    pub high: f64,
}

/// How far a solid rod of permittivity 2.56 lowers the resonance, by length over diameter.
///
/// Computed by us with rings on the rod's closed surface over a plane at the foot; the same surface agreed with a
/// finite-volume solution to 0.1 to 0.7 % of the capacitance. Not measured.
const ROD: [(f64, f64); 10] = [
    (0.5, 0.114),
    (0.8, 0.098),
    (1.0, 0.089),
    (1.5, 0.069),
    (2.0, 0.055),
    (3.0, 0.037),
    (5.0, 0.022),
    (7.0, 0.015),
    (10.0, 0.010),
    (20.0, 0.005),
];

/// A tube's share of a rod's shift: 0.8 % over 1.4 %, computed for a wall of 1.5 mm on the example coil of 16 mm.
const TUBE_SHARE: f64 = 0.57;

/// The enamel's own shift: computed for the example coil with Massarini and Kazimierczuk's turn-to-turn formula, which is
/// quoted from memory.
const ENAMEL: f64 = 0.006;

/// How far each of these shifts may be off, as a share of itself. Chosen: wall, permittivity and film differ that much.
const DOUBT: f64 = 0.5;

/// A board that a flat winding may lie on if nothing is given: 3 mm of permittivity 3. Chosen, a thick one.
const THICK_BOARD: Board = Board {
    thickness_m: 0.003,
    permittivity: 3.0,
};

/// Returns the shift by former and enamel, and by a board that a winding which is not flat stands on.
///
/// Nothing stated means no shift but an edge at the largest one. The shifts are computed for close-wound coils in air. They give
/// sign and size, not digits, except a board's: that is the ratio of two resonances of the ring model over the plane below.
///
/// # Errors
/// Those of the ring model, with a board or for a flat winding.
pub fn shift(former: Former, stands_on: Option<Board>, scene: &Scene) -> Result<Shift, RingError> {
    let meridian = &scene.meridian;
    let rod = rod_share(meridian.slope_m() / (2.0 * meridian.mean_radius_m()));
    let about = |shift: f64| Shift {
        value: -shift,
        low: -shift * (1.0 + DOUBT),
        high: -shift * (1.0 - DOUBT),
    };
    let unsaid = |most: f64| Shift {
        value: 0.0,
        low: -most,
        high: 0.0,
    };
    let is_flat = meridian.foot.height_m >= meridian.top.height_m;
    let (without, board) = match former {
        Former::Unsaid if is_flat => {
            let most = 1.0 - board_ratios(scene, THICK_BOARD)?.lowest;
            (unsaid(most + ENAMEL), stands_on)
        }
        Former::Unsaid => (unsaid(rod + ENAMEL), stands_on),
        // A measured resonance had the board in it.
        Former::Fitted { shift } => {
            return Ok(Shift {
                value: shift,
                low: shift,
                high: shift,
            });
        }
        Former::Air => (about(ENAMEL), stands_on),
        Former::Tube => (about(TUBE_SHARE * rod + ENAMEL), stands_on),
        Former::Rod => (about(rod + ENAMEL), stands_on),
        Former::Board {
            thickness_m,
            permittivity,
        } => {
            let board = Board {
                thickness_m,
                permittivity,
            };
            (about(ENAMEL), Some(board))
        }
    };
    let Some(board) = board else {
        return Ok(without);
    };
    let found = board_ratios(scene, board)?;
    let least = 1.0 - found.highest;
    let most = 1.0 - found.lowest;
    Ok(Shift {
        value: without.value - (1.0 - found.likely),
        low: without.low - most * (1.0 + BOARD_DOUBT),
        high: without.high - least * (1.0 - BOARD_DOUBT),
    })
}

/// How far a board's shift may be off, as a share of itself. Chosen: the board ends somewhere and its permittivity is a
/// book's.
const BOARD_DOUBT: f64 = 0.2;

fn rod_share(length_over_diameter: f64) -> f64 {
    let inside = length_over_diameter.clamp(0.5, 20.0);
    between(&ROD, |row| row.0, inside).map_or(0.0, |(low, high, share)| mix(low.1, high.1, share))
}

/// Returns the resonance of a winding on a board over that without, the plane below counted, without circuit and primary.
///
/// A board that is thicker than the plane's distance reaches down to the plane.
fn board_ratio(scene: &Scene, (plane, foot): (Plane, End), board: Board) -> Result<f64, RingError> {
    let bare = Scene {
        plane,
        foot,
        ..Scene::bare(scene.meridian)
    };
    let room_m = bare.plane_m().map_or(f64::INFINITY, |plane_m| -plane_m);
    let on_board = Scene {
        board: Some(Board {
            thickness_m: board.thickness_m.min(room_m),
            ..board
        }),
        ..bare.clone()
    };
    let fineness = Fineness::coarse(scene.meridian.turns);
    Ok(frequency_hz(&on_board, fineness)? / frequency_hz(&bare, fineness)?)
}

/// The effect of a board on a resonance, as ratios to that without.
struct BoardRatios {
    /// The likely one. Over a floating circuit of 60 mm or more it is within 0.9 % of the layered medium's integral. Over smaller
    /// ones 5 mm below a coil it is up to 6 % low (`tests/compare/board.py`).
    likely: f64,
    /// The lowest: where a circuit floats below, also with the foot open.
    lowest: f64,
    /// The highest: as if the circuit below were none, or a plane.
    highest: f64,
}

/// Returns the ratios with the foot earthed over the plane; and with a circuit below, whichever is lower of that and of a plane
/// in its place.
fn board_ratios(scene: &Scene, board: Board) -> Result<BoardRatios, RingError> {
    let alone = board_ratio(scene, (scene.plane, End::Earthed), board)?;
    let circuit = scene
        .conductors
        .iter()
        .find(|one| one.thing == Thing::Circuit);
    let Some(first) = circuit.and_then(|circuit| circuit.rings.first()) else {
        return Ok(BoardRatios {
            likely: alone,
            lowest: alone,
            highest: alone,
        });
    };
    let over_it = Plane::Table {
        distance_m: -first.ring.height_m,
    };
    let open = board_ratio(scene, (scene.plane, End::Open), board)?;
    let over_it = board_ratio(scene, (over_it, End::Earthed), board)?;
    let likely = alone.min(over_it);
    Ok(BoardRatios {
        likely,
        lowest: likely.min(open),
        highest: alone.max(over_it),
    })
}

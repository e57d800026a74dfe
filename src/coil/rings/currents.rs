//! The current of a mode: the current round each part of the winding.

use super::eigen::TWO;
use super::kernel::Ring;
use super::network::Network;
use super::scene::{RingError, Scene};

/// A ring with its current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RingCurrent {
    /// Where it is.
    pub ring: Ring,
    /// Its current times the turns that it stands for, over the top's voltage against earth, in amperes per volt.
    pub turns_a_per_v: f64,
}

/// All currents of a mode, for a top at 1 V against earth; a quarter of a cycle behind the charges.
#[derive(Debug, Clone, PartialEq)]
pub struct Currents {
    /// The winding's rings from foot to top. The primary's current and those in the metal beside it are not counted.
    pub rings: Vec<RingCurrent>,
    /// Height of the metal that the currents are mirrored in, in metres; `None` without any.
    pub metal_m: Option<f64>,
    /// Twice the energy of the mode over the square of the top's voltage, in farads: the capacitance at the top that would
    /// hold as much.
    pub stored_f: f64,
}

/// Returns the currents of the lowest resonance, the winding cut into this number of rings.
///
/// Charges and currents are those of one mode, so the two fields keep their proportion: with q the charges that the
/// currents i bring in a quarter of a cycle, V = Pq and i = ωq. Half of i·M·i is the energy that all of it has at once.
///
/// # Errors
/// Those of [`super::solve()`].
pub fn currents(scene: &Scene, count: usize) -> Result<Currents, RingError> {
    scene.check()?;
    carried(scene, count).map_err(|error| scene.named(error))
}

fn carried(scene: &Scene, count: usize) -> Result<Currents, RingError> {
    let network = Network::new(scene, count)?;
    let inductance_h = network.inductance_h();
    let found = network.modes(&inductance_h, TWO)?;
    // The potentials come times the angular frequency.
    let top_v = network.potentials_vs(&found.vector)[network.top()] / found.values[0].sqrt();
    let currents = &found.vector / top_v;
    let stored_f = currents.dot(&(&inductance_h * &currents));
    let edges = network.grid.carrying().skip(network.first_edge);
    let rings = edges
        .zip(&currents)
        .map(|((ring, turns), current)| RingCurrent {
            ring,
            turns_a_per_v: turns * current,
        })
        .collect();
    Ok(Currents {
        rings,
        metal_m: scene.metal_m(),
        stored_f,
    })
}

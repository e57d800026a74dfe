//! Where the charge of a mode sits: on the winding, on the bodies joined to it, and on the metal it draws charge onto from earth.

use nalgebra::{DMatrix, DVector};

use super::charge::{influence_v_per_c, potentials};
use super::conductor::Charged;
use super::eigen::{TWO, lowest};
use super::kernel::Ring;
use super::network::{Network, bodies};
use super::scene::{RingError, Scene};

/// A ring with its charge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RingCharge {
    /// Where it is.
    pub ring: Ring,
    /// Radius of the wire it stands for, in metres.
    pub wire_radius_m: f64,
    /// Its charge over the top's voltage against earth, in farads.
    pub charge_f: f64,
}

/// All charges of a mode, for a top at 1 V against earth.
#[derive(Debug, Clone, PartialEq)]
pub struct Charges {
    /// The winding's rings from foot to top, then those of the conductors.
    pub rings: Vec<RingCharge>,
    /// Height of the plane that the charges are mirrored in, in metres; `None` without one.
    pub plane_m: Option<f64>,
}

/// Returns the charges of the lowest resonance, the winding cut into a number of rings.
///
/// The charge of a capacitor at the top ([`Scene::top_f`]) is on no ring, and images in a [`super::Board`] are not counted. The
/// number of rings, 40 to 320, moves the field 10 cm away by 0.3 %.
///
/// # Errors
/// Those of [`super::solve()`].
pub fn charges(scene: &Scene, count: usize) -> Result<Charges, RingError> {
    scene.check()?;
    charged(scene, count).map_err(|error| scene.named(error))
}

fn charged(scene: &Scene, count: usize) -> Result<Charges, RingError> {
    let network = Network::new(scene, count)?;
    let found = lowest(network.elastance(), &network.inductance_h(), TWO)?;
    let mut charges = network.charges(&found.vector);
    let potentials_v = &network.node_v_per_c * &charges;
    let top = network.top();
    let top_v = potentials_v[top];
    charges[top] -= scene.top_f * top_v;
    let elements: Vec<Charged> = network.grid.strips().collect();
    let winding_f = charges.rows(0, count) / top_v;
    let live_v = potentials_v.rows(count, potentials_v.len() - count) / top_v;
    let (bodies, beside_f) = beside(scene, &elements, &winding_f, &live_v)?;
    let rings = elements.into_iter().chain(bodies);
    let charges_f = winding_f.iter().copied().chain(beside_f);
    let rings = rings
        .zip(charges_f)
        .map(
            |(
                Charged {
                    ring,
                    wire_radius_m,
                },
                charge_f,
            )| RingCharge {
                ring,
                wire_radius_m,
                charge_f,
            },
        )
        .collect();
    Ok(Charges {
        rings,
        plane_m: scene.plane_m(),
    })
}

/// Returns the conductors' rings and the charges on them: Pₑₑ⁻¹(S·v − Pₑᵢ·q), as the nodes were condensed.
fn beside(
    scene: &Scene,
    elements: &[Charged],
    winding_f: &DVector<f64>,
    live_v: &DVector<f64>,
) -> Result<(Vec<Charged>, Vec<f64>), RingError> {
    let (bodies, nodes): (Vec<Charged>, Vec<Option<usize>>) = bodies(scene).into_iter().unzip();
    if bodies.is_empty() {
        return Ok((bodies, Vec::new()));
    }
    let plane_m = scene.plane_m();
    let between = DMatrix::from_fn(bodies.len(), elements.len(), |body, element| {
        influence_v_per_c(bodies[body], elements[element], plane_m)
    });
    let held_v = nodes
        .iter()
        .map(|node| node.map_or(0.0, |node| live_v[node]));
    let held_v = DMatrix::from_iterator(bodies.len(), 1, held_v);
    let driven_v = DMatrix::from_column_slice(bodies.len(), 1, (between * winding_f).as_slice());
    let factored = scene.factored(potentials(&bodies, plane_m))?;
    let charges = factored.solve(&(held_v - driven_v));
    Ok((bodies, charges.iter().copied().collect()))
}

#[cfg(test)]
mod tests {
    use super::super::conductor::{Conductor, Joint, Thing};
    use super::super::{End, Meridian, Plane};
    use super::*;

    /// A coil of 450 turns on 16.22 mm, 99 mm long.
    fn scene() -> Scene {
        let end = |height_m| Ring {
            radius_m: 0.00811,
            height_m,
        };
        Scene::bare(Meridian {
            foot: end(0.0),
            top: end(0.099),
            turns: 450.0,
            bare_m: 0.0002,
        })
    }

    /// Potential of all charges at a point, for a top at 1 V.
    fn potential(charges: &Charges, at: Ring) -> f64 {
        let probe = Charged {
            ring: at,
            wire_radius_m: 1e-4,
        };
        let of = |one: &RingCharge| {
            let source = Charged {
                ring: one.ring,
                wire_radius_m: one.wire_radius_m,
            };
            one.charge_f * influence_v_per_c(source, probe, charges.plane_m)
        };
        charges.rings.iter().map(of).sum()
    }

    #[test]
    fn conductors_stay_at_their_potential_and_a_floating_build_holds_no_charge_in_all() {
        let mut scene = scene();
        scene.foot = End::Joined;
        scene.top = End::Joined;
        scene.plane = Plane::Table { distance_m: 0.05 };
        let rim = |radius_m, height_m| Ring { radius_m, height_m };
        scene.conductors = vec![
            Conductor::disc(Thing::Circuit, Joint::Foot, rim(0.03, -0.01), 0.01),
            Conductor::sphere(Thing::TopLoad, Joint::Top, 0.015, 0.12),
            Conductor::disc(Thing::Hand, Joint::Earth, rim(0.04, 0.25), 0.1),
        ];
        let found = charges(&scene, 80).unwrap();
        let hand = scene.conductors[2].rings.len();
        let live = &found.rings[..found.rings.len() - hand];
        let all_f: f64 = live.iter().map(|one| one.charge_f).sum();
        let most_f = live.iter().map(|one| one.charge_f.abs()).sum::<f64>();
        assert!(all_f.abs() < 1e-9 * most_f, "{all_f} of {most_f}");
        // In the middle of the sphere, on the hand's disc, and on the plane.
        let inside = potential(&found, rim(1e-6, 0.12));
        assert!((inside - 1.0).abs() < 2e-3, "{inside}");
        let hand_v = potential(&found, rim(0.02, 0.25));
        assert!(hand_v.abs() < 2e-3, "{hand_v}");
        assert!(potential(&found, rim(0.1, -0.05)).abs() < 1e-12);
    }

    #[test]
    fn a_capacitor_at_the_top_takes_its_charge_off_the_rings() {
        let (bare, mut loaded) = (scene(), scene());
        loaded.top_f = 10e-12;
        let top_v = |scene: &Scene| {
            let found = charges(scene, 80).unwrap();
            potential(
                &found,
                Ring {
                    radius_m: 0.0082,
                    height_m: 0.0985,
                },
            )
        };
        // The charges are for a top at 1 V with either.
        assert!((top_v(&bare) / top_v(&loaded) - 1.0).abs() < 0.05);
    }
}

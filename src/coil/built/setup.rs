//! From a build and where it stands to the scene that the ring model solves.

use super::spec::CoilSpec;
use super::surroundings::{
    Body, CEILING_RADIUS_M, EarthState, HAND_RADIUS_M, Surroundings, TopLoad,
};
use crate::coil::rings::conductor::{Conductor, Joint, Thing};
use crate::coil::rings::kernel::Ring;
use crate::coil::rings::{End, Meridian, Scene};

/// How the foot is joined to earth, as the model takes it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Footing {
    /// By a wire; the circuit is no conductor of its own.
    Wired,
    /// By a hand on the circuit, which stays beside the coil.
    Touched,
    /// Not at all: the circuit with its battery is the counterpoise.
    Afloat,
}

impl Footing {
    /// Returns the footing of an earth state.
    pub fn of(earth: EarthState) -> Self {
        match earth {
            EarthState::Standing => Self::Afloat,
            EarthState::Held => Self::Touched,
            EarthState::Clipped | EarthState::Earthed => Self::Wired,
        }
    }
}

/// Returns the scene of a build with its foot joined to earth in a way.
pub fn scene(spec: &CoilSpec, footing: Footing) -> Scene {
    let around = &spec.surroundings;
    let meridian = Meridian::of(&spec.winding);
    let primary = spec.primary.circles();
    let mut conductors = vec![Conductor::turns(
        Thing::Primary,
        Joint::Foot,
        primary.clone(),
        spec.primary.gauge.bare_m() / 2.0,
    )];
    if footing != Footing::Wired {
        conductors.push(circuit(around));
    }
    let top_m = meridian.top.height_m.max(meridian.foot.height_m);
    conductors.extend(around.top_load.map(|load| on_top(load, top_m)));
    conductors.extend(around.hand_m.map(|above_m| hand(top_m, above_m)));
    conductors.extend(around.ceiling_m.map(|above_m| {
        let rim = rim(CEILING_RADIUS_M, top_m + above_m);
        Conductor::disc(Thing::Ceiling, Joint::Earth, rim, above_m)
    }));
    Scene {
        meridian,
        plane: around.plane,
        board: None,
        foot: if footing == Footing::Afloat {
            End::Joined
        } else {
            End::Earthed
        },
        top: if around.top_load.is_some() {
            End::Joined
        } else {
            End::Open
        },
        top_f: around.top_f,
        conductors,
        eddies: Vec::new(),
        primary,
    }
}

/// Returns the same with eddy currents in the circuit's disc, as if circuit and battery were one sheet of good metal.
pub fn scene_with_eddies(spec: &CoilSpec, footing: Footing) -> Scene {
    Scene {
        eddies: if footing == Footing::Wired {
            Vec::new()
        } else {
            circuit(&spec.surroundings).rings
        },
        ..scene(spec, footing)
    }
}

fn rim(radius_m: f64, height_m: f64) -> Ring {
    Ring { radius_m, height_m }
}

fn circuit(around: &Surroundings) -> Conductor {
    let depth_m = around.circuit_depth_m();
    let rim = rim(around.circuit_size_m() / 2.0, -depth_m);
    let disc = |nearest_m| Conductor::disc(Thing::Circuit, Joint::Foot, rim, nearest_m);
    match around.plane.distance_m() {
        Some(plane_m) if plane_m > depth_m => {
            let gap_m = plane_m - depth_m;
            disc(depth_m.min(gap_m)).above_plane(gap_m)
        }
        // Below the plane it is refused with the scene.
        _ => disc(depth_m),
    }
}

/// Returns a hand or a lamp that a hand holds: an earthed disc so far above a height.
fn hand(top_m: f64, above_m: f64) -> Conductor {
    let rim = rim(HAND_RADIUS_M, top_m + above_m);
    Conductor::disc(Thing::Hand, Joint::Earth, rim, above_m)
}

fn on_top(load: TopLoad, top_m: f64) -> Conductor {
    let lowest_m = top_m + load.gap_m;
    match load.body {
        Body::Sphere { diameter_m } => {
            let radius_m = diameter_m / 2.0;
            Conductor::sphere(Thing::TopLoad, Joint::Top, radius_m, lowest_m + radius_m)
        }
        Body::Disc { diameter_m } => Conductor::disc(
            Thing::TopLoad,
            Joint::Top,
            rim(diameter_m / 2.0, lowest_m),
            load.gap_m,
        ),
        Body::Toroid { diameter_m, tube_m } => {
            let (radius_m, tube_m) = ((diameter_m - tube_m) / 2.0, tube_m / 2.0);
            Conductor::toroid(
                Thing::TopLoad,
                Joint::Top,
                radius_m,
                tube_m,
                lowest_m + tube_m,
            )
        }
    }
}

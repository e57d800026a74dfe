//! Conductors beside the coil, each cut into rings of charge.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use super::kernel::Ring;

/// Fewest and most rings across a disc. Chosen: with the fewest its capacitance is 0.05 % low.
const DISC_RINGS: (u32, u32) = (24, 120);

/// Rings round a sphere or a toroid. Chosen: their capacitance is then within 3·10⁻⁵.
const ROUND_RINGS: u32 = 16;

/// A ring that carries charge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Charged {
    /// Where it is.
    pub ring: Ring,
    /// Radius of the wire it stands for, in metre; h/2π for a strip of width h.
    pub wire_radius_m: f64,
}

/// What a conductor is joined to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Joint {
    /// Earth.
    Earth,
    /// The coil's foot: the circuit, its battery, the primary.
    Foot,
    /// The coil's top: a top load.
    Top,
}

/// A piece of metal of revolution on the coil's axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Conductor {
    /// What it is, for messages: `"the primary"`.
    pub name: &'static str,
    /// Its rings.
    pub rings: Vec<Charged>,
    /// What it is joined to.
    pub joint: Joint,
}

impl Conductor {
    /// A thin disc across the axis, its rings closer towards the edge, where the charge gathers.
    ///
    /// `nearest_m` is how near the next conductor or plane lies: no ring is made wider than that, down to a seventieth of
    /// the radius, since rings that are wider than their distance say nothing of what is between them.
    pub fn disc(name: &'static str, joint: Joint, rim: Ring, nearest_m: f64) -> Self {
        let wanted = FRAC_PI_2 * rim.radius_m / nearest_m;
        let (fewest, most) = DISC_RINGS;
        let count = (fewest..most)
            .find(|count| f64::from(*count) >= wanted)
            .unwrap_or(most);
        Self {
            name,
            rings: disc(rim.radius_m, rim.height_m, count),
            joint,
        }
    }

    /// The same flat conductor so far above an earthed plane, its strips narrowed where they are wider than that.
    ///
    /// An even row of strips of width h at a height g has the potential of line charges, ln(2·sinh(2πg/h)), where plates
    /// have 2πg/h; a strip's radius times 1 − e^(−4πg/h) makes it so (derived here, exact but for edges down to g = h/8).
    #[must_use]
    pub fn above_plane(mut self, gap_m: f64) -> Self {
        for one in &mut self.rings {
            let narrowed_m = one.wire_radius_m * -(-2.0 * gap_m / one.wire_radius_m).exp_m1();
            // Below that height it must still be clear of the plane.
            one.wire_radius_m = narrowed_m.min(0.99 * gap_m);
        }
        self
    }

    /// A sphere with its centre on the axis.
    pub fn sphere(name: &'static str, joint: Joint, radius_m: f64, centre_m: f64) -> Self {
        Self {
            name,
            rings: sphere(radius_m, centre_m, ROUND_RINGS),
            joint,
        }
    }

    /// A closed ring of tube; `radius_m` reaches to the tube's centre.
    pub fn toroid(
        name: &'static str,
        joint: Joint,
        radius_m: f64,
        tube_radius_m: f64,
        height_m: f64,
    ) -> Self {
        let circle = Ring { radius_m, height_m };
        Self {
            name,
            rings: toroid(circle, tube_radius_m, ROUND_RINGS),
            joint,
        }
    }

    /// Turns of round wire that are all at one potential.
    pub fn turns(
        name: &'static str,
        joint: Joint,
        turns: impl IntoIterator<Item = Ring>,
        wire_radius_m: f64,
    ) -> Self {
        let charged = |ring| Charged {
            ring,
            wire_radius_m,
        };
        Self {
            name,
            rings: turns.into_iter().map(charged).collect(),
            joint,
        }
    }
}

/// Rings of a disc: from the middle outwards at sines of equal steps.
pub fn disc(radius_m: f64, height_m: f64, count: u32) -> Vec<Charged> {
    let edge_m = |index: u32| radius_m * (FRAC_PI_2 * f64::from(index) / f64::from(count)).sin();
    (0..count)
        .map(|index| {
            let (inner_m, outer_m) = (edge_m(index), edge_m(index + 1));
            Charged {
                ring: Ring {
                    radius_m: f64::midpoint(inner_m, outer_m),
                    height_m,
                },
                wire_radius_m: (outer_m - inner_m) / TAU,
            }
        })
        .collect()
}

/// Rings of a sphere at equal steps from pole to pole.
pub fn sphere(radius_m: f64, centre_m: f64, count: u32) -> Vec<Charged> {
    let step = PI / f64::from(count);
    (0..count)
        .map(|index| {
            let (sin, cos) = ((f64::from(index) + 0.5) * step).sin_cos();
            Charged {
                ring: Ring {
                    radius_m: radius_m * sin,
                    height_m: centre_m + radius_m * cos,
                },
                wire_radius_m: radius_m * step / TAU,
            }
        })
        .collect()
}

/// Rings of a toroid at equal steps round its tube, whose centre runs along `circle`.
pub fn toroid(circle: Ring, tube_radius_m: f64, count: u32) -> Vec<Charged> {
    let step = TAU / f64::from(count);
    (0..count)
        .map(|index| {
            let (sin, cos) = ((f64::from(index) + 0.5) * step).sin_cos();
            Charged {
                ring: Ring {
                    radius_m: circle.radius_m + tube_radius_m * cos,
                    height_m: circle.height_m + tube_radius_m * sin,
                },
                wire_radius_m: tube_radius_m * step / TAU,
            }
        })
        .collect()
}

//! Conductors beside the coil, each cut into rings of charge.

use std::f64::consts::{FRAC_PI_2, PI, TAU};
use std::fmt;

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
    /// Radius of the wire it stands for, in metres; h/2π for a strip of width h.
    pub wire_radius_m: f64,
}

/// The kind of a part of a scene.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Thing {
    /// The winding itself.
    Winding,
    /// The primary's turns.
    Primary,
    /// The circuit with its battery.
    Circuit,
    /// A piece of metal on the top.
    TopLoad,
    /// A hand above the top.
    Hand,
    /// The ceiling above the top.
    Ceiling,
}

impl fmt::Display for Thing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Winding => "the winding",
            Self::Primary => "the primary",
            Self::Circuit => "the circuit",
            Self::TopLoad => "the top load",
            Self::Hand => "the hand",
            Self::Ceiling => "the ceiling",
        })
    }
}

/// The joint of a conductor.
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
    /// Its kind.
    pub thing: Thing,
    /// Its rings.
    pub rings: Vec<Charged>,
    /// Its joint.
    pub joint: Joint,
    /// Where its metal is, for whether it touches another.
    pub rods: Vec<Rod>,
}

/// A straight piece of metal in the half plane of the axis: a line with a radius about it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rod {
    /// One end of its line.
    pub from: Ring,
    /// The other end; the same for a round one.
    pub to: Ring,
    /// Its radius, in metres; 0 for sheet.
    pub radius_m: f64,
}

impl Rod {
    fn round(at: Ring, radius_m: f64) -> Self {
        Self {
            from: at,
            to: at,
            radius_m,
        }
    }

    /// Returns how far a place is from its line, in metres.
    pub(super) fn distance_m(self, place: Ring) -> f64 {
        let (from, to) = (self.from, self.to);
        let (wide_m, high_m) = (to.radius_m - from.radius_m, to.height_m - from.height_m);
        let long2 = wide_m * wide_m + high_m * high_m;
        let (out_m, up_m) = (
            place.radius_m - from.radius_m,
            place.height_m - from.height_m,
        );
        let share = if long2 > 0.0 {
            ((out_m * wide_m + up_m * high_m) / long2).clamp(0.0, 1.0)
        } else {
            0.0
        };
        (out_m - share * wide_m).hypot(up_m - share * high_m)
    }

    /// Returns on which side of its line a place is, by the sign.
    fn side(self, place: Ring) -> f64 {
        let (from, to) = (self.from, self.to);
        (to.radius_m - from.radius_m) * (place.height_m - from.height_m)
            - (to.height_m - from.height_m) * (place.radius_m - from.radius_m)
    }

    /// Returns the gap to another, in metres; negative where they lie in each other.
    pub(super) fn gap_m(self, other: Self) -> f64 {
        let is_crossed = self.side(other.from) * self.side(other.to) < 0.0
            && other.side(self.from) * other.side(self.to) < 0.0;
        let ends_m = [
            self.distance_m(other.from),
            self.distance_m(other.to),
            other.distance_m(self.from),
            other.distance_m(self.to),
        ];
        let apart_m = ends_m.into_iter().fold(f64::INFINITY, f64::min);
        let apart_m = if is_crossed { 0.0 } else { apart_m };
        apart_m - self.radius_m - other.radius_m
    }
}

impl Conductor {
    /// Returns the gap to another, in metres; negative where they lie in each other.
    pub(super) fn gap_m(&self, other: &Self) -> f64 {
        let pairs = self
            .rods
            .iter()
            .flat_map(|one| other.rods.iter().map(|two| one.gap_m(*two)));
        pairs.fold(f64::INFINITY, f64::min)
    }

    /// Whether it is the same metal twice.
    pub(super) fn is_same_as(&self, other: &Self) -> bool {
        self.rods == other.rods
    }

    /// Creates a thin disc across the axis, its rings closer towards the edge, where the charge gathers.
    ///
    /// `nearest_m` is how near the next conductor or plane lies: no ring is made wider than that, down to a seventieth of the
    /// radius. Rings that are wider than their distance say nothing of the space between them.
    pub fn disc(thing: Thing, joint: Joint, rim: Ring, nearest_m: f64) -> Self {
        let wanted = FRAC_PI_2 * rim.radius_m / nearest_m;
        let (fewest, most) = DISC_RINGS;
        let count = (fewest..most)
            .find(|count| f64::from(*count) >= wanted)
            .unwrap_or(most);
        Self {
            thing,
            rings: disc(rim.radius_m, rim.height_m, count),
            joint,
            rods: vec![Rod {
                from: Ring {
                    radius_m: 0.0,
                    ..rim
                },
                to: rim,
                radius_m: 0.0,
            }],
        }
    }

    /// Returns the same flat conductor so far above an earthed plane, its strips narrowed where they are wider than that.
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

    /// Creates a sphere with its centre on the axis.
    pub fn sphere(thing: Thing, joint: Joint, radius_m: f64, centre_m: f64) -> Self {
        Self {
            thing,
            rings: sphere(radius_m, centre_m, ROUND_RINGS),
            joint,
            rods: vec![Rod::round(
                Ring {
                    radius_m: 0.0,
                    height_m: centre_m,
                },
                radius_m,
            )],
        }
    }

    /// Creates a closed ring of tube; `radius_m` reaches to the tube's centre.
    pub fn toroid(
        thing: Thing,
        joint: Joint,
        radius_m: f64,
        tube_radius_m: f64,
        height_m: f64,
    ) -> Self {
        let circle = Ring { radius_m, height_m };
        Self {
            thing,
            rings: toroid(circle, tube_radius_m, ROUND_RINGS),
            joint,
            rods: vec![Rod::round(circle, tube_radius_m)],
        }
    }

    /// Creates turns of round wire that are all at one potential.
    pub fn turns(
        thing: Thing,
        joint: Joint,
        turns: impl IntoIterator<Item = Ring>,
        wire_radius_m: f64,
    ) -> Self {
        let charged = |ring| Charged {
            ring,
            wire_radius_m,
        };
        let rings: Vec<Charged> = turns.into_iter().map(charged).collect();
        Self {
            thing,
            rods: rings
                .iter()
                .map(|one| Rod::round(one.ring, wire_radius_m))
                .collect(),
            rings,
            joint,
        }
    }
}

/// Returns the rings of a disc: from the middle outwards at sines of equal steps.
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

/// Returns the rings of a sphere at equal steps from pole to pole.
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

/// Returns the rings of a toroid at equal steps round its tube, whose centre runs along `circle`.
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

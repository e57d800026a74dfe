//! All that a prediction is made from, and its measures moved one by one.

use super::former::Former;
use super::surroundings::{EarthState, Plane, Surroundings};
use super::winding::{Primary, Shape, SpiralEnd, Winding};

/// How far the winding's own measures may be off.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Tolerance {
    /// Of the diameter, in metres.
    pub diameter_m: f64,
    /// Of the length, in metres.
    pub length_m: f64,
    /// Of the number of turns.
    pub turns: f64,
    /// Which measure rests on the wire's diameter over its enamel, whose table leaves a span.
    pub close: Close,
}

/// The value that was taken from turns that lie close beside each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Close {
    /// Nothing.
    #[default]
    Nothing,
    /// The length, from the turns.
    Length,
    /// The turns, from the length.
    Turns,
}

/// The person's measured values; they stand in place of computed ones.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Measured {
    /// The secondary's inductance, in henries.
    pub inductance_h: Option<f64>,
    /// The capacitance that resonates with that inductance, in farads.
    pub resonance_capacitance_f: Option<f64>,
    /// The quality factor as built.
    pub q: Option<f64>,
    /// Coupling between primary and secondary.
    pub coupling: Option<f64>,
    /// The primary's inductance, in henries.
    pub primary_inductance_h: Option<f64>,
    /// Inductance of the leads between battery and circuit, in henries.
    pub lead_inductance_h: Option<f64>,
    /// Resistance of the secondary to direct current from foot to top at 20 °C, in ohms.
    pub resistance_ohm: Option<f64>,
    /// The resonance, in hertz.
    pub frequency_hz: Option<f64>,
    /// How far that resonance may be off, as a share of itself; 0 if nothing is said.
    pub frequency_ratio: f64,
}

/// All that a prediction is made from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoilSpec {
    /// The secondary.
    pub winding: Winding,
    /// Its former.
    pub former: Former,
    /// The primary.
    pub primary: Primary,
    /// The earth state of its circuit.
    pub earth: EarthState,
    /// The objects near it.
    pub surroundings: Surroundings,
    /// How far the secondary's measures may be off.
    pub tolerance: Tolerance,
    /// The measured values.
    pub measured: Measured,
    /// Seed of the draws behind the band's part from winding.
    pub seed: u64,
}

/// A measure of the build that may be a little larger.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// Every diameter of the windings.
    Diameter,
    /// A cone's or spiral's diameter at the foot.
    FootDiameter,
    /// A cone's or spiral's diameter at the top.
    TopDiameter,
    /// The length along the axis, the turns staying as many.
    Length,
    /// The number of turns in the same length.
    Turns,
    /// The number of turns with the same pitch, so that the winding grows.
    TurnsAtPitch,
    /// The bare wire's diameter, the pitch staying.
    Wire,
    /// The distance to the plane below.
    PlaneDistance,
    /// The disc that stands for the circuit.
    CircuitSize,
}

impl Measure {
    /// Returns it in words fit for a table.
    pub fn name(self) -> &'static str {
        match self {
            Self::Diameter => "diameter",
            Self::FootDiameter => "diameter at the foot",
            Self::TopDiameter => "diameter at the top",
            Self::Length => "length of the winding",
            Self::Turns => "turns, in the same length",
            Self::TurnsAtPitch => "turns, at the same pitch",
            Self::Wire => "bare wire",
            Self::PlaneDistance => "distance to the plane below",
            Self::CircuitSize => "size of the circuit",
        }
    }
}

impl CoilSpec {
    /// Returns the same build without the measured values that would stand in place of the model's resonance.
    #[must_use]
    pub fn without_measured_resonance(&self) -> Self {
        Self {
            measured: Measured {
                inductance_h: None,
                resonance_capacitance_f: None,
                frequency_hz: None,
                ..self.measured
            },
            ..*self
        }
    }

    /// Returns the same build with one measure larger by a share of itself.
    #[must_use]
    pub fn with_larger(&self, measure: Measure, share: f64) -> Self {
        let factor = 1.0 + share;
        let mut changed = *self;
        let winding = &mut changed.winding;
        match measure {
            Measure::Diameter => {
                winding.shape = stretched(winding.shape, [factor, factor, 1.0]);
                // The primary goes round the winding, so it grows with it.
                changed.primary.diameter_m *= factor;
            }
            Measure::FootDiameter | Measure::TopDiameter => {
                // A spiral's foot is its outer end here unless the sheet has it turned.
                let is_turned = winding.spiral_end() == Some(SpiralEnd::Inner);
                let is_foot = (measure == Measure::FootDiameter) != is_turned;
                let factors = if is_foot {
                    [factor, 1.0, 1.0]
                } else {
                    [1.0, factor, 1.0]
                };
                winding.shape = stretched(winding.shape, factors);
            }
            Measure::Length => winding.shape = stretched(winding.shape, [1.0, 1.0, factor]),
            Measure::Turns => winding.turns *= factor,
            Measure::TurnsAtPitch => {
                winding.turns *= factor;
                let before = winding.shape;
                winding.shape = grown(before, factor);
                // A primary round a flat winding keeps its gap.
                if let (
                    Shape::FlatSpiral {
                        outer_diameter_m: old_m,
                        ..
                    },
                    Shape::FlatSpiral {
                        outer_diameter_m, ..
                    },
                ) = (before, winding.shape)
                    && changed.primary.diameter_m > old_m
                {
                    changed.primary.diameter_m += outer_diameter_m - old_m;
                }
            }
            Measure::Wire => winding.gauge = winding.gauge.scaled(factor),
            Measure::PlaneDistance => {
                let plane = &mut changed.surroundings.plane;
                if let Plane::Table { distance_m } | Plane::Metal { distance_m } = plane {
                    *distance_m *= factor;
                }
            }
            Measure::CircuitSize => {
                let circuit_m = self.surroundings.circuit_size_m() * factor;
                changed.surroundings.circuit_m = Some(circuit_m);
            }
        }
        changed
    }

    /// Returns the measures that this build has.
    pub fn measures(&self) -> Vec<Measure> {
        let mut measures = vec![Measure::Diameter];
        match self.winding.shape {
            Shape::Cylinder { .. } => measures.push(Measure::Length),
            Shape::Cone { .. } => {
                measures.extend([Measure::FootDiameter, Measure::TopDiameter, Measure::Length]);
            }

            Shape::FlatSpiral { .. } => {
                measures.extend([Measure::FootDiameter, Measure::TopDiameter]);
            }
        }
        measures.extend([Measure::Turns, Measure::TurnsAtPitch, Measure::Wire]);
        if self.surroundings.plane != Plane::None {
            measures.push(Measure::PlaneDistance);
        }
        if self.earth.is_floating() {
            measures.push(Measure::CircuitSize);
        }
        measures
    }
}

/// Returns a shape with its diameters at foot and top, of a spiral outside and inside, and its length each times a factor.
fn stretched(shape: Shape, [foot, top, length]: [f64; 3]) -> Shape {
    match shape {
        Shape::Cylinder {
            diameter_m,
            length_m,
        } => Shape::Cylinder {
            diameter_m: diameter_m * foot,
            length_m: length_m * length,
        },
        Shape::Cone {
            foot_diameter_m,
            top_diameter_m,
            length_m,
        } => Shape::Cone {
            foot_diameter_m: foot_diameter_m * foot,
            top_diameter_m: top_diameter_m * top,
            length_m: length_m * length,
        },
        Shape::FlatSpiral {
            inner_diameter_m,
            outer_diameter_m,
        } => Shape::FlatSpiral {
            inner_diameter_m: inner_diameter_m * top,
            outer_diameter_m: outer_diameter_m * foot,
        },
    }
}

/// Returns a shape whose slope is longer by a factor: a tube and a cone at the top, a flat spiral at its outer edge.
fn grown(shape: Shape, factor: f64) -> Shape {
    match shape {
        Shape::Cylinder { .. } => stretched(shape, [1.0, 1.0, factor]),
        Shape::Cone {
            foot_diameter_m,
            top_diameter_m,
            length_m,
        } => Shape::Cone {
            foot_diameter_m,
            top_diameter_m: foot_diameter_m + (top_diameter_m - foot_diameter_m) * factor,
            length_m: length_m * factor,
        },
        Shape::FlatSpiral {
            inner_diameter_m,
            outer_diameter_m,
        } => Shape::FlatSpiral {
            inner_diameter_m,
            outer_diameter_m: inner_diameter_m + (outer_diameter_m - inner_diameter_m) * factor,
        },
    }
}

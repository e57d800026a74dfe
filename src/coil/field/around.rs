//! The field around one build at one voltage: stations on the ways out, and where the reference levels are met.

use std::f64::consts::SQRT_2;

use super::{AtPoint, Field, FieldError, Level, Line, Reach, Way, levels};
use crate::coil::rings::{Fineness, Scene, charges};
use crate::coil::setup::{Footing, scene};
use crate::coil::spec::CoilSpec;
use crate::coil::surroundings::{Body, Plane, Surroundings};

/// Speed of light in vacuum, m/s; exact.
const LIGHT_M_PER_S: f64 = 299_792_458.0;

/// Distances at which the field is given, in metres.
const STATIONS_M: [f64; 6] = [0.05, 0.1, 0.2, 0.3, 0.5, 1.0];

/// Where a voltage comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum VoltageOrigin {
    /// Typed as an amplitude.
    Amplitude,
    /// Typed as an effective value.
    Rms,
    /// Predicted: so much from foot to top, amplitude, in volts.
    Circuit {
        /// That voltage.
        foot_to_top_v: f64,
    },
}

/// The top's voltage against earth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TopVoltage {
    /// Its amplitude, in volts.
    pub amplitude_v: f64,
    /// Where it comes from.
    pub origin: VoltageOrigin,
}

impl TopVoltage {
    /// Creates one from an amplitude, in volts.
    pub const fn amplitude(amplitude_v: f64) -> Self {
        Self {
            amplitude_v,
            origin: VoltageOrigin::Amplitude,
        }
    }

    /// Creates one from an effective value, in volts.
    pub fn rms(rms_v: f64) -> Self {
        Self {
            amplitude_v: rms_v * SQRT_2,
            origin: VoltageOrigin::Rms,
        }
    }

    /// Converts the amplitude of a circuit's voltage from foot to top, where the foot swings at a share of the top's voltage.
    pub fn of_circuit(foot_to_top_v: f64, foot_share: f64) -> Self {
        Self {
            amplitude_v: foot_to_top_v / (1.0 - foot_share),
            origin: VoltageOrigin::Circuit { foot_to_top_v },
        }
    }

    /// Returns its effective value, in volts; a sine is taken.
    pub fn rms_v(self) -> f64 {
        self.amplitude_v / SQRT_2
    }
}

/// The field so far out on each way; `None` where a way does not go so far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Station {
    /// Distance from the coil, in metres.
    pub distance_m: f64,
    /// Sideways, effective values.
    pub beside: Option<AtPoint>,
    /// Upwards, effective values.
    pub above: Option<AtPoint>,
}

/// Where a reference level is met on each way; `None` where there is no such way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Met {
    /// The level.
    pub level: Level,
    /// Sideways.
    pub beside: Option<Reach>,
    /// Upwards.
    pub above: Option<Reach>,
}

impl Met {
    /// Returns where it is met on one way.
    pub const fn on(&self, way: Way) -> Option<Reach> {
        match way {
            Way::Beside => self.beside,
            Way::Above => self.above,
        }
    }
}

/// The field around a build.
#[derive(Debug, Clone, PartialEq)]
pub struct Around {
    /// The field, for any voltage at the top.
    pub field: Field,
    /// The top's voltage.
    pub top: TopVoltage,
    /// The resonance the levels are for, in hertz.
    pub frequency_hz: f64,
    /// The ways out that there are.
    pub lines: Vec<Line>,
    /// The field along them.
    pub stations: Vec<Station>,
    /// The levels as drawn; none where none is known for the frequency.
    pub met: Vec<Met>,
    /// The same levels where they are met farthest, over the range given to [`Around::over`]; as drawn before that.
    pub farthest: Vec<Met>,
    /// How many times the field as drawn the strongest is at a station, over the same.
    pub stronger: f64,
    /// The scene that carries the charges.
    pub scene: Scene,
    /// Whether the sheet's hand was left out: levels are for a field where nobody stands in it.
    pub is_without_hand: bool,
}

impl Around {
    /// Returns the field of a build that resonates at a frequency, with a voltage at its top.
    ///
    /// The mode's shape is the ring model's in the sheet's surroundings, but without the hand.
    ///
    /// # Errors
    /// [`FieldError::NoVoltage`] or [`FieldError::NoFrequency`] for a value that is none, [`FieldError::Rings`] where the model
    /// finds no mode.
    pub fn of(spec: &CoilSpec, frequency_hz: f64, top: TopVoltage) -> Result<Self, FieldError> {
        let is_positive = |value: f64| value.is_finite() && value > 0.0;
        if !is_positive(top.amplitude_v) {
            let found_v = top.amplitude_v;
            return Err(FieldError::NoVoltage { found_v });
        }
        if !is_positive(frequency_hz) {
            let found_hz = frequency_hz;
            return Err(FieldError::NoFrequency { found_hz });
        }
        let mut spec = *spec;
        let is_without_hand = spec.surroundings.hand_m.take().is_some();
        let scene = scene(&spec, Footing::of(spec.earth));
        let count = Fineness::for_turns(spec.winding.turns).rings();
        let field = Field::of(&charges(&scene, count)?);
        let lines = lines(&spec, &scene, frequency_hz);
        let line = |way| lines.iter().find(|line: &&Line| line.way == way);
        let (beside, above) = (line(Way::Beside), line(Way::Above));
        let at = |line: Option<&Line>, distance_m| {
            let line = line.filter(|line| distance_m <= line.farthest_m)?;
            let (radius_m, height_m) = line.at_m(distance_m);
            Some(field.at(radius_m, height_m, top.rms_v()))
        };
        let stations = STATIONS_M
            .map(|distance_m| Station {
                distance_m,
                beside: at(beside, distance_m),
                above: at(above, distance_m),
            })
            .to_vec();
        let reach = |line: Option<&Line>, level: &Level| {
            Some(line?.reach(&field, top.rms_v(), level.rms_v_per_m))
        };
        let met: Vec<Met> = levels(frequency_hz)
            .into_iter()
            .map(|level| Met {
                beside: reach(beside, &level),
                above: reach(above, &level),
                level,
            })
            .collect();
        Ok(Self {
            field,
            top,
            frequency_hz,
            lines,
            stations,
            farthest: met.clone(),
            stronger: 1.0,
            met,
            scene,
            is_without_hand,
        })
    }

    /// Returns the same with its levels met where they are farthest. That is over the surroundings that the resonance's band
    /// allows (a table so dry that it is none, no ceiling), up to a resonance and a voltage at the top.
    ///
    /// # Errors
    /// Those of [`Around::of`].
    pub fn over(
        mut self,
        spec: &CoilSpec,
        highest_hz: f64,
        most: TopVoltage,
    ) -> Result<Self, FieldError> {
        for surroundings in allowed(spec.surroundings) {
            let spec = CoilSpec {
                surroundings,
                ..*spec
            };
            let other = Self::of(&spec, self.frequency_hz, most)?;
            let ways = self.lines.iter().zip(&other.lines);
            for (mine, line) in ways.filter(|(mine, line)| mine.way == line.way) {
                for met in &mut self.farthest {
                    // A level may be lower at the band's other end.
                    let lowest = levels(highest_hz)
                        .into_iter()
                        .filter(|level| level.kind == met.level.kind)
                        .map(|level| level.rms_v_per_m)
                        .fold(met.level.rms_v_per_m, f64::min);
                    let reach = line.reach(&other.field, most.rms_v(), lowest);
                    let known = match mine.way {
                        Way::Beside => &mut met.beside,
                        Way::Above => &mut met.above,
                    };
                    *known = known.map(|known| known.farther(reach));
                }
            }
            for (mine, other) in self.stations.iter().zip(&other.stations) {
                for (mine, other) in [(mine.beside, other.beside), (mine.above, other.above)] {
                    if let (Some(mine), Some(other)) = (mine, other) {
                        let times = other.strength_v_per_m() / mine.strength_v_per_m();
                        self.stronger = self.stronger.max(times);
                    }
                }
            }
        }
        Ok(self)
    }
}

/// Returns the surroundings that may be as well as those of the sheet.
pub(crate) fn allowed(told: Surroundings) -> Vec<Surroundings> {
    let mut all = vec![told];
    if matches!(told.plane, Plane::Table { .. }) {
        all.push(Surroundings {
            plane: Plane::None,
            ..told
        });
    }
    if told.ceiling_m.is_some() {
        let open = all.clone().into_iter().map(|one| Surroundings {
            ceiling_m: None,
            ..one
        });
        all.extend(open);
    }
    all
}

/// Returns the ways out that have room.
pub(crate) fn lines(spec: &CoilSpec, scene: &Scene, frequency_hz: f64) -> Vec<Line> {
    let (foot, top) = (scene.meridian.foot, scene.meridian.top);
    let winding_m = foot.height_m.max(top.height_m);
    let mut widest_m = foot.radius_m.max(top.radius_m);
    let (mut beside_m, mut highest_m) = (winding_m, winding_m);
    if let Some(load) = spec.surroundings.top_load {
        let (radius_m, tall_m) = match load.body {
            Body::Sphere { diameter_m } => (diameter_m / 2.0, diameter_m),
            Body::Disc { diameter_m } => (diameter_m / 2.0, 0.0),
            Body::Toroid { diameter_m, tube_m } => (diameter_m / 2.0, tube_m),
        };
        widest_m = widest_m.max(radius_m);
        beside_m = winding_m + load.gap_m + tall_m / 2.0;
        highest_m = winding_m + load.gap_m + tall_m;
    }
    let farthest_m = Line::FARTHEST_M.min(Line::FARTHEST_WAVE * LIGHT_M_PER_S / frequency_hz);
    let ceiling_m = spec.surroundings.ceiling_m.unwrap_or(f64::INFINITY);
    let free_m = farthest_m.min(winding_m + ceiling_m - highest_m);
    let ways = [
        Line {
            way: Way::Beside,
            from_m: (widest_m, beside_m),
            farthest_m,
        },
        Line {
            way: Way::Above,
            from_m: (0.0, highest_m),
            farthest_m: free_m,
        },
    ];
    ways.into_iter()
        .filter(|line| line.farthest_m > 2.0 * Line::NEAREST_M)
        .collect()
}

//! The band of a modelled resonance, in parts that can be told apart.

use super::draws::Draws;
use super::former::{self, Former, Shift};
use super::rings::{Fineness, RingError, Scene, frequency_hz};
use super::setup::{Footing, scene, scene_with_eddies};
use super::spec::{CoilSpec, Measure};
use super::surroundings::Plane;
use super::winding::Shape;

/// Draws of the winding's measures.
const DRAWS: usize = 300;

/// How far the model itself may be off, as a share, of either sign.
///
/// On published coils measured over a known ground, foot earthed (public mailing-list archive, February 2001), it came out
/// 0.2 to 1.4 % high; on full-wave runs of our own within 1 %. Rounded up. No measured coil of battery size was found.
pub const MODEL_DOUBT: f64 = 0.02;

/// Least capacitance of a transistor's base, in farad, through which an earthed foot is joined to earth. Chosen: the
/// published figures for the classes are 0.2 to 1 nF.
const BASE_F: f64 = 100e-12;

/// Diameters of the discs that stand for the smallest and the largest circuit with its battery, in metre, where nothing
/// is told. Chosen; in the ring computations behind the reference the same.
const CIRCUITS_M: (f64, f64) = (0.03, 0.1);

/// How much smaller or larger than told a circuit may be for the field: chosen, it is no disc.
const CIRCUIT_DOUBT: (f64, f64) = (0.7, 1.5);

/// A hand this far above the top is taken to be the nearest that nobody notices, in metre: chosen.
const UNNOTICED_HAND_M: f64 = 0.05;

/// A table this far below the winding, or twice as far as the lowest conductor, may be there where none is told, in metre:
/// chosen.
const UNNOTICED_TABLE_M: f64 = 0.02;

/// Where a part of the band comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// The tolerances of the winding's measures.
    Winding,
    /// The model itself.
    Model,
    /// What the coil is wound on, and its enamel.
    Former,
    /// How the foot is joined to earth, and the circuit's size.
    Earth,
    /// What is near.
    Surroundings,
}

impl Cause {
    /// In a word fit for a table.
    pub fn name(self) -> &'static str {
        match self {
            Self::Winding => "winding",
            Self::Model => "model",
            Self::Former => "former",
            Self::Earth => "earth",
            Self::Surroundings => "surroundings",
        }
    }

    /// Whether it errs by chance, so that it adds to others as independent errors do; the rest may all be so at once.
    pub(super) fn is_chance(self) -> bool {
        matches!(self, Self::Winding | Self::Model)
    }
}

/// One part of a band, as shares of the value.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Where it comes from.
    pub cause: Cause,
    /// How far it reaches below the value; not above zero.
    pub low: f64,
    /// How far it reaches above it; not below zero.
    pub high: f64,
    /// What was varied, in words.
    pub words: String,
}

/// Lower and upper edge over the value: chance parts as the root of the sum of their squares, the others one on the other.
pub fn edges(parts: &[Part]) -> (f64, f64) {
    let reach = |of: fn(&Part) -> f64| {
        let chance: f64 = parts
            .iter()
            .filter(|part| part.cause.is_chance())
            .map(|part| of(part).powi(2))
            .sum();
        let rest: f64 = parts
            .iter()
            .filter(|part| !part.cause.is_chance())
            .map(|part| 1.0 + of(part))
            .product();
        (chance.sqrt(), rest)
    };
    let (below, low) = reach(|part| part.low);
    let (above, high) = reach(|part| part.high);
    (low * (1.0 - below), high * (1.0 + above))
}

/// All parts of the band of a build with its foot joined as given.
///
/// `mode_f` is the mode's capacitance at the foot, `shift` what former and enamel do. Ratios are taken between scenes cut
/// alike and coarsely; what the cut lacks is the same in both.
///
/// # Errors
/// Those of the ring model.
pub fn parts(
    spec: &CoilSpec,
    footing: Footing,
    mode_f: f64,
    shift: Shift,
) -> Result<Vec<Part>, RingError> {
    let fineness = Fineness::coarse(spec.winding.turns);
    let is_flat = matches!(spec.winding.shape, Shape::FlatSpiral { .. });
    let around = Around {
        spec,
        footing,
        fineness,
        here_hz: frequency_hz(&scene(spec, footing), fineness)?,
    };
    Ok(vec![
        around.winding(),
        Part {
            cause: Cause::Model,
            low: -MODEL_DOUBT,
            high: MODEL_DOUBT,
            words: "against coils measured over a known ground".to_owned(),
        },
        former_part(spec, shift, is_flat),
        around.earth(mode_f)?,
        around.surroundings()?,
    ])
}

fn former_part(spec: &CoilSpec, shift: Shift, is_flat: bool) -> Part {
    let words = match (spec.former, is_flat) {
        (Former::Unsaid, false) => "what it is wound on is not told: air to a solid rod",
        (Former::Unsaid, true) => "what it lies on is not told: air to a board of 3 mm",
        (Former::Fitted { .. }, _) => "as a measured resonance said",
        (Former::Board { .. }, _) => "the board below to a fifth of its effect, enamel to half",
        _ => "what it is wound on and its enamel, known to half their effect",
    };
    let board = match spec.surroundings.board {
        Some(_) => "; the board below to a fifth",
        None => "",
    };
    Part {
        cause: Cause::Former,
        low: (1.0 + shift.low) / (1.0 + shift.value) - 1.0,
        high: (1.0 + shift.high) / (1.0 + shift.value) - 1.0,
        words: format!("{words}{board}"),
    }
}

/// A build and its own coarse resonance, from which ratios are taken.
struct Around<'s> {
    spec: &'s CoilSpec,
    footing: Footing,
    fineness: Fineness,
    here_hz: f64,
}

impl Around<'_> {
    fn ratio(&self, other: &Scene) -> Result<f64, RingError> {
        Ok(frequency_hz(other, self.fineness)? / self.here_hz - 1.0)
    }

    /// The middle 95 % of what winders with these tolerances get; a tolerance counts as two deviations.
    fn winding(&self) -> Part {
        let spec = self.spec;
        let shape = spec.winding.shape;
        let tolerance = spec.tolerance;
        let shares = [
            (
                Measure::Diameter,
                tolerance.diameter_m / shape.mean_diameter_m(),
            ),
            (Measure::Length, tolerance.length_m / shape.slope_m()),
            (Measure::Turns, tolerance.turns / spec.winding.turns),
        ];
        let mut draws = Draws::seeded(spec.seed);
        let mut found = Vec::with_capacity(DRAWS);
        if shares.iter().any(|(_, share)| *share > 0.0) {
            for _ in 0..DRAWS {
                let drawn = shares.iter().fold(*spec, |spec, (measure, share)| {
                    spec.with_larger(*measure, share / 2.0 * draws.normal())
                });
                // A draw whose turns do not fit beside each other is a coil that nobody winds.
                found.extend(self.ratio(&scene(&drawn, self.footing)));
            }
        }
        found.sort_by(f64::total_cmp);
        // The 2.5 % and 97.5 % by nearest rank; draws that are none leave no spread.
        let cut = found.len() / 40;
        let low = found.get(cut).copied().unwrap_or(0.0).min(0.0);
        let high = found.iter().rev().nth(cut).copied().unwrap_or(0.0).max(0.0);
        Part {
            cause: Cause::Winding,
            low,
            high,
            words: "tolerances of the winding's measures, 95 % of 300 seeded draws".to_owned(),
        }
    }

    fn earth(&self, mode_f: f64) -> Result<Part, RingError> {
        let around = &self.spec.surroundings;
        let sized = |circuit_m: f64, footing: Footing| {
            let mut spec = *self.spec;
            spec.surroundings.circuit_m = Some(circuit_m);
            self.ratio(&scene(&spec, footing))
        };
        let (small_m, large_m) = around.circuit_m.map_or(CIRCUITS_M, |size_m| {
            (size_m * CIRCUIT_DOUBT.0, size_m * CIRCUIT_DOUBT.1)
        });
        let (low, high, words) = match self.footing {
            Footing::Wired => (
                0.0,
                mode_f / (2.0 * BASE_F),
                "the transistor's base between foot and earth, 100 pF or more",
            ),
            Footing::Touched => (
                sized(large_m, Footing::Touched)?,
                sized(around.circuit_size_m(), Footing::Afloat)?,
                "from a firm hand to none, when the circuit floats",
            ),
            Footing::Afloat => (
                sized(large_m, Footing::Afloat)?,
                sized(small_m, Footing::Afloat)?,
                "how large the floating circuit is for the field",
            ),
        };
        Ok(Part {
            cause: Cause::Earth,
            low: low.min(0.0),
            high: high.max(0.0),
            words: words.to_owned(),
        })
    }

    /// How far the lowest conductor lies below the winding's lower edge, in metre.
    fn depth_m(&self) -> f64 {
        scene(self.spec, self.footing)
            .conductors
            .iter()
            .flat_map(|conductor| &conductor.rings)
            .map(|one| -one.ring.height_m)
            .fold(0.0, f64::max)
    }

    fn surroundings(&self) -> Result<Part, RingError> {
        let mut near = *self.spec;
        let mut far = *self.spec;
        let around = &mut near.surroundings;
        let mut words = Vec::new();
        let is_open_above = around
            .ceiling_m
            .is_none_or(|ceiling_m| ceiling_m > 4.0 * UNNOTICED_HAND_M);
        if around.hand_m.is_none() && is_open_above {
            around.hand_m = Some(UNNOTICED_HAND_M + load_height_m(self.spec));
            words.push("a hand 50 mm above");
        }
        match around.plane {
            Plane::None => {
                let distance_m = UNNOTICED_TABLE_M.max(2.0 * self.depth_m());
                around.plane = Plane::Table { distance_m };
                words.push("a table 20 mm below or twice as low as the circuit");
            }
            Plane::Table { .. } => {
                // The circuit stays where it is.
                far.surroundings.circuit_below_m = Some(far.surroundings.circuit_depth_m());
                far.surroundings.plane = Plane::None;
                words.push("a table so dry that it is none");
            }
            Plane::Metal { .. } => {}
        }
        if self.footing != Footing::Wired {
            words.push("eddy currents in the circuit's metal");
        }
        Ok(Part {
            cause: Cause::Surroundings,
            low: self.ratio(&scene(&near, self.footing))?.min(0.0),
            high: self.ratio(&scene_with_eddies(&far, self.footing))?.max(0.0),
            words: words.join(", "),
        })
    }
}

/// How high a top load reaches above the winding's top, in metre.
pub(super) fn load_height_m(spec: &CoilSpec) -> f64 {
    let load = spec.surroundings.top_load;
    load.map_or(0.0, |load| load.reach_m())
}

/// By what share of itself the resonance moves if a measure is 1 % larger.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sensitivity {
    /// The measure.
    pub measure: Measure,
    /// The resonance's share, per 1 % of the measure.
    pub per_cent: f64,
}

/// The sensitivities of a build, from one half per cent below to one half above.
///
/// # Errors
/// Those of the ring model.
pub fn sensitivities(spec: &CoilSpec, footing: Footing) -> Result<Vec<Sensitivity>, RingError> {
    let fineness = Fineness::coarse(spec.winding.turns);
    let at =
        |measure, share| frequency_hz(&scene(&spec.with_larger(measure, share), footing), fineness);
    spec.measures()
        .into_iter()
        .map(|measure| {
            let (low_hz, high_hz) = (at(measure, -0.005)?, at(measure, 0.005)?);
            Ok(Sensitivity {
                measure,
                per_cent: (high_hz - low_hz) / f64::midpoint(low_hz, high_hz),
            })
        })
        .collect()
}

/// What former and enamel do to a build's resonance.
///
/// # Errors
/// Those of the ring model.
pub fn former_shift(spec: &CoilSpec) -> Result<Shift, RingError> {
    former::shift(
        spec.former,
        spec.surroundings.board,
        &scene(spec, Footing::of(spec.earth)),
    )
}

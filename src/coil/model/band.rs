//! The band of a modelled resonance, by its separate parts.

use super::doubt;
use crate::chance::Draws;
use crate::coil::former::{self, Former, Shift};
use crate::coil::rings::conductor::{Conductor, Joint, Thing};
use crate::coil::rings::kernel::Ring;
use crate::coil::rings::{Fineness, RingError, Scene, frequency_hz};
use crate::coil::setup::{Footing, scene, scene_with_eddies};
use crate::coil::spec::{Close, CoilSpec, Measure};
use crate::coil::surroundings::{CEILING_RADIUS_M, HAND_RADIUS_M, Plane};
use crate::coil::winding::{Shape, SpiralEnd};
use crate::units::{Span, Unit, rounded};

/// Draws of the winding's measures.
const DRAWS: usize = 300;

/// Least capacitance of a transistor's base, in farads, through which an earthed foot is joined to earth. Chosen: the
/// published figures for the classes are 0.2 to 1 nF.
const BASE_F: f64 = 100e-12;

/// Diameters of the discs that stand for the smallest and the largest circuit with its battery, in metres, where nothing
/// is given. Chosen; in the ring computations behind the reference the same.
const CIRCUITS_M: Span = Span::new(0.03, 0.1);

/// How much smaller or larger than stated a circuit may be for the field: chosen, it is no disc.
const CIRCUIT_DOUBT: Span = Span::new(0.7, 1.5);

/// A hand this far above the top is taken to be the nearest that nobody notices, in metres: chosen, for a coil as long as
/// [`HAND_SIZED_M`] at most.
const UNNOTICED_HAND_M: f64 = 0.05;

/// Length of a coil beside which a hand is all that is likely to be near, in metres: chosen, as long as a battery build.
const HAND_SIZED_M: f64 = 0.1;

/// A coil this long, in metres, stood under a ceiling; its owner blames the surroundings for a low resonance (public
/// mailing-list archive, February 2001).
const CEILING_SIZED_M: f64 = 1.768;

/// So near under it, in metres.
const UNNOTICED_CEILING_M: f64 = 0.4;

/// Returns the body that may be unnoticed above a coil of a length, as a disc: its radius and height above the top, in metres.
///
/// A hand over a small coil, a ceiling over one that fills a room, between and beyond in powers of the length.
fn unnoticed_m(length_m: f64) -> (f64, f64) {
    let share = (length_m / HAND_SIZED_M).ln() / (CEILING_SIZED_M / HAND_SIZED_M).ln();
    let at = |small_m: f64, large_m: f64| small_m * (large_m / small_m).powf(share.max(0.0));
    (
        at(HAND_RADIUS_M, CEILING_RADIUS_M),
        at(UNNOTICED_HAND_M, UNNOTICED_CEILING_M),
    )
}

/// A table this far below the winding, or twice as far as the lowest conductor, may be there where none is given, in metres:
/// chosen.
const UNNOTICED_TABLE_M: f64 = 0.02;

/// Where a part of the band comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// The tolerances of the winding's measures.
    Winding,
    /// The model itself.
    Model,
    /// The former of the coil, and its enamel.
    Former,
    /// How the foot is joined to earth, and the circuit's size.
    Earth,
    /// Objects nearby.
    Surroundings,
}

impl Cause {
    /// Returns it in a word fit for a table.
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
    pub(crate) fn is_chance(self) -> bool {
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
    /// The varied quantity, in words.
    pub words: String,
}

/// Returns the lower and upper edge over the value: chance parts as the root of the sum of their squares, the others one on the
/// other.
pub fn edges(parts: &[Part]) -> Span {
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
    Span::new(low * (1.0 - below), high * (1.0 + above))
}

/// Returns all parts of the band of a build with its foot joined as given.
///
/// `mode_f` is the mode's capacitance at the foot, `shift` the effect of former and enamel. Ratios are taken between scenes cut
/// alike and coarsely; the error of the cut is the same in both.
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
    let model = doubt::of(&spec.winding);
    Ok(vec![
        around.winding(),
        Part {
            cause: Cause::Model,
            low: model.low,
            high: model.high,
            words: model.words.to_owned(),
        },
        former_part(spec, shift, is_flat),
        around.earth(mode_f)?,
        around.surroundings()?,
    ])
}

fn former_part(spec: &CoilSpec, shift: Shift, is_flat: bool) -> Part {
    let words = match (spec.former, is_flat) {
        (Former::Unsaid, false) => "what it is wound on is not given: air to a solid rod",
        (Former::Unsaid, true) => "what it lies on is not given: air to a board of 3 mm",
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

    /// Returns the middle 95 % of the results that winders with these tolerances get. A tolerance counts as two deviations, the
    /// span that the table of enamels leaves as even chance from end to end.
    fn winding(&self) -> Part {
        let spec = self.spec;
        let shares = shares(spec);
        let over_enamel = spec.winding.over_enamel;
        let close = spec.tolerance.close;
        let film = match close {
            Close::Nothing => 0.0,
            _ => (over_enamel.high_m / over_enamel.middle_m() - 1.0).max(0.0),
        };
        let mut draws = Draws::seeded(spec.seed);
        let mut found = Vec::with_capacity(DRAWS);
        if film > 0.0 || shares.iter().any(|(_, share)| *share > 0.0) {
            for _ in 0..DRAWS {
                let mut drawn = shares.iter().fold(*spec, |spec, (measure, share)| {
                    spec.with_larger(*measure, share / 2.0 * draws.normal())
                });
                if film > 0.0 {
                    let pitch = 1.0 + film * (2.0 * draws.share() - 1.0);
                    drawn = match close {
                        Close::Turns => drawn.with_larger(Measure::Turns, 1.0 / pitch - 1.0),
                        _ => drawn.with_larger(Measure::Length, pitch - 1.0),
                    };
                }
                // A draw whose turns do not fit beside each other is a coil that nobody winds.
                found.extend(self.ratio(&scene(&drawn, self.footing)));
            }
        }
        found.sort_by(f64::total_cmp);
        // The 2.5 % and 97.5 % by nearest rank; draws that are none leave no spread.
        let cut = found.len() / 40;
        let low = found.get(cut).copied().unwrap_or(0.0).min(0.0);
        let high = found.iter().rev().nth(cut).copied().unwrap_or(0.0).max(0.0);
        let words = match close {
            Close::Nothing => "tolerances of the winding's measures, 95 % of 300 seeded draws",
            _ => "tolerances of the winding's measures and of its enamel, 95 % of 300 seeded draws",
        };
        Part {
            cause: Cause::Winding,
            low,
            high,
            words: words.to_owned(),
        }
    }

    fn earth(&self, mode_f: f64) -> Result<Part, RingError> {
        let around = &self.spec.surroundings;
        let sized = |circuit_m: f64, footing: Footing| {
            let mut spec = *self.spec;
            spec.surroundings.circuit_m = Some(circuit_m);
            self.ratio(&scene(&spec, footing))
        };
        let told_m = around.circuit_m;
        let circuits_m = told_m.map_or(CIRCUITS_M, |size_m| CIRCUIT_DOUBT.times(size_m));
        let (low, high, words) = match self.footing {
            Footing::Wired => (
                0.0,
                mode_f / (2.0 * BASE_F),
                "the transistor's base between foot and earth, 100 pF or more",
            ),
            Footing::Touched => (
                sized(circuits_m.high, Footing::Touched)?,
                sized(around.circuit_size_m(), Footing::Afloat)?,
                "from a firm hand to none, when the circuit floats",
            ),
            Footing::Afloat => (
                sized(circuits_m.high, Footing::Afloat)?,
                sized(circuits_m.low, Footing::Afloat)?,
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

    /// Returns how far the lowest conductor lies below the winding's lower edge, in metres.
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
        let (radius_m, above_m) = unnoticed_m(self.spec.winding.shape.longest_m());
        let is_open_above = around
            .ceiling_m
            .is_none_or(|ceiling_m| ceiling_m > 4.0 * above_m);
        let is_unnoticed = around.hand_m.is_none() && is_open_above;
        if is_unnoticed {
            let what = if above_m > 2.0 * UNNOTICED_HAND_M {
                "a person, a shelf or the ceiling"
            } else {
                "a hand"
            };
            words.push(format!("{what} {} above", rounded(above_m, Unit::Metre, 2)));
        }
        match around.plane {
            Plane::None => {
                let distance_m = UNNOTICED_TABLE_M.max(2.0 * self.depth_m());
                around.plane = Plane::Table { distance_m };
                words.push("a table 20 mm below or twice as low as the circuit".to_owned());
            }
            Plane::Table { .. } => {
                // The circuit stays where it is.
                far.surroundings.circuit_below_m = Some(far.surroundings.circuit_depth_m());
                far.surroundings.plane = Plane::None;
                words.push("a table so dry that it is none".to_owned());
            }
            Plane::Metal { .. } => {}
        }
        if self.footing != Footing::Wired {
            words.push("eddy currents in the circuit's metal".to_owned());
        }
        let mut near = scene(&near, self.footing);
        if is_unnoticed {
            let top_m = near.meridian.top.height_m.max(near.meridian.foot.height_m);
            let rim = Ring {
                radius_m,
                height_m: top_m + above_m + load_height_m(self.spec),
            };
            let hand = Conductor::disc(Thing::Hand, Joint::Earth, rim, above_m);
            near.conductors.push(hand);
        }
        Ok(Part {
            cause: Cause::Surroundings,
            low: self.ratio(&near)?.min(0.0),
            high: self.ratio(&scene_with_eddies(&far, self.footing))?.max(0.0),
            words: words.join(", "),
        })
    }
}

/// Returns the measures of a winding that are drawn, each with its tolerance as a share of itself.
///
/// Callipers err at each end of a cone or spiral by itself. Turns that were taken from a length grow with it.
fn shares(spec: &CoilSpec) -> Vec<(Measure, f64)> {
    let (shape, tolerance) = (spec.winding.shape, spec.tolerance);
    let ends = |foot_m: f64, top_m: f64| {
        [
            (Measure::FootDiameter, tolerance.diameter_m / foot_m),
            (Measure::TopDiameter, tolerance.diameter_m / top_m),
        ]
    };
    let mut shares = Vec::new();
    match shape {
        Shape::Cylinder { diameter_m, .. } => {
            shares.push((Measure::Diameter, tolerance.diameter_m / diameter_m));
        }
        Shape::Cone {
            foot_diameter_m,
            top_diameter_m,
            ..
        } => shares.extend(ends(foot_diameter_m, top_diameter_m)),
        Shape::FlatSpiral {
            inner_diameter_m,
            outer_diameter_m,
        } => shares.extend(match spec.winding.foot_end {
            SpiralEnd::Outer => ends(outer_diameter_m, inner_diameter_m),
            SpiralEnd::Inner => ends(inner_diameter_m, outer_diameter_m),
        }),
    }
    let length = match tolerance.close {
        Close::Turns => Measure::TurnsAtPitch,
        Close::Nothing | Close::Length => Measure::Length,
    };
    shares.push((length, tolerance.length_m / shape.slope_m()));
    shares.push((Measure::Turns, tolerance.turns / spec.winding.turns));
    shares
}

/// Returns how high a top load reaches above the winding's top, in metres.
pub(crate) fn load_height_m(spec: &CoilSpec) -> f64 {
    let load = spec.surroundings.top_load;
    load.map_or(0.0, |load| load.reach_m())
}

/// The share of itself by which the resonance moves if a measure is 1 % larger.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sensitivity {
    /// The measure.
    pub measure: Measure,
    /// The resonance's share, per 1 % of the measure.
    pub per_cent: f64,
}

/// Returns the sensitivities of a build, from one half per cent below to one half above.
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

/// Returns the effect of former and enamel on a build's resonance.
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

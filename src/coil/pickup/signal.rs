//! The signal of one pick-up at one build at its input, and the pick-up's effect on the resonance.

use std::f64::consts::{SQRT_2, TAU};

use super::wires::{Piece, Terminals, Wires, even, growing};
use super::{Input, Kind, LEAD_M, LEAD_THICK_M, PickUp, PickUpError, WIRE_M};
use crate::coil::field::{Field, FieldError, TopVoltage, Way, allowed, lines};
use crate::coil::inductance::{Current, stack_of_circles_h};
use crate::coil::rings::kernel::{EPSILON0_F_PER_M, Pair, Ring};
use crate::coil::rings::{Currents, Fineness, charges, currents};
use crate::coil::setup::{Footing, scene};
use crate::coil::spec::CoilSpec;
use crate::limits::{COUNTER_NEEDS_RMS_V, COUNTER_STANDS_RMS_V, PROBE_STANDS_V};
use crate::units::Span;

/// Between a stub and the screen behind it, in metres: chosen, the insulation that is left.
const GAP_M: f64 = 2e-3;

/// From one turn of a loop to the next, in metres: chosen, insulated wire side by side.
const LOOP_PITCH_M: f64 = 2e-3;

/// Steps along a stub, and round a loop. Chosen: twice as many move nothing by 0.1 %.
const STEPS: u32 = 24;
const STEPS_ROUND: u32 = 96;

/// How many times its least sine a counter is to see. Chosen.
const MARGIN: f64 = 2.0;

/// How many times the coil's frequency a loop's own resonance is to be. Chosen: it lifts the voltage by a third there.
const NEAR_OWN: f64 = 2.0;

/// The top's voltage against earth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Top {
    /// With typical parts, or as typed.
    pub typical: TopVoltage,
    /// Amplitude over the parts, in volts; the typed one where it was typed.
    pub amplitude_v: Span,
}

/// The signal that a pick-up gives its input.
#[derive(Debug, Clone, PartialEq)]
pub struct Signal {
    /// The pick-up.
    pub pick_up: PickUp,
    /// The input.
    pub input: Input,
    /// The resonance that it is for, in hertz.
    pub frequency_hz: f64,
    /// The top's voltage.
    pub top: Top,
    /// The element that drives the input, in farads for a stub and in henries for a loop.
    pub source: Span,
    /// Amplitude with nothing joined to the pick-up, in volts: typical parts, surroundings as drawn. Of a stub from an
    /// instrument whose case is right behind it and floats, to the end of a thin lead that is earthed; of a loop the same.
    pub open_v: Span,
    /// Amplitude at the input, in volts, for the same.
    pub input_v: Span,
    /// Amplitude at the input, in volts, over the parts as well, a table so dry that it is none, and no ceiling.
    pub over_v: Span,
    /// By how much the pick-up with its lead moves the resonance, as a share of it: where it moves it most.
    pub moved_ratio: f64,
    /// Where a loop resonates with its input, in hertz; `None` for a stub.
    pub own_hz: Option<f64>,
}

/// Whether an input sees as much as it needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reached {
    /// In every case, with a margin of two: counters differ, and so do builds.
    Always,
    /// In some cases.
    Sometimes,
    /// In none.
    Never,
}

impl Signal {
    /// Whether a counter's usual least sine is reached, over the parts and the surroundings.
    pub fn counter(&self) -> Reached {
        let needs_v = COUNTER_NEEDS_RMS_V * SQRT_2;
        if self.over_v.low >= MARGIN * needs_v {
            Reached::Always
        } else if self.over_v.high >= needs_v {
            Reached::Sometimes
        } else {
            Reached::Never
        }
    }

    /// Whether the input may see more than a counter's usually stands.
    pub fn is_beyond_counter(&self) -> bool {
        self.over_v.high > COUNTER_STANDS_RMS_V * SQRT_2
    }

    /// Whether the input may see more than a probe is usually rated for.
    pub fn is_beyond_probe(&self) -> bool {
        self.over_v.high > PROBE_STANDS_V
    }

    /// Whether a loop resonates with its input so near that the answer depends on both of them.
    pub fn is_near_own_resonance(&self) -> bool {
        self.own_hz
            .is_some_and(|own_hz| own_hz < NEAR_OWN * self.frequency_hz)
    }
}

/// Amplitudes over the top's, and the shift, in one kind of surroundings.
#[derive(Debug)]
struct Found {
    source: Span,
    open: Span,
    input: Span,
    moved_ratio: f64,
}

/// Returns the signal that a pick-up at a build gives an input, with the mode's shape by the ring model but without the sheet's
/// hand.
///
/// # Errors
/// [`PickUpError::Field`] where the model finds no mode, [`PickUpError::TooFar`] beyond the near field.
pub fn pick_up(
    spec: &CoilSpec,
    frequency_hz: f64,
    top: Top,
    pick_up: PickUp,
    input: Input,
) -> Result<Signal, PickUpError> {
    let mut spec = *spec;
    spec.surroundings.hand_m = None;
    let mut found = Vec::new();
    for surroundings in allowed(spec.surroundings) {
        let spec = CoilSpec {
            surroundings,
            ..spec
        };
        found.push(in_surroundings(&spec, frequency_hz, pick_up, input)?);
    }
    let drawn = found.first().ok_or(PickUpError::Crowded)?;
    let typical_v = top.typical.amplitude_v;
    let over = Span::over(found.iter().flat_map(|one| [one.input.low, one.input.high]));
    Ok(Signal {
        pick_up,
        input,
        frequency_hz,
        top,
        source: drawn.source,
        open_v: drawn.open.times(typical_v),
        input_v: drawn.input.times(typical_v),
        over_v: Span::new(
            over.low * top.amplitude_v.low,
            over.high * top.amplitude_v.high,
        ),
        moved_ratio: found.iter().map(|one| one.moved_ratio).fold(0.0, f64::min),
        own_hz: match pick_up.kind {
            Kind::Stub { .. } => None,
            Kind::Loop { .. } => Some(1.0 / (TAU * (drawn.source.high * input.farad).sqrt()))
                .filter(|hz| hz.is_finite()),
        },
    })
}

fn in_surroundings(
    spec: &CoilSpec,
    frequency_hz: f64,
    pick_up: PickUp,
    input: Input,
) -> Result<Found, PickUpError> {
    let scene = scene(spec, Footing::of(spec.earth));
    let count = Fineness::for_turns(spec.winding.turns).rings();
    let field = Field::of(&charges(&scene, count).map_err(FieldError::from)?);
    let currents = currents(&scene, count).map_err(FieldError::from)?;
    let beside = lines(spec, &scene, frequency_hz);
    let beside = beside.iter().find(|line| line.way == Way::Beside);
    let beside = beside.ok_or(PickUpError::Crowded)?;
    let size_m = match pick_up.kind {
        Kind::Stub { length_m } => length_m,
        Kind::Loop { diameter_m, .. } => diameter_m,
    };
    let farthest_m = beside.farthest_m;
    if pick_up.distance_m + size_m > farthest_m {
        return Err(PickUpError::TooFar {
            found_m: pick_up.distance_m,
            farthest_m: (farthest_m - size_m).max(0.0),
            frequency_hz,
        });
    }
    let (from_m, top_m) = beside.at_m(pick_up.distance_m);
    match pick_up.kind {
        Kind::Stub { length_m } => {
            of_stub(&field, &currents, (from_m, top_m), length_m, |source_f| {
                input.behind_farad(source_f, frequency_hz)
            })
        }
        Kind::Loop { diameter_m, turns } => {
            let meridian = &scene.meridian;
            let radius_m = diameter_m / 2.0;
            let middle = Ring {
                radius_m: from_m + radius_m,
                height_m: f64::midpoint(meridian.foot.height_m, meridian.top.height_m),
            };
            let wire_m = WIRE_M;
            let source_h =
                stack_of_circles_h(turns, radius_m, LOOP_PITCH_M, wire_m, Current::Surface);
            let flux_vs = f64::from(turns) * flux_vs_per_v(&currents, middle, radius_m);
            let open = TAU * frequency_hz * flux_vs.abs();
            let seen = open * input.behind_henry(source_h, frequency_hz);
            let wires = Wires::new(ring_and_lead(middle, radius_m), field.plane_m());
            let outer_v = wires.potentials_v(|at_m| potential_v(&field, at_m));
            Ok(Found {
                source: Span::over([source_h]),
                open: Span::over([open]),
                input: Span::over([seen]),
                moved_ratio: wires.drawn_j(&outer_v)? / (-2.0 * currents.stored_f),
            })
        }
    }
}

fn potential_v(field: &Field, [x, y, height_m]: [f64; 3]) -> f64 {
    field.at(x.hypot(y), height_m, 1.0).potential_v
}

/// Returns a stub whose near end is at a place, over the three ways in which an instrument may be behind it.
fn of_stub(
    field: &Field,
    currents: &Currents,
    (from_m, height_m): (f64, f64),
    length_m: f64,
    share: impl Fn(f64) -> f64,
) -> Result<Found, PickUpError> {
    let base_m = from_m + length_m;
    let at = |radius_m: f64| [radius_m, 0.0, height_m];
    let mut pieces = even(at(from_m), at(base_m), WIRE_M / 2.0, pieces_of(length_m));
    let stub = pieces.len();
    let lead = (at(base_m + GAP_M), at(base_m + GAP_M + LEAD_M));
    pieces.extend(growing(lead.0, lead.1, LEAD_THICK_M / 2.0));
    let wires = Wires::new(pieces, field.plane_m());
    let outer_v = wires.potentials_v(|at_m| potential_v(field, at_m));
    let (earthed, floating) = wires.terminals(stub, &outer_v)?;
    let on_case = Terminals {
        open_v: on_case_v(field, (from_m, height_m), length_m),
        source_f: short_monopole_f(length_m, WIRE_M / 2.0),
    };
    let ways = [on_case, floating, earthed];
    Ok(Found {
        source: Span::over(ways.map(|way| way.source_f)),
        open: Span::over(ways.map(|way| way.open_v.abs())),
        input: Span::over(ways.map(|way| way.open_v.abs() * share(way.source_f))),
        moved_ratio: wires.drawn_j(&outer_v)? / (-2.0 * currents.stored_f),
    })
}

/// Returns the number of pieces of a stub: a centimetre has four.
fn pieces_of(length_m: f64) -> u32 {
    (4..100)
        .find(|count| f64::from(*count) * 2.5e-3 >= length_m)
        .unwrap_or(100)
}

/// Returns the open-circuit voltage of a stub that stands on a conductor which does not disturb the field, per volt at the top.
///
/// A short aerial weighs the field along it by the current that it would have as a sender (reciprocity, textbook). That current
/// falls evenly to nothing at its end: half its length counts in an even field.
fn on_case_v(field: &Field, (from_m, height_m): (f64, f64), length_m: f64) -> f64 {
    let step_m = length_m / f64::from(STEPS);
    (0..STEPS)
        .map(|index| {
            let out_m = (f64::from(index) + 0.5) * step_m;
            let here = field.at(from_m + out_m, height_m, 1.0);
            here.outward_v_per_m * out_m / length_m * step_m
        })
        .sum()
}

/// Returns the capacitance of a short wire on a wide conductor, in farads: 2πε₀l/(ln(l/a) − 1), a the wire's radius.
///
/// From the reactance of a short dipole of twice the length, 120·[ln(l/a) − 1]/(2πl/λ) ohm (a textbook of aerials, from
/// memory). Some 10 % low for a wire of ten diameters.
pub(super) fn short_monopole_f(length_m: f64, radius_m: f64) -> f64 {
    TAU * EPSILON0_F_PER_M * length_m / ((length_m / radius_m).ln() - 1.0)
}

/// Returns the flux through one turn of a loop across the coil's direction, per volt at the top, in V·s.
///
/// The vector potential along the loop, A = M·i/2πr, with M between a ring and the circle through the place (Maxwell's).
pub(super) fn flux_vs_per_v(currents: &Currents, middle: Ring, radius_m: f64) -> f64 {
    let step = TAU / f64::from(STEPS_ROUND);
    let mirrored = |ring: Ring| currents.metal_m.map(|metal_m| ring.mirrored(metal_m));
    (0..STEPS_ROUND)
        .map(|index| {
            let (sin, cos) = ((f64::from(index) + 0.5) * step).sin_cos();
            let (x, y) = (middle.radius_m + radius_m * cos, radius_m * sin);
            let place = Ring {
                radius_m: x.hypot(y),
                ..middle
            };
            let round = |ring: Ring| Pair::of(ring, place).mutual_h;
            let flux_vs: f64 = currents
                .rings
                .iter()
                .map(|one| {
                    let image_h = mirrored(one.ring).map_or(0.0, round);
                    one.turns_a_per_v * (round(one.ring) - image_h)
                })
                .sum();
            let potential = flux_vs / (TAU * place.radius_m);
            // The step along the loop, as much of it as goes round the coil's axis.
            let along_m = radius_m * step * (x * cos + y * sin) / place.radius_m;
            potential * along_m
        })
        .sum()
}

/// Returns a loop's wire as a closed chain, and the lead behind it.
fn ring_and_lead(middle: Ring, radius_m: f64) -> Vec<Piece> {
    let corner = |index: u32| {
        let (sin, cos) = (TAU * f64::from(index) / f64::from(STEPS)).sin_cos();
        [
            middle.radius_m + radius_m * cos,
            radius_m * sin,
            middle.height_m,
        ]
    };
    let mut pieces: Vec<Piece> = (0..STEPS)
        .flat_map(|index| even(corner(index), corner(index + 1), WIRE_M / 2.0, 1))
        .collect();
    let at = |radius_m: f64| [radius_m, 0.0, middle.height_m];
    let behind_m = middle.radius_m + radius_m + GAP_M;
    pieces.extend(growing(
        at(behind_m),
        at(behind_m + LEAD_M),
        LEAD_THICK_M / 2.0,
    ));
    pieces
}

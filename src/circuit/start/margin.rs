//! How much a circuit has to spare: each quantity at which it would just start, all others as they are.

use super::moving::Quantity;
use super::rest::{Rest, VerdictError};
use super::threshold::Loop;
use crate::circuit::wiring::CircuitSpec;
use crate::units::Span;

/// The rule of false position ends when the quantity is known to this part of itself (chosen: far inside any part's spread).
const KNOWN_TO: f64 = 1e-3;
/// Its most evaluations (chosen: a plain bisection of the widest range would take 18).
const MOST_EVALUATIONS: usize = 60;

/// A quantity and where the circuit would just start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Margin {
    /// As it is.
    pub actual: f64,
    /// Where the growth is zero; `None` if that is outside the range searched: a circuit that starts does so throughout,
    /// one that does not can't be helped by this quantity.
    pub threshold: Option<f64>,
}

impl Margin {
    /// Returns the quantity over its threshold: for coupling, Q, speed and supply a starting circuit is above 1.
    pub fn ratio(&self) -> Option<f64> {
        self.threshold.map(|threshold| self.actual / threshold)
    }
}

/// The margins that a circuit has for starting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Margins {
    /// Coupling factor, 1e-4 to 0.95.
    pub coupling: Margin,
    /// Quality factor of the secondary, 0.5 to 2000.
    pub q: Margin,
    /// Transition frequency at the bias point, in hertz, by way of a transit time of 10 ps to 10 us.
    pub transition_hz: Margin,
    /// Battery voltage, 0.2 to 40 V.
    pub supply_v: Margin,
    /// Bias resistor, 10 ohm to 1 Gohm: its threshold is the largest that starts.
    pub bias_ohm: Margin,
}

/// A quantity of a circuit that can be turned like a knob.
struct Knob {
    /// The quantity that it turns.
    quantity: Quantity,
    /// The end of its range at which starting is hardest, and the other.
    harder: f64,
    easier: f64,
    get: fn(&CircuitSpec) -> f64,
    set: fn(&mut CircuitSpec, f64),
}

const COUPLING: Knob = Knob {
    quantity: Quantity::Coupling,
    harder: 1e-4,
    easier: 0.95,
    get: |spec| spec.resonator.coupling,
    set: |spec, value| spec.resonator.coupling = value,
};
const Q: Knob = Knob {
    quantity: Quantity::Q,
    harder: 0.5,
    easier: 2000.0,
    get: |spec| spec.resonator.q,
    set: |spec, value| spec.resonator.q = value,
};
const TRANSIT: Knob = Knob {
    quantity: Quantity::Transit,
    harder: 10e-6,
    easier: 10e-12,
    get: |spec| spec.transistor.model.forward_transit_s,
    set: |spec, value| spec.transistor.model.forward_transit_s = value,
};
const SUPPLY: Knob = Knob {
    quantity: Quantity::Supply,
    harder: 0.2,
    easier: 40.0,
    get: |spec| spec.supply.open_v,
    set: |spec, value| spec.supply.open_v = value,
};
const BIAS: Knob = Knob {
    quantity: Quantity::Bias,
    harder: 1e9,
    easier: 10.0,
    get: |spec| spec.bias_ohm,
    set: |spec, value| spec.bias_ohm = value,
};

impl Margins {
    /// Returns the transition frequency at the bias point with which a circuit would just start, in hertz.
    ///
    /// # Errors
    /// As [`Margins::of`].
    pub fn transition_to_start_hz(
        spec: &CircuitSpec,
        rest: &Rest,
    ) -> Result<Option<f64>, VerdictError> {
        let mut quick = Loop::of(spec, rest);
        let transit_s = nearest(quick.as_mut(), spec, rest, &TRANSIT)?;
        Ok(transit_s.map(|transit_s| rest.transition_hz_with(transit_s)))
    }

    /// Returns the margins of a circuit.
    ///
    /// Each threshold is Newton's on the secondary's loop, confirmed by the eigenvalues; where that finds none the range is
    /// searched, with one crossing in it assumed. A reversed primary's coupling is searched from the least positive one on.
    ///
    /// # Errors
    /// [`VerdictError`] where a circuit on the way has no bias point or nothing that can oscillate.
    pub fn of(spec: &CircuitSpec, rest: &Rest) -> Result<Self, VerdictError> {
        let mut quick = Loop::of(spec, rest);
        let mut margin = |knob: &Knob| {
            nearest(quick.as_mut(), spec, rest, knob).map(|threshold| Margin {
                actual: (knob.get)(spec),
                threshold,
            })
        };
        // A transit time does not move the bias point.
        let transit = margin(&TRANSIT)?;
        let needed_hz = transit
            .threshold
            .map(|transit_s| rest.transition_hz_with(transit_s));
        Ok(Self {
            coupling: margin(&COUPLING)?,
            q: margin(&Q)?,
            transition_hz: Margin {
                actual: rest.transition_hz(),
                threshold: needed_hz,
            },
            supply_v: margin(&SUPPLY)?,
            bias_ohm: margin(&BIAS)?,
        })
    }
}

/// Returns a threshold by Newton's method, or by a search where that finds none.
fn nearest(
    quick: Option<&mut Loop<'_>>,
    spec: &CircuitSpec,
    rest: &Rest,
    knob: &Knob,
) -> Result<Option<f64>, VerdictError> {
    match quick.and_then(|quick| beside(quick, spec, rest, knob)) {
        Some(found) => Ok(Some(found)),
        None => threshold(spec, rest, knob),
    }
}

/// Returns the threshold by Newton's method, if it is on the side where one is looked for.
fn beside(quick: &mut Loop<'_>, spec: &CircuitSpec, rest: &Rest, knob: &Knob) -> Option<f64> {
    let actual = (knob.get)(spec);
    if actual <= 0.0 {
        return None;
    }
    let Knob { harder, easier, .. } = *knob;
    let far = if rest.startup.starts() {
        harder
    } else {
        easier
    };
    let found = quick.threshold(knob.quantity, Span::over([harder, easier]))?;
    ((found > actual) == (far > actual)).then_some(found)
}

fn turned(spec: &CircuitSpec, knob: &Knob, value: f64) -> CircuitSpec {
    let mut spec = *spec;
    (knob.set)(&mut spec, value);
    spec
}

/// Returns where a knob's growth crosses zero, between the circuit as it is and the far end of the range.
fn threshold(spec: &CircuitSpec, rest: &Rest, knob: &Knob) -> Result<Option<f64>, VerdictError> {
    let growth =
        |log: f64| Rest::of(&turned(spec, knob, log.exp())).map(|rest| rest.startup.growth_per_s);
    let actual = (knob.get)(spec);
    let Knob { harder, easier, .. } = *knob;
    let near = if actual > 0.0 {
        (actual.ln(), rest.startup.growth_per_s)
    } else {
        (harder.ln(), growth(harder.ln())?)
    };
    let far = if rest.startup.starts() {
        harder
    } else {
        easier
    };
    let far = (far.ln(), growth(far.ln())?);
    if (near.1 > 0.0) == (far.1 > 0.0) {
        return Ok(None);
    }
    crossing(near, far, growth).map(|log| Some(log.exp()))
}

/// Returns the zero of `growth` between two places of different sign, by false position with the standing end's value halved (the
/// "Illinois" rule: M. Dowell and P. Jarratt, BIT 11, 1971, 168), in the logarithm of the quantity.
fn crossing(
    mut kept: (f64, f64),
    mut moved: (f64, f64),
    growth: impl Fn(f64) -> Result<f64, VerdictError>,
) -> Result<f64, VerdictError> {
    for _ in 0..MOST_EVALUATIONS {
        let mut at = moved.0 - moved.1 * (moved.0 - kept.0) / (moved.1 - kept.1);
        if (moved.0 - kept.0).abs() < KNOWN_TO {
            return Ok(at);
        }
        if (at - moved.0).abs() < KNOWN_TO {
            // As near as wanted on this side: a step beyond brings the other end here, or shows that it was not so near.
            at = moved.0 + KNOWN_TO.copysign(kept.0 - moved.0);
        }
        let value = growth(at)?;
        if (value > 0.0) == (moved.1 > 0.0) {
            kept.1 *= 0.5;
        } else {
            kept = moved;
        }
        moved = (at, value);
    }
    Ok(0.5 * (kept.0 + moved.0))
}

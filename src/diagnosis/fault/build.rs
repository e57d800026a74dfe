//! The build under test: its circuit over the spread of its parts, from which single circuits are drawn.

use crate::battery::kind::Kind;
use crate::chance::Draws;
use crate::circuit::margin::Margins;
use crate::circuit::rest::Rest;
use crate::circuit::verdict::Lamp;
use crate::circuit::wiring::CircuitSpec;
use crate::coil::prediction::Prediction;

/// A build as far as a diagnosis needs it.
#[derive(Debug, Clone, PartialEq)]
pub struct Build {
    /// Its circuit with worst, typical and best parts for starting.
    pub specs: [CircuitSpec; 3],
    /// Its circuit with each set of parts that practice leaves, each as probable as every other; never empty.
    pub parts: Vec<CircuitSpec>,
    /// How far the secondary's resonance may be off, one standard deviation as a share of itself.
    pub resonance_ratio: f64,
    /// The secondary's resistance to direct current, in ohms.
    pub secondary_dc_ohm: f64,
    /// Whether it has no firm earth.
    pub floats: bool,
    /// The secondary's turns.
    pub turns: f64,
    /// The primary's turns.
    pub primary_turns: f64,
    /// Whether its battery has a converter inside, or may have one.
    pub may_have_converter: bool,
    /// The number of its batteries in series.
    pub batteries: u32,
}

/// A quantity of which a design has too little to start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lack {
    /// In words.
    pub words: &'static str,
    /// How many times as much just starts it.
    pub times: f64,
}

/// One circuit drawn from a build, without a fault.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drawn {
    /// The circuit.
    pub sound: CircuitSpec,
    /// The secondary's resistance to direct current, in ohms.
    pub secondary_dc_ohm: f64,
    /// A fresh battery's open voltage, in volts.
    pub fresh_v: f64,
    /// Its resistance, in ohms.
    pub fresh_ohm: f64,
    /// Four numbers from 0 to 1 that say how strong a fault is.
    pub own: [f64; 4],
    /// Where it stands in the spread of parts and fault, in standard deviations.
    pub place: [f32; PLACES],
    /// The build it was drawn from: whether it floats.
    pub floats: bool,
    /// The primary's turns.
    pub primary_turns: f64,
    /// The number of batteries in series.
    pub batteries: u32,
}

/// Deviations that are drawn beside a set of parts: coupling, resonance, the battery's open voltage and resistance, breakdown of
/// the base, gain, transit time and Q.
const DEVIATIONS: usize = 8;
/// One figure of a circuit.
type Figure = fn(&CircuitSpec) -> f64;
/// Figures of a set that say where it stands, each with the deviation of its logarithm over the sets (about, chosen).
const FIGURES: [(Figure, f64); 8] = [
    (|s| s.resonator.q, 0.25),
    (|s| s.transistor.model.forward_gain, 0.45),
    (|s| s.transistor.model.forward_transit_s, 0.45),
    (|s| s.transistor.model.collector_depletion.zero_bias_f, 0.3),
    (|s| s.transistor.model.emitter_depletion.zero_bias_f, 0.4),
    (|s| s.transistor.model.reverse_transit_s, 0.7),
    (|s| s.transistor.model.base_ohm, 1.0),
    (|s| s.transistor.collector_breakdown_v, 0.25),
];
/// The drawn deviations that move a circuit's values: all but those of known values.
const MOVING: usize = 5;
/// Where a draw stands: its figures, its deviations, and the first two of a fault's own numbers.
pub const PLACES: usize = FIGURES.len() + MOVING + 2;
/// From one draw to the next this many sets on: the sets stand in an order, and few draws have to cover all of it (prime).
const STRIDE: u64 = 61;

/// The most draws until a sound circuit starts: the other faults did not happen to a build that does not start.
const MOST_DRAWS: u64 = 24;
/// Spread of a value given as known, as one standard deviation: of a measured coupling, of a measured gain or speed.
const KNOWN: f64 = 0.03;
/// Spread of a battery's open voltage, as a share of it (assumed).
const OPEN_SPREAD: f64 = 0.025;
/// Spread of the logarithm of its resistance (assumed).
const BATTERY_OHM_SPREAD: f64 = 0.3;
/// Breakdown of base to emitter (data sheets 5 to 6 V at least; real parts 6 to 9 V from memory), and its spread.
const EMITTER_BREAKDOWN_V: f64 = 7.3;
const EMITTER_BREAKDOWN_SPREAD_V: f64 = 0.8;

/// Least doubt in a resonance: a circuit is never alone as its coil was measured.
const LEAST_RESONANCE_RATIO: f64 = 2e-3;

impl Build {
    /// Creates a build with its circuit's sets, worst to best, its circuit with all sets of parts (the former where there are
    /// none), and its coil as predicted.
    ///
    /// The circuit is taken as it was meant: a primary that the sheet itself has the wrong way round is one of the faults.
    pub fn new(
        specs: &[CircuitSpec; 3],
        parts: &[CircuitSpec],
        prediction: &Prediction,
        floats: bool,
        (turns, primary_turns): (f64, f64),
    ) -> Self {
        let found = &prediction.resonance;
        let ratio = (found.high_hz - found.low_hz) / (4.0 * found.value_hz);
        let as_meant = |mut spec: CircuitSpec| {
            spec.resonator.coupling = spec.resonator.coupling.abs();
            spec
        };
        let parts = if parts.is_empty() { specs } else { parts };
        Self {
            specs: specs.map(as_meant),
            parts: parts.iter().copied().map(as_meant).collect(),
            resonance_ratio: ratio.clamp(LEAST_RESONANCE_RATIO, 0.2),
            secondary_dc_ohm: prediction.resistance_dc_ohm,
            floats,
            turns,
            primary_turns,
            may_have_converter: true,
            batteries: 1,
        }
    }

    /// Returns the same with a battery of a known kind.
    #[must_use]
    pub const fn with_battery(mut self, kind: Kind) -> Self {
        self.may_have_converter = kind.has_converter();
        self
    }

    /// Returns the same with a number of batteries in series.
    #[must_use]
    pub const fn with_batteries(mut self, series: u32) -> Self {
        self.batteries = series;
        self
    }

    /// Whether there is an LED at the base: a silicon diode never glows.
    pub fn has_led(&self) -> bool {
        let [_, typical, _] = &self.specs;
        Lamp::of(typical) == Lamp::Led
    }

    /// Whether it starts as drawn with typical parts.
    pub fn starts(&self) -> bool {
        let [_, typical, _] = &self.specs;
        starts(typical)
    }

    /// Returns the quantities that the design lacks with typical parts, each with the factor that it alone would need, the least
    /// first. The list is empty where none alone is enough; `None` stands for a design that starts or can't be computed.
    pub fn lacks(&self) -> Option<Vec<Lack>> {
        let [_, typical, _] = &self.specs;
        let rest = Rest::of(typical).ok()?;
        if rest.startup.starts() {
            return None;
        }
        let margins = Margins::of(typical, &rest).ok()?;
        let mut lacks: Vec<Lack> = [
            ("the coupling of primary and secondary", margins.coupling),
            ("the secondary's Q", margins.q),
            ("the transistor's speed (fT)", margins.transition_hz),
        ]
        .into_iter()
        .filter_map(|(words, margin)| {
            let times = 1.0 / margin.ratio()?;
            Some(Lack { words, times })
        })
        .collect();
        lacks.sort_by(|a, b| a.times.total_cmp(&b.times));
        Some(lacks)
    }

    /// Returns the circuit number `index` of this build, always the same.
    pub fn drawn(&self, index: u32) -> Drawn {
        let mut last = self.attempt(index, 0);
        for attempt in 1..MOST_DRAWS {
            if starts(&last.sound) {
                return last;
            }
            last = self.attempt(index, attempt);
        }
        last
    }

    /// Returns the set of parts of a draw: in turn, far from the one before.
    fn part(&self, number: u64) -> &CircuitSpec {
        let [_, typical, _] = &self.specs;
        let count = self.parts.len().max(1) as u64;
        let place = usize::try_from(number.wrapping_mul(STRIDE) % count).unwrap_or(0);
        self.parts.get(place).unwrap_or(typical)
    }

    fn attempt(&self, index: u32, attempt: u64) -> Drawn {
        let seed = 1 + u64::from(index) + (attempt << 32);
        let mut draws = Draws::seeded(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15));
        let deviations = [(); DEVIATIONS].map(|()| draws.normal().clamp(-2.2, 2.2));
        let [worst, typical, best] = &self.specs;
        let mut sound = *self.part(u64::from(index) + attempt);
        let [coupling, resonance, open, ohm, broken, gain, transit, q] = deviations;
        let couplings = [worst, typical, best].map(|s| s.resonator.coupling);
        let known = |deviation: f64| (KNOWN * deviation).exp();
        let coil = &mut sound.resonator;
        coil.q *= known(q);
        coil.coupling *= spread(couplings, coupling) / typical.resonator.coupling;
        coil.farad *= (1.0 + self.resonance_ratio * resonance).powi(-2);
        let model = &mut sound.transistor.model;
        model.forward_gain *= known(gain);
        model.forward_transit_s *= known(transit);
        sound.supply.open_v *= 1.0 + OPEN_SPREAD * open;
        sound.supply.battery_ohm *= (BATTERY_OHM_SPREAD * ohm).exp();
        sound.transistor.emitter_breakdown_v =
            EMITTER_BREAKDOWN_V + EMITTER_BREAKDOWN_SPREAD_V * broken;
        let fresh_v = typical.supply.open_v * (1.03 + 0.02 * draws.normal());
        let own = [0; 4].map(|_| draws.share());
        let dc = 1.0 + 0.02 * draws.normal();
        let figures = FIGURES.map(|(get, scale)| (get(&sound) / get(typical)).ln() / scale);
        // How strong the fault is counts as much as where the parts lie.
        let strength = own.map(|own| 3.0 * (own - 0.5));
        let all = figures
            .into_iter()
            .chain(deviations.into_iter().take(MOVING))
            .chain(strength);
        let mut place = [0.0; PLACES];
        for (slot, deviation) in place.iter_mut().zip(all) {
            #[expect(
                clippy::cast_possible_truncation,
                reason = "a place within two deviations needs no more digits"
            )]
            let deviation = deviation as f32;
            *slot = deviation;
        }
        Drawn {
            sound,
            secondary_dc_ohm: self.secondary_dc_ohm * dc,
            fresh_v,
            fresh_ohm: typical.supply.battery_ohm.min(3.0),
            own,
            place,
            floats: self.floats,
            primary_turns: self.primary_turns,
            batteries: self.batteries,
        }
    }
}

fn starts(spec: &CircuitSpec) -> bool {
    Rest::of(spec).is_ok_and(|rest| rest.startup.starts())
}

/// Returns a value a number of deviations from typical, worst and best taken as two of them; by ratios, so that none turns round.
fn spread([worst, typical, best]: [f64; 3], deviation: f64) -> f64 {
    let end = if deviation < 0.0 { worst } else { best };
    let ratio = end / typical;
    if ratio <= 0.0 || !ratio.is_finite() || (ratio - 1.0).abs() < 1e-9 {
        return typical * (KNOWN * deviation).exp();
    }
    typical * ratio.powf(0.5 * deviation.abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_deviations_are_the_ends_and_a_known_value_keeps_a_small_spread() {
        let triple = [40e-9, 10e-9, 8e-9];
        assert!((spread(triple, -2.0) / 40e-9 - 1.0).abs() < 1e-12);
        assert!((spread(triple, 2.0) / 8e-9 - 1.0).abs() < 1e-12);
        assert!((spread([120.0; 3], -1.0) / 120.0 - 0.97).abs() < 1e-3);
        assert!((spread([-0.2, -0.25, -0.3], 1.0) + 0.25 * 1.2_f64.sqrt()).abs() < 1e-12);
    }
}

//! The transistor: Gummel and Poon's integral charge-control model, in charge form.
//!
//! Source: H. K. Gummel and H. C. Poon, "An integral charge control model of bipolar transistors", Bell System Technical Journal
//! 49 (1970) 827, in the form circuit simulators share (constant base resistance, no substrate, no heating; form from memory,
//! checked against another simulator's numbers in `tests/model/circuit.rs`). It knows no breakdown: diodes beside it do.

use super::junction::{Depletion, LEAST_CONDUCTANCE_S, Sloped, THERMAL_V, ideal};

/// A leak beside a junction's ideal current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leak {
    /// Saturation current, in amperes; 0 for none.
    pub saturation_a: f64,
    /// Ideality.
    pub ideality: f64,
}

impl Leak {
    /// No leak.
    pub const NONE: Self = Self {
        saturation_a: 0.0,
        ideality: 1.5,
    };
}

/// How the forward transit time grows where current crowds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TransitRise {
    /// The greatest growth, as a ratio to the transit time; 0 for none.
    pub ratio: f64,
    /// The collector voltage that lessens it, in volts.
    pub scale_v: f64,
    /// The current at which it is a quarter of the greatest, in amperes.
    pub scale_a: f64,
}

impl TransitRise {
    /// A constant transit time.
    pub const NONE: Self = Self {
        ratio: 0.0,
        scale_v: f64::INFINITY,
        scale_a: 1.0,
    };
}

/// A transistor's parameters at 27 °C, with the signs of an NPN one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transistor {
    /// Transport saturation current, in amperes.
    pub saturation_a: f64,
    /// Ideal forward current gain.
    pub forward_gain: f64,
    /// Ideal reverse current gain.
    pub reverse_gain: f64,
    /// Forward Early voltage, in volts; infinite for none.
    pub early_v: f64,
    /// Collector current where the gain begins to fall, in amperes; infinite for never.
    pub knee_a: f64,
    /// Leak of the base-emitter junction.
    pub emitter_leak: Leak,
    /// Leak of the base-collector junction.
    pub collector_leak: Leak,
    /// Depletion charge between base and emitter.
    pub emitter_depletion: Depletion,
    /// Depletion charge between base and collector.
    pub collector_depletion: Depletion,
    /// Forward transit time, in seconds.
    pub forward_transit_s: f64,
    /// Its growth with current.
    pub transit_rise: TransitRise,
    /// Reverse transit time, in seconds.
    pub reverse_transit_s: f64,
    /// Series resistance of the base, in ohms.
    pub base_ohm: f64,
    /// Series resistance of the collector, in ohms.
    pub collector_ohm: f64,
    /// Series resistance of the emitter, in ohms.
    pub emitter_ohm: f64,
}

/// A function of both junction voltages with its slopes.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct TwoSloped {
    pub(crate) value: f64,
    pub(crate) by_emitter: f64,
    pub(crate) by_collector: f64,
}

/// The currents and the stored charges at a pair of junction voltages.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct State {
    /// Into the collector, in amperes.
    pub(crate) collector_a: TwoSloped,
    /// Into the base, in amperes.
    pub(crate) base_a: TwoSloped,
    /// Between base and emitter, in coulombs.
    pub(crate) emitter_c: TwoSloped,
    /// Between base and collector, in coulombs.
    pub(crate) collector_c: Sloped,
}

/// Returns the normalised base charge `q_b` with its slopes.
fn base_charge(t: &Transistor, volt_bc: f64, forward: Sloped) -> TwoSloped {
    let early = 1.0 / (1.0 - volt_bc / t.early_v);
    let high = 0.5 * (1.0 + (1.0 + 4.0 * (forward.value / t.knee_a).max(-0.25)).sqrt());
    let by_forward = early * forward.slope / (t.knee_a * (2.0 * high - 1.0).max(1e-9));
    TwoSloped {
        value: early * high,
        by_emitter: by_forward,
        by_collector: early * early * high / t.early_v,
    }
}

impl Transistor {
    /// Returns the currents and charges at the inner junction voltages base to emitter and base to collector.
    pub(crate) fn state(&self, volt_be: f64, volt_bc: f64) -> State {
        let forward = ideal(self.saturation_a, THERMAL_V, volt_be);
        let reverse = ideal(self.saturation_a, THERMAL_V, volt_bc);
        let leak_e = leak(self.emitter_leak, volt_be);
        let leak_c = leak(self.collector_leak, volt_bc);
        let qb = base_charge(self, volt_bc, forward);
        let transport = (forward.value - reverse.value) / qb.value;
        let back = Sloped {
            value: reverse.value / self.reverse_gain + leak_c.value,
            slope: reverse.slope / self.reverse_gain + leak_c.slope,
        };
        let collector_a = TwoSloped {
            value: transport - back.value,
            by_emitter: (forward.slope - transport * qb.by_emitter) / qb.value,
            by_collector: -(reverse.slope + transport * qb.by_collector) / qb.value - back.slope,
        };
        let base_a = TwoSloped {
            value: forward.value / self.forward_gain + leak_e.value + back.value,
            by_emitter: forward.slope / self.forward_gain + leak_e.slope,
            by_collector: back.slope,
        };
        let depletion = self.collector_depletion.charge(volt_bc);
        State {
            collector_a,
            base_a,
            emitter_c: self.emitter_charge(volt_be, volt_bc, forward, qb),
            collector_c: Sloped {
                value: depletion.value + self.reverse_transit_s * reverse.value,
                slope: depletion.slope + self.reverse_transit_s * reverse.slope,
            },
        }
    }

    fn emitter_charge(
        &self,
        volt_be: f64,
        volt_bc: f64,
        forward: Sloped,
        qb: TwoSloped,
    ) -> TwoSloped {
        let depletion = self.emitter_depletion.charge(volt_be);
        let rise = self.transit_rise;
        // Crowding: TF (1 + X (i / (i + ITF))^2 exp(v_bc / (1.44 VTF))).
        let (mut growth, mut by_forward, mut by_collector) = (1.0, 1.0, 0.0);
        if rise.ratio > 0.0 && volt_be > 0.0 {
            let part = forward.value / (forward.value + rise.scale_a);
            let crowd = rise.ratio * (volt_bc / (1.44 * rise.scale_v)).exp() * part * part;
            growth += crowd;
            by_forward += crowd * (3.0 - 2.0 * part);
            by_collector = crowd / (1.44 * rise.scale_v);
        }
        let stored = forward.value * growth / qb.value;
        let per_charge = self.forward_transit_s / qb.value;
        TwoSloped {
            value: depletion.value + self.forward_transit_s * stored,
            by_emitter: depletion.slope
                + per_charge * (forward.slope * by_forward - stored * qb.by_emitter),
            by_collector: per_charge * (forward.value * by_collector - stored * qb.by_collector),
        }
    }
}

fn leak(leak: Leak, volt: f64) -> Sloped {
    let mut current = ideal(leak.saturation_a, leak.ideality * THERMAL_V, volt);
    current.value += LEAST_CONDUCTANCE_S * volt;
    current.slope += LEAST_CONDUCTANCE_S;
    current
}

#[cfg(test)]
mod tests {
    use super::*;

    const POWER: Transistor = Transistor {
        saturation_a: 4.575e-13,
        forward_gain: 156.7,
        reverse_gain: 7.6,
        early_v: 50.0,
        knee_a: 3.296,
        emitter_leak: Leak {
            saturation_a: 1.346e-12,
            ideality: 1.34,
        },
        collector_leak: Leak::NONE,
        emitter_depletion: Depletion {
            zero_bias_f: 433e-12,
            built_in_v: 0.75,
            grading: 0.5,
        },
        collector_depletion: Depletion {
            zero_bias_f: 279e-12,
            built_in_v: 0.75,
            grading: 0.385,
        },
        forward_transit_s: 37e-9,
        transit_rise: TransitRise {
            ratio: 3.0,
            scale_v: 7.0,
            scale_a: 0.5,
        },
        reverse_transit_s: 1.4e-6,
        base_ohm: 0.1,
        collector_ohm: 0.09,
        emitter_ohm: 0.0,
    };

    /// Newton and the start-up condition both rest on these slopes.
    #[test]
    fn every_slope_is_the_slope_of_its_value() {
        type Pick = fn(&State) -> TwoSloped;
        let picks: [(&str, Pick); 4] = [
            ("collector current", |s| s.collector_a),
            ("base current", |s| s.base_a),
            ("emitter charge", |s| s.emitter_c),
            ("collector charge", |s| TwoSloped {
                value: s.collector_c.value,
                by_emitter: 0.0,
                by_collector: s.collector_c.slope,
            }),
        ];
        for (be, bc) in [(0.70, -9.0), (0.78, 0.5), (0.2, 0.65), (0.76, -0.3)] {
            for (what, pick) in picks {
                let step = 1e-6;
                let at = |e: f64, c: f64| pick(&POWER.state(be + e, bc + c)).value;
                let by_emitter = (at(step, 0.0) - at(-step, 0.0)) / (2.0 * step);
                let by_collector = (at(0.0, step) - at(0.0, -step)) / (2.0 * step);
                let told = pick(&POWER.state(be, bc));
                let scale = told.by_emitter.abs() + told.by_collector.abs();
                assert!(
                    (told.by_emitter - by_emitter).abs() < 1e-5 * scale
                        && (told.by_collector - by_collector).abs() < 1e-5 * scale,
                    "{what} at {be} {bc}: {told:?}, {by_emitter} {by_collector}"
                );
            }
        }
    }

    #[test]
    fn the_gain_is_halved_where_the_ideal_current_reaches_twice_the_knee() {
        // By hand: q_b = (1 + sqrt(1 + 4 * 2)) / 2 = 2 at i = 2 IKF, no Early effect at v_bc = 0.
        let plain = Transistor {
            emitter_leak: Leak::NONE,
            ..POWER
        };
        let volt = THERMAL_V * (2.0 * plain.knee_a / plain.saturation_a).ln();
        let state = plain.state(volt, 0.0);
        let gain = state.collector_a.value / state.base_a.value;
        assert!((gain / (156.7 / 2.0) - 1.0).abs() < 1e-6, "{gain}");
    }
}

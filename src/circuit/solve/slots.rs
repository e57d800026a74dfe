//! Devices at their places among the unknowns, and the part that each adds to a point.

use super::point::{Point, Weights};
use crate::circuit::diode::{Diode, Steep};
use crate::circuit::junction::{THERMAL_V, held_back};
use crate::circuit::transistor::Transistor;

#[derive(Debug, Clone)]
pub(super) struct DiodeSlots {
    pub(super) outer: usize,
    pub(super) inner: usize,
    pub(super) cathode: usize,
    pub(super) diode: Diode,
    pub(super) steep: Steep,
}

#[derive(Debug, Clone)]
pub(super) struct TransistorSlots {
    pub(super) base: usize,
    pub(super) collector: usize,
    pub(super) emitter: usize,
    /// The legs of base, collector and emitter.
    pub(super) legs: [usize; 3],
    pub(super) critical_v: f64,
    /// 1 for an NPN transistor, -1 for a PNP one: the sign of its junctions' voltages, its currents and its charges.
    pub(super) sign: f64,
    pub(super) transistor: Transistor,
}

impl DiodeSlots {
    pub(super) fn evaluate(&self, index: usize, x: &[f64], weights: Weights, at: &mut Point) {
        let asked_v = x[self.inner] - x[self.cathode];
        let held_v = self.steep.held_back(asked_v, at.junction_v[index]);
        let missing_v = at.approach(index, asked_v, held_v);
        let current = self.diode.current(held_v);
        let charge = self.diode.charge(held_v, current);
        let flow_a = current.value + current.slope * missing_v;
        let stored_c = charge.value + charge.slope * missing_v;
        at.flow[self.inner] += flow_a;
        at.flow[self.cathode] -= flow_a;
        at.charge[self.inner] += stored_c;
        at.charge[self.cathode] -= stored_c;
        let ends = (self.inner, self.cathode);
        at.stamp(ends, ends, weights.conductance * current.slope);
        at.store(ends, ends, charge.slope, weights.capacitance);
    }
}

impl TransistorSlots {
    /// Returns the voltages base to emitter and base to collector, each counted as it conducts.
    pub(super) fn junctions_v(&self, x: &[f64]) -> [f64; 2] {
        [
            self.sign * (x[self.base] - x[self.emitter]),
            self.sign * (x[self.base] - x[self.collector]),
        ]
    }

    pub(super) fn evaluate(&self, index: usize, x: &[f64], weights: Weights, at: &mut Point) {
        let Self {
            base: b,
            collector: c,
            emitter: e,
            sign,
            ..
        } = *self;
        let held =
            |asked_v: f64, last_v: f64| held_back(asked_v, last_v, THERMAL_V, self.critical_v);
        let [asked_be, asked_bc] = self.junctions_v(x);
        let volt_be = held(asked_be, at.junction_v[index]);
        let volt_bc = held(asked_bc, at.junction_v[index + 1]);
        let missing_be = at.approach(index, asked_be, volt_be);
        let missing_bc = at.approach(index + 1, asked_bc, volt_bc);
        let state = self.transistor.state(volt_be, volt_bc);
        let (ic, ib, qe, qc) = (
            state.collector_a,
            state.base_a,
            state.emitter_c,
            state.collector_c,
        );
        let collector_a = ic.value + ic.by_emitter * missing_be + ic.by_collector * missing_bc;
        let base_a = ib.value + ib.by_emitter * missing_be + ib.by_collector * missing_bc;
        let emitter_c = qe.value + qe.by_emitter * missing_be + qe.by_collector * missing_bc;
        let collector_c = qc.value + qc.slope * missing_bc;
        // Voltage and current both turn round with the sign: the slopes stay.
        at.flow[c] += sign * collector_a;
        at.flow[b] += sign * base_a;
        at.flow[e] -= sign * (collector_a + base_a);
        at.charge[b] += sign * (emitter_c + collector_c);
        at.charge[e] -= sign * emitter_c;
        at.charge[c] -= sign * collector_c;
        let Weights {
            conductance: g,
            capacitance: w,
        } = weights;
        at.stamp((c, e), (b, e), g * ic.by_emitter);
        at.stamp((c, e), (b, c), g * ic.by_collector);
        at.stamp((b, e), (b, e), g * ib.by_emitter);
        at.stamp((b, e), (b, c), g * ib.by_collector);
        at.store((b, e), (b, e), qe.by_emitter, w);
        at.store((b, e), (b, c), qe.by_collector, w);
        at.store((b, c), (b, c), qc.slope, w);
    }
}

//! One cycle of an oscillation as its steps come in: means, extremes, length.

use crate::circuit::network::Node;
use crate::circuit::solve::system::System;
use crate::circuit::wiring::Probes;
use crate::units::Span;

/// The quantities read at one moment.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Reading {
    pub(super) secondary_a: f64,
    means: [f64; MEANS],
    top_v: f64,
    pub(super) base_v: f64,
    collector_v: f64,
}

/// Quantities of which the mean is read.
pub(super) const MEANS: usize = 10;
/// The battery's current, in amperes.
pub(super) const SUPPLY: usize = 0;
/// The battery's voltage, in volts.
pub(super) const BATTERY: usize = 1;
/// The base's voltage, in volts.
pub(super) const BASE: usize = 2;
/// The current of the diode at the base, in amperes.
pub(super) const DIODE: usize = 3;
/// The power the transistor turns to heat, its breakdown with it, in watts.
pub(super) const TRANSISTOR: usize = 4;
/// The power that the battery gives with its own resistance counted to it, in watts.
pub(super) const GIVEN: usize = 5;
/// The heat in the battery's own resistance, in watts.
pub(super) const BATTERY_HEAT: usize = 6;
/// The heat in secondary and primary, in watts.
pub(super) const COIL: usize = 7;
/// The power that the diode at the base takes, in watts.
pub(super) const DIODE_POWER: usize = 8;
/// The heat in everything else that has resistance, in watts.
pub(super) const OTHERS: usize = 9;

impl Reading {
    pub(super) fn of(system: &System, probes: &Probes, x: &[f64], source_v: f64) -> Self {
        let volt = |node: Node| x[system.node(node)];
        let supply_a = -x[system.branch(probes.battery)];
        let battery_w = system.branch_w(probes.battery, x);
        let coil_w = system.branch_w(probes.secondary, x) + system.branch_w(probes.primary, x);
        Self {
            secondary_a: x[system.branch(probes.secondary)],
            means: [
                supply_a,
                volt(probes.plus),
                volt(probes.base),
                probes.base_diode.map_or(0.0, |id| system.diode_a(id, x)),
                system.transistor_w(probes.transistor, &probes.breakdowns, x),
                source_v * supply_a,
                battery_w,
                coil_w,
                probes.base_diode.map_or(0.0, |id| system.diode_w(id, x)),
                system.all_ohms_w(x) - battery_w - coil_w,
            ],
            top_v: volt(probes.top),
            base_v: volt(probes.base),
            collector_v: volt(probes.collector),
        }
    }

    /// Returns the moment a part of the way to the next one.
    pub(super) fn towards(&self, next: &Self, part: f64) -> Self {
        let between = |a: f64, b: f64| a + part * (b - a);
        let mut means = self.means;
        for (mean, next) in means.iter_mut().zip(next.means) {
            *mean = between(*mean, next);
        }
        Self {
            secondary_a: between(self.secondary_a, next.secondary_a),
            means,
            top_v: between(self.top_v, next.top_v),
            base_v: between(self.base_v, next.base_v),
            collector_v: between(self.collector_v, next.collector_v),
        }
    }
}

/// One cycle, or several added.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cycle {
    pub(super) start_s: f64,
    pub(super) length_s: f64,
    integrals: [f64; MEANS],
    /// Sum of the steps' cubes, for their mean square.
    pub(super) cubes: f64,
    pub(super) steps: f64,
    pub(super) cycles: f64,
    /// Sum over cycles of half the top's swing.
    swing_v: f64,
    top_v: Span,
    pub(super) base_v: Span,
    pub(super) collector_highest_v: f64,
    /// The highest of the collector above the base, in volts.
    pub(super) collector_base_v: f64,
}

impl Cycle {
    pub(super) const fn empty(start_s: f64) -> Self {
        Self {
            start_s,
            length_s: 0.0,
            integrals: [0.0; MEANS],
            cubes: 0.0,
            steps: 0.0,
            cycles: 0.0,
            swing_v: 0.0,
            top_v: Span::NONE,
            base_v: Span::NONE,
            collector_highest_v: f64::NEG_INFINITY,
            collector_base_v: f64::NEG_INFINITY,
        }
    }

    /// Adds a step, by the trapezoid rule.
    pub(super) fn add(&mut self, from: &Reading, to: &Reading, step_s: f64) {
        for ((sum, a), b) in self.integrals.iter_mut().zip(from.means).zip(to.means) {
            *sum += 0.5 * (a + b) * step_s;
        }
        self.length_s += step_s;
        self.cubes += step_s * step_s * step_s;
        self.steps += 1.0;
        self.top_v = self.top_v.joined(Span::of(to.top_v));
        self.base_v = self.base_v.joined(Span::of(to.base_v));
        self.collector_highest_v = self.collector_highest_v.max(to.collector_v);
        self.collector_base_v = self.collector_base_v.max(to.collector_v - to.base_v);
    }

    pub(super) fn closed(mut self) -> Self {
        self.cycles = 1.0;
        self.swing_v = 0.5 * self.top_v.width();
        self
    }

    pub(super) fn sum(cycles: &[Self]) -> Self {
        cycles.iter().fold(Self::empty(0.0), |mut all, one| {
            for (sum, part) in all.integrals.iter_mut().zip(one.integrals) {
                *sum += part;
            }
            all.length_s += one.length_s;
            all.cubes += one.cubes;
            all.steps += one.steps;
            all.cycles += one.cycles;
            all.swing_v += one.swing_v;
            all.base_v = all.base_v.joined(one.base_v);
            all.collector_highest_v = all.collector_highest_v.max(one.collector_highest_v);
            all.collector_base_v = all.collector_base_v.max(one.collector_base_v);
            all
        })
    }

    pub(super) fn mean(&self, which: usize) -> f64 {
        self.integrals[which] / self.length_s
    }

    pub(super) fn swing(&self) -> f64 {
        self.swing_v / self.cycles
    }
}

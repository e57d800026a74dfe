//! A running circuit's figures, cycle by cycle, from its steps in time.

use super::network::{Network, Node};
use super::stepper::{Accuracy, PHASE_ERROR, Stepper, TransientError};
use super::system::System;
use super::wiring::Probes;

/// How long to follow a circuit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Until {
    /// To a time, in second; the figures are means over the time from `read_from_s` on.
    Time {
        /// The end.
        end_s: f64,
        /// Where reading begins.
        read_from_s: f64,
    },
    /// To where the envelope and the current have settled, or to a time at most.
    Settled {
        /// That time, in second.
        at_most_s: f64,
    },
}

/// Whether the figures would still be these if it ran on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Envelope {
    /// They would.
    Settled,
    /// They were still changing, or the run was ended by its time alone.
    NotSettled,
}

/// What a running circuit shows, means over the cycles read unless said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Running {
    /// In hertz, the method's own error taken off.
    pub frequency_hz: f64,
    /// Drawn from the battery, in ampere.
    pub supply_a: f64,
    /// At the battery's clips, in volt.
    pub battery_v: f64,
    /// The coil's top: half of its swing from peak to peak, in volt.
    pub top_v: f64,
    /// At the base, in volt.
    pub base_v: f64,
    /// The base's lowest, in volt.
    pub base_lowest_v: f64,
    /// The base's highest, in volt.
    pub base_highest_v: f64,
    /// The collector's highest, in volt.
    pub collector_highest_v: f64,
    /// Through the diode at the base, in ampere.
    pub diode_a: f64,
    /// Whether it had settled.
    pub envelope: Envelope,
    /// How long it was followed, in second.
    pub followed_s: f64,
    /// Steps a cycle.
    pub steps_per_cycle: f64,
}

/// Cycles compared as one (chosen: long against a wild collector's scatter, short against an envelope).
const BLOCK: usize = 24;
/// Blocks in a row that have to agree.
const AGREEING: usize = 3;
/// How well blocks have to agree: of the value, in volt at the top and in ampere.
const AGREEMENT: (f64, f64, f64) = (2e-3, 0.1e-3, 0.1e-3);

/// How well they have to agree at the base, in volt.
const BASE_AGREEMENT_V: f64 = 0.01;

/// The quantities read at one moment.
#[derive(Debug, Clone, Copy)]
struct Reading {
    secondary_a: f64,
    means: [f64; MEANS],
    top_v: f64,
    base_v: f64,
    collector_v: f64,
}

/// Battery current, battery voltage, base voltage, diode current.
const MEANS: usize = 4;

impl Reading {
    fn of(system: &System, probes: &Probes, x: &[f64]) -> Self {
        let volt = |node: Node| x[system.node(node)];
        Self {
            secondary_a: x[system.branch(probes.secondary)],
            means: [
                -x[system.branch(probes.battery)],
                volt(probes.plus),
                volt(probes.base),
                probes.base_diode.map_or(0.0, |id| system.diode_a(id, x)),
            ],
            top_v: volt(probes.top),
            base_v: volt(probes.base),
            collector_v: volt(probes.collector),
        }
    }

    /// The moment a part of the way to the next one.
    fn towards(&self, next: &Self, part: f64) -> Self {
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
struct Cycle {
    start_s: f64,
    length_s: f64,
    integrals: [f64; MEANS],
    /// Sum of the steps' cubes, for their mean square.
    cubes: f64,
    steps: f64,
    cycles: f64,
    /// Sum over cycles of half the top's swing.
    swing_v: f64,
    top_v: (f64, f64),
    base_v: (f64, f64),
    collector_highest_v: f64,
}

impl Cycle {
    const fn empty(start_s: f64) -> Self {
        const NONE: (f64, f64) = (f64::INFINITY, f64::NEG_INFINITY);
        Self {
            start_s,
            length_s: 0.0,
            integrals: [0.0; MEANS],
            cubes: 0.0,
            steps: 0.0,
            cycles: 0.0,
            swing_v: 0.0,
            top_v: NONE,
            base_v: NONE,
            collector_highest_v: f64::NEG_INFINITY,
        }
    }

    /// Adds a step, by the trapezoid rule.
    fn add(&mut self, from: &Reading, to: &Reading, step_s: f64) {
        for ((sum, a), b) in self.integrals.iter_mut().zip(from.means).zip(to.means) {
            *sum += 0.5 * (a + b) * step_s;
        }
        self.length_s += step_s;
        self.cubes += step_s * step_s * step_s;
        self.steps += 1.0;
        let widen = |range: &mut (f64, f64), v: f64| *range = (range.0.min(v), range.1.max(v));
        widen(&mut self.top_v, to.top_v);
        widen(&mut self.base_v, to.base_v);
        self.collector_highest_v = self.collector_highest_v.max(to.collector_v);
    }

    fn closed(mut self) -> Self {
        self.cycles = 1.0;
        self.swing_v = 0.5 * (self.top_v.1 - self.top_v.0);
        self
    }

    fn sum(cycles: &[Self]) -> Self {
        cycles.iter().fold(Self::empty(0.0), |mut all, one| {
            for (sum, part) in all.integrals.iter_mut().zip(one.integrals) {
                *sum += part;
            }
            all.length_s += one.length_s;
            all.cubes += one.cubes;
            all.steps += one.steps;
            all.cycles += one.cycles;
            all.swing_v += one.swing_v;
            all.base_v.0 = all.base_v.0.min(one.base_v.0);
            all.base_v.1 = all.base_v.1.max(one.base_v.1);
            all.collector_highest_v = all.collector_highest_v.max(one.collector_highest_v);
            all
        })
    }

    fn mean(&self, which: usize) -> f64 {
        self.integrals[which] / self.length_s
    }

    fn swing(&self) -> f64 {
        self.swing_v / self.cycles
    }
}

/// Follows a network from nothing flowing, and from charged nodes if any; its figures.
///
/// # Errors
/// [`TransientError`] where no step is short enough.
pub fn follow(
    network: &Network,
    probes: &Probes,
    charged: &[(Node, f64)],
    accuracy: Accuracy,
    until: Until,
) -> Result<Running, TransientError> {
    let mut stepper = Stepper::new(network, charged, accuracy)?;
    let mut cycles = Vec::new();
    let mut cycle = Cycle::empty(0.0);
    let mut last = Reading::of(stepper.system(), probes, stepper.x());
    let end_s = match until {
        Until::Time { end_s, .. } => end_s,
        Until::Settled { at_most_s } => at_most_s,
    };
    let mut envelope = Envelope::NotSettled;
    while stepper.time_s < end_s {
        let from_s = stepper.time_s;
        let step_s = stepper.advance()?;
        let next = Reading::of(stepper.system(), probes, stepper.x());
        if last.secondary_a < 0.0 && next.secondary_a >= 0.0 {
            let part = last.secondary_a / (last.secondary_a - next.secondary_a);
            let between = last.towards(&next, part);
            cycle.add(&last, &between, part * step_s);
            cycles.push(cycle.closed());
            cycle = Cycle::empty(from_s + part * step_s);
            cycle.add(&between, &next, (1.0 - part) * step_s);
            let settles = matches!(until, Until::Settled { .. });
            if settles && cycles.len().is_multiple_of(BLOCK) && has_settled(&cycles) {
                envelope = Envelope::Settled;
                break;
            }
        } else {
            cycle.add(&last, &next, step_s);
        }
        last = next;
    }
    let read = match until {
        Until::Time { read_from_s, .. } => {
            let from = cycles.partition_point(|cycle| cycle.start_s < read_from_s);
            cycles.get(from..)
        }
        Until::Settled { .. } => cycles.get(cycles.len().saturating_sub(2 * BLOCK)..),
    };
    let read = read.filter(|read| !read.is_empty());
    let whole = read.map_or_else(|| cycle.closed(), Cycle::sum);
    Ok(figures(&whole, probes, envelope, stepper.time_s))
}

fn figures(read: &Cycle, probes: &Probes, envelope: Envelope, followed_s: f64) -> Running {
    let raw_hz = read.cycles / read.length_s;
    let angle = std::f64::consts::TAU * raw_hz;
    // Steps cut at a cycle's end count twice, shorter: less than one in a hundred.
    let mean_square = read.cubes / read.length_s;
    Running {
        frequency_hz: raw_hz * (1.0 + PHASE_ERROR * angle * angle * mean_square),
        supply_a: read.mean(0),
        battery_v: read.mean(1),
        top_v: read.swing() * probes.foot_to_top,
        base_v: read.mean(2),
        base_lowest_v: read.base_v.0,
        base_highest_v: read.base_v.1,
        collector_highest_v: read.collector_highest_v,
        diode_a: read.mean(3),
        envelope,
        followed_s,
        steps_per_cycle: read.steps / read.cycles,
    }
}

/// Whether the last blocks agree in amplitude, current and base voltage.
fn has_settled(cycles: &[Cycle]) -> bool {
    let blocks: Vec<Cycle> = cycles
        .rchunks(BLOCK)
        .take(AGREEING + 1)
        .map(Cycle::sum)
        .collect();
    let Some((newest, older)) = blocks.split_first() else {
        return false;
    };
    let (relative, volt, ampere) = AGREEMENT;
    older.len() == AGREEING
        && older.iter().all(|block| {
            (block.swing() - newest.swing()).abs() < relative * newest.swing() + volt
                && (block.mean(0) - newest.mean(0)).abs() < relative * newest.mean(0) + ampere
                && (block.mean(2) - newest.mean(2)).abs() < BASE_AGREEMENT_V
        })
}

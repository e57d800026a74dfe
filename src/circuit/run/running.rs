//! A running circuit's figures, cycle by cycle, from its steps in time.

use super::cycle::{
    BASE, BATTERY, BATTERY_HEAT, COIL, Cycle, DIODE, DIODE_POWER, GIVEN, OTHERS, Reading, SUPPLY,
    TRANSISTOR,
};
use super::wild;
use crate::circuit::network::{Course, Network, Node};
use crate::circuit::stepper::{Accuracy, PHASE_ERROR, Stepper, TransientError};
use crate::circuit::wiring::Probes;

/// How long to follow a circuit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Until {
    /// To a time, in seconds; the figures are means over the time from `read_from_s` on.
    Time {
        /// The end.
        end_s: f64,
        /// Where reading begins.
        read_from_s: f64,
    },
    /// To where the envelope and the current have settled, or to a time at most.
    Settled {
        /// That time from here on, in seconds.
        at_most_s: f64,
    },
    /// To where they have settled or scatter evenly about the same average, or to a time at most.
    Steady {
        /// That time from here on, in seconds.
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

/// The values of a running circuit: averages over the cycles read unless stated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Running {
    /// In hertz, the method's own error taken off.
    pub frequency_hz: f64,
    /// Drawn from the battery, in amperes.
    pub supply_a: f64,
    /// At the battery's clips, in volts.
    pub battery_v: f64,
    /// The coil's top: half of its swing from peak to peak, in volts.
    pub top_v: f64,
    /// At the base, in volts.
    pub base_v: f64,
    /// The base's lowest, in volts.
    pub base_lowest_v: f64,
    /// The base's highest, in volts.
    pub base_highest_v: f64,
    /// The collector's highest, in volts.
    pub collector_highest_v: f64,
    /// The collector's highest above the base, in volts: their junction has to bear it in reverse.
    pub collector_base_v: f64,
    /// Through the diode at the base, in amperes.
    pub diode_a: f64,
    /// The power that the transistor turns to heat, in watts, that of its junctions' breakdown included.
    pub transistor_w: f64,
    /// Where the rest of the battery's power goes.
    pub power: Power,
    /// Whether it had settled.
    pub envelope: Envelope,
    /// How long it was followed, in seconds.
    pub followed_s: f64,
    /// Steps per cycle.
    pub steps_per_cycle: f64,
}

/// The parts of the power, averages over whole cycles; the transistor's heat stands beside them. Once settled they add up to the
/// battery's power.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Power {
    /// The power that the battery gives with its own resistance counted to it: its open voltage times the current, in watts.
    pub given_w: f64,
    /// Heat in the battery's own resistance, in watts.
    pub battery_w: f64,
    /// Heat in the coil, secondary and primary, in watts: their resistance at the resonance times the current's square.
    pub coil_w: f64,
    /// The power that the diode at the base takes, its light included, in watts.
    pub diode_w: f64,
    /// Heat in everything else that has resistance: leads, bias resistor, the capacitor's own, a load at the top, in watts.
    pub others_w: f64,
}

/// Average current at which a light-emitting diode is seen to light, in amperes (assumed).
pub const SEEN_A: f64 = 0.3e-3;

impl Running {
    /// Whether a light-emitting diode at the base would be seen to light.
    pub fn is_lit(&self) -> bool {
        self.diode_a > SEEN_A
    }

    /// Takes the extremes of base and collector from another stretch of the same run.
    pub(crate) const fn take_peaks(&mut self, other: &Self) {
        self.base_lowest_v = other.base_lowest_v;
        self.base_highest_v = other.base_highest_v;
        self.collector_highest_v = other.collector_highest_v;
        self.collector_base_v = other.collector_base_v;
    }
}

/// Cycles compared as one (chosen: long against a wild collector's scatter, short against an envelope).
const BLOCK: usize = 24;
/// Blocks in a row that have to agree.
const AGREEING: usize = 3;
/// Blocks that the figures are read over once they agree, and where they never do.
const CALM_BLOCKS: usize = 2;
/// How well blocks have to agree: of the value, in volts at the top and in amperes.
const AGREEMENT: (f64, f64, f64) = (2e-3, 0.1e-3, 0.1e-3);

/// How well they have to agree at the base, in volts.
const BASE_AGREEMENT_V: f64 = 0.01;

/// A circuit that is being followed.
#[derive(Debug, Clone)]
pub struct Follower {
    stepper: Stepper,
    probes: Probes,
    cycles: Vec<Cycle>,
    cycle: Cycle,
    last: Reading,
}

impl Follower {
    /// Begins with a network with nothing flowing, and with charged nodes if any.
    ///
    /// # Errors
    /// [`TransientError`] where its currents do not close.
    pub fn new(
        network: &Network,
        probes: &Probes,
        charged: &[(Node, f64)],
        accuracy: Accuracy,
    ) -> Result<Self, TransientError> {
        let stepper = Stepper::new(network, charged, accuracy)?;
        let source_v = stepper.source_v(probes.battery);
        let last = Reading::of(stepper.system(), probes, stepper.x(), source_v);
        Ok(Self {
            stepper,
            probes: *probes,
            cycles: Vec::new(),
            cycle: Cycle::empty(0.0),
            last,
        })
    }

    /// Lets the battery's open voltage go to another value from here on, evenly over a time in seconds.
    pub fn turn_supply(&mut self, open_v: f64, over_s: f64) {
        let now_s = self.stepper.time_s;
        let from_v = self.stepper.source_v(self.probes.battery);
        let course = Course(vec![(now_s, from_v), (now_s + over_s, open_v)]);
        self.stepper.set_source(self.probes.battery, course);
    }

    /// Follows it more or less closely from here on.
    pub const fn set_accuracy(&mut self, accuracy: Accuracy) {
        self.stepper.set_accuracy(accuracy);
    }

    /// Follows it and returns its figures.
    ///
    /// # Errors
    /// [`TransientError`] where no step is short enough.
    pub fn follow(&mut self, until: Until) -> Result<Running, TransientError> {
        let begun_s = self.stepper.time_s;
        self.cycles.clear();
        self.cycle = Cycle::empty(begun_s);
        let end_s = match until {
            Until::Time { end_s, .. } => end_s,
            Until::Settled { at_most_s } | Until::Steady { at_most_s } => begun_s + at_most_s,
        };
        let mut settled = None;
        let mut seen = Vec::new();
        while settled.is_none() && self.stepper.time_s < end_s {
            if self.step()? && self.cycles.len().is_multiple_of(BLOCK) {
                seen.extend(self.cycles.rchunks(BLOCK).next().map(Cycle::sum));
                settled = settled_over(&seen, until);
            }
        }
        let envelope = match settled {
            Some(_) => Envelope::Settled,
            None => Envelope::NotSettled,
        };
        let blocks = settled.unwrap_or(CALM_BLOCKS);
        let read = match until {
            Until::Time { read_from_s, .. } => self
                .cycles
                .partition_point(|cycle| cycle.start_s < read_from_s),
            Until::Settled { .. } | Until::Steady { .. } => {
                self.cycles.len().saturating_sub(blocks * BLOCK)
            }
        };
        let read = self.cycles.get(read..).filter(|read| !read.is_empty());
        let whole = read.map_or_else(|| self.cycle.closed(), Cycle::sum);
        let followed_s = self.stepper.time_s - begun_s;
        Ok(figures(&whole, &self.probes, envelope, followed_s))
    }

    /// Follows it for some cycles of about a frequency, in hertz, and returns its figures from one of them on.
    pub(crate) fn follow_cycles(
        &mut self,
        cycles: f64,
        from: f64,
        near_hz: f64,
    ) -> Result<Running, TransientError> {
        let now_s = self.stepper.time_s;
        self.follow(Until::Time {
            end_s: now_s + cycles / near_hz,
            read_from_s: now_s + from / near_hz,
        })
    }

    /// Takes a step; whether a cycle ended in it.
    fn step(&mut self) -> Result<bool, TransientError> {
        let from_s = self.stepper.time_s;
        let step_s = self.stepper.advance()?;
        let source_v = self.stepper.source_v(self.probes.battery);
        let next = Reading::of(
            self.stepper.system(),
            &self.probes,
            self.stepper.x(),
            source_v,
        );
        let last = std::mem::replace(&mut self.last, next);
        if last.secondary_a >= 0.0 || next.secondary_a < 0.0 {
            self.cycle.add(&last, &next, step_s);
            return Ok(false);
        }
        let part = last.secondary_a / (last.secondary_a - next.secondary_a);
        let between = last.towards(&next, part);
        self.cycle.add(&last, &between, part * step_s);
        self.cycles.push(self.cycle.closed());
        self.cycle = Cycle::empty(from_s + part * step_s);
        self.cycle.add(&between, &next, (1.0 - part) * step_s);
        Ok(true)
    }
}

/// Follows a network from nothing flowing, and from charged nodes if any, and returns its figures.
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
    Follower::new(network, probes, charged, accuracy)?.follow(until)
}

fn figures(read: &Cycle, probes: &Probes, envelope: Envelope, followed_s: f64) -> Running {
    let raw_hz = read.cycles / read.length_s;
    let angle = std::f64::consts::TAU * raw_hz;
    // Steps cut at a cycle's end count twice, shorter: less than one in a hundred.
    let mean_square = read.cubes / read.length_s;
    Running {
        frequency_hz: raw_hz * (1.0 + PHASE_ERROR * angle * angle * mean_square),
        supply_a: read.mean(SUPPLY),
        battery_v: read.mean(BATTERY),
        top_v: read.swing() * probes.foot_to_top,
        base_v: read.mean(BASE),
        base_lowest_v: read.base_v.low,
        base_highest_v: read.base_v.high,
        collector_highest_v: read.collector_highest_v,
        collector_base_v: read.collector_base_v,
        diode_a: read.mean(DIODE),
        transistor_w: read.mean(TRANSISTOR),
        power: Power {
            given_w: read.mean(GIVEN),
            battery_w: read.mean(BATTERY_HEAT),
            coil_w: read.mean(COIL),
            diode_w: read.mean(DIODE_POWER),
            others_w: read.mean(OTHERS),
        },
        envelope,
        followed_s,
        steps_per_cycle: read.steps / read.cycles,
    }
}

/// Returns the number of the last blocks over which the figures are to be read once they change no more; `None` while they still
/// do.
fn settled_over(blocks: &[Cycle], until: Until) -> Option<usize> {
    match until {
        Until::Time { .. } => None,
        Until::Settled { .. } => has_settled(blocks).then_some(CALM_BLOCKS),
        Until::Steady { .. } if has_settled(blocks) => Some(CALM_BLOCKS),
        Until::Steady { .. } => {
            let seen = blocks.get(blocks.len().saturating_sub(wild::LEAST)..)?;
            let seen = seen.iter().map(|block| wild::Seen {
                top_v: block.swing(),
                supply_a: block.mean(SUPPLY),
            });
            wild::is_steady(&seen.collect::<Vec<_>>()).then_some(wild::READ)
        }
    }
}

/// Whether the last blocks agree in amplitude, current and base voltage.
fn has_settled(blocks: &[Cycle]) -> bool {
    let Some((newest, older)) = blocks.split_last() else {
        return false;
    };
    let (relative, volt, ampere) = AGREEMENT;
    let agrees = |block: &Cycle| {
        (block.swing() - newest.swing()).abs() < relative * newest.swing() + volt
            && (block.mean(SUPPLY) - newest.mean(SUPPLY)).abs()
                < relative * newest.mean(SUPPLY) + ampere
            && (block.mean(BASE) - newest.mean(BASE)).abs() < BASE_AGREEMENT_V
    };
    older.len() >= AGREEING && older.iter().rev().take(AGREEING).all(agrees)
}

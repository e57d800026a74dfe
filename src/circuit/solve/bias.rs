//! The bias point: where a circuit rests while it does not oscillate.

use nalgebra::{DMatrix, DVector};
use thiserror::Error;

use super::point::{Point, Sources, Weights};
use super::system::System;
use crate::circuit::network::{BranchId, DiodeId, GROUND, Network, Node, TransistorId};
use crate::circuit::transistor::State;

/// Newton's iterations for one part of the supply (chosen: sound circuits take 5 to 30).
const MOST_ITERATIONS: usize = 100;
/// The supply is raised in steps no smaller than this part of it.
const LEAST_PART: f64 = 1e-4;
/// Where Newton ends: the last step in volts and amperes, and relative to the value.
const LAST_STEP: f64 = 1e-9;
/// Where it is taken to have ended when it gets no nearer: nodes that are held by gigaohms are known no better by the arithmetic.
const STALLED_STEP: f64 = 1e-6;

/// Resistance of a meter on its voltage range, in ohms (common practice, no source: handheld digital ones).
pub const METER_OHM: f64 = 10e6;

/// No bias point.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum BiasError {
    /// The equations could not be followed from no supply to all of it.
    #[error(
        "bias point at {reached} of the supply: none in {MOST_ITERATIONS} iterations: expected a circuit whose currents close"
    )]
    NotFound {
        /// The part of the supply up to which it was found.
        reached: f64,
    },
}

/// A circuit at rest.
#[derive(Debug, Clone)]
pub struct Bias {
    pub(crate) system: System,
    pub(crate) x: Vec<f64>,
    pub(crate) at: Point,
}

impl Bias {
    /// Finds the bias point with every source at the value it settles at.
    ///
    /// Newton's method with held-back junctions; where it fails the supply is raised from zero in steps, each from the
    /// solution of the last (continuation), halved until they succeed.
    ///
    /// # Errors
    /// [`BiasError::NotFound`] if the smallest step fails too.
    pub fn find(network: &Network) -> Result<Self, BiasError> {
        let system = System::new(network);
        let mut x = vec![0.0; system.stride()];
        let mut at = system.blank();
        let (mut reached, mut step) = (0.0, 1.0);
        while reached < 1.0 {
            let part = f64::min(reached + step, 1.0);
            let (mut trial, mut trial_at) = (x.clone(), at.clone());
            if newton(&system, part, &mut trial, &mut trial_at) {
                (x, at, reached) = (trial, trial_at, part);
                step *= 2.0;
            } else {
                step *= 0.25;
                if step < LEAST_PART {
                    return Err(BiasError::NotFound { reached });
                }
            }
        }
        Ok(Self { system, x, at })
    }

    /// Returns the voltage that a meter of [`METER_OHM`] shows between a node and minus, in volts. The meter is part of the
    /// circuit, and pulls down a node that is joined to the rest by megohms alone. Newton's method from this point; `None` where
    /// it fails.
    pub fn read_v(&self, node: Node) -> Option<f64> {
        let mut system = self.system.clone();
        system.add_conductance((node, GROUND), 1.0 / METER_OHM);
        let (mut x, mut at) = (self.x.clone(), self.at.clone());
        newton(&system, 1.0, &mut x, &mut at).then(|| x[system.node(node)])
    }

    /// Returns the voltage of a node with no meter at it, in volts.
    pub fn node_v(&self, node: Node) -> f64 {
        self.x[self.system.node(node)]
    }

    /// Returns the current of a branch from its first end to its second, in amperes.
    pub fn branch_a(&self, branch: BranchId) -> f64 {
        self.x[self.system.branch(branch)]
    }

    /// Returns the current of a diode, in amperes.
    pub fn diode_a(&self, diode: DiodeId) -> f64 {
        self.system.diode_a(diode, &self.x)
    }

    /// Returns the amplification of the base's small current and its speed: gain and transition frequency at this point.
    pub fn small_signal(&self, transistor: TransistorId) -> SmallSignal {
        SmallSignal::new(&self.system.transistor_state(transistor, &self.x))
    }

    /// Returns the conductances and capacitances around this point, without ground.
    pub(crate) fn linearised(&mut self) -> (DMatrix<f64>, DMatrix<f64>) {
        let mut matrix = |conductance: f64, capacitance: f64| {
            let weights = Weights {
                conductance,
                capacitance,
            };
            self.system
                .evaluate(&self.x, Sources::Settled(1.0), weights, &mut self.at);
            whole(&self.system, &self.at)
        };
        (matrix(1.0, 0.0), matrix(0.0, 1.0))
    }
}

/// A transistor around a bias point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SmallSignal {
    /// Collector current, in amperes.
    pub collector_a: f64,
    /// Collector current over base current.
    pub gain: f64,
    /// Frequency at which the inner transistor's current gain is 1, in hertz: `gm / (2 pi (C_be + C_bc))`.
    pub transition_hz: f64,
    /// Transconductance, in siemens.
    pub transconductance_s: f64,
    /// Capacitance between collector and base, in farads.
    pub collector_base_f: f64,
}

impl SmallSignal {
    fn new(state: &State) -> Self {
        let transconductance_s = state.collector_a.by_emitter;
        let farad = state.emitter_c.by_emitter + state.collector_c.slope;
        Self {
            collector_a: state.collector_a.value,
            gain: state.collector_a.value / state.base_a.value,
            transition_hz: transconductance_s / (std::f64::consts::TAU * farad),
            transconductance_s,
            collector_base_f: state.collector_c.slope,
        }
    }
}

fn whole(system: &System, at: &Point) -> DMatrix<f64> {
    DMatrix::from_fn(system.size, system.size, |row, column| {
        at.jacobian[row * system.stride() + column]
    })
}

/// Runs Newton's method at a part of the supply; returns whether it arrived.
fn newton(system: &System, part: f64, x: &mut [f64], at: &mut Point) -> bool {
    let weights = Weights {
        conductance: 1.0,
        capacitance: 0.0,
    };
    let mut is_near = false;
    for _ in 0..MOST_ITERATIONS {
        system.evaluate(x, Sources::Settled(part), weights, at);
        let flow = DVector::from_column_slice(&at.flow[..system.size]);
        let Some(step) = whole(system, at).lu().solve(&flow) else {
            return false;
        };
        let mut arrived = !at.is_held_back;
        is_near = arrived;
        for (value, step) in x.iter_mut().zip(step.iter()) {
            if !step.is_finite() {
                return false;
            }
            *value -= step;
            arrived &= step.abs() <= LAST_STEP * (1.0 + value.abs());
            is_near &= step.abs() <= STALLED_STEP * (1.0 + value.abs());
        }
        if arrived {
            return true;
        }
    }
    is_near
}

//! A circuit's linearised equations, and its bias point as one quantity is turned.

use nalgebra::Complex;

use crate::circuit::bias::Bias;
use crate::circuit::network::{BranchId, Course, Node};
use crate::circuit::solve::elimination::Elimination;
use crate::circuit::solve::point::{Sources, Weights};
use crate::circuit::wiring::CircuitSpec;

/// For slopes by difference, in the logarithm.
pub(super) const DIFFERENCE: f64 = 1e-4;
/// Newton's iterations for a bias point beside another, and its last step in volts and amperes: the remaining error is its
/// square.
const MOST_SETTLING: usize = 30;
const SETTLED: f64 = 1e-6;

/// The quantities that can be turned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Quantity {
    /// The coupling factor.
    Coupling,
    /// The secondary's quality factor.
    Q,
    /// The transistor's forward transit time.
    Transit,
    /// The battery's open voltage.
    Supply,
    /// The bias resistor.
    Bias,
}

/// The linearised circuit, row by row, ground's row and column among them.
#[derive(Debug, Clone)]
pub(super) struct Linear {
    pub(super) conductance: Vec<f64>,
    pub(super) capacitance: Vec<f64>,
}

/// A bias point that moves with a quantity.
#[derive(Debug, Clone)]
pub(super) struct Moved {
    pub(super) bias: Bias,
    pub(super) quantity: Quantity,
    pub(super) battery: BranchId,
    pub(super) bias_ends: (Node, Node),
    /// The quantity as the equations have it.
    pub(super) value: f64,
    /// How the bias point moves with the quantity's logarithm.
    pub(super) tangent: Vec<f64>,
}

impl Quantity {
    pub(super) fn of(self, spec: &CircuitSpec) -> f64 {
        match self {
            Self::Coupling => spec.resonator.coupling,
            Self::Q => spec.resonator.q,
            Self::Transit => spec.transistor.model.forward_transit_s,
            Self::Supply => spec.supply.open_v,
            Self::Bias => spec.bias_ohm,
        }
    }
}

impl Linear {
    pub(super) fn at(&self, place: usize, omega: f64) -> Complex<f64> {
        Complex::new(self.conductance[place], omega * self.capacitance[place])
    }

    pub(super) fn nothing(&self) -> Self {
        let nothing = vec![0.0; self.conductance.len()];
        Self {
            conductance: nothing.clone(),
            capacitance: nothing,
        }
    }

    /// Returns this and `share` of another.
    pub(super) fn plus(&self, other: &Self, share: f64) -> Self {
        let sum = |one: &[f64], other: &[f64]| {
            let pairs = one.iter().zip(other);
            pairs.map(|(one, other)| one + share * other).collect()
        };
        Self {
            conductance: sum(&self.conductance, &other.conductance),
            capacitance: sum(&self.capacitance, &other.capacitance),
        }
    }

    /// Returns this less another, over a difference.
    pub(super) fn less(&self, other: &Self, over: f64) -> Self {
        let less = |one: &[f64], other: &[f64]| {
            let pairs = one.iter().zip(other);
            pairs.map(|(one, other)| (one - other) / over).collect()
        };
        Self {
            conductance: less(&self.conductance, &other.conductance),
            capacitance: less(&self.capacitance, &other.capacitance),
        }
    }
}

/// Returns the matrices at a bias point.
pub(super) fn linear(bias: &mut Bias) -> Linear {
    let mut matrix = |conductance: f64, capacitance: f64| {
        let weights = Weights {
            conductance,
            capacitance,
        };
        let sources = Sources::Settled(1.0);
        bias.system
            .evaluate(&bias.x, sources, weights, &mut bias.at);
        bias.at.jacobian.clone()
    };
    Linear {
        conductance: matrix(1.0, 0.0),
        capacitance: matrix(0.0, 1.0),
    }
}

impl Moved {
    /// Sets the equations' quantity.
    fn set(&mut self, value: f64) {
        let system = &mut self.bias.system;
        match self.quantity {
            Quantity::Bias => {
                system.add_conductance(self.bias_ends, 1.0 / value - 1.0 / self.value);
            }
            _ => system.set_source(self.battery, Course::switched_on(value)),
        }
        self.value = value;
    }

    /// Returns how the bias point moves with the quantity's logarithm; `factored` are the conductances there.
    pub(super) fn tangent(&self, order: &Elimination, factored: &[f64]) -> Vec<f64> {
        let Bias { system, x, .. } = &self.bias;
        let mut right_side = vec![0.0; x.len()];
        match self.quantity {
            Quantity::Bias => {
                let (a, b) = (system.node(self.bias_ends.0), system.node(self.bias_ends.1));
                let through_a = (x[a] - x[b]) / self.value;
                right_side[a] = through_a;
                right_side[b] = -through_a;
            }
            _ => right_side[system.branch(self.battery)] = self.value,
        }
        let mut moved = vec![0.0; x.len()];
        order.solve(factored, &mut right_side, &mut moved);
        moved
    }

    /// Moves the bias point to another value.
    pub(super) fn go(&mut self, value: f64, order: &Elimination) -> Option<()> {
        let log = (value / self.value).ln();
        if log.abs() > 0.0 {
            // Voltages follow the supply in a straight line, the base's follows the bias current's logarithm.
            let part = match self.quantity {
                Quantity::Bias => log,
                _ => value / self.value - 1.0,
            };
            for (x, moved) in self.bias.x.iter_mut().zip(&self.tangent) {
                *x += part * moved;
            }
            self.set(value);
        }
        for _ in 0..MOST_SETTLING {
            let factored = self.factored(order)?;
            let Bias { x, at, system } = &mut self.bias;
            let mut step = vec![0.0; x.len()];
            order.solve(&factored, &mut at.flow.clone(), &mut step);
            let mut arrived = !at.is_held_back;
            for (value, step) in x.iter_mut().zip(&step).take(system.size) {
                if !step.is_finite() {
                    return None;
                }
                *value -= step;
                arrived &= step.abs() <= SETTLED * (1.0 + value.abs());
            }
            if arrived {
                self.tangent = self.tangent(order, &factored);
                return Some(());
            }
        }
        None
    }

    /// Evaluates the equations and factors their conductances.
    pub(super) fn factored(&mut self, order: &Elimination) -> Option<Vec<f64>> {
        let weights = Weights {
            conductance: 1.0,
            capacitance: 0.0,
        };
        let Bias { system, x, at } = &mut self.bias;
        system.evaluate(x, Sources::Settled(1.0), weights, at);
        let mut factored = at.jacobian.clone();
        order.factor(&mut factored).ok()?;
        Some(factored)
    }

    /// Returns the matrices a little beside, the bias point moved along its tangent.
    pub(super) fn beside(&self) -> Linear {
        let mut other = self.clone();
        for (x, moved) in other.bias.x.iter_mut().zip(&self.tangent) {
            *x += DIFFERENCE * moved;
        }
        other.set(self.value * DIFFERENCE.exp());
        linear(&mut other.bias)
    }
}

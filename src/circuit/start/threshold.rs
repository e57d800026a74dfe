//! Where a quantity makes a circuit just start, found on the secondary's loop.
//!
//! With the secondary's current given, the rest of the linearised circuit answers with the voltage that this current lacks: the
//! loop's impedance Z(s). The circuit's own oscillations are its zeros, so where one neither grows nor decays Z(j w) = 0.
//! Newton's method finds w and the quantity's logarithm at once; the slopes come from one solution more, with the matrix
//! transposed. Its result counts only if the eigenvalues there agree.

use nalgebra::{Complex, DMatrix};

use super::moving::{DIFFERENCE, Linear, Moved, Quantity, linear};
use super::rest::Rest;
use super::startup::{Startup, fastest_of};
use crate::circuit::solve::elimination::Elimination;
use crate::circuit::wiring::{BIAS_NAME, CircuitSpec};
use crate::units::Span;

/// Newton's iterations for a threshold (usual: 4 to 8).
const MOST_ITERATIONS: usize = 20;
/// It ends where the last step in the quantity's logarithm is below this; the next one would be its square.
const LAST_STEP: f64 = 1e-4;
/// Its greatest step in that logarithm, and in the frequency's.
const LONGEST_STEP: f64 = 1.2;
const LONGEST_TURN: f64 = 0.2;
/// How far the eigenvalues may have the threshold elsewhere, in that logarithm.
const CONFIRMED_WITHIN: f64 = 1e-3;
/// Where a starting circuit's least supply is looked for from, in volts, and how much more than its bias resistor.
const LOW_SUPPLY_V: f64 = 1.0;
const LESS_BIAS: f64 = 50.0;
/// A circuit around its bias point, with the values that Newton's method needs again and again.
pub(super) struct Loop<'a> {
    spec: &'a CircuitSpec,
    rest: &'a Rest,
    secondary: usize,
    /// Row, column and place of all that can be other than zero.
    places: Vec<(usize, usize, usize)>,
    at_rest: Linear,
    complex_order: Elimination,
    real_order: Elimination,
    matrix: Vec<Complex<f64>>,
    right_side: Vec<Complex<f64>>,
    /// The circuit's answer to the secondary's current.
    right: Vec<Complex<f64>>,
    /// The same for the transposed matrix.
    left: Vec<Complex<f64>>,
}

/// The quantity turned, as Newton's method meets it.
enum Turned {
    /// The matrices are those at rest and `delta` times as much more as the quantity's power is above 1.
    Scaled { delta: Linear, power: f64 },
    /// The bias point moves.
    Moved(Box<Moved>),
}

impl<'a> Loop<'a> {
    /// `None` where the matrices have no order of elimination.
    pub(super) fn of(spec: &'a CircuitSpec, rest: &'a Rest) -> Option<Self> {
        let mut bias = rest.bias.clone();
        let at_rest = linear(&mut bias);
        let system = &bias.system;
        let (size, stride) = (system.size, system.stride());
        let secondary = system.branch(rest.wired.probes.secondary);
        let pattern = system.pattern();
        let places: Vec<_> = (0..size * stride)
            .map(|place| (place / stride, place % stride, place))
            .filter(|&(_, column, place)| column < size && pattern[place])
            .collect();
        let real_order =
            Elimination::plan(&at_rest.conductance, pattern.clone(), size, stride).ok()?;
        let none = Complex::new(0.0, 0.0);
        let mut found = Self {
            spec,
            rest,
            secondary,
            places,
            at_rest,
            complex_order: real_order.clone(),
            real_order,
            matrix: vec![none; stride * stride],
            right_side: vec![none; stride],
            right: vec![none; stride],
            left: vec![none; stride],
        };
        let omega = std::f64::consts::TAU * rest.startup.frequency_hz;
        let at_rest = found.at_rest.clone();
        found.fill(&at_rest, omega);
        let mut pattern = pattern;
        let row = secondary * stride;
        pattern[row..row + stride].fill(false);
        pattern[row + secondary] = true;
        found.complex_order = Elimination::plan(&found.matrix, pattern, size, stride).ok()?;
        Some(found)
    }

    /// Returns the value at which the circuit just starts, with the circuit's slope of growth confirmed by its eigenvalues;
    /// `None` where Newton's method did not get there, which does not say that there is none.
    pub(super) fn threshold(&mut self, quantity: Quantity, range: Span) -> Option<f64> {
        let actual = quantity.of(self.spec);
        let (low, high) = (range.low.ln(), range.high.ln());
        let begin = actual.ln();
        let mut turned = self.turned(quantity, actual)?;
        let mut omega = std::f64::consts::TAU * self.rest.startup.frequency_hz;
        // Around the bias point growth need not rise with the supply or the bias current: begin where it does.
        let mut log = match quantity {
            Quantity::Supply if self.rest.startup.starts() => actual.min(LOW_SUPPLY_V).ln(),
            Quantity::Bias if self.rest.startup.starts() => begin + LESS_BIAS.ln(),
            _ => begin,
        };
        for _ in 0..MOST_ITERATIONS {
            let now = self.matrices(&mut turned, log - begin)?;
            let slope = self.slope(&turned, &now, log - begin, omega)?;
            let (step, turn) = newton(slope)?;
            if step.abs() < LAST_STEP {
                let found = self.growth(&now)?;
                // The growth's own slope: a zero at s moves by -Z_y / Z_s.
                let growth_slope = -(slope.by_log / (slope.by_omega / Complex::i())).re;
                let is_confirmed =
                    (found.growth_per_s / growth_slope + step).abs() < CONFIRMED_WITHIN;
                return is_confirmed.then(|| (log + step).exp());
            }
            let next = (log + step.clamp(-LONGEST_STEP, LONGEST_STEP)).clamp(low, high);
            if (next - log).abs() <= f64::EPSILON {
                return None;
            }
            log = next;
            omega *= 1.0 + (turn / omega).clamp(-LONGEST_TURN, LONGEST_TURN);
        }
        None
    }

    /// Fills the matrix for a frequency, the secondary's own row giving its current.
    fn fill(&mut self, linear: &Linear, omega: f64) {
        self.matrix.fill(Complex::new(0.0, 0.0));
        for &(row, _, place) in &self.places {
            if row != self.secondary {
                self.matrix[place] = linear.at(place, omega);
            }
        }
        let stride = self.right.len();
        self.matrix[self.secondary * (stride + 1)] = Complex::new(1.0, 0.0);
    }

    /// Returns the loop's impedance at a frequency; leaves the circuit's answers in `right` and `left`.
    fn impedance(&mut self, linear: &Linear, omega: f64) -> Option<Complex<f64>> {
        self.fill(linear, omega);
        self.complex_order.factor(&mut self.matrix).ok()?;
        let (none, one) = (Complex::new(0.0, 0.0), Complex::new(1.0, 0.0));
        self.right_side.fill(none);
        self.right_side[self.secondary] = one;
        self.complex_order
            .solve(&self.matrix, &mut self.right_side, &mut self.right);
        self.right_side.fill(none);
        let mut impedance = none;
        for &(row, column, place) in &self.places {
            if row == self.secondary {
                let value = linear.at(place, omega);
                impedance += value * self.right[column];
                if column != self.secondary {
                    self.right_side[column] = -value;
                }
            }
        }
        self.complex_order
            .solve_transposed(&self.matrix, &mut self.right_side, &mut self.left);
        self.left[self.secondary] = one;
        Some(impedance)
    }

    /// Returns the change of the impedance by a change of the matrices at a frequency.
    fn change(&self, change: &Linear, omega: f64) -> Complex<f64> {
        self.places
            .iter()
            .map(|&(row, column, place)| {
                self.left[row] * change.at(place, omega) * self.right[column]
            })
            .sum()
    }

    fn slope(&mut self, turned: &Turned, now: &Linear, log: f64, omega: f64) -> Option<Slope> {
        let impedance = self.impedance(now, omega)?;
        let by_omega: Complex<f64> = self
            .places
            .iter()
            .map(|&(row, column, place)| {
                self.left[row] * self.right[column] * now.capacitance[place]
            })
            .sum();
        let by_log = match turned {
            Turned::Scaled { delta, power } => {
                self.change(delta, omega) * (*power * (power * log).exp())
            }
            Turned::Moved(moved) => self.change(&moved.beside().less(now, DIFFERENCE), omega),
        };
        Some(Slope {
            impedance,
            by_omega: by_omega * Complex::i(),
            by_log,
        })
    }

    /// Returns the matrices with the quantity turned by a logarithm from where it is.
    fn matrices(&self, turned: &mut Turned, log: f64) -> Option<Linear> {
        match turned {
            Turned::Scaled { delta, power } => {
                let more = (*power * log).exp_m1();
                Some(self.at_rest.plus(delta, more))
            }
            Turned::Moved(moved) => {
                let actual = moved.quantity.of(self.spec);
                moved.go(actual * log.exp(), &self.real_order)?;
                Some(linear(&mut moved.bias))
            }
        }
    }

    fn turned(&self, quantity: Quantity, actual: f64) -> Option<Turned> {
        let stride = self.right.len();
        let primary = self.rest.bias.system.branch(self.rest.wired.probes.primary);
        let place = |row: usize, column: usize| row * stride + column;
        let mut delta = self.at_rest.nothing();
        let power = match quantity {
            Quantity::Coupling => {
                for place in [
                    place(primary, self.secondary),
                    place(self.secondary, primary),
                ] {
                    delta.capacitance[place] = self.at_rest.capacitance[place];
                }
                1.0
            }
            Quantity::Q => {
                let own = place(self.secondary, self.secondary);
                delta.conductance[own] = self.at_rest.conductance[own];
                -1.0
            }
            Quantity::Transit => {
                let mut bias = self.rest.bias.clone();
                bias.system
                    .set_transit(self.rest.wired.transistor, 2.0 * actual);
                delta = linear(&mut bias).less(&self.at_rest, 1.0);
                1.0
            }
            Quantity::Supply | Quantity::Bias => {
                let wired = &self.rest.wired;
                let mut resistors = wired.network.resistors.iter();
                let bias_ends = resistors.find(|one| one.name == BIAS_NAME)?.ends;
                let mut moved = Moved {
                    bias: self.rest.bias.clone(),
                    quantity,
                    battery: wired.probes.battery,
                    bias_ends,
                    value: actual,
                    tangent: Vec::new(),
                };
                let factored = moved.factored(&self.real_order)?;
                moved.tangent = moved.tangent(&self.real_order, &factored);
                return Some(Turned::Moved(Box::new(moved)));
            }
        };
        Some(Turned::Scaled { delta, power })
    }

    /// Returns the growth by the eigenvalues of `-G^-1 C`, over the unknowns that store something.
    fn growth(&self, linear: &Linear) -> Option<Startup> {
        let stride = self.right.len();
        let mut factored = linear.conductance.clone();
        self.real_order.factor(&mut factored).ok()?;
        let mut stored: Vec<usize> = self
            .places
            .iter()
            .filter(|&&(.., place)| linear.capacitance[place].abs() > 0.0)
            .map(|&(_, column, _)| column)
            .collect();
        stored.sort_unstable();
        stored.dedup();
        let mut modes = DMatrix::zeros(stored.len(), stored.len());
        let (mut right_side, mut solved) = (vec![0.0; stride], vec![0.0; stride]);
        for (&column, mut into) in stored.iter().zip(modes.column_iter_mut()) {
            for (row, value) in right_side.iter_mut().enumerate() {
                *value = -linear.capacitance[row * stride + column];
            }
            self.real_order
                .solve(&factored, &mut right_side, &mut solved);
            for (into, &row) in into.iter_mut().zip(&stored) {
                *into = solved[row];
            }
        }
        fastest_of(modes).ok()
    }
}

/// The impedance with its slopes in frequency and in the quantity's logarithm.
#[derive(Debug, Clone, Copy)]
struct Slope {
    impedance: Complex<f64>,
    by_omega: Complex<f64>,
    by_log: Complex<f64>,
}

/// Returns Newton's step in the logarithm and in the frequency.
fn newton(slope: Slope) -> Option<(f64, f64)> {
    let Slope {
        impedance: z,
        by_omega: w,
        by_log: y,
    } = slope;
    let determinant = w.re * y.im - w.im * y.re;
    let turn = (z.im * y.re - z.re * y.im) / determinant;
    let step = (z.re * w.im - z.im * w.re) / determinant;
    (turn.is_finite() && step.is_finite()).then_some((step, turn))
}

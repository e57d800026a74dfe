//! The equations evaluated at one state: flows, charges and the matrix, as devices add their parts to them.

/// How much of conductance and of capacitance a matrix holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Weights {
    pub(crate) conductance: f64,
    pub(crate) capacitance: f64,
}

/// Which value the sources have.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Sources {
    /// A part of their settled value.
    Settled(f64),
    /// As at a time, in seconds.
    At(f64),
}

/// A charge between two slots that follows the voltage between two slots.
#[derive(Debug, Clone, Copy)]
pub(super) struct Capacitance {
    pub(super) ends: (usize, usize),
    pub(super) control: (usize, usize),
    pub(super) farad: f64,
}

/// The equations evaluated at a state.
#[derive(Debug, Clone)]
pub(crate) struct Point {
    /// The currents and voltages that have to vanish, without the charges.
    pub(crate) flow: Vec<f64>,
    /// The charges and flux.
    pub(super) charge: Vec<f64>,
    /// `conductance * df/dx + capacitance * dq/dx`, row by row.
    pub(crate) jacobian: Vec<f64>,
    /// The linear elements' part of it.
    pub(super) linear: Vec<f64>,
    /// The weights and the number of changes that this part was filled for.
    pub(super) linear_for: Option<(Weights, u32)>,
    /// The voltages at which the junctions were last evaluated: diodes, then base-emitter and base-collector pairs.
    pub(super) junction_v: Vec<f64>,
    /// The devices' capacitances there.
    pub(super) capacitances: Vec<Capacitance>,
    /// Whether a junction was evaluated elsewhere than asked.
    pub(crate) is_held_back: bool,
}

impl Point {
    /// Lets a junction go to a voltage, or as far as Newton bears it. Returns the voltage missing up to the one asked for.
    pub(super) fn approach(&mut self, index: usize, asked_v: f64, held_v: f64) -> f64 {
        self.junction_v[index] = held_v;
        let missing_v = asked_v - held_v;
        self.is_held_back |= missing_v.abs() > 1e-9;
        missing_v
    }

    /// Adds a charge's matrix part and keeps its capacitance.
    pub(super) fn store(
        &mut self,
        ends: (usize, usize),
        control: (usize, usize),
        farad: f64,
        weight: f64,
    ) {
        if farad.abs() > 0.0 {
            self.capacitances.push(Capacitance {
                ends,
                control,
                farad,
            });
            self.stamp(ends, control, weight * farad);
        }
    }

    /// Adds a two-ended element's matrix part, controlled by the voltage between two slots.
    pub(super) fn stamp(&mut self, ends: (usize, usize), control: (usize, usize), value: f64) {
        let stride = self.flow.len();
        self.jacobian[ends.0 * stride + control.0] += value;
        self.jacobian[ends.0 * stride + control.1] -= value;
        self.jacobian[ends.1 * stride + control.0] -= value;
        self.jacobian[ends.1 * stride + control.1] += value;
    }
}

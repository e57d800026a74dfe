//! A network's equations in charge form: `dq(x)/dt + f(x, t) = 0`, one row for each unknown.
//!
//! The unknowns are the nodes' voltages, the nodes inside devices with series resistance, and the branches' currents. Ground
//! has a slot of its own after the last unknown: it is written to freely and never read, which spares every element a question.

use super::point::{Point, Sources, Weights};
use super::slots::{DiodeSlots, TransistorSlots};
use crate::circuit::junction::{THERMAL_V, critical_v};
use crate::circuit::network::{BranchId, Course, DiodeId, Network, Node, TransistorId};
use crate::circuit::transistor::State;

/// How far a guess may move a junction unchecked, in volts (chosen: a factor of 50 in current, three iterations of Newton's).
const TRUSTED_V: f64 = 0.1;

#[derive(Debug, Clone, Copy)]
struct Entry {
    row: usize,
    column: usize,
    conductance: f64,
    capacitance: f64,
}

/// The equations of a network.
#[derive(Debug, Clone)]
pub(crate) struct System {
    /// Number of unknowns.
    pub(crate) size: usize,
    entries: Vec<Entry>,
    sources: Vec<(usize, Course)>,
    diodes: Vec<DiodeSlots>,
    transistors: Vec<TransistorSlots>,
    first_branch: usize,
    branches: usize,
    /// Resistance of each branch, in ohms, in their order.
    branch_ohm: Vec<f64>,
    /// Every other resistor with its ends.
    resistors: Vec<(usize, usize, f64)>,
    /// How often a linear element was changed.
    changes: u32,
}

impl System {
    pub(super) fn new(network: &Network) -> Self {
        let first_branch = network.node_count();
        let mut inner = first_branch + network.branches.len();
        let mut series = Vec::new();
        let mut behind = |outer: Node, ohm: f64| {
            if ohm <= 0.0 {
                return Ok(outer);
            }
            inner += 1;
            series.push((outer, inner - 1, ohm));
            Err(inner - 1)
        };
        let diodes: Vec<_> = network
            .diodes
            .iter()
            .map(|d| behind(d.anode, d.diode.series_ohm))
            .collect();
        let transistors: Vec<_> = network
            .transistors
            .iter()
            .map(|q| {
                let t = &q.transistor;
                [
                    behind(q.base, t.base_ohm),
                    behind(q.collector, t.collector_ohm),
                    behind(q.emitter, t.emitter_ohm),
                ]
            })
            .collect();
        let size = inner;
        let slot = |node: Node| node.0.min(size);
        let placed = |end: Result<Node, usize>| end.map_or_else(|inner| inner, slot);
        let mut system = Self {
            size,
            entries: Vec::new(),
            sources: Vec::new(),
            diodes: network
                .diodes
                .iter()
                .zip(diodes)
                .map(|(d, end)| DiodeSlots {
                    outer: slot(d.anode),
                    inner: placed(end),
                    cathode: slot(d.cathode),
                    diode: d.diode,
                    steep: d.diode.steep(),
                })
                .collect(),
            transistors: network
                .transistors
                .iter()
                .zip(transistors)
                .map(|(q, [base, collector, emitter])| TransistorSlots {
                    base: placed(base),
                    collector: placed(collector),
                    emitter: placed(emitter),
                    legs: [slot(q.base), slot(q.collector), slot(q.emitter)],
                    critical_v: critical_v(q.transistor.saturation_a, THERMAL_V),
                    sign: q.polarity.sign(),
                    transistor: q.transistor,
                })
                .collect(),
            first_branch,
            branches: network.branches.len(),
            branch_ohm: network.branches.iter().map(|one| one.ohm).collect(),
            resistors: network
                .resistors
                .iter()
                .map(|one| (slot(one.ends.0), slot(one.ends.1), one.ohm))
                .collect(),
            changes: 0,
        };
        system.add_linear(network);
        for (outer, inner, ohm) in series {
            system.between((slot(outer), inner), 1.0 / ohm, 0.0);
        }
        system.merge_entries();
        system
    }

    fn add_linear(&mut self, network: &Network) {
        let size = self.size;
        let slots = |ends: (Node, Node)| (ends.0.0.min(size), ends.1.0.min(size));
        for r in &network.resistors {
            self.between(slots(r.ends), 1.0 / r.ohm, 0.0);
        }
        for c in &network.capacitors {
            self.between(slots(c.ends), 0.0, c.farad);
        }
        for (index, branch) in network.branches.iter().enumerate() {
            let row = self.first_branch + index;
            let (a, b) = slots(branch.ends);
            for (r, c, g) in [(a, row, 1.0), (b, row, -1.0), (row, a, 1.0), (row, b, -1.0)] {
                self.entry(r, c, g, 0.0);
            }
            self.entry(row, row, -branch.ohm, -branch.henry);
            if let Some(source) = &branch.source {
                self.sources.push((row, source.clone()));
            }
        }
        for coupling in &network.couplings {
            let mutual_h = network.mutual_h(coupling);
            let first = self.first_branch + coupling.branches.0.0;
            let second = self.first_branch + coupling.branches.1.0;
            self.entry(first, second, 0.0, -mutual_h);
            self.entry(second, first, 0.0, -mutual_h);
        }
    }

    fn between(&mut self, (a, b): (usize, usize), siemens: f64, farad: f64) {
        for (row, column, sign) in [(a, a, 1.0), (b, b, 1.0), (a, b, -1.0), (b, a, -1.0)] {
            self.entry(row, column, sign * siemens, sign * farad);
        }
    }

    fn entry(&mut self, row: usize, column: usize, conductance: f64, capacitance: f64) {
        self.entries.push(Entry {
            row,
            column,
            conductance,
            capacitance,
        });
    }

    /// One entry a place, none for ground.
    fn merge_entries(&mut self) {
        let size = self.size;
        self.entries.retain(|e| e.row < size && e.column < size);
        self.entries.sort_by_key(|e| (e.row, e.column));
        self.entries.dedup_by(|next, kept| {
            let same = (next.row, next.column) == (kept.row, kept.column);
            if same {
                kept.conductance += next.conductance;
                kept.capacitance += next.capacitance;
            }
            same
        });
    }

    /// Returns the length of a row of the matrix: the unknowns and ground.
    pub(crate) const fn stride(&self) -> usize {
        self.size + 1
    }

    /// Returns which places of the matrix can be other than zero.
    pub(crate) fn pattern(&self) -> Vec<bool> {
        let stride = self.stride();
        let mut pattern = vec![false; stride * stride];
        let mut all_between = |slots: &[usize]| {
            for row in slots {
                for column in slots {
                    pattern[row * stride + column] = true;
                }
            }
        };
        for d in &self.diodes {
            all_between(&[d.inner, d.cathode]);
        }
        for t in &self.transistors {
            all_between(&[t.base, t.collector, t.emitter]);
        }
        for e in &self.entries {
            pattern[e.row * stride + e.column] = true;
        }
        pattern
    }

    /// Returns a point at rest: nothing flows, nothing is charged.
    pub(super) fn blank(&self) -> Point {
        let stride = self.stride();
        Point {
            flow: vec![0.0; stride],
            charge: vec![0.0; stride],
            jacobian: vec![0.0; stride * stride],
            linear: vec![0.0; stride * stride],
            linear_for: None,
            junction_v: vec![0.0; self.diodes.len() + 2 * self.transistors.len()],
            capacitances: Vec::new(),
            is_held_back: false,
        }
    }

    /// Returns the slot of a node's voltage.
    pub(crate) fn node(&self, node: Node) -> usize {
        node.0.min(self.size)
    }

    /// Returns the slot of a branch's current.
    pub(crate) const fn branch(&self, id: BranchId) -> usize {
        self.first_branch + id.0
    }

    /// Whether a slot is a branch's current; the others are voltages.
    pub(super) fn is_current(&self, slot: usize) -> bool {
        (self.first_branch..self.first_branch + self.branches).contains(&slot)
    }

    /// Returns the voltage of a branch's source at a time, in volts.
    pub(super) fn source_v(&self, branch: BranchId, time_s: f64) -> f64 {
        let row = self.branch(branch);
        let mut found = self.sources.iter().filter(|source| source.0 == row);
        found.next().map_or(0.0, |(_, course)| course.at_s(time_s))
    }

    /// Gives a branch's source another course; a branch without one keeps none.
    pub(crate) fn set_source(&mut self, branch: BranchId, course: Course) {
        let row = self.branch(branch);
        if let Some(source) = self.sources.iter_mut().find(|source| source.0 == row) {
            source.1 = course;
        }
    }

    /// Gives a transistor another forward transit time, in seconds.
    pub(crate) fn set_transit(&mut self, id: TransistorId, transit_s: f64) {
        if let Some(slots) = self.transistors.get_mut(id.0) {
            slots.transistor.forward_transit_s = transit_s;
        }
    }

    /// Adds conductance between two nodes that already have some, in siemens; it may be less than nothing.
    pub(crate) fn add_conductance(&mut self, ends: (Node, Node), siemens: f64) {
        self.changes += 1;
        let (a, b) = (self.node(ends.0), self.node(ends.1));
        for (row, column, sign) in [(a, a, 1.0), (b, b, 1.0), (a, b, -1.0), (b, a, -1.0)] {
            let found = self
                .entries
                .binary_search_by_key(&(row, column), |entry| (entry.row, entry.column));
            if let Some(entry) = found.ok().and_then(|place| self.entries.get_mut(place)) {
                entry.conductance += sign * siemens;
            }
        }
    }

    /// Returns the next corner of any source's course.
    pub(super) fn corner_after_s(&self, time_s: f64) -> Option<f64> {
        let corners = self.sources.iter();
        corners
            .filter_map(|(_, course)| course.corner_after_s(time_s))
            .min_by(f64::total_cmp)
    }

    /// Returns the current into a diode at a state, in amperes; where it has series resistance its charging current is in it.
    pub(crate) fn diode_a(&self, id: DiodeId, x: &[f64]) -> f64 {
        self.diodes.get(id.0).map_or(0.0, |d| {
            if d.inner == d.outer {
                d.diode.current(x[d.inner] - x[d.cathode]).value
            } else {
                (x[d.outer] - x[d.inner]) / d.diode.series_ohm
            }
        })
    }

    /// Returns the power into a transistor's legs and into the diodes where its junctions give way, at a state, in watts. Where
    /// base and collector have series resistance their charging currents are in it: over a whole cycle that power is heat.
    pub(crate) fn transistor_w(&self, id: TransistorId, gives: &[DiodeId], x: &[f64]) -> f64 {
        let diodes = gives
            .iter()
            .filter_map(|&id| Some((id, self.diodes.get(id.0)?)));
        let given_w: f64 = diodes
            .map(|(id, d)| self.diode_a(id, x) * (x[d.outer] - x[d.cathode]))
            .sum();
        let own_w = self.transistors.get(id.0).map_or(0.0, |t| {
            let state = self.transistor_state(id, x);
            let [base, collector, emitter] = t.legs;
            let leg_w = |leg: usize, inner: usize, ohm: f64, conducted_a: f64| {
                let leg_a = if leg == inner {
                    conducted_a
                } else {
                    (x[leg] - x[inner]) / ohm
                };
                leg_a * (x[leg] - x[emitter])
            };
            leg_w(
                base,
                t.base,
                t.transistor.base_ohm,
                t.sign * state.base_a.value,
            ) + leg_w(
                collector,
                t.collector,
                t.transistor.collector_ohm,
                t.sign * state.collector_a.value,
            )
        });
        own_w + given_w
    }

    /// Returns the power that a diode takes at a state, in watts; where it has series resistance its charging current is in it.
    pub(crate) fn diode_w(&self, id: DiodeId, x: &[f64]) -> f64 {
        let across_v = self
            .diodes
            .get(id.0)
            .map_or(0.0, |d| x[d.outer] - x[d.cathode]);
        self.diode_a(id, x) * across_v
    }

    /// Returns the heat in a branch's own resistance at a state, in watts.
    pub(crate) fn branch_w(&self, id: BranchId, x: &[f64]) -> f64 {
        let ohm = self.branch_ohm.get(id.0).copied().unwrap_or(0.0);
        ohm * x[self.branch(id)].powi(2)
    }

    /// Returns the heat in all branches' own resistance and in all resistors at a state, in watts.
    pub(crate) fn all_ohms_w(&self, x: &[f64]) -> f64 {
        let flowing = self.branch_ohm.iter().enumerate();
        let branches_w: f64 = flowing
            .map(|(index, ohm)| ohm * x[self.first_branch + index].powi(2))
            .sum();
        let resistors_w: f64 = self
            .resistors
            .iter()
            .map(|&(a, b, ohm)| (x[a] - x[b]).powi(2) / ohm)
            .sum();
        branches_w + resistors_w
    }

    /// Returns the state of a transistor at its inner junction voltages, a PNP one's with the signs of an NPN.
    pub(super) fn transistor_state(&self, id: TransistorId, x: &[f64]) -> State {
        self.transistors.get(id.0).map_or_else(State::default, |t| {
            let [volt_be, volt_bc] = t.junctions_v(x);
            t.transistor.state(volt_be, volt_bc)
        })
    }

    /// Lets every junction that a good guess moves by little start there: holding those back would only cost iterations.
    pub(super) fn trust(&self, x: &[f64], at: &mut Point) {
        let diodes = self.diodes.iter().map(|d| x[d.inner] - x[d.cathode]);
        let pairs = self.transistors.iter();
        let pairs = pairs.flat_map(|t| t.junctions_v(x));
        for (known_v, guessed_v) in at.junction_v.iter_mut().zip(diodes.chain(pairs)) {
            if (guessed_v - *known_v).abs() < TRUSTED_V {
                *known_v = guessed_v;
            }
        }
    }

    /// Puts the linear elements into the matrix; they are kept for as long as the weights stay the same.
    fn fill_linear(&self, weights: Weights, at: &mut Point) {
        if at.linear_for != Some((weights, self.changes)) {
            let stride = self.stride();
            at.linear.fill(0.0);
            for e in &self.entries {
                at.linear[e.row * stride + e.column] =
                    weights.conductance * e.conductance + weights.capacitance * e.capacitance;
            }
            at.linear_for = Some((weights, self.changes));
        }
        at.jacobian.copy_from_slice(&at.linear);
    }

    /// Evaluates flow, charge and the matrix at `x`, whose last slot is ground's and zero.
    pub(crate) fn evaluate(&self, x: &[f64], sources: Sources, weights: Weights, at: &mut Point) {
        let stride = self.stride();
        at.flow.fill(0.0);
        at.charge.fill(0.0);
        at.is_held_back = false;
        at.capacitances.clear();
        self.fill_linear(weights, at);
        // The entries stand row by row, each row's sums are carried along: half the time of adding in place.
        let (mut row, mut flow, mut charge) = (stride - 1, 0.0, 0.0);
        for e in &self.entries {
            if e.row != row {
                at.flow[row] = flow;
                at.charge[row] = charge;
                (row, flow, charge) = (e.row, 0.0, 0.0);
            }
            let volt = x[e.column];
            flow += e.conductance * volt;
            charge += e.capacitance * volt;
        }
        at.flow[row] = flow;
        at.charge[row] = charge;
        for (row, course) in &self.sources {
            at.flow[*row] -= match sources {
                Sources::Settled(part) => part * course.settled_v(),
                Sources::At(time_s) => course.at_s(time_s),
            };
        }
        for (index, d) in self.diodes.iter().enumerate() {
            d.evaluate(index, x, weights, at);
        }
        for (index, t) in self.transistors.iter().enumerate() {
            t.evaluate(self.diodes.len() + 2 * index, x, weights, at);
        }
    }

    /// Moves a point's charges to a state `step` away, along their slopes.
    pub(super) fn follow_charges(&self, at: &mut Point, step: &[f64]) {
        for e in &self.entries {
            at.charge[e.row] += e.capacitance * step[e.column];
        }
        for c in &at.capacitances {
            let moved_c = c.farad * (step[c.control.0] - step[c.control.1]);
            at.charge[c.ends.0] += moved_c;
            at.charge[c.ends.1] -= moved_c;
        }
    }
}

//! A circuit as elements between named nodes.

use crate::circuit::diode::Diode;
use crate::circuit::transistor::Transistor;

/// A node of one network.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Node(pub(crate) usize);

/// The node every voltage is counted from: the battery's minus.
pub const GROUND: Node = Node(usize::MAX);

/// A branch of one network, which can be coupled with others and whose current can be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BranchId(pub(crate) usize);

/// A diode of one network.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DiodeId(pub(crate) usize);

/// A transistor of one network.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TransistorId(pub(crate) usize);

/// A voltage over time, straight between its points and constant outside them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Course(pub Vec<(f64, f64)>);

impl Course {
    /// Creates a source switched on at time zero: up to `volt` in a microsecond.
    pub fn switched_on(volt: f64) -> Self {
        Self(vec![(0.0, 0.0), (1e-6, volt)])
    }

    /// Returns the voltage at a time, in volts.
    pub fn at_s(&self, time_s: f64) -> f64 {
        let after = self.0.partition_point(|&(t, _)| t <= time_s);
        match (
            after.checked_sub(1).and_then(|i| self.0.get(i)),
            self.0.get(after),
        ) {
            (Some(&(t0, v0)), Some(&(t1, v1))) => v0 + (v1 - v0) * (time_s - t0) / (t1 - t0),
            (Some(&(_, v)), None) | (None, Some(&(_, v))) => v,
            (None, None) => 0.0,
        }
    }

    /// Returns the voltage it comes to rest at, in volts.
    pub fn settled_v(&self) -> f64 {
        self.0.last().map_or(0.0, |&(_, v)| v)
    }

    /// Returns the first corner after a time, where a step has to end.
    pub(crate) fn corner_after_s(&self, time_s: f64) -> Option<f64> {
        self.0.iter().map(|&(t, _)| t).find(|&t| t > time_s)
    }
}

/// Resistance between two nodes.
#[derive(Debug, Clone, PartialEq)]
pub struct Resistor {
    /// Its name in a netlist, without the letter of its kind.
    pub name: String,
    /// Its ends.
    pub ends: (Node, Node),
    /// In ohms.
    pub ohm: f64,
}

/// Capacitance between two nodes.
#[derive(Debug, Clone, PartialEq)]
pub struct Capacitor {
    /// Its name in a netlist, without the letter of its kind.
    pub name: String,
    /// Its ends.
    pub ends: (Node, Node),
    /// In farads.
    pub farad: f64,
}

/// A source, a resistance and an inductance in series, each of which may be nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct Branch {
    /// Its name in a netlist, without the letters of its kinds.
    pub name: String,
    /// Its ends; current counts from the first through the branch to the second.
    pub ends: (Node, Node),
    /// The voltage that the source takes from the first end to the second, in volts: a battery with its plus at the first end.
    pub source: Option<Course>,
    /// In ohms.
    pub ohm: f64,
    /// In henries.
    pub henry: f64,
}

/// Two branches that share a field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coupling {
    /// The branches; the dots are at their first ends.
    pub branches: (BranchId, BranchId),
    /// Coupling factor, -1 to 1.
    pub factor: f64,
}

/// A diode in its place.
#[derive(Debug, Clone, PartialEq)]
pub struct PlacedDiode {
    /// Its name in a netlist, without the letter of its kind.
    pub name: String,
    /// Anode.
    pub anode: Node,
    /// Cathode.
    pub cathode: Node,
    /// Its parameters.
    pub diode: Diode,
}

/// Which way a transistor's currents flow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Polarity {
    /// Into base and collector, out of the emitter.
    Npn,
    /// The other way round, at voltages of the other sign.
    Pnp,
}

impl Polarity {
    /// Returns the sign of its currents and voltages against those of an NPN transistor.
    pub(crate) const fn sign(self) -> f64 {
        match self {
            Self::Npn => 1.0,
            Self::Pnp => -1.0,
        }
    }

    /// Returns its name in a netlist.
    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::Npn => "NPN",
            Self::Pnp => "PNP",
        }
    }
}

/// A transistor in its place.
#[derive(Debug, Clone, PartialEq)]
pub struct PlacedTransistor {
    /// Its name in a netlist, without the letter of its kind.
    pub name: String,
    /// Collector.
    pub collector: Node,
    /// Base.
    pub base: Node,
    /// Emitter.
    pub emitter: Node,
    /// Which way its currents flow.
    pub polarity: Polarity,
    /// Its parameters.
    pub transistor: Transistor,
}

/// The elements and the nodes they join.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Network {
    nodes: Vec<String>,
    pub(crate) resistors: Vec<Resistor>,
    pub(crate) capacitors: Vec<Capacitor>,
    pub(crate) branches: Vec<Branch>,
    pub(crate) couplings: Vec<Coupling>,
    pub(crate) diodes: Vec<PlacedDiode>,
    pub(crate) transistors: Vec<PlacedTransistor>,
}

impl Network {
    /// Returns the node of a name, made if it is new; `"0"` is [`GROUND`].
    pub fn node(&mut self, name: &str) -> Node {
        if name == "0" {
            return GROUND;
        }
        let found = self.nodes.iter().position(|known| known == name);
        Node(found.unwrap_or_else(|| {
            self.nodes.push(name.to_owned());
            self.nodes.len() - 1
        }))
    }

    /// Returns the node of a name, if there is one.
    pub fn find(&self, name: &str) -> Option<Node> {
        self.nodes.iter().position(|known| known == name).map(Node)
    }

    /// Returns the name of a node.
    pub fn name(&self, node: Node) -> &str {
        self.nodes.get(node.0).map_or("0", String::as_str)
    }

    /// Returns how many nodes there are besides ground.
    pub fn node_count(&self) -> usize {
        self.nodes.len()
    }

    /// Adds a resistor.
    pub fn resistor(&mut self, name: &str, ends: (Node, Node), ohm: f64) {
        let name = name.to_owned();
        self.resistors.push(Resistor { name, ends, ohm });
    }

    /// Adds a capacitor.
    pub fn capacitor(&mut self, name: &str, ends: (Node, Node), farad: f64) {
        let name = name.to_owned();
        self.capacitors.push(Capacitor { name, ends, farad });
    }

    /// Adds a winding or a wire with its resistance.
    pub fn winding(&mut self, name: &str, ends: (Node, Node), ohm: f64, henry: f64) -> BranchId {
        self.branch(Branch {
            name: name.to_owned(),
            ends,
            source: None,
            ohm,
            henry,
        })
    }

    /// Adds a branch.
    pub fn branch(&mut self, branch: Branch) -> BranchId {
        self.branches.push(branch);
        BranchId(self.branches.len() - 1)
    }

    /// Couples two branches.
    pub fn couple(&mut self, branches: (BranchId, BranchId), factor: f64) {
        self.couplings.push(Coupling { branches, factor });
    }

    /// Adds a diode.
    pub fn diode(&mut self, name: &str, ends: (Node, Node), diode: Diode) -> DiodeId {
        let (anode, cathode) = ends;
        let name = name.to_owned();
        self.diodes.push(PlacedDiode {
            name,
            anode,
            cathode,
            diode,
        });
        DiodeId(self.diodes.len() - 1)
    }

    /// Adds a transistor.
    pub fn transistor(&mut self, placed: PlacedTransistor) -> TransistorId {
        self.transistors.push(placed);
        TransistorId(self.transistors.len() - 1)
    }

    /// Returns a branch, to change its parts.
    pub fn branch_mut(&mut self, id: BranchId) -> Option<&mut Branch> {
        self.branches.get_mut(id.0)
    }

    /// Returns the mutual inductance of a coupling, in henries.
    pub(crate) fn mutual_h(&self, coupling: &Coupling) -> f64 {
        let henry = |id: BranchId| self.branches.get(id.0).map_or(0.0, |b| b.henry);
        coupling.factor * (henry(coupling.branches.0) * henry(coupling.branches.1)).sqrt()
    }
}

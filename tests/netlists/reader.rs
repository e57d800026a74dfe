//! Reads the plain kind of netlist our references are written in, so that a test computes the very circuit a simulator did.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use sagtrace::circuit::diode::{Breakdown, Diode};
use sagtrace::circuit::junction::Depletion;
use sagtrace::circuit::network::{
    Branch, BranchId, Course, DiodeId, Network, Node, PlacedTransistor, Polarity, TransistorId,
};
use sagtrace::circuit::transistor::{Leak, Transistor, TransitRise};

/// A netlist as a network with what the tests read from it.
#[derive(Debug)]
pub(crate) struct Netlist {
    pub(crate) network: Network,
    branches: BTreeMap<String, BranchId>,
    diodes: BTreeMap<String, DiodeId>,
    /// The transistor.
    pub(crate) transistor: Option<TransistorId>,
    /// Voltages across capacitors at time zero, by the node at their first end.
    pub(crate) charged: Vec<(Node, f64)>,
}

impl Netlist {
    pub(crate) fn node(&self, name: &str) -> Node {
        self.network.find(name).expect("the node is in the netlist")
    }

    pub(crate) fn branch(&self, name: &str) -> BranchId {
        self.branches[name]
    }

    /// The first of these branches that the netlist has.
    pub(crate) fn first_branch(&self, names: &[&str]) -> BranchId {
        let found = names.iter().find_map(|name| self.branches.get(*name));
        *found.expect("one of the branches is in the netlist")
    }

    /// A diode by its name; `None` if the fault of the netlist took it away.
    pub(crate) fn diode(&self, name: &str) -> Option<DiodeId> {
        self.diodes.get(name).copied()
    }
}

/// The netlist of that name beside this file.
pub(crate) fn netlist(id: &str) -> Netlist {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/netlists/{id}.cir"));
    read(&fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display())))
}

pub(crate) fn read(text: &str) -> Netlist {
    let lines: Vec<&str> = text.lines().skip(1).collect();
    let models: BTreeMap<&str, BTreeMap<String, f64>> = lines
        .iter()
        .filter_map(|line| line.strip_prefix(".model "))
        .map(|model| {
            let (name, rest) = model.split_once(' ').expect("a model has a kind");
            (name, parameters(rest))
        })
        .collect();
    let mut list = Netlist {
        network: Network::default(),
        branches: BTreeMap::new(),
        diodes: BTreeMap::new(),
        transistor: None,
        charged: Vec::new(),
    };
    // A source of no volt only measures a current; its two nodes are one.
    let aliases: BTreeMap<&str, &str> = lines
        .iter()
        .filter_map(|line| line.split_whitespace().collect::<Vec<_>>().try_into().ok())
        .filter(|[name, _, _, value]: &[&str; 4]| name.starts_with('V') && *value == "0")
        .map(|[_, first, second, _]| (second, first))
        .collect();
    for line in &lines {
        let words: Vec<&str> = line.split_whitespace().collect();
        if words.is_empty() || line.starts_with(['.', '*']) {
            continue;
        }
        let meter = words[0].starts_with('V') && words[3] == "0";
        if !meter {
            element(&words, line, &aliases, &models, &mut list);
        }
    }
    list
}

fn element(
    words: &[&str],
    line: &str,
    aliases: &BTreeMap<&str, &str>,
    models: &BTreeMap<&str, BTreeMap<String, f64>>,
    list: &mut Netlist,
) {
    let name = words[0];
    let mut at = |index: usize| {
        let word = words[index];
        list.network
            .node(aliases.get(word).copied().unwrap_or(word))
    };
    match name.as_bytes()[0] {
        b'R' => {
            let ends = (at(1), at(2));
            list.network.resistor(name, ends, number(words[3]));
        }
        b'C' => {
            let ends = (at(1), at(2));
            list.network.capacitor(name, ends, number(words[3]));
            if let Some(charged) = words.get(4).and_then(|word| word.strip_prefix("ic=")) {
                list.charged.push((ends.0, number(charged)));
            }
        }
        b'L' => {
            let ends = (at(1), at(2));
            let id = list.network.winding(name, ends, 0.0, number(words[3]));
            list.branches.insert(name.to_owned(), id);
        }
        b'V' => {
            let branch = Branch {
                name: name.to_owned(),
                ends: (at(1), at(2)),
                source: Some(course(line)),
                ohm: 0.0,
                henry: 0.0,
            };
            let id = list.network.branch(branch);
            list.branches.insert(name.to_owned(), id);
        }
        b'K' => {
            let pair = (list.branches[words[1]], list.branches[words[2]]);
            list.network.couple(pair, number(words[3]));
        }
        b'D' => {
            let ends = (at(1), at(2));
            let id = list.network.diode(name, ends, diode(&models[words[3]]));
            list.diodes.insert(name.to_owned(), id);
        }
        b'Q' => {
            let placed = PlacedTransistor {
                name: name.to_owned(),
                collector: at(1),
                base: at(2),
                emitter: at(3),
                polarity: Polarity::Npn,
                transistor: transistor(&models[words[4]]),
            };
            list.transistor = Some(list.network.transistor(placed));
        }
        _ => panic!("an element of a kind that is known: {line}"),
    }
}

fn course(line: &str) -> Course {
    let (_, points) = line.split_once("PWL(").expect("a source has a course");
    let points: Vec<f64> = points
        .trim_end_matches(')')
        .split_whitespace()
        .map(number)
        .collect();
    Course(points.chunks_exact(2).map(|p| (p[0], p[1])).collect())
}

fn parameters(text: &str) -> BTreeMap<String, f64> {
    let (_, inside) = text.split_once('(').expect("a model has parameters");
    inside
        .trim_end_matches(')')
        .split_whitespace()
        .map(|pair| {
            let (key, value) = pair.split_once('=').expect("a parameter has a value");
            (key.to_owned(), number(value))
        })
        .collect()
}

fn number(word: &str) -> f64 {
    const PREFIXES: [(char, &str); 6] = [
        ('f', "e-15"),
        ('p', "e-12"),
        ('n', "e-9"),
        ('u', "e-6"),
        ('m', "e-3"),
        ('k', "e3"),
    ];
    let scaled = PREFIXES
        .iter()
        .find_map(|(letter, power)| Some(format!("{}{power}", word.strip_suffix(*letter)?)));
    scaled
        .as_deref()
        .unwrap_or(word)
        .parse()
        .unwrap_or_else(|error| panic!("{word}: {error}"))
}

fn depletion(model: &BTreeMap<String, f64>, [zero, built_in, grading]: [&str; 3]) -> Depletion {
    model
        .get(zero)
        .map_or(Depletion::NONE, |&zero_bias_f| Depletion {
            zero_bias_f,
            built_in_v: model[built_in],
            grading: model[grading],
        })
}

fn diode(model: &BTreeMap<String, f64>) -> Diode {
    Diode {
        saturation_a: model["IS"],
        ideality: model["N"],
        series_ohm: model["RS"],
        depletion: depletion(model, ["CJO", "VJ", "M"]),
        transit_s: model.get("TT").copied().unwrap_or(0.0),
        breakdown: Some(Breakdown {
            voltage_v: model["BV"],
            current_a: model.get("IBV").copied().unwrap_or(1e-3),
        }),
    }
}

fn transistor(model: &BTreeMap<String, f64>) -> Transistor {
    let or = |key: &str, usual: f64| model.get(key).copied().unwrap_or(usual);
    Transistor {
        saturation_a: model["IS"],
        forward_gain: model["BF"],
        reverse_gain: model["BR"],
        early_v: or("VAF", f64::INFINITY),
        knee_a: or("IKF", f64::INFINITY),
        emitter_leak: Leak {
            saturation_a: or("ISE", 0.0),
            ideality: or("NE", 1.5),
        },
        collector_leak: Leak {
            saturation_a: or("ISC", 0.0),
            ideality: or("NC", 2.0),
        },
        emitter_depletion: depletion(model, ["CJE", "VJE", "MJE"]),
        collector_depletion: depletion(model, ["CJC", "VJC", "MJC"]),
        forward_transit_s: model["TF"],
        transit_rise: TransitRise {
            ratio: or("XTF", 0.0),
            scale_v: or("VTF", f64::INFINITY),
            scale_a: or("ITF", 0.0),
        },
        reverse_transit_s: model["TR"],
        base_ohm: or("RB", 0.0),
        collector_ohm: or("RC", 0.0),
        emitter_ohm: or("RE", 0.0),
    }
}

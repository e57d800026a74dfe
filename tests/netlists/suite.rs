//! The netlists that run, and how ours are followed.

use sagtrace::circuit::bias::Bias;
use sagtrace::circuit::running::{Running, Until, follow};
use sagtrace::circuit::startup::Startup;
use sagtrace::circuit::stepper::Accuracy;
use sagtrace::circuit::wiring::Probes;

use crate::reader::Netlist;

/// Where a netlist's figures are read; `foot_to_top` is the top's voltage over the lumped coil's.
pub(crate) fn probes(list: &Netlist, foot_to_top: f64) -> Probes {
    Probes {
        battery: list.branch("VB"),
        plus: list.node("vt"),
        base: list.node("b"),
        collector: list.node("c"),
        top: list.node("top"),
        primary: list.branch("LP"),
        secondary: list.first_branch(&["LS", "L1"]),
        base_diode: list.diode("D1"),
        transistor: list.transistor.expect("the netlist has a transistor"),
        breakdowns: ["DZ", "DZC"]
            .map(|name| list.diode(name).expect("the diode is in the netlist")),
        foot_to_top,
    }
}

/// The top's voltage over the lumped coil's, by the rings the netlists' coils were computed from.
pub(crate) fn foot_to_top(id: &str) -> f64 {
    match id {
        "Q1a" | "Q1b" | "Q2" => 1.2524,
        "Q3" => 1.2576,
        _ => 1.0,
    }
}

pub(crate) fn run(list: &Netlist, foot_to_top: f64, until: Until) -> Running {
    let mut bias = Bias::find(&list.network).unwrap();
    let small_hz = Startup::at(&mut bias).unwrap().frequency_hz;
    let probes = probes(list, foot_to_top);
    let accuracy = Accuracy::usual(small_hz);
    follow(&list.network, &probes, &list.charged, accuracy, until).unwrap()
}

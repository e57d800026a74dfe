//! A network as a netlist that ngspice reads, so that anyone can check the computation here.

use std::fmt::Write as _;

use super::network::{Branch, Network, Node};
use super::wiring::Probes;
use crate::circuit::diode::Diode;
use crate::circuit::transistor::Transistor;

/// The run that the netlist asks of the other simulator.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Watch {
    /// About where it oscillates, in hertz.
    pub frequency_hz: f64,
    /// Steps per cycle at least.
    pub steps_per_cycle: f64,
    /// How long it is followed, in seconds.
    pub end_s: f64,
    /// Where reading begins, in seconds.
    pub read_from_s: f64,
}

impl Watch {
    /// Creates the usual one: switched on and followed long enough for a slow start, 150 steps per cycle, the last fifth read.
    pub const fn usual(frequency_hz: f64) -> Self {
        Self {
            frequency_hz,
            steps_per_cycle: 150.0,
            end_s: 300e-6,
            read_from_s: 240e-6,
        }
    }
}

/// Returns the netlist of a network with charged nodes, if any; `ngspice -b` prints its figures under our own names.
pub fn text(
    title: &str,
    network: &Network,
    probes: &Probes,
    charged: &[(Node, f64)],
    watch: &Watch,
) -> String {
    let mut lines = vec![format!("* {}", title.replace(['\n', '\r'], " "))];
    for branch in &network.branches {
        lines.extend(branch_lines(network, branch));
    }
    for coupling in &network.couplings {
        let name = |index: usize| network.branches.get(index).map_or("", |b| b.name.as_str());
        let (a, b) = (name(coupling.branches.0.0), name(coupling.branches.1.0));
        lines.push(format!("K{a}{b} L{a} L{b} {}", coupling.factor));
    }
    for r in &network.resistors {
        let (a, b) = (network.name(r.ends.0), network.name(r.ends.1));
        lines.push(format!("R{} {a} {b} {:e}", r.name, r.ohm));
    }
    for c in &network.capacitors {
        let (a, b) = (network.name(c.ends.0), network.name(c.ends.1));
        let initial = charged.iter().find(|(node, _)| *node == c.ends.0);
        let initial = initial.map_or_else(String::new, |(_, volt)| format!(" ic={volt}"));
        lines.push(format!("C{} {a} {b} {:e}{initial}", c.name, c.farad));
    }
    device_lines(network, probes, &mut lines);
    watch_lines(network, probes, watch, &mut lines);
    lines.push(".end".to_owned());
    lines.join("\n") + "\n"
}

/// Returns the source, resistance and inductance of a branch in series, those that are nothing left out.
fn branch_lines(network: &Network, branch: &Branch) -> Vec<String> {
    let Branch {
        name, ohm, henry, ..
    } = branch;
    let mut parts = Vec::new();
    if let Some(course) = &branch.source {
        let points: Vec<_> = course.0.iter().map(|(t, v)| format!("{t:e} {v}")).collect();
        parts.push(('V', format!("PWL({})", points.join(" "))));
    }
    if *ohm > 0.0 {
        parts.push(('R', format!("{ohm:e}")));
    }
    if *henry > 0.0 || parts.is_empty() {
        // A plain wire becomes a source of nothing, through which its current can be read.
        parts.push(if *henry > 0.0 {
            ('L', format!("{henry:e}"))
        } else {
            ('V', "0".to_owned())
        });
    }
    let last = parts.len() - 1;
    let mut from = network.name(branch.ends.0).to_owned();
    let mut lines = Vec::new();
    for (index, (letter, value)) in parts.into_iter().enumerate() {
        let to = if index == last {
            network.name(branch.ends.1).to_owned()
        } else {
            format!("{}_{index}", name.to_lowercase())
        };
        lines.push(format!("{letter}{name} {from} {to} {value}"));
        from = to;
    }
    lines
}

fn device_lines(network: &Network, probes: &Probes, lines: &mut Vec<String>) {
    // The transistor and its breakdown hang behind sources of nothing, through which its currents can be read.
    let own = network.transistors.get(probes.transistor.0);
    let leg = |node: Node| match own {
        Some(q) if node == q.collector => "q_c",
        Some(q) if node == q.base => "q_b",
        _ => network.name(node),
    };
    if let Some(q) = own {
        lines.push(format!("VLEGC {} q_c 0", network.name(q.collector)));
        lines.push(format!("VLEGB {} q_b 0", network.name(q.base)));
    }
    for (index, d) in network.diodes.iter().enumerate() {
        let is_own = probes.breakdowns.iter().any(|id| id.0 == index);
        let place = |node: Node| {
            if is_own {
                leg(node)
            } else {
                network.name(node)
            }
        };
        let (name, mut anode) = (&d.name, place(d.anode).to_owned());
        if probes.base_diode.is_some_and(|id| id.0 == index) {
            lines.push(format!("VDIODE {anode} diode_in 0"));
            "diode_in".clone_into(&mut anode);
        }
        lines.push(format!("D{name} {anode} {} D{name}M", place(d.cathode)));
        lines.push(format!(".model D{name}M D({})", diode_model(&d.diode)));
    }
    for (index, q) in network.transistors.iter().enumerate() {
        let is_own = index == probes.transistor.0;
        let node = |n: Node| if is_own { leg(n) } else { network.name(n) };
        let name = &q.name;
        lines.push(format!(
            "Q{name} {} {} {} Q{name}M",
            node(q.collector),
            node(q.base),
            node(q.emitter)
        ));
        lines.push(format!(
            ".model Q{name}M {}({})",
            q.polarity.name(),
            transistor_model(&q.transistor)
        ));
    }
}

fn model(pairs: &[(&str, f64)]) -> String {
    let told = pairs.iter().filter(|(_, value)| value.is_finite());
    told.fold(String::new(), |mut text, (key, value)| {
        let gap = if text.is_empty() { "" } else { " " };
        // Writing to a string can't fail.
        let _infallible = write!(text, "{gap}{key}={value:e}");
        text
    })
}

fn diode_model(d: &Diode) -> String {
    let (broken_v, broken_a) = d.breakdown.map_or((f64::INFINITY, f64::INFINITY), |b| {
        (b.voltage_v, b.current_a)
    });
    model(&[
        ("IS", d.saturation_a),
        ("N", d.ideality),
        ("RS", d.series_ohm),
        ("CJO", d.depletion.zero_bias_f),
        ("VJ", d.depletion.built_in_v),
        ("M", d.depletion.grading),
        ("TT", d.transit_s),
        ("BV", broken_v),
        ("IBV", broken_a),
    ])
}

fn transistor_model(t: &Transistor) -> String {
    model(&[
        ("IS", t.saturation_a),
        ("BF", t.forward_gain),
        ("BR", t.reverse_gain),
        ("VAF", t.early_v),
        ("IKF", t.knee_a),
        ("ISE", t.emitter_leak.saturation_a),
        ("NE", t.emitter_leak.ideality),
        ("ISC", t.collector_leak.saturation_a),
        ("NC", t.collector_leak.ideality),
        ("CJE", t.emitter_depletion.zero_bias_f),
        ("VJE", t.emitter_depletion.built_in_v),
        ("MJE", t.emitter_depletion.grading),
        ("CJC", t.collector_depletion.zero_bias_f),
        ("VJC", t.collector_depletion.built_in_v),
        ("MJC", t.collector_depletion.grading),
        ("TF", t.forward_transit_s),
        ("XTF", t.transit_rise.ratio),
        ("VTF", t.transit_rise.scale_v),
        ("ITF", t.transit_rise.scale_a),
        ("TR", t.reverse_transit_s),
        ("RB", t.base_ohm),
        ("RC", t.collector_ohm),
        ("RE", t.emitter_ohm),
    ])
}

fn watch_lines(network: &Network, probes: &Probes, watch: &Watch, lines: &mut Vec<String>) {
    let name = |index: usize| {
        let branch = network.branches.get(index);
        branch.map_or_else(String::new, |b| b.name.to_lowercase())
    };
    let battery = name(probes.battery.0);
    let secondary = name(probes.secondary.0);
    let node = |n: Node| network.name(n);
    let step_s = 1.0 / (watch.steps_per_cycle * watch.frequency_hz);
    let (from_s, end_s) = (watch.read_from_s, watch.end_s);
    // A tenth of the window stays free, should the frequency be a little lower.
    let cycles = (0.9 * (end_s - from_s) * watch.frequency_hz)
        .floor()
        .max(1.0);
    let over = format!("from={from_s:e} to={end_s:e}");
    let (plus, base, top) = (node(probes.plus), node(probes.base), node(probes.top));
    lines.push(
        ".options method=trap reltol=2e-5 abstol=1e-10 vntol=1e-6 chgtol=1e-16 trtol=3".to_owned(),
    );
    lines.push(format!(".tran {step_s:.5e} {end_s:e} 0 {step_s:.5e} uic"));
    let mut saved = format!(
        ".save v({plus}) v({base}) v({}) v({top}) i(v{battery}) i(l{secondary})",
        node(probes.collector)
    );
    let crossing = |rise: f64| format!("i(l{secondary}) val=0 td={from_s:e} rise={rise:.0}");
    let mut measures = vec![
        format!(
            "cycles_s trig {} targ {}",
            crossing(1.0),
            crossing(1.0 + cycles)
        ),
        format!("frequency_hz param='{cycles:.0}/cycles_s'"),
        format!("battery_a avg i(v{battery}) {over}"),
        "supply_a param='-battery_a'".to_owned(),
        format!("battery_v avg v({plus}) {over}"),
        format!("swing_v pp v({top}) {over}"),
        format!("top_v param='swing_v*{}'", 0.5 * probes.foot_to_top),
        format!("base_v avg v({base}) {over}"),
        format!("base_lowest_v min v({base}) {over}"),
        format!("base_highest_v max v({base}) {over}"),
        format!(
            "collector_highest_v max v({}) {over}",
            node(probes.collector)
        ),
    ];
    if let Some(q) = network.transistors.get(probes.transistor.0) {
        let emitter = node(q.emitter);
        let above = |leg: &str| {
            if emitter == "0" {
                format!("v({leg})")
            } else {
                format!("(v({leg})-v({emitter}))")
            }
        };
        saved.push_str(" v(q_c) v(q_b) i(vlegc) i(vlegb)");
        if emitter != "0" && !saved.contains(&format!(" v({emitter}) ")) {
            let _infallible = write!(saved, " v({emitter})");
        }
        measures.push(format!(
            "transistor_w avg par('{}*i(vlegc)+{}*i(vlegb)') {over}",
            above("q_c"),
            above("q_b")
        ));
    }
    if probes.base_diode.is_some() {
        saved.push_str(" i(vdiode)");
        measures.push(format!("diode_a avg i(vdiode) {over}"));
    }
    lines.push(saved);
    lines.extend(measures.into_iter().map(|m| format!(".meas tran {m}")));
}

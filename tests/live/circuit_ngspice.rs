//! Another simulator computes the same circuits on the spot, from netlists of our own writing: nothing here is copied.
//!
//! Needs `ngspice` (Debian's package of that name). Its runs are made at T/150, ours as the program makes them.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::Command;
use std::sync::Mutex;
use std::thread;

use crate::reader::netlist;
#[cfg(feature = "long")]
use crate::reference::S;
use crate::reference::{M, PT, circuit};
use crate::suite::{foot_to_top, probes, run};
use sagtrace::circuit::bias::{Bias, METER_OHM};
use sagtrace::circuit::flaws::Flaws;
use sagtrace::circuit::netlist::{Watch, text};
use sagtrace::circuit::network::{Course, GROUND, Polarity};
use sagtrace::circuit::rest::Rest;
use sagtrace::circuit::running::{Running, Until, follow};
use sagtrace::circuit::stepper::Accuracy;
#[cfg(feature = "long")]
use sagtrace::circuit::{transistor::Transistor, wiring::CircuitSpec};

/// The trapezoid rule reads frequencies low by `(2 pi / 150)^2 / 12` at most; where a step is shorter, by less.
const TRAPEZOID: f64 = 146e-6;

/// Runs a netlist; the figures it prints as `name = value`.
fn ngspice(dir: &Path, id: &str, netlist: &str) -> BTreeMap<String, f64> {
    let path = dir.join(format!("{id}.cir"));
    fs::write(&path, netlist).unwrap();
    let output = Command::new("ngspice")
        .arg("-b")
        .arg(&path)
        .output()
        .expect("ngspice is installed");
    let printed = String::from_utf8_lossy(&output.stdout).into_owned();
    let figures: BTreeMap<String, f64> = printed
        .lines()
        .filter_map(|line| {
            let (name, rest) = line.split_once('=')?;
            let value = rest.split_whitespace().next()?.parse().ok()?;
            Some((name.trim().to_owned(), value))
        })
        .collect();
    assert!(
        figures.contains_key("supply_a"),
        "{id}: {printed}{}",
        String::from_utf8_lossy(&output.stderr)
    );
    figures
}

/// Ours against theirs, each with its tolerance. Returns the lines that are out.
fn differences(
    id: &str,
    ours: &Running,
    theirs: &BTreeMap<String, f64>,
    is_wild: bool,
) -> Vec<String> {
    let loose = if is_wild { 2.0 } else { 1.0 };
    let frequency = ours.frequency_hz / (1.0 + TRAPEZOID);
    let rows = [
        ("frequency_hz", frequency, 3e-4, 0.0),
        ("top_v", ours.top_v, 0.01, 0.0),
        ("supply_a", ours.supply_a, 0.02, 0.0),
        ("battery_v", ours.battery_v, 0.01, 0.0),
        ("base_v", ours.base_v, 0.0, 0.025),
        ("base_lowest_v", ours.base_lowest_v, 0.0, 0.075),
        ("base_highest_v", ours.base_highest_v, 0.0, 0.025),
        ("diode_a", ours.diode_a, 0.05, 2e-5),
        ("transistor_w", ours.transistor_w, 0.03, 2e-4),
    ];
    let mut out = Vec::new();
    for (what, ours, relative, absolute) in rows {
        let Some(&theirs) = theirs.get(what) else {
            continue;
        };
        let allowed = loose * (relative * theirs.abs() + absolute);
        let line = format!(
            "{id:14} {what:15} ours {ours:12.5e} theirs {theirs:12.5e} allowed {allowed:.1e}"
        );
        println!("{line}");
        if (ours - theirs).abs() > allowed {
            out.push(line);
        }
    }
    out
}

/// Does the work on both cores.
fn on_two_cores(work: Vec<Box<dyn FnOnce() -> Vec<String> + Send>>) {
    let queue = Mutex::new(work);
    let out = Mutex::new(Vec::new());
    thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                loop {
                    let Some(job) = queue.lock().unwrap().pop() else {
                        break;
                    };
                    let lines = job();
                    out.lock().unwrap().extend(lines);
                }
            });
        }
    });
    let out = out.into_inner().unwrap();
    assert!(out.is_empty(), "they differ:\n{}", out.join("\n"));
}

#[test]
fn every_netlist_of_the_suite_runs_as_in_the_other_simulator() {
    let dir = tempfile::tempdir().unwrap();
    // The collector of these rings at 20 to 35 MHz and no two cycles are the same.
    let wild = ["T07", "T08", "T09", "T10", "T12"];
    let tame = ["T01", "T02", "T03", "T04", "T05", "T06", "T11", "T13"];
    let modal = ["Q1a", "Q1b", "Q2", "Q3"];
    let ids = wild.iter().chain(&tame).chain(&modal);
    let work = ids.map(|&id| {
        let dir = dir.path().to_owned();
        let job = move || {
            let list = netlist(id);
            let (end_s, read_from_s) = if id.starts_with('Q') {
                (300e-6, 255e-6)
            } else {
                (150e-6, 120e-6)
            };
            let ours = run(&list, foot_to_top(id), Until::Time { end_s, read_from_s });
            let watch = Watch {
                end_s,
                read_from_s,
                ..Watch::usual(ours.frequency_hz)
            };
            let probes = probes(&list, foot_to_top(id));
            let written = text(id, &list.network, &probes, &list.charged, &watch);
            let theirs = ngspice(&dir, id, &written);
            differences(id, &ours, &theirs, wild.contains(&id))
        };
        Box::new(job) as Box<dyn FnOnce() -> Vec<String> + Send>
    });
    on_two_cores(work.collect());
}

#[test]
fn a_build_wired_from_plain_numbers_runs_as_in_the_other_simulator() {
    let dir = tempfile::tempdir().unwrap();
    let mut bare = circuit(M, 0.22, 120.0);
    // Without it the base-emitter junction breaks down in every cycle: more than a third of the transistor's heat.
    bare.base_diode = None;
    let builds = [
        ("bare", bare),
        ("medium", circuit(M, 0.22, 120.0)),
        ("power", circuit(PT, 0.25, 120.0)),
    ];
    let work = builds.into_iter().map(|(id, spec)| {
        let dir = dir.path().to_owned();
        let job = move || {
            let rest = Rest::of(&spec).unwrap();
            let wired = &rest.wired;
            let accuracy = Accuracy::usual(rest.startup.frequency_hz);
            let watch = Watch {
                end_s: 150e-6,
                read_from_s: 120e-6,
                ..Watch::usual(rest.startup.frequency_hz)
            };
            let until = Until::Time {
                end_s: watch.end_s,
                read_from_s: watch.read_from_s,
            };
            let ours = follow(&wired.network, &wired.probes, &[], accuracy, until).unwrap();
            let written = text(id, &wired.network, &wired.probes, &[], &watch);
            differences(
                id,
                &ours,
                &ngspice(&dir, id, &written),
                matches!(id, "medium" | "bare"),
            )
        };
        Box::new(job) as Box<dyn FnOnce() -> Vec<String> + Send>
    });
    on_two_cores(work.collect());
}

/// A base with no way to plus but megohms or nothing reads what the meter leaves of it, here and in the other simulator.
#[test]
fn a_base_without_its_bias_resistor_reads_what_the_meter_leaves() {
    let dir = tempfile::tempdir().unwrap();
    for (id, bias_ohm) in [("open", 1e9), ("megohms", 10e6)] {
        let mut spec = circuit(PT, 0.2, 100.0);
        spec.bias_ohm = bias_ohm;
        let mut wired = spec.wired();
        let probes = wired.probes;
        let bias = Bias::find(&wired.network).unwrap();
        let ours = bias.read_v(probes.base).unwrap();
        let bare = bias.node_v(probes.base);
        let meter = (probes.base, GROUND);
        wired.network.resistor("METER", meter, METER_OHM);
        // On from before the beginning: behind megohms the base takes milliseconds to rest.
        let on = Course(vec![(0.0, 9.0), (1.0, 9.0)]);
        wired.network.branch_mut(probes.battery).unwrap().source = Some(on);
        let watch = Watch {
            end_s: 150e-6,
            read_from_s: 120e-6,
            ..Watch::usual(3.5e6)
        };
        let written = text(id, &wired.network, &probes, &[], &watch);
        let written = written.replace(" uic", "");
        let theirs = ngspice(dir.path(), id, &written)["base_v"];
        println!("{id}: bare {bare:.4}, read {ours:.4}, theirs {theirs:.4}");
        assert!((ours - theirs).abs() < 2e-3, "{id}: {ours} {theirs}");
        assert!(bare - ours > 1e-3, "{id}: {bare} {ours}");
    }
}

/// A PNP part in the place of the NPN, with each set of the reference circuit: at rest, as a meter reads it.
#[test]
fn a_pnp_in_the_place_of_the_npn_rests_as_in_the_other_simulator() {
    let dir = tempfile::tempdir().unwrap();
    let flaws = Flaws {
        polarity: Polarity::Pnp,
        ..Flaws::NONE
    };
    for (id, set, emitter_breakdown_v) in
        [("medium", M, 6.0), ("power", PT, 7.3), ("tough", PT, 9.5)]
    {
        let mut spec = circuit(set, 0.2, 100.0);
        spec.transistor.emitter_breakdown_v = emitter_breakdown_v;
        let (wired, _) = spec.wired_with(&flaws);
        let bias = Bias::find(&wired.network).unwrap();
        let probes = &wired.probes;
        let watch = Watch {
            end_s: 150e-6,
            read_from_s: 120e-6,
            ..Watch::usual(3.5e6)
        };
        let written = text(id, &wired.network, probes, &[], &watch);
        assert!(written.contains(" PNP("), "{written}");
        let theirs = ngspice(dir.path(), id, &written);
        for (what, ours, within) in [
            ("battery_v", bias.node_v(probes.plus), 0.01),
            ("base_v", bias.node_v(probes.base), 0.01),
            ("supply_a", -bias.branch_a(probes.battery), 2e-3),
        ] {
            println!("{id} {what}: ours {ours:.4} theirs {:.4}", theirs[what]);
            let allowed = within * (1.0 + 10.0 * theirs[what].abs());
            assert!((ours - theirs[what]).abs() < allowed, "{id} {what}: {ours}");
        }
    }
}

#[test]
fn the_netlist_of_a_sheet_gives_what_its_prediction_says() {
    let dir = tempfile::tempdir().unwrap();
    let sheet = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data/glow-pillar-measured.toml");
    let predict = |more: [&str; 2]| {
        let mut program = Command::new(assert_cmd::cargo::cargo_bin!("sagtrace"));
        let output = program.arg("predict").arg(&sheet).args(more).output();
        let output = output.expect("the program runs");
        assert!(output.status.success(), "{output:?}");
        String::from_utf8(output.stdout).expect("the program writes UTF-8")
    };
    let written = predict(["--netlist", "typical"]);
    let first = written.lines().next().expect("a title");
    assert!(
        first.contains(", typical parts, steps of 1/150 of a cycle"),
        "{first}"
    );
    let theirs = ngspice(dir.path(), "sheet", &written);
    let document: serde_json::Value =
        serde_json::from_str(&predict(["--format", "json"])).expect("the program writes JSON");
    let running = &document["start"]["sets"][1]["running"];
    for (what, within) in [
        ("frequency_hz", 3e-4),
        ("supply_a", 0.02),
        ("battery_v", 0.01),
        ("top_v", 0.01),
        ("diode_a", 0.05),
    ] {
        let ours = running[what].as_f64().expect("a number");
        let error = ours / theirs[what] - 1.0;
        println!(
            "{what}: ours {ours} theirs {} error {error:.1e}",
            theirs[what]
        );
        assert!(error.abs() < within, "{what}: {ours}, {}", theirs[what]);
    }
}

/// Four transistors, seven couplings (two of them reversed), three quality factors, two batteries, three bias resistors.
#[cfg(feature = "long")]
fn grid() -> Vec<(String, CircuitSpec)> {
    let slow = Transistor {
        forward_transit_s: 80e-9,
        ..PT
    };
    let mut all = Vec::new();
    for (name, set) in [("S", S), ("M", M), ("Pt", PT), ("P", slow)] {
        for coupling in [-0.2, -0.05, 0.02, 0.05, 0.1, 0.2, 0.3] {
            for q in [40.0, 100.0, 150.0] {
                for open_v in [3.0, 9.0] {
                    for bias_ohm in [1e3, 22e3, 220e3] {
                        let mut spec = circuit(set, coupling, q);
                        spec.supply.open_v = open_v;
                        spec.bias_ohm = bias_ohm;
                        let name = format!("{name} k {coupling} Q {q} {open_v} V {bias_ohm} ohm");
                        all.push((name, spec));
                    }
                }
            }
        }
    }
    all
}

/// Growth below which a circuit is on the threshold, per second.
#[cfg(feature = "long")]
const ON_THRESHOLD_PER_S: f64 = 500.0;

/// Whether it oscillates at all: by the eigenvalues, and 50 mV at the top after being switched on in the other simulator, followed
/// for 90 us and, where little grows or decays, for eight times the time in which that changes by e. One circuit is on the
/// threshold itself, a tenth of a second from an answer: it is left out by its growth.
#[cfg(feature = "long")]
#[test]
fn whether_a_grid_of_circuits_oscillates_at_all_is_what_the_other_simulator_finds() {
    let dir = tempfile::tempdir().unwrap();
    let all = grid();
    let judged: Vec<_> = all
        .iter()
        .filter(|(_, spec)| Rest::of(spec).unwrap().startup.growth_per_s.abs() > ON_THRESHOLD_PER_S)
        .cloned()
        .collect();
    println!("{} circuits, {} judged", all.len(), judged.len());
    assert!(judged.len() + 1 >= all.len());
    let work = judged.into_iter().enumerate().map(|(index, (name, spec))| {
        let dir = dir.path().to_owned();
        let job = move || {
            let rest = Rest::of(&spec).unwrap();
            let growth_per_s = rest.startup.growth_per_s;
            let end_s = if growth_per_s.abs() < 2e5 {
                90e-6 + 8.0 / growth_per_s.abs()
            } else {
                90e-6
            };
            let watch = Watch {
                end_s,
                read_from_s: end_s - 15e-6,
                steps_per_cycle: 100.0,
                ..Watch::usual(rest.startup.frequency_hz)
            };
            let wired = &rest.wired;
            let id = format!("grid{index}");
            let written = text(&id, &wired.network, &wired.probes, &[], &watch);
            let oscillates = ngspice(&dir, &id, &written)["top_v"] >= 0.05;
            let agrees = oscillates == (growth_per_s > 0.0);
            let line = format!("{name}: growth {growth_per_s:.3e} /s, there {oscillates}");
            if agrees { Vec::new() } else { vec![line] }
        };
        Box::new(job) as Box<dyn FnOnce() -> Vec<String> + Send>
    });
    on_two_cores(work.collect());
}

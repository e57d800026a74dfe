//! What the circuit costs: a verdict, its margins, and the running netlists beside another simulator's time for the same
//! text (reltol 2e-5) in the same run. Without `ngspice` on the machine its column is left out.

#[path = "../netlists/reader.rs"]
mod reader;
#[path = "../netlists/reference.rs"]
mod reference;
#[path = "../netlists/suite.rs"]
mod suite;

use std::fs;
use std::hint::black_box;
use std::process::Command;

use reader::netlist;
use reference::{M, PT, circuit};
use sagtrace::circuit::margin::Margins;
use sagtrace::circuit::netlist::{Watch, text};
use sagtrace::circuit::outlook::Outlook;
use sagtrace::circuit::rest::Rest;
use sagtrace::circuit::running::Until;
use sagtrace::circuit::verdict::Judged;
use sagtrace::circuit::wiring::CircuitSpec;
use sagtrace::clock::Clock;
use suite::{foot_to_top, probes, run};

const ROUNDS: u32 = 500;
const END_S: f64 = 150e-6;

/// How long it takes, in seconds.
fn timed_s<T>(work: impl FnOnce() -> T) -> f64 {
    let clock = Clock::real();
    black_box(work());
    clock.elapsed_s()
}

/// The same five thresholds by halving ranges around them to a thousandth, a verdict for each: what the margins' way is set
/// against. The ranges are a factor of ten around the values of the reference circuit.
fn searched(spec: &CircuitSpec) -> [f64; 5] {
    type Turn = fn(&mut CircuitSpec, f64);
    let turns: [(f64, Turn); 5] = [
        (0.064, |spec, k| spec.resonator.coupling = k),
        (32.8, |spec, q| spec.resonator.q = q),
        (37.7e-9, |spec, s| {
            spec.transistor.model.forward_transit_s = s;
        }),
        (0.83, |spec, volt| spec.supply.open_v = volt),
        (831e3, |spec, ohm| spec.bias_ohm = ohm),
    ];
    turns.map(|(near, turn)| {
        let starts = |log: f64| {
            let mut there = *spec;
            turn(&mut there, near * log.exp());
            Rest::of(&there).expect("a verdict").startup.starts()
        };
        let (mut low, mut high) = (-2.3, 2.3);
        let at_low = starts(low);
        while high - low > 1e-3 {
            let middle = 0.5 * (low + high);
            if starts(middle) == at_low {
                low = middle;
            } else {
                high = middle;
            }
        }
        near * low.exp()
    })
}

/// Whole outlooks of one coil with a medium and a power transistor, and what a set judged coarsely takes of one judged closely.
fn outlooks() {
    for (name, model) in [("medium", M), ("power", PT)] {
        let spec = circuit(model, 0.2, 150.0);
        let closely = timed_s(|| Judged::of(&spec).expect("a set"));
        let coarsely = timed_s(|| Judged::coarse(&spec).expect("a set"));
        let whole = timed_s(|| Outlook::of(&[spec; 3]).expect("an outlook"));
        println!(
            "{name}: a set {closely:.2} s, coarsely {:.2} of that, a whole outlook {:.1} times",
            coarsely / closely,
            whole / closely
        );
    }
}

fn main() {
    outlooks();
    let spec = circuit(PT, 0.2, 100.0);
    let verdict = timed_s(|| {
        for _ in 0..ROUNDS {
            black_box(Rest::of(black_box(&spec)).expect("a verdict"));
        }
    });
    println!("verdict {:.3} ms", verdict * 1e3 / f64::from(ROUNDS));
    let rest = Rest::of(&spec).expect("a verdict");
    let margins = timed_s(|| {
        for _ in 0..ROUNDS / 10 {
            black_box(Margins::of(&spec, &rest).expect("margins"));
        }
    });
    let searched = timed_s(|| {
        for _ in 0..ROUNDS / 100 {
            black_box(searched(black_box(&spec)));
        }
    });
    let of_search = 10.0 * margins / (100.0 * searched);
    println!(
        "margins {:.3} ms, {:.1} verdicts, {of_search:.3} of a search of the same five ranges by verdicts",
        margins * 1e4 / f64::from(ROUNDS),
        10.0 * margins / verdict,
    );
    let dir = tempfile::tempdir().expect("a temporary folder");
    for id in [
        "T01", "T02", "T03", "T04", "T05", "T06", "T07", "T08", "T09", "T10", "T11", "T12", "T13",
    ] {
        let list = netlist(id);
        let until = Until::Time {
            end_s: END_S,
            read_from_s: 0.8 * END_S,
        };
        let mut frequency_hz = 0.0;
        let ours = timed_s(|| frequency_hz = run(&list, foot_to_top(id), until).frequency_hz);
        let settled = timed_s(|| run(&list, foot_to_top(id), Until::Settled { at_most_s: 1e-3 }));
        let steady = timed_s(|| run(&list, foot_to_top(id), Until::Steady { at_most_s: 1e-3 }));
        let watch = Watch {
            end_s: END_S,
            read_from_s: 0.8 * END_S,
            ..Watch::usual(frequency_hz)
        };
        let written = text(
            id,
            &list.network,
            &probes(&list, foot_to_top(id)),
            &list.charged,
            &watch,
        );
        let path = dir.path().join(id);
        fs::write(&path, written).expect("the netlist is written");
        let mut ran = false;
        let theirs = timed_s(|| {
            ran = Command::new("ngspice")
                .arg("-b")
                .arg(&path)
                .output()
                .is_ok();
        });
        let ratio = theirs / ours;
        let beside = if ran {
            format!(", ngspice at T/150 {theirs:.2} s, {ratio:.1} times ours")
        } else {
            String::new()
        };
        println!(
            "{id} 150 us {ours:.2} s, to its settled state {settled:.2} s, to a steady one {:.2} of that{beside}",
            steady / settled
        );
    }
}

//! The circuit against another simulator's numbers: rest, start-up, running. Expected values stand in `tests/references`,
//! the circuits in `tests/netlists`. Rows whose source is "regression" are an earlier computation of our own and count as no
//! outside value.

use std::collections::BTreeMap;
use std::thread;

use crate::reader::{Netlist, netlist};
use crate::suite::{foot_to_top, run};
use sagtrace::circuit::bias::Bias;
use sagtrace::circuit::network::Course;
use sagtrace::circuit::running::{Envelope, Until};
use sagtrace::circuit::startup::Startup;

const REST: &str = include_str!("../references/circuit-rest.csv");
const RUN: &str = include_str!("../references/circuit-run.csv");

/// One row: what is expected of a netlist, and how near.
struct Row {
    netlist: String,
    quantity: String,
    expected: f64,
    tolerance: String,
}

impl Row {
    fn error(&self, got: f64) -> f64 {
        if self.tolerance.ends_with('%') {
            got / self.expected - 1.0
        } else {
            got - self.expected
        }
    }

    fn allowed(&self) -> f64 {
        match self.tolerance.strip_suffix('%') {
            Some(percent) => percent.trim().parse::<f64>().unwrap() / 100.0,
            None => self.tolerance.parse().unwrap(),
        }
    }
}

fn rows(text: &str) -> Vec<Row> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let header: Vec<_> = reader
        .headers()
        .unwrap()
        .iter()
        .map(str::to_owned)
        .collect();
    assert_eq!(
        header,
        [
            "netlist",
            "quantity",
            "expected",
            "tolerance",
            "reason",
            "source"
        ]
    );
    reader
        .records()
        .map(|record| {
            let record = record.unwrap();
            Row {
                netlist: record[0].to_owned(),
                quantity: record[1].to_owned(),
                expected: record[2].parse().unwrap(),
                tolerance: record[3].to_owned(),
            }
        })
        .collect()
}

/// Prints every row with its error and fails with those out of tolerance.
fn hold(rows: &[Row], got: &BTreeMap<String, BTreeMap<&str, f64>>) {
    let mut out = Vec::new();
    for row in rows {
        let got = got[&row.netlist][row.quantity.as_str()];
        let (error, allowed) = (row.error(got), row.allowed());
        let line = format!(
            "{:6} {:14} expected {:12.6e} got {got:12.6e} error {error:9.2e} allowed {allowed:.1e}",
            row.netlist, row.quantity, row.expected
        );
        println!("{line}");
        if error.is_nan() || error.abs() > allowed {
            out.push(line);
        }
    }
    assert!(out.is_empty(), "out of tolerance:\n{}", out.join("\n"));
}

/// Voltages without a meter, as the other simulator has them; `base_read_v` with one of 10 MΩ at the base.
fn at_rest(list: &Netlist) -> BTreeMap<&'static str, f64> {
    let mut bias = Bias::find(&list.network).unwrap();
    let startup = Startup::at(&mut bias).unwrap();
    BTreeMap::from([
        ("battery_v", bias.node_v(list.node("vt"))),
        ("base_v", bias.node_v(list.node("b"))),
        ("base_read_v", bias.read_v(list.node("b")).unwrap()),
        ("collector_v", bias.node_v(list.node("c"))),
        ("supply_a", -bias.branch_a(list.branch("VB"))),
        ("growth_per_s", startup.growth_per_s),
        ("small_hz", startup.frequency_hz),
    ])
}

#[test]
fn every_netlist_rests_and_starts_or_not_as_the_references_say() {
    let rows = rows(REST);
    let mut got = BTreeMap::new();
    for row in &rows {
        got.entry(row.netlist.clone())
            .or_insert_with(|| at_rest(&netlist(&row.netlist)));
    }
    hold(&rows, &got);
}

fn figures(id: &str) -> BTreeMap<&'static str, f64> {
    let running = run(
        &netlist(id),
        foot_to_top(id),
        Until::Settled { at_most_s: 1e-3 },
    );
    assert_eq!(running.envelope, Envelope::Settled, "{id}");
    BTreeMap::from([
        ("frequency_hz", running.frequency_hz),
        ("top_v", running.top_v),
        ("supply_a", running.supply_a),
        ("battery_v", running.battery_v),
        ("base_v", running.base_v),
        ("base_lowest_v", running.base_lowest_v),
        ("base_highest_v", running.base_highest_v),
        ("diode_a", running.diode_a),
    ])
}

#[test]
fn every_netlist_runs_as_the_references_say() {
    let rows = rows(RUN);
    let mut ids: Vec<&str> = rows.iter().map(|row| row.netlist.as_str()).collect();
    ids.dedup();
    let halves = thread::scope(|scope| {
        let of = |odd: usize| ids.iter().skip(odd).step_by(2);
        let work = [0, 1].map(|odd| {
            scope.spawn(move || {
                let figures = of(odd).map(|id| ((*id).to_owned(), figures(id)));
                figures.collect::<Vec<_>>()
            })
        });
        work.map(|half| half.join().unwrap())
    });
    let got = halves.into_iter().flatten().collect();
    hold(&rows, &got);
}

/// ngspice 39 at T/80: 105 V and 11.1 mA from power-on; 576 V and 107 mA coming down from a running 9 V.
#[test]
fn a_slow_transistor_on_a_tired_battery_has_two_states() {
    let until = Until::Time {
        end_s: 600e-6,
        read_from_s: 550e-6,
    };
    let at_four_volt = |course: Vec<(f64, f64)>| {
        let mut list = netlist("T01");
        let battery = list.branch("VB");
        list.network.branch_mut(battery).unwrap().source = Some(Course(course));
        run(&list, 1.0, until)
    };
    let near = |got: f64, expected: f64| assert!((got / expected - 1.0).abs() < 0.03, "{got}");
    let switched_on = at_four_volt(vec![(0.0, 0.0), (1e-6, 4.0)]);
    near(switched_on.top_v, 105.0);
    near(switched_on.supply_a, 11.1e-3);
    let coming_down = vec![(0.0, 0.0), (1e-6, 9.0), (100e-6, 9.0), (200e-6, 4.0)];
    let running_on = at_four_volt(coming_down);
    near(running_on.top_v, 576.0);
    near(running_on.supply_a, 107e-3);
}

//! Draws at rest, a few of those that run followed in time.

use super::resting::{Resting, at_rest};
use super::row::{SILENT_V, value};
use super::run::{Run, run};
use super::unpowered::{measure, put, ring};
use crate::circuit::verdict::RUNNING_START_V;
use crate::diagnosis::fault::build::Drawn;
use crate::diagnosis::fault::case::Case;
use crate::diagnosis::quantity::{NOTHING, Quantity, Row};
use crate::diagnosis::situation::Situation;

/// The top's voltage at switching-on of a draw that starts, in volts: as the supply's edge gives, below any weak state.
const SMALL_START_V: f64 = 3.0;

/// Returns all draws in a situation, a few of those that run followed in time.
pub(super) fn followed(
    cases: &[Case],
    drawn: &[Drawn],
    situation: Situation,
    most: usize,
) -> Vec<Row> {
    let resting: Vec<Resting> = cases
        .iter()
        .zip(drawn)
        .map(|(case, drawn)| at_rest(case, drawn))
        .collect();
    let mut runs: Vec<(&Resting, Run)> = Vec::new();
    for resting in to_follow(&resting, most) {
        // A growing oscillation is not waited for while it is a few volts.
        let start_v = match situation {
            Situation::Nudged => RUNNING_START_V,
            _ => SMALL_START_V,
        };
        let charged = [(resting.wired.probes.top, start_v)];
        if let Some(run) = run(&resting.wired, resting.small_hz, &charged) {
            runs.push((resting, run));
        }
    }
    resting
        .iter()
        .map(|resting| {
            let mut row = resting.row;
            let nearest = runs
                .iter()
                .min_by(|a, b| apart(a.0, resting).total_cmp(&apart(b.0, resting)));
            if let (true, Some((from, run))) = (resting.starts, nearest) {
                write_run(&mut row, resting, from, run);
            }
            row
        })
        .collect()
}

/// Returns the first draws that start; where a hand touches one place in some and another in others, as many of each.
fn to_follow(resting: &[Resting], most: usize) -> Vec<&Resting> {
    let starting = resting.iter().filter(|resting| resting.starts);
    let near = |resting: &Resting| value(&resting.row, Quantity::Near);
    let Some(first) = starting.clone().next() else {
        return Vec::new();
    };
    let (here, elsewhere): (Vec<&Resting>, Vec<&Resting>) =
        starting.partition(|one| (near(one) - near(first)).abs() < 0.5);
    let share = if elsewhere.is_empty() {
        most
    } else {
        most.div_ceil(2)
    };
    let of_each = [here, elsewhere].into_iter();
    of_each
        .flat_map(|group| group.into_iter().take(share))
        .collect()
}

/// Returns the values of one circuit by itself, as found, followed in time if it starts.
pub fn alone(case: &Case, drawn: &Drawn) -> Row {
    let rows = followed(&[*case], &[*drawn], Situation::AsFound, 1);
    let mut row = rows.first().copied().unwrap_or(NOTHING);
    measure(case, drawn, &mut row);
    ring(case, drawn, &mut row);
    row
}

/// Two draws of which one is touched elsewhere are farther apart than parts can be.
const ELSEWHERE: f32 = 1e3;

fn apart(a: &Resting, b: &Resting) -> f32 {
    let near = |resting: &Resting| value(&resting.row, Quantity::Near);
    let is_elsewhere = (near(a) - near(b)).abs() > 0.5;
    let places = a.place.iter().zip(&b.place);
    let parts: f32 = places.map(|(a, b)| (a - b).powi(2)).sum();
    parts + if is_elsewhere { ELSEWHERE } else { 0.0 }
}

/// Writes a run's figures into a draw's row, moved to the draw's own resonance and supply.
fn write_run(row: &mut Row, own: &Resting, from: &Resting, run: &Run) {
    let supply = if from.open_v.abs() > 1e-6 {
        own.open_v / from.open_v
    } else {
        1.0
    };
    let ohm = value(row, Quantity::BatteryOhm);
    // A weak state draws the current that its bias allows, which is the draw's own.
    let is_bias_limited = (run.supply_a / from.rest_a.max(1e-9) - 1.0).abs() < 0.15;
    let supply_a = if is_bias_limited {
        own.rest_a * run.supply_a / from.rest_a
    } else {
        run.supply_a * supply
    };
    let top_v = run.top_v * supply;
    put(row, Quantity::Current, Some(supply_a));
    put(row, Quantity::Battery, Some(own.open_v - supply_a * ohm));
    put(row, Quantity::Collector, Some(own.open_v - supply_a * ohm));
    put(row, Quantity::Base, Some(run.base_v));
    put(row, Quantity::Lamp, Some(top_v * own.seen_ratio));
    put(
        row,
        Quantity::Led,
        (!row[Quantity::Led.index()].is_nan()).then_some(run.diode_a.max(0.0) * supply),
    );
    put(
        row,
        Quantity::Heat,
        Some(run.transistor_w * supply * supply),
    );
    put(row, Quantity::Bursts, Some(run.bursts));
    if top_v > SILENT_V {
        let moved = run.frequency_hz * own.loaded_hz / from.loaded_hz;
        put(row, Quantity::Frequency, Some(moved));
    }
}

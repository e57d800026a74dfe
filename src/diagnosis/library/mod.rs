//! What every fault does to this build, computed over the spread of its parts, in pieces that may be computed anywhere.
//!
//! Each fault is drawn many times at rest (bias point, start-up condition, what a meter shows with the battery out); of the draws
//! that run a few are followed in time. A draw that runs and was not followed takes the figures of the followed one nearest to it
//! in the parts' spread, moved to its own resonance and supply.

pub mod kept;
mod resting;
mod run;
mod unpowered;

use crate::circuit::running::SEEN_A;

use crate::diagnosis::answer::likelihood::seen_to_light;
use crate::diagnosis::fault::build::{Build, Drawn};
use crate::diagnosis::fault::case::Case;
use crate::diagnosis::fault::{CATALOGUE, Fault};
use crate::diagnosis::quantity::{BLURRED, COUNT, NOTHING, Quantity, Row};
use crate::diagnosis::situation::Situation;
use resting::{Resting, at_rest};
use run::{Run, run};
use unpowered::{measure, put, ring};

/// How much is computed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effort {
    /// Draws of each fault at rest.
    pub draws: u32,
    /// Of those that run, how many are followed in time, as found.
    pub runs: usize,
    /// The same in each other situation; with 0 the swapped primary alone is computed, with one.
    pub other_runs: usize,
}

impl Effort {
    /// For a diagnosis at the bench.
    pub const USUAL: Self = Self {
        draws: 200,
        runs: 12,
        other_runs: 3,
    };

    /// For the first question while the rest is computed: as found, and with the primary's wires swapped.
    pub const FIRST: Self = Self {
        draws: 24,
        runs: 1,
        other_runs: 0,
    };

    /// For a slow machine.
    pub const QUICK: Self = Self {
        draws: 60,
        runs: 3,
        other_runs: 1,
    };
}

impl Effort {
    /// Whether a situation is computed at all.
    fn has(self, situation: Situation) -> bool {
        self.other_runs > 0 || matches!(situation, Situation::AsFound | Situation::LeadsSwapped)
    }
}

/// Draws measured with a meter; the others take theirs in turn, for little in it varies.
const METERED: u32 = 24;
/// Top voltage of a running start, in volt: as it runs fully.
const RUNNING_START_V: f64 = 3000.0;
/// The top's voltage at switching-on of a draw that starts, in volt: as the supply's edge gives, below any weak state.
const SMALL_START_V: f64 = 3.0;
/// A swing at the top below which nothing oscillates, in volt.
pub(super) const SILENT_V: f64 = 1.0;

/// One fault as it shows itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Shown {
    /// The fault's name.
    pub key: String,
    /// Its draws in each situation, in the order of [`Situation::ALL`]; empty where the situation changes nothing.
    pub rows: Vec<Vec<Row>>,
}

/// All faults of a build.
#[derive(Debug, Clone, PartialEq)]
pub struct Library {
    /// One for each fault that applies, in the catalogue's order.
    pub shown: Vec<Shown>,
}

impl Library {
    /// The faults to be computed for a build.
    pub fn wanted(build: &Build) -> Vec<&'static Fault> {
        CATALOGUE
            .iter()
            .filter(|fault| fault.applies(build))
            .collect()
    }

    /// Computes one fault.
    pub fn shown(build: &Build, fault: &Fault, effort: Effort) -> Shown {
        let drawn: Vec<Drawn> = (0..effort.draws).map(|index| build.drawn(index)).collect();
        let cases: Vec<Case> = drawn.iter().map(|drawn| fault.case(drawn)).collect();
        let mut metered: Vec<Row> = Vec::new();
        for (case, drawn) in cases.iter().zip(&drawn).take(METERED as usize) {
            let mut row = NOTHING;
            measure(case, drawn, &mut row);
            metered.push(row);
        }
        let mut rows: Vec<Vec<Row>> = Vec::new();
        for situation in Situation::ALL {
            let as_found = rows.first();
            if !effort.has(situation) || !is_worth(situation, &cases, &drawn, as_found) {
                rows.push(Vec::new());
                continue;
            }
            let changed: Vec<Case> = cases
                .iter()
                .zip(&drawn)
                .map(|(case, drawn)| situation.of(case, drawn))
                .collect();
            let runs = match situation {
                Situation::AsFound => effort.runs,
                _ => effort.other_runs.max(1),
            };
            let mut found = followed(&changed, &drawn, situation, runs);
            if situation == Situation::AsFound {
                for (index, row) in found.iter_mut().enumerate() {
                    if let Some(meter) = metered.get(index % metered.len().max(1)) {
                        for quantity in Quantity::ALL.into_iter().filter(|q| q.is_unpowered()) {
                            row[quantity.index()] = meter[quantity.index()];
                        }
                    }
                    if let (Some(case), Some(drawn)) = (cases.get(index), drawn.get(index)) {
                        ring(case, drawn, row);
                    }
                }
            }
            rows.push(found);
        }
        Shown {
            key: fault.key.to_owned(),
            rows,
        }
    }

    /// Puts the pieces together and computes what compares a fault with the sound build.
    pub fn of(mut shown: Vec<Shown>) -> Self {
        let sound: Vec<Row> = shown
            .first()
            .and_then(|sound| sound.rows.first())
            .cloned()
            .unwrap_or_default();
        for fault in &mut shown {
            for rows in &mut fault.rows {
                for (row, sound) in rows.iter_mut().zip(&sound) {
                    compare(row, sound);
                }
                blur(rows);
            }
        }
        Self { shown }
    }

    /// The draws of a fault in a situation; as found where the situation changes nothing.
    pub fn rows(&self, fault: usize, situation: Situation) -> &[Row] {
        let Some(shown) = self.shown.get(fault) else {
            return &[];
        };
        let of = |situation: Situation| {
            let rows = shown.rows.get(situation as usize);
            rows.filter(|rows| !rows.is_empty())
        };
        of(situation)
            .or_else(|| of(Situation::AsFound))
            .map_or(&[], Vec::as_slice)
    }

    /// Share of the computed circuits without a fault that do not oscillate.
    pub fn dead_share(&self) -> f64 {
        let rows = self.rows(0, Situation::AsFound);
        let dead = rows.iter().filter(|row| !is_running(row)).count();
        dead as f64 / rows.len().max(1) as f64
    }

    /// Whether the build has an LED to look at: a silicon diode never glows.
    pub fn has_led(&self) -> bool {
        let mut rows = self.rows(0, Situation::AsFound).iter();
        rows.any(|row| !row[Quantity::Led.index()].is_nan())
    }

    /// The battery's open voltage of the computed circuits without a fault, in volts; `None` for an empty library.
    pub fn usual_open_v(&self) -> Option<f64> {
        let rows = self.rows(0, Situation::AsFound);
        let sum: f64 = rows
            .iter()
            .map(|row| value(row, Quantity::BatteryOpen))
            .sum();
        (!rows.is_empty()).then(|| sum / rows.len() as f64)
    }

    /// How surely the LED of each draw's sound circuit is seen to light; empty where there is no LED.
    pub(super) fn lit_draws(&self) -> Vec<f64> {
        let rows = self.rows(0, Situation::AsFound);
        let lit = rows.iter().map(is_lit).collect::<Option<Vec<f64>>>();
        lit.unwrap_or_default()
    }

    /// Whether a situation changes anything for a fault.
    pub fn is_changed(&self, fault: usize, situation: Situation) -> bool {
        let shown = self.shown.get(fault);
        let rows = shown.and_then(|shown| shown.rows.get(situation as usize));
        rows.is_some_and(|rows| !rows.is_empty())
    }
}

/// Whether a situation has to be computed: it changes the circuit, and could change what is seen.
fn is_worth(
    situation: Situation,
    cases: &[Case],
    drawn: &[Drawn],
    as_found: Option<&Vec<Row>>,
) -> bool {
    let runs = |rows: &Vec<Row>| {
        let runs = rows.iter().filter(|row| is_running(row)).count();
        2 * runs > rows.len()
    };
    let runs_already = as_found.is_some_and(runs);
    let changes = cases
        .iter()
        .zip(drawn)
        .any(|(case, drawn)| situation.of(case, drawn) != *case);
    match situation {
        Situation::AsFound => true,
        // Whether a hand stops what runs is not asked.
        Situation::Touched => !runs_already,
        Situation::LeadsSwapped | Situation::HandsAway => changes,
        // A slightly other battery says nothing.
        Situation::FreshBattery => cases
            .iter()
            .zip(drawn)
            .any(|(case, drawn)| case.spec.supply != drawn.sound.supply),
        Situation::PrimaryOnFoot | Situation::BallOnTop => changes && !runs_already,
        Situation::OtherTransistor => {
            changes
                && cases.iter().zip(drawn).any(|(case, drawn)| {
                    case.spec.transistor != drawn.sound.transistor
                        || case.flaws.bridge_ohm.iter().any(Option::is_some)
                })
        }
        Situation::Nudged => as_found.is_some_and(|rows| rows.iter().any(is_weak)),
    }
}

/// Whether a row is of a circuit that oscillates.
pub(super) fn is_running(row: &Row) -> bool {
    row[Quantity::Lamp.index()] > 1.0
}

/// How surely the LED of a computed circuit is seen to light; `None` where it has none.
fn is_lit(row: &Row) -> Option<f64> {
    let led_a = value(row, Quantity::Led);
    let seen = if is_running(row) {
        seen_to_light(led_a)
    } else {
        0.0
    };
    (!led_a.is_nan()).then_some(seen)
}

/// Whether it oscillates with its diode dark.
fn is_weak(row: &Row) -> bool {
    is_running(row) && value(row, Quantity::Led) < SEEN_A
}

fn value(row: &Row, quantity: Quantity) -> f64 {
    f64::from(row[quantity.index()])
}

/// All draws in a situation, a few of those that run followed in time.
fn followed(cases: &[Case], drawn: &[Drawn], situation: Situation, most: usize) -> Vec<Row> {
    let resting: Vec<Resting> = cases
        .iter()
        .zip(drawn)
        .map(|(case, drawn)| at_rest(case, drawn))
        .collect();
    let mut runs: Vec<(&Resting, Run)> = Vec::new();
    for resting in to_follow(&resting, most) {
        // What grows at all is not waited for while it is a few volts.
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

/// The first draws that start; where a hand touches one place in some and another in others, as many of each.
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

/// What one circuit shows by itself, as found, followed in time if it starts.
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
    // A weak state draws what its bias lets it, which is the draw's own.
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

/// Of the running draws, those around one that it has to stand for: with twelve of them followed in time, itself and the
/// next three.
const STANDS_FOR: usize = 3;
/// A draw stands for no more than this, as a logarithm of a ratio (chosen: twice and a half).
const WIDEST: f64 = 1.0;

/// Writes how far apart a fault's draws lie: in frequency, which each draw has for itself, their spread over the cube root of
/// their number, a bandwidth between that of a single hump (fifth root, Silverman 1986, from memory) and of many (chosen); in
/// what only draws followed in time have, the distance from each to its neighbours (a variable kernel after Breiman, Meisel and
/// Purcell, Technometrics 19 (1977) 135, from memory).
fn blur(rows: &mut [Row]) {
    for (place, quantity) in BLURRED.into_iter().enumerate() {
        let mut logs: Vec<(f64, usize)> = rows
            .iter()
            .enumerate()
            .filter(|(_, row)| is_running(row) && value(row, quantity) > 1e-9)
            .map(|(index, row)| (value(row, quantity).ln(), index))
            .collect();
        logs.sort_by(|a, b| a.0.total_cmp(&b.0));
        let widths: Vec<f64> = if quantity == Quantity::Frequency {
            vec![spread(&logs) / (logs.len().max(1) as f64).cbrt(); logs.len()]
        } else {
            (0..logs.len())
                .map(|own| reach(&logs, own, logs.len() / STANDS_FOR))
                .collect()
        };
        for ((_, index), width) in logs.into_iter().zip(widths) {
            if let Some(slot) = rows
                .get_mut(index)
                .and_then(|row| row.get_mut(COUNT + place))
            {
                #[expect(
                    clippy::cast_possible_truncation,
                    reason = "a bandwidth needs no more digits"
                )]
                let width = width as f32;
                *slot = width;
            }
        }
    }
}

fn spread(logs: &[(f64, usize)]) -> f64 {
    let count = logs.len().max(1) as f64;
    let mean = logs.iter().map(|log| log.0).sum::<f64>() / count;
    let square = logs.iter().map(|log| (log.0 - mean).powi(2)).sum::<f64>() / count;
    square.sqrt()
}

/// How far from one of these sorted values its `count` nearest reach.
fn reach(logs: &[(f64, usize)], own: usize, count: usize) -> f64 {
    let at = |index: usize| logs.get(index).map(|log| log.0);
    let Some(here) = at(own) else { return 0.0 };
    (own.saturating_sub(count)..=own)
        .filter_map(|first| {
            let (low, high) = (at(first)?, at(first + count)?);
            Some((here - low).max(high - here))
        })
        .fold(WIDEST, f64::min)
}

/// Writes how a draw compares with the sound circuit of the same parts.
fn compare(row: &mut Row, sound: &Row) {
    let ratio = |quantity: Quantity| {
        let ratio = value(row, quantity) / value(sound, quantity);
        ratio.is_finite().then_some(ratio)
    };
    let (frequency, amplitude) = (ratio(Quantity::Frequency), ratio(Quantity::Lamp));
    if is_running(row) && is_running(sound) {
        put(row, Quantity::FrequencyRatio, frequency);
        put(row, Quantity::AmplitudeRatio, amplitude);
    }
}

//! The effect of every fault on this build, computed over the spread of its parts, in pieces that may be computed anywhere.
//!
//! Each fault is drawn many times at rest (bias point, start-up condition, meter readings with the battery out); of the draws
//! that run a few are followed in time. A draw that runs and was not followed takes the figures of the followed one nearest to it
//! in the parts' spread. They are moved to its own resonance and supply.

mod follow;
pub mod kept;
mod resting;
mod row;
mod run;
mod unpowered;

use crate::diagnosis::fault::build::{Build, Drawn};
use crate::diagnosis::fault::case::Case;
use crate::diagnosis::fault::{CATALOGUE, Fault};
use crate::diagnosis::quantity::{NOTHING, Quantity, Row};
use crate::diagnosis::situation::Situation;
use follow::followed;
use row::{blur, compare, is_lit, is_running, is_weak, value};
use unpowered::{measure, ring};

pub use follow::alone;

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
    /// Returns the faults to be computed for a build.
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

    /// Puts the pieces together and computes the values that compare a fault with the sound build.
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

    /// Returns the draws of a fault in a situation; as found where the situation changes nothing.
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

    /// Returns the share of the computed circuits without a fault that do not oscillate.
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

    /// Returns the battery's open voltage of the computed circuits without a fault, in volts; `None` for an empty library.
    pub fn usual_open_v(&self) -> Option<f64> {
        let rows = self.rows(0, Situation::AsFound);
        let sum: f64 = rows
            .iter()
            .map(|row| value(row, Quantity::BatteryOpen))
            .sum();
        (!rows.is_empty()).then(|| sum / rows.len() as f64)
    }

    /// Returns how surely the LED of each draw's sound circuit is seen to light; empty where there is no LED.
    pub(super) fn lit_draws(&self) -> Vec<f64> {
        let rows = self.rows(0, Situation::AsFound);
        let lit = rows.iter().map(is_lit).collect::<Option<Vec<f64>>>();
        lit.unwrap_or_default()
    }

    /// Whether it has the faults that a build can have, and those alone: one that was kept may be older than a fault.
    pub fn is_of(&self, build: &Build) -> bool {
        let keys = self.shown.iter().map(|shown| shown.key.as_str());
        keys.eq(Self::wanted(build).iter().map(|fault| fault.key))
    }
}

/// Whether a situation has to be computed: it changes the circuit, and could change the readings.
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
        // Whether a hand stops a running circuit is not asked.
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

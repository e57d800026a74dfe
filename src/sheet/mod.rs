//! The build sheet: one resonator as the person who wound it describes it, in TOML.
//!
//! Text in, a [`Sheet`] or all its faults out; no file is touched here. A value that the text does not give and the program has
//! to assume is listed in [`Sheet::assumptions`], so that every report can print it.

pub mod around;
mod assumed;
pub mod differences;
pub mod drive;
pub mod good_day;
pub mod interview;
pub mod known;
mod power;
mod primary;
pub mod supply;
mod tolerance;
mod usual;
mod winding;

use crate::battery::Battery;
use crate::circuit::Circuit;
use crate::coil::former::Former;
use crate::coil::spec::{CoilSpec, Measured, Tolerance};
use crate::coil::surroundings::{EarthState, Surroundings, TopLoad};
use crate::coil::winding::{Primary, Winding};
use crate::faults::{self, Entry, Faults, Table};
pub use assumed::Assumption;
use assumed::{Assumed, optional};
use known::Known;

/// A build.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// The build's name.
    pub name: String,
    /// A word on it: its owner, the values that are invented.
    pub note: Option<String>,
    /// The secondary.
    pub winding: Winding,
    /// The secondary's former.
    pub former: Former,
    /// How far the secondary's measures may be off.
    pub tolerance: Tolerance,
    /// The primary.
    pub primary: Primary,
    /// The circuit.
    pub circuit: Circuit,
    /// The facts known of the circuit's parts beside their classes.
    pub known: Known,
    /// The battery.
    pub battery: Battery,
    /// How it is usually joined to earth.
    pub earth: EarthState,
    /// The objects usually near it, and the one on its top.
    pub surroundings: Surroundings,
    /// The values measured on it.
    pub measured: Measured,
    /// The assumptions where the sheet gives no value.
    pub assumptions: Vec<Assumption>,
}

impl Sheet {
    /// Mean diameter of the secondary's turns through the wire's centre, in metres.
    pub fn mean_diameter_m(&self) -> f64 {
        self.winding.shape.mean_diameter_m()
    }

    /// Number of the secondary's turns.
    pub fn turns(&self) -> f64 {
        self.winding.turns
    }

    /// How far the secondary's winding reaches from its first to its last turn, in metres: turns × pitch.
    pub fn winding_length_m(&self) -> f64 {
        self.winding.shape.slope_m()
    }

    /// Returns the input of a prediction.
    pub fn coil_spec(&self) -> CoilSpec {
        CoilSpec {
            winding: self.winding,
            former: self.former,
            primary: self.primary,
            earth: self.earth,
            surroundings: self.surroundings,
            tolerance: self.tolerance,
            measured: self.measured,
            seed: SEED,
        }
    }
}

/// Seed of a prediction's draws, the same for every build, so that a sheet always gives the same band.
const SEED: u64 = 1;

/// A commented sheet to fill in, which is itself a valid one.
pub const fn template() -> &'static str {
    include_str!("template.toml")
}

/// Reads a build sheet of schema 1.
///
/// # Errors
/// [`Faults`] with every fault of the sheet at once: each with its line, key, the text found and the text expected.
pub fn parse(text: &str) -> Result<Sheet, Faults> {
    faults::read(text, read)
}

fn read(top: &Table<'_>) -> Option<Sheet> {
    let mut assumed = Assumed::default();
    let schema = top
        .need("schema", "expected schema = 1")
        .and_then(|entry| entry.integer(1..=1));
    let name = top
        .need("name", "expected the build's name, such as \"glow pillar\"")
        .and_then(|entry| named(&entry));
    let note = optional(top.entry("note"), |entry| entry.text().map(str::to_owned));
    let coil = top
        .need_table("coil")
        .and_then(|table| winding::read(&table, &mut assumed));
    let primary = top
        .need_table("primary")
        .and_then(|table| primary::read(&table, coil.as_ref(), &mut assumed));
    let circuit = top
        .need_table("circuit")
        .and_then(|table| power::circuit(&table, &mut assumed));
    let battery = top
        .need_table("battery")
        .and_then(|table| power::battery(&table, &mut assumed));
    let top_load = optional(top.entry("top"), |entry| {
        entry.table().and_then(|table| usual::top_load(&table))
    });
    let load_m = top_load
        .flatten()
        .map_or(0.0, |load: TopLoad| load.reach_m());
    let usual = top
        .need_table("usual")
        .and_then(|table| usual::usual(&table, load_m, coil.as_ref(), &mut assumed));
    let measured = match top.entry("measured") {
        Some(entry) => entry.table().and_then(|table| usual::measured(&table)),
        None => Some(Measured::default()),
    };
    schema?;
    let coil = coil?;
    let (circuit, known) = circuit?;
    let (earth, surroundings) = usual?;
    Some(Sheet {
        name: name?,
        note: note?,
        winding: coil.winding,
        former: coil.former,
        tolerance: coil.tolerance,
        primary: primary?,
        circuit,
        known,
        battery: battery?,
        earth,
        surroundings: Surroundings {
            top_load: top_load?,
            board: coil.board,
            ..surroundings
        },
        measured: measured?,
        assumptions: assumed.0,
    })
}

fn named(entry: &Entry<'_>) -> Option<String> {
    let name = entry.text()?.trim();
    if name.is_empty() || name.chars().any(char::is_control) {
        entry.fault("expected a name of one line");
        return None;
    }
    Some(name.to_owned())
}

#[cfg(test)]
mod near_tests;
#[cfg(test)]
mod tests;

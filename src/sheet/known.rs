//! Reads the keys of `[circuit]` on the parts beside their class: the heat sink, and how the build has been seen to run.

use crate::faults::Table;
use crate::units::Unit;

use super::assumed::optional;

/// How a build has been seen to start, switched on with nothing near.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shown {
    /// It oscillates, its diode stays dark.
    Dark,
    /// Its diode lights.
    Lit,
}

impl Shown {
    /// Each by the word a sheet uses.
    pub const WORDS: [(&str, Self); 2] = [("dark", Self::Dark), ("lit", Self::Lit)];
}

/// The facts known of a build's parts beside their classes' figures.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Known {
    /// Thermal resistance of the transistor's heat sink to the air, in K/W; `None` without one.
    pub heat_sink_k_per_w: Option<f64>,
    /// The least transition frequency of the transistor at the bias current, in hertz, as another build has shown.
    pub least_transition_hz: Option<f64>,
    /// How this build starts.
    pub starts: Option<Shown>,
    /// The battery voltage under load, in volts, at which the coil of this build was seen to stop.
    pub runs_down_to_v: Option<f64>,
}

/// Reads the keys; the table is closed by who reads the others.
pub(super) fn read(table: &Table<'_>) -> Option<Known> {
    let heat_sink_k_per_w = optional(table.entry("heat_sink"), |entry| entry.number(0.05..=200.0));
    let least_transition_hz = optional(table.entry("least_transition_frequency"), |entry| {
        entry.quantity(Unit::Hertz, 1e5..=1e11)
    });
    let starts = optional(table.entry("starts"), |entry| entry.choice(&Shown::WORDS));
    let runs_down_to_v = optional(table.entry("runs_down_to"), |entry| {
        entry.quantity(Unit::Volt, 0.5..=60.0)
    });
    Some(Known {
        heat_sink_k_per_w: heat_sink_k_per_w?,
        least_transition_hz: least_transition_hz?,
        starts: starts?,
        runs_down_to_v: runs_down_to_v?,
    })
}

//! The words for what a build can do to people and parts: every report takes its lines from here.

mod concerns;
mod json;
mod supply;
mod words;

pub(super) use concerns::concern;
pub use concerns::switch_off;
pub(super) use json::{ConcernPart, SupplyPart};
pub use json::{HazardPart, parts};
pub(super) use supply::{between, limit_a, supply_words};
pub(super) use words::{
    ARCS_AND_VOLTS, EXAMPLE_COIL_F, PROBE_F, READING_S, THREE_BATTERIES, before_switching_on,
    celsius, section, words,
};
pub use words::{EARTH_CLIPPED, HEADING, NOT_COMPUTED, lines, or_not_computed, probe_on_secondary};

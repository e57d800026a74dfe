//! The words for the dangers of a build to people and parts: every report takes its lines from here.

mod brief;
mod concerns;
mod json;
mod supply;
mod words;

pub(super) use brief::{about_celsius, brief, gravest, gravest_and_others};
pub use concerns::switch_off;
pub(super) use concerns::{brief_concern, concern};
pub(super) use json::{ConcernPart, SupplyPart};
pub use json::{HazardPart, parts};
pub(super) use supply::{between, limit_a, supply_words};
pub(super) use words::{
    EXAMPLE_COIL_F, PROBE_F, READING_S, before_switching_on, celsius, section, words,
};
pub use words::{HEADING, earth_clipped, lines, or_not_computed, probe_on_secondary};

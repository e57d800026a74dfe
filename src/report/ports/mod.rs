//! The ports of this machine, who is on them, and how an instrument and its profile go together.

mod hints;
mod opening;
mod plugged;
mod proof;
mod reading;

pub use hints::{naming_hint, opening_hint};
pub use opening::news;
pub use plugged::{Port, PortsJson, ports_text};
pub use proof::{ProofsJson, fault, proofs_text};

//! A profile against its instrument, and what it got wrong: what `record --dry-run` shows.

mod answers;
mod found;
mod lines;
mod prove;
mod rows;

pub use found::{Came, Fault, Heard, Note, Proof, ProofError, Value};
pub use prove::prove;

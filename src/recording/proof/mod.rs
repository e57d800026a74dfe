//! A profile against its instrument, and the errors of the profile: the result that `record --dry-run` shows.

mod answers;
mod found;
mod lines;
mod prove;
mod rows;

pub use found::{Came, Fault, Heard, Note, Proof, ProofError, Value};
pub use prove::prove;

//! A circuit that won't start, or runs badly: evidence in, ranked causes with the next best check out.
//!
//! A [`Library`](library::Library) holds the effect of each fault of the [catalogue](fault::CATALOGUE) on this build's circuit,
//! computed over the spread of its parts. [`Evidence`](evidence::Evidence) is whatever was read, seen or tried; anything unknown
//! stays unknown. [`Answer`](answer::Answer) weighs each cause by how well its computed circuits show the readings: no cause's
//! probability comes from a rule where the circuit computes it. Pure: no clock, no file, no thread; a library is made in pieces
//! that may be computed anywhere.

pub mod answer;
pub mod answers;
pub mod evidence;
pub mod fault;
pub mod library;
pub mod quantity;
pub mod session;
pub mod situation;

pub use answer::{advice, check, checks, concern, likelihood};
pub use fault::{build, case, priors};
pub use library::kept;

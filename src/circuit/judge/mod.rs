//! What becomes of a build with its sets of parts: does it start, how does it run, what is asked too much of.

pub mod damage;
pub mod hazards;
pub mod outlook;
pub mod supply;
pub mod verdict;

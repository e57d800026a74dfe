//! The fate of a build with its sets of parts: whether it starts, how it runs, and which parts are overloaded.

pub mod damage;
pub mod hazards;
pub mod outlook;
pub mod supply;
pub mod verdict;

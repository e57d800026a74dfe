//! Batteries: the list, one with its runs and its outlook, two readings, back-tests, an evening's plan.

pub mod answer;
pub mod backtest;
pub mod json;
pub mod live;
mod outlook;
mod page;
pub mod plan;
pub mod test;
pub(super) mod words;

pub use page::{Page, list, one};

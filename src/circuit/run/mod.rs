//! The transient, read cycle by cycle, and its results for frequency and battery voltage.

mod cycle;
pub mod pushing;
pub mod running;
pub mod shown;
pub(crate) mod wild;

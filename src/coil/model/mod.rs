//! From a build to its resonance with a band, by the ring model, and a handbook's formula beside it.

pub mod band;
pub(super) mod doubt;
pub mod handbook;
pub mod predict;
pub mod prediction;
pub mod self_capacitance;

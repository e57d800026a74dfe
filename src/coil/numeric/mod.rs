//! Elliptic integrals, tables read between their rows, and zeros of functions.

pub mod elliptic;
pub(super) mod interpolate;
pub(super) mod root;

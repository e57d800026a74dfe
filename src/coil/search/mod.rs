//! Backwards from a resonance: what explains a measured one, and which winding gives a wanted one.

pub mod fit;
pub mod good_day;
pub mod wanted;

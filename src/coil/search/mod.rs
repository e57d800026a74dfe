//! Backwards from a resonance: the explanation of a measured one, and the winding for a wanted one.

pub mod fit;
pub mod good_day;
pub mod wanted;

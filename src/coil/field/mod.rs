//! The electric field round a running coil: potential and strength by the mode's charges at a point.
//!
//! Each ring of the winding, of the bodies joined to it and of the earthed metal near it carries its charge of the mode; a plane
//! is replaced by their images. `charged` sums them, `line` walks away from the coil, `levels` holds the reference levels,
//! `around` joins them to one build, `picture` draws it.
//!
//! It is the field of charges that stand still, right while a distance is small against the wavelength over 2π
//! ([`Line::FARTHEST_WAVE`]). It knows no person, wall or lamp: each of them changes it. It says nothing of the magnetic field,
//! of contact currents and burns, or of implants.

mod around;
mod charged;
mod contour;
mod levels;
mod line;
mod picture;

pub use around::{Around, Met, Station, TopVoltage, VoltageOrigin};
pub(super) use around::{allowed, lines};
pub use charged::{AtPoint, Field, FieldError};
pub use levels::{Level, LevelKind, levels};
pub use line::{Line, Reach, Way};
pub use picture::picture;

#[cfg(test)]
mod tests;

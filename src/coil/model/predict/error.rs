//! Why there is no prediction, with the keys of a sheet that are to blame.

use crate::coil::rings::RingError;
use crate::coil::rings::conductor::Thing;

/// Why there is no prediction.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PredictError {
    /// The ring model has no solution and nothing measured takes its place.
    #[error("{}", with_keys(.0))]
    Rings(RingError),
}

impl From<RingError> for PredictError {
    fn from(error: RingError) -> Self {
        Self::Rings(error)
    }
}

/// Returns an error with the keys of a sheet that say where the parts are that it names.
fn with_keys(error: &RingError) -> String {
    let keys = match error {
        RingError::TooFewTurns { .. } => vec!["coil.turns"],
        RingError::PitchBelowWire { .. } => vec!["coil.turns", "coil.wire"],
        RingError::NoHole { .. } => vec!["coil"],
        RingError::InWinding { thing } | RingError::InPlane { thing } => keys_of(*thing).to_vec(),
        RingError::Overlap { one, other } => [keys_of(*one), keys_of(*other)].concat(),
        RingError::Crowded | RingError::NotSettled { .. } => Vec::new(),
    };
    if keys.is_empty() {
        return error.to_string();
    }
    format!("{error}; in the sheet: {}", keys.join(", "))
}

/// Returns the keys that say where a part of a scene is.
fn keys_of(part: Thing) -> &'static [&'static str] {
    match part {
        Thing::Winding => &["coil"],
        Thing::Primary => &["primary.position", "primary.former_diameter"],
        Thing::Circuit => &["usual.circuit_below", "usual.circuit_size"],
        Thing::TopLoad => &["top.gap"],
        Thing::Hand => &["usual.hand"],
        Thing::Ceiling => &["usual.ceiling"],
    }
}

//! Why sessions can't be read, compared or explained.

use std::path::PathBuf;

use crate::coil::fit::FitError;
use crate::coil::predict::PredictError;
use crate::faults::Faults;
use crate::plain::Shown as _;
use crate::session::SessionError;
use crate::sheet::supply::SupplyError;
use crate::units::{Unit, rounded};

/// Why sessions can't be read, compared or explained.
#[derive(Debug, thiserror::Error)]
pub enum LogbookError {
    /// A folder can't be read or written to.
    #[error(transparent)]
    Session(#[from] SessionError),
    /// A build sheet has faults.
    #[error("build sheet {origin} has faults:\n{faults}")]
    Sheet {
        /// Where it came from.
        origin: String,
        /// All its faults.
        faults: Faults,
    },
    /// The coil has no prediction.
    #[error(transparent)]
    Coil(#[from] PredictError),
    /// The circuit draws no known current.
    #[error(transparent)]
    Supply(#[from] SupplyError),
    /// Where a coil stops is asked of a session without a build that gives it.
    #[error("voltage at which the coil of {session} stops: not predicted, {why}")]
    NoStop {
        /// The session's folder.
        session: String,
        /// Why.
        why: NoStop,
    },
    /// A good day is of another build than the session.
    #[error("good day: found one of {found:?}: expected one of {wanted:?}")]
    OtherBuild {
        /// Its build.
        found: String,
        /// The session's build.
        wanted: String,
    },
    /// There is a good day in the session already.
    #[error("{}: found a good day already", .0.shown())]
    HasGoodDay(PathBuf),
    /// No good reading of a frequency.
    #[error("explanation of the resonance: found no good reading of a frequency")]
    NoReading,
    /// The frequency that was read is a multiple of the coil's own: no amount of anything would be the truth about it.
    #[error(
        "explanation of the resonance: found {} measured, about {factor} times the {} of the model; a multiple is not explained",
        rounded(*.measured_hz, Unit::Hertz, 4), rounded(*.modelled_hz, Unit::Hertz, 4)
    )]
    Multiple {
        /// The frequency that was read, in hertz.
        measured_hz: f64,
        /// How many times the model.
        factor: f64,
        /// The model, in hertz.
        modelled_hz: f64,
    },
    /// Nothing explains it.
    #[error(transparent)]
    Fit(#[from] FitError),
}

/// Why nobody knows where a session's coil stops.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoStop {
    /// The session has no sheet.
    #[error("the session has no build sheet")]
    NoSheet,
    /// Its sheet has faults.
    #[error("its build sheet has faults")]
    Faults,
    /// Its circuit does not run.
    #[error("its circuit does not run fully with typical parts")]
    NotRunning,
}

//! The exit code for instruments that are missing, can't be opened or fail their proof, as `record` and `simulate` use it.

use super::exit::{CANNOT_WRITE, Failure, INSTRUMENT, Outcome, USAGE};
use super::output;
use crate::recording::proof::{Proof, ProofError};
use crate::recording::{NamingError, OpeningError, OpeningNews, Place};
use crate::report::ports::{naming_hint, news, opening_hint};

impl From<NamingError> for Failure {
    fn from(error: NamingError) -> Self {
        Self {
            hint: naming_hint(&error),
            ..Self::from_error(USAGE, &error)
        }
    }
}

impl From<OpeningError> for Failure {
    fn from(error: OpeningError) -> Self {
        let code = match &error {
            OpeningError::Log(_) => USAGE,
            OpeningError::Port { .. } | OpeningError::Thread(_) => INSTRUMENT,
        };
        Self {
            hint: opening_hint(&error),
            ..Self::from_error(code, &error)
        }
    }
}

impl From<ProofError> for Failure {
    fn from(error: ProofError) -> Self {
        match error {
            ProofError::Opening(error) => error.into(),
            ProofError::IsLog(_) => {
                Self::from_error(USAGE, &error).hint("leave --dry-run out to play it")
            }
            ProofError::Runtime(_) => Self::from_error(CANNOT_WRITE, &error),
        }
    }
}

/// Reports the news while an instrument is opened.
pub(super) fn tell(met: &OpeningNews) {
    output::note(&news(met));
}

/// Returns the exit code for proofs.
pub(super) fn judge(proofs: &[Proof]) -> Result<Outcome, Failure> {
    let wrong = proofs.iter().filter(|proof| !proof.faults.is_empty());
    let wrong: Vec<&str> = wrong.map(|proof| proof.label.as_str()).collect();
    if wrong.is_empty() {
        return Ok(Outcome::DONE);
    }
    let is_on_port = |proof: &Proof| matches!(proof.place, Place::Serial { .. });
    let message = format!("the profile of {} does not fit", wrong.join(", "));
    Err(
        Failure::new(INSTRUMENT, message).hint(if proofs.iter().any(is_on_port) {
            "devices/README.md has every key of a profile; sagtrace ports --identify tries all profiles"
        } else {
            "devices/README.md has every key of a profile"
        }),
    )
}

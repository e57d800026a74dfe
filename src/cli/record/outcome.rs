//! The exit code at the end of a recording, and the hints that help.

use crate::cli::exit::{CANNOT_WRITE, Failure, INSTRUMENT, Outcome, USAGE};
use crate::cli::signal;
use crate::plain::{Shown as _, with_causes};
use crate::recording::{End, Recorded, RecordingError};
use crate::report::record;
use crate::session::SessionError;

/// Returns the exit code for a finished recording.
pub(crate) fn judge(recorded: &Recorded, was_timed: bool) -> Result<Outcome, Failure> {
    let names = |labels: &[std::sync::Arc<str>]| labels.join(", ");
    if let End::OtherTime { scale, .. } = &recorded.end {
        return Err(
            Failure::new(USAGE, record::end(&recorded.end)).hint(format!(
                "record this virtual instrument with --simulated --time-scale {scale}"
            )),
        );
    }
    if !recorded.lost.is_empty() {
        let message = format!(
            "the line to {} was lost and did not come back",
            names(&recorded.lost)
        );
        let look = if recorded.is_on_port(&recorded.lost) {
            "see what is plugged in with: sagtrace ports"
        } else {
            "is it on, and on the network?"
        };
        return Err(Failure::new(INSTRUMENT, message).hint(format!(
            "what came before is in {}; {look}",
            recorded.dir.shown()
        )));
    }
    if !recorded.mute.is_empty() {
        let message = format!("{} gave nothing that could be read", names(&recorded.mute));
        let rejected = recorded.dir.join("rejected.log");
        let rejected = rejected.shown();
        return Err(Failure::new(INSTRUMENT, message).hint(
            if recorded.is_on_port(&recorded.mute) {
                format!("is it the right profile and speed? see {rejected} and: sagtrace ports --identify")
            } else {
                format!("is it the right profile? see {rejected}")
            },
        ));
    }
    match recorded.end {
        End::Stopped(signal) if was_timed => Ok(Outcome(signal::exit_code(signal))),
        _ => Ok(Outcome::DONE),
    }
}

/// Rows that could not be shown on stdout.
pub(super) fn not_shown(recorded: &Recorded, why: &str) -> Failure {
    Failure::new(CANNOT_WRITE, why).hint(format!("all rows are safe in {}", recorded.dir.shown()))
}

impl From<RecordingError> for Failure {
    /// A recording that could not begin, or not go on.
    fn from(error: RecordingError) -> Self {
        let failure = Self::from_error(CANNOT_WRITE, &error);
        match error {
        RecordingError::NoFolder(SessionError::Exists { .. }) => {
            failure.hint("name another folder with --out, or move this one aside with --force")
        }
        RecordingError::NoFolder(_) => {
            failure.hint("name a folder that can be written to with --out")
        }
        RecordingError::Broken {
            why,
            rows,
            dir,
            unclosed,
        } => failure.hint(match unclosed {
            Some(error) => {
                format!("its {rows} rows could not be saved: {}", with_causes(&*error))
            }
            _ if why.is_full_disk() => format!(
                "the disk is full; {rows} rows are safe in {}; to wait for room: --wait-for-room",
                dir.shown()
            ),
            _ => format!("{rows} rows are safe in {}", dir.shown()),
        }),
        RecordingError::StillFull { rows, dir, .. } => {
            failure.hint(format!("{rows} rows are safe in {}", dir.shown()))
        }
        RecordingError::Unclosed { dir, .. } => {
            failure.hint(format!("all rows are safe in {}", dir.shown()))
        }
        RecordingError::ByteLog { .. }
        | RecordingError::Runtime(_)
        | RecordingError::ForecastTable(_)
        | RecordingError::ForecastThread(_) => failure,
    }
    }
}

//! The end of a recording that can't write any more: what is saved, and what is said.

use super::Desk;
use crate::cli::exit::{CANNOT_WRITE, Failure};
use crate::plain::Shown as _;
use crate::session::{Fate, SessionError};

impl Desk {
    /// Nothing more can be written; what was written stands.
    pub(super) fn broken(&mut self, error: &SessionError) -> Failure {
        self.progress.finish();
        // Whatever could not be written, a folder that is gone is the reason.
        let gone = self
            .writer
            .look()
            .err()
            .filter(|seen| seen.fate().is_some());
        let error = gone.as_ref().unwrap_or(error);
        let failure = Failure::from_error(CANNOT_WRITE, error);
        let wall_ms = self.plan.clock.now().wall_ms;
        let rows = self.writer.summary().rows;
        if let Some(fate) = error.fate() {
            return failure.hint(match fate {
                Fate::Moved(now) => match self.writer.end_where_it_is(now, wall_ms) {
                    Ok(()) => format!("{rows} rows are safe in {}", now.shown()),
                    Err(error) => {
                        let why = Failure::from_error(CANNOT_WRITE, &error).message;
                        format!("its {rows} rows could not be saved: {why}")
                    }
                },
                Fate::Removed => format!(
                    "its {rows} rows are lost; record again, and work on a copy of the folder meanwhile"
                ),
            });
        }
        // The folder says so itself, where that can still be written.
        self.writer.end(wall_ms, &failure.message).ok();
        let kept = format!("{rows} rows are safe in {}", self.writer.dir().shown());
        failure.hint(if error.is_full_disk() {
            format!("the disk is full; {kept}; to wait for room: --wait-for-room")
        } else {
            kept
        })
    }
}

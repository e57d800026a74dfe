//! The end of a recording that can't write any more.

use super::Desk;
use crate::plain::with_causes;
use crate::recording::error::RecordingError;
use crate::session::SessionError;

impl Desk {
    /// Nothing more can be written; the text written so far stands.
    pub(super) fn broken(&mut self, error: SessionError) -> RecordingError {
        // Whatever could not be written, a folder that is gone is the reason.
        let gone = self.writer.look().err();
        let why = gone.filter(|seen| seen.fate().is_some()).unwrap_or(error);
        let wall_ms = self.plan.clock.now().wall_ms;
        let rows = self.writer.summary().rows;
        let unclosed = if let Some(fate) = why.fate() {
            self.writer.end_elsewhere(fate, wall_ms).err().map(Box::new)
        } else {
            // The folder says so itself, where that can still be written.
            self.writer.end(wall_ms, &with_causes(&why)).ok();
            None
        };
        RecordingError::Broken {
            why,
            rows,
            dir: self.writer.dir().to_owned(),
            unclosed,
        }
    }
}

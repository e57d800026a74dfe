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
            return failure.hint(match self.writer.rescue(fate, wall_ms) {
                Ok(dir) => {
                    let missing = self.save_the_rest(fate);
                    format!("{rows} rows are safe in {}{missing}", dir.shown())
                }
                Err(error) => {
                    let why = Failure::from_error(CANNOT_WRITE, &error).message;
                    format!("its {rows} rows could not be saved: {why}")
                }
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

    /// Saves forecasts and byte logs beside the rows of a folder that was deleted; what to say of those that can't be.
    fn save_the_rest(&mut self, fate: &Fate) -> String {
        if *fate != Fate::Removed {
            // They moved with it.
            return String::new();
        }
        let forecasts = self.lookout.as_mut();
        let forecasts = forecasts.map_or(Ok(()), |lookout| lookout.save_to(&self.writer));
        let saved = [("forecasts", forecasts), ("byte logs", self.save_bytes())];
        let missing = saved.into_iter().filter_map(|(what, saved)| {
            let why = saved.err()?;
            Some(format!(", its {what} are not: {why}"))
        });
        missing.collect()
    }

    fn save_bytes(&self) -> Result<(), String> {
        if self.plan.kept.is_empty() {
            return Ok(());
        }
        let dir = self.writer.dir().join("bytes");
        std::fs::create_dir_all(&dir)
            .map_err(|error| format!("cannot make {}: {error}", dir.shown()))?;
        for (label, log) in &self.plan.kept {
            let path = dir.join(format!("{label}.log"));
            log.copy_to(&path)
                .map_err(|error| format!("cannot write {}: {error}", path.shown()))?;
        }
        Ok(())
    }
}

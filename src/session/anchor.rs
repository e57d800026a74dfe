//! Whether a folder that is being written is still where it was.
//!
//! An open file goes on taking rows when its folder was moved or deleted, and nobody would ever find them.

use std::path::Path;

use super::error::SessionError;
use super::summary::Summary;
use super::writer::Writer;

impl Writer {
    /// Looks whether the disk took what was written, and whether the folder is still where it was. For once a second.
    ///
    /// # Errors
    /// [`SessionError::Write`], [`SessionError::Displaced`].
    pub fn look(&self) -> Result<(), SessionError> {
        let path = self.dir.join("samples.csv");
        if let Some(source) = self.sync.failure() {
            return Err(SessionError::Write { path, source });
        }
        match self.anchor.fate(&self.dir, self.samples.file()) {
            Some(fate) => Err(SessionError::Displaced {
                path: self.dir.clone(),
                fate,
            }),
            None => Ok(()),
        }
    }

    /// Ends a session whose folder was moved, where it is now.
    ///
    /// # Errors
    /// [`SessionError::Write`]; the rows stand all the same.
    pub fn end_where_it_is(&mut self, now: &Path, wall_ms: i64) -> Result<(), SessionError> {
        now.clone_into(&mut self.dir);
        self.end(wall_ms, "the folder was moved while it was recorded to")?;
        Ok(())
    }

    /// Says in `session.toml` how it ended; rows that were taken are pushed to the disk first.
    ///
    /// # Errors
    /// [`SessionError::Write`]; the rows stand all the same.
    pub fn end(&mut self, wall_ms: i64, reason: &str) -> Result<Summary, SessionError> {
        let path = self.dir.join("samples.csv");
        self.samples
            .file()
            .sync_all()
            .map_err(SessionError::write(&path))?;
        self.write_end(wall_ms, reason)?;
        Ok(self.summary.clone())
    }
}

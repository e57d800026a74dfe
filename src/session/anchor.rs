//! Whether a folder that is being written is still where it was.
//!
//! An open file goes on taking rows when its folder was moved or deleted, and nobody would ever find them.

use super::error::{Fate, SessionError};
use super::folder::{Contents, prepare_folder, unused};
use super::summary::Summary;
use super::writer::{Writer, write_fixed};
use crate::clock::folder_time;

impl Writer {
    /// Looks whether the disk took the rows written, and whether the folder is still where it was. It is called once a second.
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

    /// Ends a session that lost its folder. One that was moved is closed where it is now. If the folder was deleted, or its table
    /// was saved over, the open files are copied to a new folder beside it. The sheet and the profiles are not copied.
    ///
    /// # Errors
    /// [`SessionError`] with the file that could not be written.
    pub fn end_elsewhere(&mut self, fate: &Fate, wall_ms: i64) -> Result<(), SessionError> {
        let reason = match fate {
            Fate::Moved(now) => {
                now.clone_into(&mut self.dir);
                "the folder was moved while it was recorded to"
            }
            Fate::Removed => {
                let mut name = self.dir.file_name().unwrap_or_default().to_owned();
                name.push(format!(".rescued-{}", folder_time(wall_ms)));
                let dir = unused(&self.dir.with_file_name(name));
                prepare_folder(&dir, false, wall_ms)?;
                self.meta.checksums.clear();
                write_fixed(&dir, &mut self.meta, &self.channels, &Contents::default())?;
                for (name, table) in [
                    ("samples.csv", &mut self.samples),
                    ("marks.csv", &mut self.marks),
                    ("rejected.log", &mut self.rejected),
                ] {
                    let path = dir.join(name);
                    table.copy_to(&path).map_err(SessionError::write(&path))?;
                }
                self.dir = dir;
                "the folder or its table was removed while it was recorded to"
            }
        };
        self.end(wall_ms, reason)?;
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

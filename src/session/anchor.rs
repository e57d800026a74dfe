//! Whether a folder that is being written is still where it was; and what is kept of one that is not.
//!
//! An open file goes on taking rows when its folder was moved or deleted, and nobody would ever find them.

use std::path::{Path, PathBuf};

use super::error::{Fate, SessionError};
use super::folder::{prepare_folder, unused};
use super::summary::Summary;
use super::writer::{Writer, write_fixed};
use crate::clock::folder_time;

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

    /// Ends a session whose folder is not where it was: one that was moved is closed there, of one that was deleted all
    /// rows are written to a new folder beside it. The folder that has them.
    ///
    /// # Errors
    /// [`SessionError`] with what could not be written.
    pub fn rescue(&mut self, fate: &Fate, wall_ms: i64) -> Result<PathBuf, SessionError> {
        let reason = match fate {
            Fate::Moved(now) => {
                self.dir.clone_from(now);
                "the folder was moved while it was recorded to"
            }
            Fate::Removed => {
                let mut name = self.dir.file_name().unwrap_or_default().to_owned();
                name.push(format!(".rescued-{}", folder_time(wall_ms)));
                self.write_anew(&unused(&self.dir.with_file_name(name)), wall_ms)?;
                "the folder was removed while it was recorded to"
            }
        };
        self.end(wall_ms, reason)?;
        Ok(self.dir.clone())
    }

    /// Writes the whole session to a new folder, from the files that lost their names, and goes on there.
    fn write_anew(&mut self, dir: &Path, wall_ms: i64) -> Result<(), SessionError> {
        prepare_folder(dir, false, wall_ms)?;
        let mut meta = self.meta.clone();
        write_fixed(dir, &mut meta, &self.channels, &self.contents)?;
        for (name, table) in [
            ("samples.csv", &mut self.samples),
            ("marks.csv", &mut self.marks),
            ("rejected.log", &mut self.rejected),
        ] {
            let path = dir.join(name);
            table.copy_to(&path).map_err(SessionError::write(&path))?;
        }
        dir.clone_into(&mut self.dir);
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

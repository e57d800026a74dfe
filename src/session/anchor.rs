//! Whether a folder that is being written is still where it was; and what is kept of one that is not.
//!
//! An open file goes on taking rows when its folder was moved or deleted, and nobody would ever find them.

use std::fmt;
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

use super::folder::{prepare_folder, unused};
use super::writer::Writer;
use super::{SessionError, Summary};
use crate::clock::folder_time;
use crate::plain::Shown as _;

/// The open folder of a session.
#[derive(Debug)]
pub(super) struct Anchor {
    /// Held open: the system tells by it where the folder went.
    folder: Option<File>,
}

impl Anchor {
    pub(super) fn of(dir: &Path) -> Self {
        Self {
            folder: File::open(dir).ok(),
        }
    }

    /// What became of the folder or its table; `None` while both are where they were.
    pub(super) fn fate(&self, dir: &Path, table: &File) -> Option<Fate> {
        if is_same(&dir.join("samples.csv"), table) {
            return None;
        }
        let moved = self.where_now().filter(|now| {
            let table_is_in_it = is_same(&now.join("samples.csv"), table);
            table_is_in_it && fs::canonicalize(dir).ok().as_ref() != Some(now)
        });
        Some(moved.map_or(Fate::Removed, Fate::Moved))
    }

    #[cfg(target_os = "linux")]
    fn where_now(&self) -> Option<PathBuf> {
        use std::os::fd::AsRawFd as _;
        let number = self.folder.as_ref()?.as_raw_fd();
        fs::read_link(format!("/proc/self/fd/{number}")).ok()
    }

    #[cfg(not(target_os = "linux"))]
    const fn where_now(&self) -> Option<PathBuf> {
        None
    }
}

/// What became of a folder that is being written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fate {
    /// It is here now.
    Moved(PathBuf),
    /// It, or its `samples.csv`, was deleted, or something else has its name.
    Removed,
}

impl fmt::Display for Fate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Moved(now) => write!(f, "was moved to {}", now.shown()),
            Self::Removed => f.write_str("or its samples.csv was removed or replaced"),
        }
    }
}

#[cfg(unix)]
fn is_same(path: &Path, file: &File) -> bool {
    use std::os::unix::fs::MetadataExt as _;
    match (fs::metadata(path), file.metadata()) {
        (Ok(one), Ok(other)) => (one.dev(), one.ino()) == (other.dev(), other.ino()),
        _ => false,
    }
}

#[cfg(not(unix))]
fn is_same(path: &Path, _: &File) -> bool {
    path.is_file()
}

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
        super::writer::write_fixed(dir, &mut meta, &self.channels, &self.contents)?;
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

impl SessionError {
    /// Where a folder went that was being written.
    pub const fn fate(&self) -> Option<&Fate> {
        match self {
            Self::Displaced { fate, .. } => Some(fate),
            _ => None,
        }
    }

    /// Whether the disk has no room left.
    pub fn is_full_disk(&self) -> bool {
        match self {
            Self::Write { source, .. } => matches!(
                source.kind(),
                io::ErrorKind::StorageFull
                    | io::ErrorKind::QuotaExceeded
                    | io::ErrorKind::FileTooLarge
            ),
            _ => false,
        }
    }
}

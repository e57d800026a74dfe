//! The open folder of a session: the system shows by it where the folder went.

use std::fs::{self, File};
use std::path::{Path, PathBuf};

use super::error::Fate;

/// The open folder of a session.
#[derive(Debug)]
pub(super) struct Anchor {
    /// Held open: the system shows by it where the folder went.
    folder: Option<File>,
}

impl Anchor {
    pub(super) fn of(dir: &Path) -> Self {
        Self {
            folder: File::open(dir).ok(),
        }
    }

    /// Returns the fate of the folder or its table; `None` while both are where they were.
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

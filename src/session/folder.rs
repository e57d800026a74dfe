//! Making the folder, and replacing a file so that it is whole at every moment.

use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use super::SessionError;
use crate::clock::folder_time;

/// What stands in a session folder from the start, beside the readings.
#[derive(Debug, Clone, Default)]
pub struct Contents {
    /// The build sheet, byte for byte; `None` if there is none.
    pub build_sheet: Option<String>,
    /// Label and text of each profile.
    pub profiles: Vec<(String, String)>,
}

/// The name of a new session's folder: UTC time and build.
pub fn folder_name(wall_ms: i64, build: &str) -> String {
    let mut slug = String::new();
    for c in build.chars() {
        if c.is_alphanumeric() {
            slug.extend(c.to_lowercase());
        } else if !slug.ends_with('-') && !slug.is_empty() {
            slug.push('-');
        }
    }
    let slug = slug.trim_end_matches('-');
    if slug.is_empty() {
        folder_time(wall_ms)
    } else {
        format!("{}-{slug}", folder_time(wall_ms))
    }
}

/// Makes the folder of a new session.
///
/// With `replace`, a folder that is there is moved aside under its name with the time behind it, never deleted: the way
/// it went is returned.
///
/// # Errors
/// [`SessionError::Exists`] when it is there and may not be replaced, [`SessionError::Write`] when it can't be made.
pub fn prepare_folder(
    path: &Path,
    replace: bool,
    wall_ms: i64,
) -> Result<Option<PathBuf>, SessionError> {
    let mut aside = None;
    if path.symlink_metadata().is_ok() {
        if !replace {
            return Err(SessionError::Exists {
                path: path.to_owned(),
            });
        }
        aside = Some(move_aside(path, wall_ms)?);
    }
    fs::create_dir_all(path).map_err(SessionError::write(path))?;
    Ok(aside)
}

/// Moves a file or folder aside under its name with the time behind it; the way it went.
///
/// # Errors
/// [`SessionError::Write`] when it can't be moved; it stands then.
pub fn move_aside(path: &Path, wall_ms: i64) -> Result<PathBuf, SessionError> {
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(format!(".before-{}", folder_time(wall_ms)));
    let target = path.with_file_name(name);
    fs::rename(path, &target).map_err(SessionError::write(path))?;
    Ok(target)
}

/// Writes a file under a temporary name and renames it, so that it is the old one or the new one and never half.
///
/// # Errors
/// [`SessionError::Write`]; the old file stands then.
pub fn replace_file(path: &Path, bytes: &[u8]) -> Result<(), SessionError> {
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(".part");
    let part = path.with_file_name(name);
    let written = write_whole(&part, bytes).and_then(|()| fs::rename(&part, path));
    if written.is_err() {
        // What could not be finished is of no use; that it can't be removed either is told by the error at hand.
        fs::remove_file(&part).ok();
    }
    written.map_err(SessionError::write(path))
}

fn write_whole(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut file = fs::File::create(path)?;
    file.write_all(bytes)?;
    file.sync_all()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_is_named_by_time_and_build() {
        assert_eq!(
            folder_name(0, "Glow pillar, No. 2"),
            "19700101T000000Z-glow-pillar-no-2"
        );
        assert_eq!(folder_name(0, "../../"), "19700101T000000Z");
    }

    #[test]
    fn what_is_there_is_refused_or_moved_aside_and_never_lost() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("demo");
        assert_eq!(prepare_folder(&path, false, 0).unwrap(), None);
        fs::write(path.join("samples.csv"), "kept").unwrap();
        assert!(matches!(
            prepare_folder(&path, false, 0),
            Err(SessionError::Exists { .. })
        ));
        let aside = prepare_folder(&path, true, 0).unwrap().unwrap();
        assert_eq!(
            fs::read_to_string(aside.join("samples.csv")).unwrap(),
            "kept"
        );
        assert!(path.is_dir());
    }

    #[test]
    fn a_file_that_cannot_be_replaced_stays_as_it_was() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("session.toml");
        replace_file(&path, b"one").unwrap();
        replace_file(&path, b"two").unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"two");
        let inside = path.join("below");
        assert!(replace_file(&inside, b"three").is_err());
        assert_eq!(fs::read(&path).unwrap(), b"two");
    }
}

//! Making the folder, and replacing a file so that it is whole at every moment.

use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use super::error::SessionError;
use crate::clock::folder_time;

/// The contents of a session folder from the start, beside the readings.
#[derive(Debug, Clone, Default)]
pub struct Contents {
    /// The build sheet, byte for byte; `None` if there is none.
    pub build_sheet: Option<String>,
    /// Label and text of each profile.
    pub profiles: Vec<(String, String)>,
}

/// Bytes of a build in the name of a folder; chosen. A name of a file system has 255 of them at the most (ext4, APFS, NTFS; from
/// memory). Behind it, `.rescued-TIME` or `.mended.part` may follow.
const LONGEST_SLUG: usize = 160;

/// Returns a build's name as part of a file's name, of a very long one the beginning; empty where no letter can stand in it.
pub fn slug(build: &str) -> String {
    let mut slug = String::new();
    for c in build.chars() {
        if slug.len() + 4 > LONGEST_SLUG {
            break;
        }
        if c.is_alphanumeric() {
            slug.extend(c.to_lowercase());
        } else if !slug.ends_with('-') && !slug.is_empty() {
            slug.push('-');
        }
    }
    slug.trim_end_matches('-').to_owned()
}

/// The name of a new session's folder: UTC time and build.
pub fn folder_name(wall_ms: i64, build: &str) -> String {
    let slug = slug(build);
    if slug.is_empty() {
        folder_time(wall_ms)
    } else {
        format!("{}-{slug}", folder_time(wall_ms))
    }
}

/// Makes the folder of a new session.
///
/// With `replace`, a folder that is there is never deleted. It is moved aside under its name with the time behind it, and its new
/// path is returned.
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

/// Moves a file or folder aside under its name with the time behind it, and a number where that is taken. Returns its new path.
///
/// # Errors
/// [`SessionError::Write`] when it can't be moved; it stands then.
pub fn move_aside(path: &Path, wall_ms: i64) -> Result<PathBuf, SessionError> {
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(format!(".before-{}", folder_time(wall_ms)));
    let wanted = path.with_file_name(name);
    loop {
        let target = unused(&wanted);
        match rename_to_new(path, &target) {
            Ok(()) => return Ok(target),
            // Another program took the name meanwhile.
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            Err(error) => return Err(SessionError::write(path)(error)),
        }
    }
}

/// The path, or with a number behind it where something has that name already.
pub fn unused(path: &Path) -> PathBuf {
    let name = path.file_name().unwrap_or_default();
    let numbered = |number: u32| {
        let mut name = name.to_owned();
        name.push(format!("-{number}"));
        path.with_file_name(name)
    };
    let mut found = path.to_owned();
    let mut number = 2;
    while found.symlink_metadata().is_ok() {
        found = numbered(number);
        number += 1;
    }
    found
}

/// Renames to a name that nothing has: a file that has it stays.
#[cfg(target_os = "linux")]
fn rename_to_new(from: &Path, to: &Path) -> io::Result<()> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    use rustix::io::Errno;
    match renameat_with(CWD, from, CWD, to, RenameFlags::NOREPLACE) {
        // Not every file system can do so in one step.
        Err(Errno::INVAL | Errno::NOSYS) => fs::rename(from, to),
        other => other.map_err(io::Error::from),
    }
}

#[cfg(not(target_os = "linux"))]
fn rename_to_new(from: &Path, to: &Path) -> io::Result<()> {
    fs::rename(from, to)
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
        // An unfinished file is of no use; the error at hand says that it can't be removed either.
        fs::remove_file(&part).ok();
    }
    written.map_err(SessionError::write(path))
}

fn write_whole(path: &Path, bytes: &[u8]) -> io::Result<()> {
    // A file that an interrupted run left, or that somebody put there: a link is taken away itself, and never written through.
    if path.symlink_metadata().is_ok() {
        fs::remove_file(path)?;
    }
    let mut file = fs::File::create_new(path)?;
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
    fn recordings_that_begin_in_one_second_get_folders_of_their_own() {
        let dir = tempfile::tempdir().unwrap();
        for name in ["evening", "evening-2", "evening-3"] {
            let path = unused(&dir.path().join("evening"));
            assert_eq!(path, dir.path().join(name));
            fs::create_dir(path).unwrap();
        }
    }

    #[test]
    fn a_very_long_name_is_cut_between_two_letters() {
        for letter in ["a", "ß", "語", "𝛀"] {
            let name = folder_name(0, &letter.repeat(1000));
            assert!((150..=180).contains(&name.len()), "{}", name.len());
            let (_, slug) = name.split_once('-').unwrap();
            assert_eq!(slug, letter.repeat(slug.chars().count()));
            let dir = tempfile::tempdir().unwrap();
            let path = dir.path().join(name);
            for _ in 0..3 {
                prepare_folder(&path, true, 0).unwrap();
            }
        }
    }

    #[test]
    fn what_is_moved_aside_in_one_second_gets_a_number_and_nothing_is_lost() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("demo");
        for content in ["one", "two", "three", "four"] {
            prepare_folder(&path, true, 0).unwrap();
            fs::write(path.join("samples.csv"), content).unwrap();
        }
        let file = dir.path().join("good-day.toml");
        for content in ["one", "two", "three", "four"] {
            if file.exists() {
                move_aside(&file, 0).unwrap();
            }
            fs::write(&file, content).unwrap();
        }
        for (end, content) in [("", "one"), ("-2", "two"), ("-3", "three")] {
            let aside = |name: &str| {
                dir.path()
                    .join(format!("{name}.before-19700101T000000Z{end}"))
            };
            let kept = fs::read_to_string(aside("demo").join("samples.csv")).unwrap();
            assert_eq!(kept, content);
            assert_eq!(fs::read_to_string(aside("good-day.toml")).unwrap(), content);
        }
    }

    #[test]
    #[cfg(unix)]
    fn nothing_is_written_through_a_link() {
        use std::os::unix::fs::symlink;
        let dir = tempfile::tempdir().unwrap();
        let other = dir.path().join("precious");
        fs::write(&other, "kept").unwrap();
        let path = dir.path().join("session.toml");
        for name in ["session.toml.part", "session.toml"] {
            symlink(&other, dir.path().join(name)).unwrap();
            replace_file(&path, b"new").unwrap();
            assert_eq!(fs::read(&path).unwrap(), b"new");
            assert_eq!(fs::read_to_string(&other).unwrap(), "kept", "{name}");
            assert!(!path.symlink_metadata().unwrap().is_symlink());
            fs::remove_file(&path).unwrap();
        }
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

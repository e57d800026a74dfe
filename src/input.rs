//! Opening the input: a plain file and nothing else, so that no pipe is waited for and no device read without end.

use std::fs::{File, FileType, OpenOptions};
use std::io::{self, Read};
use std::path::Path;

/// Bytes of a text that people write or that describes a session: chosen, hundreds of times the longest there is.
pub const LONGEST_TEXT: u64 = 8 << 20;

/// Opens a file to be read.
///
/// # Errors
/// An error when it can't be opened, or is a folder, a pipe or a device. Its kind is read after it is opened, and the call never
/// waits for it.
pub fn open(path: &Path) -> io::Result<File> {
    let file = options().open(path)?;
    match other_kind(file.metadata()?.file_type()) {
        None => Ok(file),
        Some(kind) => Err(io::Error::other(format!(
            "it is {kind}, a file is expected"
        ))),
    }
}

/// Reads a whole file.
///
/// # Errors
/// The errors of [`open`].
pub fn read(path: &Path) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    open(path)?.read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// Reads a text of at most [`LONGEST_TEXT`].
///
/// # Errors
/// The errors of [`open`], and one for a text that is too long or not UTF-8.
pub fn read_text(path: &Path) -> io::Result<String> {
    text_of(open(path)?)
}

/// Reads a text that a person named: also from a pipe, where the shell handed one on (`/dev/stdin`, `<(…)`).
///
/// # Errors
/// The errors of [`read_text`].
pub fn read_named_text(path: &Path) -> io::Result<String> {
    if is_handed_on(path) {
        text_of(File::open(path)?)
    } else {
        read_text(path)
    }
}

/// Reads a text of at most [`LONGEST_TEXT`] to its end.
///
/// # Errors
/// An error when it can't be read, is longer or not UTF-8.
pub fn text_of(source: impl Read) -> io::Result<String> {
    let mut bytes = Vec::new();
    source.take(LONGEST_TEXT + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > LONGEST_TEXT {
        let most = LONGEST_TEXT >> 20;
        return Err(io::Error::other(format!(
            "it is longer than {most} MiB, which no such file is"
        )));
    }
    String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        let line = error
            .as_bytes()
            .iter()
            .take(at)
            .filter(|byte| **byte == b'\n')
            .count()
            + 1;
        io::Error::other(format!(
            "line {line} is not UTF-8: save the file in that encoding"
        ))
    })
}

/// Whether a path names an open file of this program's own, as a shell hands one on.
fn is_handed_on(path: &Path) -> bool {
    path == Path::new("/dev/stdin")
        || path.starts_with("/dev/fd")
        || path.starts_with("/proc/self/fd")
}

/// The call never waits for the opened file, and no terminal becomes the program's own.
#[cfg(unix)]
fn options() -> OpenOptions {
    use std::os::unix::fs::OpenOptionsExt as _;
    let flags = rustix::fs::OFlags::NONBLOCK | rustix::fs::OFlags::NOCTTY;
    let mut options = OpenOptions::new();
    options
        .read(true)
        .custom_flags(i32::try_from(flags.bits()).unwrap_or(0));
    options
}

#[cfg(not(unix))]
fn options() -> OpenOptions {
    let mut options = OpenOptions::new();
    options.read(true);
    options
}

/// Returns the kind of something that is no plain file, in words.
fn other_kind(kind: FileType) -> Option<&'static str> {
    if kind.is_file() {
        return None;
    }
    if kind.is_dir() {
        return Some("a folder");
    }
    Some(special(kind))
}

#[cfg(unix)]
fn special(kind: FileType) -> &'static str {
    use std::os::unix::fs::FileTypeExt as _;
    if kind.is_fifo() { "a pipe" } else { "a device" }
}

#[cfg(not(unix))]
fn special(_: FileType) -> &'static str {
    "something else"
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(path: &Path) -> String {
        read_text(path).unwrap_err().to_string()
    }

    #[test]
    #[cfg(target_os = "linux")]
    fn what_is_no_file_is_refused_at_once() {
        let dir = tempfile::tempdir().unwrap();
        let pipe = dir.path().join("pipe");
        let rw = rustix::fs::Mode::RUSR | rustix::fs::Mode::WUSR;
        rustix::fs::mknodat(rustix::fs::CWD, &pipe, rustix::fs::FileType::Fifo, rw, 0).unwrap();
        let link = dir.path().join("link");
        std::os::unix::fs::symlink(&pipe, &link).unwrap();
        assert_eq!(refused(&pipe), "it is a pipe, a file is expected");
        assert_eq!(refused(&link), "it is a pipe, a file is expected");
        assert_eq!(refused(dir.path()), "it is a folder, a file is expected");
        for device in ["/dev/zero", "/dev/null"] {
            assert_eq!(
                refused(Path::new(device)),
                "it is a device, a file is expected"
            );
        }
    }

    #[test]
    fn a_text_that_is_none_is_told_with_its_line() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("latin.toml");
        std::fs::write(&path, b"name = \"one\"\n# Gr\xf6\xdfe\n").unwrap();
        assert_eq!(
            refused(&path),
            "line 2 is not UTF-8: save the file in that encoding"
        );
        let long = File::create(dir.path().join("long")).unwrap();
        long.set_len(LONGEST_TEXT + 1).unwrap();
        assert_eq!(
            refused(&dir.path().join("long")),
            "it is longer than 8 MiB, which no such file is"
        );
    }

    #[test]
    fn a_plain_file_is_read_also_by_way_of_a_link() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("file");
        std::fs::write(&path, "text").unwrap();
        assert_eq!(read_text(&path).unwrap(), "text");
        assert_eq!(read_named_text(&path).unwrap(), "text");
        assert_eq!(read(&path).unwrap(), b"text");
        #[cfg(unix)]
        {
            let link = dir.path().join("link");
            std::os::unix::fs::symlink(&path, &link).unwrap();
            assert_eq!(read_text(&link).unwrap(), "text");
        }
    }
}

//! A file that grows by whole lines: a line that the disk does not take whole is cut off again.

use std::fs::{File, OpenOptions};
use std::io::{self, Read as _, Seek as _, Write as _};
use std::path::Path;

/// A file of lines that is only ever added to.
#[derive(Debug)]
pub(super) struct Table {
    file: File,
    /// Bytes of whole lines in the file.
    len: u64,
}

/// Lines that were not all taken.
#[derive(Debug)]
pub(super) struct Refused {
    /// How many whole lines were.
    pub(super) lines: usize,
    pub(super) why: io::Error,
}

impl Table {
    /// Makes a new file with its first lines.
    pub(super) fn create(path: &Path, head: &str) -> io::Result<Self> {
        // Reading is for the case that the file loses its name while it is written.
        let mut file = OpenOptions::new()
            .read(true)
            .append(true)
            .create_new(true)
            .open(path)?;
        file.write_all(head.as_bytes())?;
        Ok(Self {
            file,
            len: head.len() as u64,
        })
    }

    pub(super) const fn file(&self) -> &File {
        &self.file
    }

    /// Bytes of whole lines in the file.
    pub(super) const fn len(&self) -> u64 {
        self.len
    }

    /// Adds lines. Of lines that are not all taken the whole ones stay, and no half one does.
    pub(super) fn append(&mut self, text: &str) -> Result<(), Refused> {
        let (taken, why) = write_counted(&mut self.file, text.as_bytes());
        let Some(why) = why else {
            self.len += text.len() as u64;
            return Ok(());
        };
        let written = text.as_bytes().get(..taken).unwrap_or(&[]);
        let whole = written
            .iter()
            .rposition(|byte| *byte == b'\n')
            .map_or(0, |end| end + 1);
        self.len += whole as u64;
        // Where even this fails, the reader drops the half line.
        self.file.set_len(self.len).ok();
        let lines = text.get(..whole).map_or(0, |whole| whole.lines().count());
        Err(Refused { lines, why })
    }

    /// Copies the file's contents to a new file, whether this one still has a name or not.
    pub(super) fn copy_to(&mut self, path: &Path) -> io::Result<()> {
        // Writing always goes to the end, wherever was read last.
        self.file.rewind()?;
        let mut copy = OpenOptions::new().write(true).create_new(true).open(path)?;
        io::copy(&mut (&mut self.file).take(self.len), &mut copy)?;
        copy.sync_all()
    }
}

/// Writes all it can, and returns how many bytes were taken, and why it stopped.
fn write_counted(file: &mut File, bytes: &[u8]) -> (usize, Option<io::Error>) {
    let mut taken = 0;
    while let Some(rest) = bytes.get(taken..).filter(|rest| !rest.is_empty()) {
        match file.write(rest) {
            Ok(0) => return (taken, Some(io::ErrorKind::WriteZero.into())),
            Ok(count) => taken += count,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return (taken, Some(error)),
        }
    }
    (taken, None)
}

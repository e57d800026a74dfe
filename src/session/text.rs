//! Fields, lines and small files of a session folder.

use std::fs;
use std::io::{self, Write as _};
use std::path::Path;

use sha2::{Digest as _, Sha256};

use super::digits;
use super::error::SessionError;
use crate::reading::Stamp;

pub(super) fn write_new(path: &Path, text: &str) -> Result<(), SessionError> {
    fs::File::create_new(path)
        .and_then(|mut file| file.write_all(text.as_bytes()))
        .map_err(SessionError::write(path))
}

/// The checksum of a file's bytes as `session.toml` keeps it.
pub(super) fn sha256(bytes: &[u8]) -> String {
    let digest = Sha256::digest(bytes);
    let hex: Vec<String> = digest.iter().map(|byte| format!("{byte:02x}")).collect();
    format!("sha256:{}", hex.concat())
}

/// RFC 4180 text with LF line ends.
pub(super) fn csv_text(
    fill: impl FnOnce(&mut csv::Writer<&mut Vec<u8>>) -> csv::Result<()>,
) -> io::Result<String> {
    let mut bytes = Vec::new();
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::Any(b'\n'))
        .buffer_capacity(1024)
        .from_writer(&mut bytes);
    fill(&mut writer)?;
    writer.flush()?;
    drop(writer);
    String::from_utf8(bytes).map_err(io::Error::other)
}

/// Adds a field, in quotes where it needs them.
pub(super) fn push_field(text: &mut String, field: &str) -> io::Result<()> {
    if field
        .bytes()
        .any(|byte| matches!(byte, b',' | b'"' | b'\n' | b'\r'))
    {
        let quoted = csv_text(|csv| csv.write_record([field]))?;
        text.push_str(quoted.trim_end_matches('\n'));
    } else {
        text.push_str(field);
    }
    Ok(())
}

/// Adds seconds to the microsecond.
pub(super) fn push_elapsed(text: &mut String, stamp: Stamp) {
    digits::push_decimal(text, stamp.elapsed_us, 6);
}

/// Seconds to the microsecond.
pub(super) fn elapsed(stamp: Stamp) -> String {
    let mut text = String::new();
    push_elapsed(&mut text, stamp);
    text
}

/// A text without line ends, so that a line of the file is a row.
pub(super) fn one_line(text: &str) -> String {
    text.replace(|c: char| c.is_control(), " ")
}

/// Whether something has this name, be it a link that leads nowhere.
pub(super) fn is_there(path: &Path) -> bool {
    path.symlink_metadata().is_ok()
}

/// The line of a byte, counted from 1.
pub(super) fn line_of(text: &str, at: usize) -> usize {
    let before = text.bytes().take(at);
    before.filter(|byte| *byte == b'\n').count() + 1
}

//! Whether a session folder is whole, and a mended copy of one that is not. The folder itself is never changed.

mod salvage;

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, BufWriter, Write as _};
use std::path::Path;
use std::sync::Arc;

use crate::reading::Row;
use crate::session::error::SessionError;
use crate::session::folder::replace_file;
use crate::session::forecast;
use crate::session::meta::{Meta, State};
use crate::session::opened::Session;
use crate::session::reader::RowReader;
use crate::session::summary::Summary;
use crate::session::text::{is_there, sha256};
use crate::{input, plain};
use salvage::{Salvaged, salvage};

/// Something in the folder that is not as it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// The file.
    pub file: String,
    /// The fault in words.
    pub what: String,
}

/// The result of checking a folder.
#[derive(Debug, Clone, PartialEq)]
pub struct Checked {
    /// The rows that are whole.
    pub summary: Summary,
    /// The faults; empty for a folder that is whole.
    pub findings: Vec<Finding>,
    /// Whether the recording was closed.
    pub is_closed: bool,
}

/// Reads the whole folder and lists everything that is not as it was written.
///
/// # Errors
/// [`SessionError`] when it is not a session folder or cannot be read at all.
pub fn check(dir: &Path) -> Result<Checked, SessionError> {
    let session = match Session::open(dir) {
        Err(error @ SessionError::Damaged { .. }) => return damaged(dir, &error),
        opened => opened?,
    };
    let mut findings = Vec::new();
    let mut tell = |file: &str, what: String| {
        findings.push(Finding {
            file: plain::line(file).into_owned(),
            what,
        });
    };
    let summary = samples(dir, &mut tell)?;
    let is_closed = session.meta.state == State::Closed;
    if !is_closed {
        tell(
            "session.toml",
            "the recording goes on, or it was cut off".to_owned(),
        );
    }
    if let Some(written) = &session.meta.summary
        && (written.rows, written.gaps) != (summary.rows, summary.gaps)
    {
        let what = format!(
            "it says {} rows and {} gaps, samples.csv has {} and {}",
            written.rows, written.gaps, summary.rows, summary.gaps
        );
        tell("session.toml", what);
    }
    for (name, written) in &session.meta.checksums {
        match input::read(&dir.join(name)) {
            Ok(bytes) if sha256(&bytes) == *written => {}
            Ok(_) => tell(
                name,
                "it is not the file that was in force: its checksum differs".to_owned(),
            ),
            Err(error) => tell(name, format!("it cannot be read: {error}")),
        }
    }
    match (session.marks(), input::read(&dir.join("marks.csv"))) {
        (Err(error), _) => tell("marks.csv", error.to_string()),
        (Ok(_), Ok(text)) if !text.ends_with(b"\n") => {
            tell("marks.csv", "the last line was cut off".to_owned());
        }
        (Ok(_), Ok(_)) => {}
        (Ok(_), Err(error)) => tell("marks.csv", format!("it cannot be read: {error}")),
    }
    for (file, what) in forecast::faults(dir)? {
        tell(file, what);
    }
    if !dir.join("samples.csv-metadata.json").is_file() {
        tell("samples.csv-metadata.json", "it is missing".to_owned());
    }
    Ok(Checked {
        summary,
        findings,
        is_closed,
    })
}

/// Counts the rows of a folder whose `session.toml` is damaged.
fn damaged(dir: &Path, error: &SessionError) -> Result<Checked, SessionError> {
    let mut findings = Vec::new();
    let mut tell = |file: &str, what: String| {
        let file = file.to_owned();
        findings.push(Finding { file, what });
    };
    if let SessionError::Damaged { line, reason, .. } = error {
        tell("session.toml", format!("line {line}: {reason}"));
    }
    let summary = samples(dir, &mut tell)?;
    Ok(Checked {
        summary,
        findings,
        is_closed: false,
    })
}

/// Counts the whole rows and reports the faults between them.
fn samples(dir: &Path, tell: &mut impl FnMut(&str, String)) -> Result<Summary, SessionError> {
    const FILE: &str = "samples.csv";
    let mut reader = RowReader::open(&dir.join(FILE))?;
    let mut summary = Summary::default();
    let mut last_us: BTreeMap<Arc<str>, i64> = BTreeMap::new();
    let mut backwards = 0_u64;
    while let Some(row) = reader.next_row()? {
        let at_us = row.stamp.elapsed_us;
        match last_us.get_mut(&row.source) {
            Some(last_us) => {
                backwards += u64::from(at_us <= *last_us);
                *last_us = at_us;
            }
            None => drop(last_us.insert(Arc::clone(&row.source), at_us)),
        }
        summary.push(std::slice::from_ref(&row));
    }
    let skipped = reader.skipped();
    if let Some(line) = skipped.first_bad_line {
        tell(
            FILE,
            format!(
                "lines that are no rows: {}, the first is line {line}",
                skipped.bad_lines
            ),
        );
    }
    if skipped.torn_end {
        tell(FILE, "the last line was cut off".to_owned());
    }
    if backwards > 0 {
        tell(
            FILE,
            format!("rows at which elapsed time does not rise: {backwards}"),
        );
    }
    Ok(summary)
}

/// Writes a mended copy: every whole row, closed, with a summary of its own. Nothing in it was not in the old folder.
///
/// # Errors
/// [`SessionError::Exists`] when the copy is there already, else the file that could not be read or written.
pub fn mend(dir: &Path, copy: &Path) -> Result<Summary, SessionError> {
    let (mut meta, made_anew) = match Session::open(dir) {
        Err(SessionError::Damaged { line, .. }) => {
            let Salvaged { meta, lost } = salvage(dir)?;
            let words = format!("session.toml was damaged in line {line}; {lost}");
            (meta, Some(words))
        }
        // As it stands there, not as it is shown.
        opened => opened.and_then(|_| meta_of(dir)).map(|meta| (meta, None))?,
    };
    if is_there(copy) {
        return Err(SessionError::Exists {
            path: copy.to_owned(),
        });
    }
    // Under another name until it is whole: a copy that was cut off itself must not pass for a mended one.
    let mut name = copy.file_name().unwrap_or_default().to_owned();
    name.push(".part");
    let part = copy.with_file_name(name);
    if is_there(&part) {
        return Err(SessionError::Exists { path: part });
    }
    copy_all(dir, &part)?;
    let (summary, last) = whole_rows(dir, &part)?;
    whole_marks(&part)?;
    whole_forecasts(&part.join("forecast.csv"))?;
    if meta.state == State::Recording || made_anew.is_some() {
        meta.state = State::Closed;
        meta.ended = last.map(|row| crate::clock::rfc3339_ms(row.stamp.wall_ms));
        let cut_off = || "it was cut off; this is a mended copy".to_owned();
        meta.end_reason = Some(made_anew.unwrap_or_else(cut_off));
    }
    if let Some(lost) = meta.summary.as_ref().and_then(|then| lost(then, &summary)) {
        // The new summary must not hide it.
        let reason = meta.end_reason.unwrap_or_default();
        meta.end_reason = Some(format!("{reason}; {lost}"));
    }
    meta.summary = Some(summary.clone());
    let path = part.join("session.toml");
    let text = toml::to_string(&meta)
        .map_err(io::Error::other)
        .map_err(SessionError::write(&path))?;
    replace_file(&path, text.as_bytes())?;
    fs::rename(&part, copy).map_err(SessionError::write(copy))?;
    Ok(summary)
}

fn meta_of(dir: &Path) -> Result<Meta, SessionError> {
    let path = dir.join("session.toml");
    let text = input::read_text(&path).map_err(SessionError::read(&path))?;
    toml::from_str(&text)
        .map_err(io::Error::other)
        .map_err(SessionError::read(&path))
}

/// Returns the rows of a recording that are not in its mended copy, in words.
fn lost(then: &Summary, now: &Summary) -> Option<String> {
    let rows = then.rows.checked_sub(now.rows).filter(|rows| *rows > 0)?;
    Some(format!(
        "{rows} of its {} rows are lost, they are not in this mended copy",
        then.rows
    ))
}

/// Drops a last mark that was cut off.
fn whole_marks(copy: &Path) -> Result<(), SessionError> {
    let path = copy.join("marks.csv");
    if !is_there(&path) {
        return Ok(());
    }
    let text = input::read(&path).map_err(SessionError::read(&path))?;
    let end = text.iter().rposition(|byte| *byte == b'\n');
    let whole = text.get(..end.map_or(0, |end| end + 1)).unwrap_or(&[]);
    if whole.len() == text.len() {
        return Ok(());
    }
    replace_file(&path, whole)
}

/// Copies the whole rows of a table, each as it stands, and returns their summary and the last one.
fn whole_rows(dir: &Path, copy: &Path) -> Result<(Summary, Option<Row>), SessionError> {
    let path = copy.join("samples.csv");
    let mut reader = RowReader::open(&dir.join("samples.csv"))?;
    let mut out = BufWriter::new(File::create(&path).map_err(SessionError::write(&path))?);
    let mut put = |line: &[u8]| {
        out.write_all(line)
            .and_then(|()| out.write_all(b"\n"))
            .map_err(SessionError::write(&path))
    };
    put(reader.line())?;
    let (mut summary, mut last) = (Summary::default(), None);
    while let Some(row) = reader.next_row()? {
        put(reader.line())?;
        summary.push(std::slice::from_ref(&row));
        // A row that was whole late may be the last line and not the latest.
        let is_latest = |last: &Row| last.stamp.elapsed_us <= row.stamp.elapsed_us;
        if last.as_ref().is_none_or(is_latest) {
            last = Some(row);
        }
    }
    out.into_inner()
        .map_err(io::IntoInnerError::into_error)
        .and_then(|file| file.sync_all())
        .map_err(SessionError::write(&path))?;
    Ok((summary, last))
}

/// Cuts a half line off the end of a copied forecast, if there is one.
fn whole_forecasts(path: &Path) -> Result<(), SessionError> {
    if !is_there(path) {
        return Ok(());
    }
    let bytes = input::read(path).map_err(SessionError::read(path))?;
    let whole = forecast::whole_len(&bytes);
    if whole == bytes.len() {
        return Ok(());
    }
    replace_file(path, bytes.get(..whole).unwrap_or(&[]))
}

fn copy_all(from: &Path, to: &Path) -> Result<(), SessionError> {
    fs::create_dir_all(to).map_err(SessionError::write(to))?;
    for entry in fs::read_dir(from).map_err(SessionError::read(from))? {
        let source = entry.map_err(SessionError::read(from))?.path();
        let Some(name) = source.file_name() else {
            continue;
        };
        let target = to.join(name);
        // A link to a folder is none of ours, and could lead round in a circle.
        let is_folder = source.symlink_metadata().is_ok_and(|data| data.is_dir());
        if is_folder {
            copy_all(&source, &target)?;
        } else {
            let mut file = input::open(&source).map_err(SessionError::read(&source))?;
            File::create_new(&target)
                .and_then(|mut copy| io::copy(&mut file, &mut copy))
                .map_err(SessionError::write(&target))?;
        }
    }
    Ok(())
}

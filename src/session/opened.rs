//! A session folder, opened to be read.

use std::path::{Path, PathBuf};

use super::error::SessionError;
use super::meta::{Meta, SCHEMA};
use super::reader::{RowReader, Skipped};
use super::text::{is_there, line_of, sha256};
use crate::reading::Chunk;
use crate::{input, plain};

/// A mark as it stands in `marks.csv`.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkRow {
    /// Seconds since the session began.
    pub elapsed_s: f64,
    /// The person's note.
    pub text: String,
}

/// A session folder that was opened.
#[derive(Debug)]
pub struct Session {
    dir: PathBuf,
    /// The contents of `session.toml`.
    pub meta: Meta,
    /// The build sheet in force; `None` if the session had none.
    pub build_sheet: Option<String>,
}

impl Session {
    /// Opens a folder.
    ///
    /// # Errors
    /// [`SessionError::NotASession`] with the missing file, [`SessionError::Damaged`] for a `session.toml` that is not TOML or
    /// lacks a key, [`SessionError::Read`] when something can't be read.
    pub fn open(dir: &Path) -> Result<Self, SessionError> {
        let path = dir.join("session.toml");
        if !is_there(&path) {
            let reason = if dir.is_dir() {
                "session.toml is missing"
            } else {
                "there is no such folder"
            };
            return Err(SessionError::NotASession {
                path: dir.to_owned(),
                reason: reason.to_owned(),
            });
        }
        let text = input::read_text(&path).map_err(SessionError::read(&path))?;
        let meta = Meta::read(&text).map_err(|error| SessionError::Damaged {
            line: line_of(&text, error.span().map_or(0, |span| span.start)),
            path,
            reason: plain::line(error.message().trim()).into_owned(),
        })?;
        if meta.schema > SCHEMA {
            let reason = format!(
                "its form is {}, this program reads up to {}",
                meta.schema, SCHEMA
            );
            return Err(SessionError::NotASession {
                path: dir.to_owned(),
                reason,
            });
        }
        let build_sheet = sheet_beside(dir)?;
        Ok(Self {
            dir: dir.to_owned(),
            meta,
            build_sheet,
        })
    }

    /// Whether `build.toml` is another text than the one that was in force when the session was recorded.
    ///
    /// The checksum that `session.toml` keeps shows it; a session without one, or without a sheet, says nothing.
    pub fn build_sheet_changed(&self) -> bool {
        let kept = self.meta.checksums.get("build.toml");
        let found = self.build_sheet.as_deref();
        kept.zip(found)
            .is_some_and(|(kept, text)| sha256(text.as_bytes()) != *kept)
    }

    /// The folder.
    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// The rows, from the first in time: with several instruments they stand in the table as they became whole.
    ///
    /// # Errors
    /// [`SessionError::Read`] or [`SessionError::NoTable`] when there is no table to read.
    pub fn rows(&self) -> Result<RowReader, SessionError> {
        let mut reader = RowReader::open(&self.dir.join("samples.csv"))?;
        if self.meta.instruments.len() > 1 {
            let labels = self.meta.instruments.iter().map(|one| &*one.label);
            reader.in_order_of(&labels.collect::<Vec<_>>());
        }
        Ok(reader)
    }

    /// Hands over all rows, from the first in time, a chunk at a time, and returns the rows skipped.
    ///
    /// # Errors
    /// The errors of [`Session::rows`].
    pub fn each_chunk(&self, mut take: impl FnMut(&Chunk)) -> Result<Skipped, SessionError> {
        let mut reader = self.rows()?;
        let mut rows = Vec::new();
        while reader.next_chunk(&mut rows)? {
            take(&rows);
        }
        Ok(reader.skipped().clone())
    }

    /// The marks; a file that is missing holds none.
    ///
    /// # Errors
    /// [`SessionError::Read`].
    pub fn marks(&self) -> Result<Vec<MarkRow>, SessionError> {
        let path = self.dir.join("marks.csv");
        if !is_there(&path) {
            return Ok(Vec::new());
        }
        let file = input::open(&path).map_err(SessionError::read(&path))?;
        let fail = |error: csv::Error| SessionError::Read {
            path: path.clone(),
            source: error.into(),
        };
        let mut marks = Vec::new();
        for record in csv::ReaderBuilder::new()
            .flexible(true)
            .from_reader(file)
            .records()
        {
            let record = record.map_err(fail)?;
            if let (Some(elapsed_s), Some(text)) = (
                record.get(1).and_then(|text| text.parse().ok()),
                record.get(2),
            ) {
                marks.push(MarkRow {
                    elapsed_s,
                    text: plain::line(text).into_owned(),
                });
            }
        }
        Ok(marks)
    }
}

/// The sheet in a session folder, if there is one.
pub(super) fn sheet_beside(dir: &Path) -> Result<Option<String>, SessionError> {
    let path = dir.join("build.toml");
    if !is_there(&path) {
        return Ok(None);
    }
    let text = input::read_text(&path).map_err(SessionError::read(&path))?;
    Ok(Some(text))
}

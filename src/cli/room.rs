//! A disk without room, when the person asked to wait for it: what is missed meanwhile is counted and told in a row.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::reading::{Readings, Row, Stamp, Status};
use crate::session::{SessionError, Writer};

/// Marks that are kept until there is room; a person does not type more.
const MARKS_KEPT: usize = 1000;

/// What could not be written of one instrument.
#[derive(Debug, Clone, Copy)]
struct Missing {
    since: Stamp,
    rows: u64,
}

/// Whether there is room, and what is missing since there is none.
#[derive(Debug)]
pub(super) struct Room {
    waits: bool,
    is_full: bool,
    missing: BTreeMap<Arc<str>, Missing>,
    marks: Vec<(Stamp, String)>,
    marks_lost: usize,
}

/// There is room again.
#[derive(Debug)]
pub(super) struct Again {
    /// The rows that say what is missing, and their lines in the file.
    pub(super) rows: Vec<Row>,
    pub(super) lines: String,
    pub(super) words: String,
}

impl Room {
    pub(super) const fn new(waits: bool) -> Self {
        Self {
            waits,
            is_full: false,
            missing: BTreeMap::new(),
            marks: Vec::new(),
            marks_lost: 0,
        }
    }

    pub(super) const fn is_full(&self) -> bool {
        self.is_full
    }

    /// Whether an error is one that is waited out.
    pub(super) fn waits_for(&self, error: &SessionError) -> bool {
        self.waits && error.is_full_disk()
    }

    /// Counts rows that could not be written.
    pub(super) fn miss(&mut self, rows: &[Row]) {
        self.is_full = true;
        for row in rows {
            let missing = self
                .missing
                .entry(Arc::clone(&row.source))
                .or_insert(Missing {
                    since: row.stamp,
                    rows: 0,
                });
            missing.rows += 1;
        }
    }

    /// Keeps a mark that could not be written.
    pub(super) fn keep(&mut self, stamp: Stamp, text: &str) {
        self.is_full = true;
        if self.marks.len() < MARKS_KEPT {
            self.marks.push((stamp, text.to_owned()));
        } else {
            self.marks_lost += 1;
        }
    }

    /// Tries whether there is room again, by writing what is missing: a gap of each instrument, and the marks.
    pub(super) fn try_again(&mut self, writer: &mut Writer) -> Result<Option<Again>, SessionError> {
        let mut rows: Vec<Row> = self.missing.iter().map(gap).collect();
        rows.sort_by_key(|row| row.stamp);
        let lines = match writer.append(rows.clone()) {
            Ok(lines) => lines,
            Err(error) if self.waits_for(&error) => {
                // Of several gaps some may have been written.
                let is_left =
                    |label: &Arc<str>| writer.missed().iter().any(|row| row.source == *label);
                self.missing.retain(|label, _| is_left(label));
                return Ok(None);
            }
            Err(error) => return Err(error),
        };
        let words = format!("there is room again; {}", self.words());
        self.missing.clear();
        while let Some((stamp, text)) = self.marks.first() {
            match writer.mark(*stamp, text) {
                Ok(()) => drop(self.marks.remove(0)),
                Err(error) if self.waits_for(&error) => return Ok(None),
                Err(error) => return Err(error),
            }
        }
        (self.is_full, self.marks_lost) = (false, 0);
        Ok(Some(Again { rows, lines, words }))
    }

    /// What is missing.
    pub(super) fn words(&self) -> String {
        let rows: u64 = self.missing.values().map(|missing| missing.rows).sum();
        match self.marks_lost {
            0 => format!("{rows} rows are missing"),
            marks => format!("{rows} rows and {marks} marks are missing"),
        }
    }
}

fn gap((label, missing): (&Arc<str>, &Missing)) -> Row {
    Row {
        stamp: missing.since,
        source: Arc::clone(label),
        readings: Readings::default(),
        status: Status::Gap,
        note: format!("the disk was full: {} rows are missing", missing.rows),
    }
}

//! A disk without room, when the person asked to wait for it: the rows missed meanwhile are counted, and a row says so.

use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;

use super::news::Missing;
use crate::reading::{Readings, Rejected, Row, Stamp, Status};
use crate::session::{SessionError, Writer, Written};

/// Marks that are kept until there is room; a person does not type more.
const MARKS_KEPT: usize = 1000;

/// Bytes of refused text that are kept until there is room.
const REFUSED_KEPT: usize = 256 * 1024;

/// The data of one instrument that could not be written.
#[derive(Debug, Clone, Copy)]
struct Gap {
    since: Stamp,
    rows: u64,
}

/// Whether there is room, and the data missing since there is none.
#[derive(Debug)]
pub(super) struct FullDisk {
    waits: bool,
    is_full: bool,
    missing: BTreeMap<Arc<str>, Gap>,
    marks: Vec<(Stamp, String)>,
    marks_lost: usize,
    refused: VecDeque<Rejected>,
    refused_len: usize,
    refused_lost: u64,
}

/// There is room again.
#[derive(Debug)]
pub(super) struct Again {
    /// The rows that count the missing data, and their lines in the file.
    pub(super) rows: Vec<Row>,
    pub(super) lines: String,
    /// The count of the data not written meanwhile.
    pub(super) missing: Missing,
}

impl FullDisk {
    pub(super) const fn new(waits: bool) -> Self {
        Self {
            waits,
            is_full: false,
            missing: BTreeMap::new(),
            marks: Vec::new(),
            marks_lost: 0,
            refused: VecDeque::new(),
            refused_len: 0,
            refused_lost: 0,
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
            let missing = self.missing.entry(Arc::clone(&row.source)).or_insert(Gap {
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

    /// Writes the refused text, behind the text that waits; if it finds no room, it waits too. Rows may have room all the same.
    pub(super) fn refuse(
        &mut self,
        writer: &mut Writer,
        rejected: Rejected,
    ) -> Result<(), SessionError> {
        let length = self.refused_len + rejected.bytes.len() + size_of::<Rejected>();
        if length > REFUSED_KEPT && !self.refused.is_empty() {
            self.refused_lost += 1;
        } else {
            self.refused_len = length;
            self.refused.push_back(rejected);
        }
        self.write_refused(writer)
    }

    /// Writes the refused text and waits for room.
    pub(super) fn write_refused(&mut self, writer: &mut Writer) -> Result<(), SessionError> {
        while let Some(rejected) = self.refused.front() {
            match writer.reject(rejected) {
                Ok(()) => drop(self.refused.pop_front()),
                Err(error) if self.waits_for(&error) => return Ok(()),
                Err(error) => return Err(error),
            }
        }
        self.refused_len = 0;
        Ok(())
    }

    /// Returns how many refused texts are written nowhere; `None` if there are none.
    pub(super) fn refused_missing(&self) -> Option<u64> {
        let count = self.refused_lost + self.refused.len() as u64;
        (count > 0).then_some(count)
    }

    /// Tries whether there is room again, by writing the count of the missing data: a gap of each instrument, and the marks.
    pub(super) fn try_again(&mut self, writer: &mut Writer) -> Result<Option<Again>, SessionError> {
        let mut rows: Vec<Row> = self.missing.iter().map(gap).collect();
        rows.sort_by_key(|row| row.stamp);
        let Written { lines, rows } = match writer.append(rows) {
            Ok(written) => written,
            Err(error) if self.waits_for(&error) => {
                // Of several gaps some may have been written.
                let is_left =
                    |label: &Arc<str>| writer.missed().iter().any(|row| row.source == *label);
                self.missing.retain(|label, _| is_left(label));
                return Ok(None);
            }
            Err(error) => return Err(error),
        };
        let missing = self.missing();
        self.missing.clear();
        while let Some((stamp, text)) = self.marks.first() {
            match writer.mark(*stamp, text) {
                Ok(()) => drop(self.marks.remove(0)),
                Err(error) if self.waits_for(&error) => return Ok(None),
                Err(error) => return Err(error),
            }
        }
        (self.is_full, self.marks_lost) = (false, 0);
        Ok(Some(Again {
            rows,
            lines,
            missing,
        }))
    }

    /// Returns the count of the missing data.
    pub(super) fn missing(&self) -> Missing {
        Missing {
            rows: self.missing.values().map(|gap| gap.rows).sum(),
            marks: self.marks_lost,
        }
    }
}

fn gap((label, missing): (&Arc<str>, &Gap)) -> Row {
    Row {
        stamp: missing.since,
        source: Arc::clone(label),
        readings: Readings::default(),
        status: Status::Gap,
        note: format!("the disk was full: {} rows are missing", missing.rows).into(),
    }
}

//! Reads a session folder back: it tolerates a part that was cut off, and says which rows it skipped.
//!
//! A line is a row here, and never more than one: a quote that was damaged must not swallow the rows behind it.

use std::fs::File;
use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::error::SessionError;
use super::order::Order;
use crate::clock::parse_rfc3339_ms;
use crate::input;
use crate::reading::{Channel, Note, Readings, Row, Stamp, Status};

/// Rows are handed on in chunks of at most this number: few enough to stay in a processor's cache.
const CHUNK_ROWS: usize = 4096;

/// Lines of `samples.csv` that were no rows.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Skipped {
    /// How many lines could not be read.
    pub bad_lines: u64,
    /// The first of them, counted from 1.
    pub first_bad_line: Option<u64>,
    /// The file ends within a row.
    pub torn_end: bool,
}

/// The content of a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Column {
    Timestamp,
    Elapsed,
    Source,
    Reading(Channel),
    Status,
    Note,
    /// A column of a later version.
    Unknown,
}

/// Reads `samples.csv` in chunks, in constant memory.
#[derive(Debug)]
pub struct RowReader {
    path: PathBuf,
    input: BufReader<File>,
    columns: Vec<Column>,
    line_number: u64,
    line: Vec<u8>,
    sources: Vec<Arc<str>>,
    skipped: Skipped,
    /// Puts rows of several instruments into the order of time.
    order: Option<Order>,
}

impl RowReader {
    /// Opens the file and reads its header; the rows come in the order of its lines.
    ///
    /// # Errors
    /// [`SessionError::Read`], or [`SessionError::NoTable`] when the header lacks a column that every row needs.
    pub fn open(path: &Path) -> Result<Self, SessionError> {
        let file = input::open(path).map_err(SessionError::read(path))?;
        let mut reader = Self {
            path: path.to_owned(),
            input: BufReader::with_capacity(64 * 1024, file),
            columns: Vec::new(),
            line_number: 0,
            line: Vec::new(),
            sources: Vec::new(),
            skipped: Skipped::default(),
            order: None,
        };
        if reader.next_line()? {
            let header = String::from_utf8_lossy(&reader.line).into_owned();
            reader.columns = header
                .trim_start_matches('\u{feff}')
                .split(',')
                .map(column)
                .collect();
        }
        let missing = [
            Column::Timestamp,
            Column::Elapsed,
            Column::Source,
            Column::Status,
        ]
        .into_iter()
        .find(|wanted| !reader.columns.contains(wanted));
        match missing {
            None => Ok(reader),
            Some(_) if reader.line_number == 0 => Err(SessionError::NoTable {
                path: path.to_owned(),
                reason: "is empty: expected a line of column names, and rows".to_owned(),
            }),
            Some(column) => Err(SessionError::NoTable {
                path: path.to_owned(),
                reason: format!("has no {column:?} column in its first line").to_lowercase(),
            }),
        }
    }

    /// Gives the rows of these instruments in the order of time from now on.
    pub(super) fn in_order_of(&mut self, labels: &[&str]) {
        let sources = labels.iter().map(|label| intern(&mut self.sources, label));
        self.order = Some(Order::of(sources));
    }

    /// Replaces `rows` by the next chunk, and returns whether there was one.
    ///
    /// # Errors
    /// [`SessionError::Read`].
    pub fn next_chunk(&mut self, rows: &mut Vec<Row>) -> Result<bool, SessionError> {
        rows.clear();
        while rows.len() < CHUNK_ROWS
            && let Some(row) = self.next_in_order()?
        {
            rows.push(row);
        }
        Ok(!rows.is_empty())
    }

    fn next_in_order(&mut self) -> Result<Option<Row>, SessionError> {
        let Some(mut order) = self.order.take() else {
            return self.next_row();
        };
        let mut row = order.pop();
        while row.is_none() {
            let Some(next) = self.next_row()? else {
                order.end();
                row = order.pop();
                break;
            };
            order.push(next);
            row = order.pop();
        }
        self.order = Some(order);
        Ok(row)
    }

    /// The row of the next line; lines that are none are skipped and counted.
    pub(super) fn next_row(&mut self) -> Result<Option<Row>, SessionError> {
        while self.next_line()? {
            if let Some(row) = self.parse_line() {
                return Ok(Some(row));
            }
            if !self.line.is_empty() {
                self.skipped.bad_lines += 1;
                self.skipped.first_bad_line.get_or_insert(self.line_number);
            }
        }
        Ok(None)
    }

    /// The line that was read last, without its end: the header at first, then that of the row.
    pub(super) fn line(&self) -> &[u8] {
        &self.line
    }

    /// Returns the count of rows skipped so far.
    pub const fn skipped(&self) -> &Skipped {
        &self.skipped
    }

    /// Reads the next whole line without its end; a last line without an end was cut off and is dropped.
    fn next_line(&mut self) -> Result<bool, SessionError> {
        self.line.clear();
        let count = self
            .input
            .read_until(b'\n', &mut self.line)
            .map_err(SessionError::read(&self.path))?;
        if count == 0 {
            return Ok(false);
        }
        if self.line.pop() != Some(b'\n') {
            self.skipped.torn_end = true;
            return Ok(false);
        }
        if self.line.last() == Some(&b'\r') {
            self.line.pop();
        }
        self.line_number += 1;
        Ok(true)
    }

    fn parse_line(&mut self) -> Option<Row> {
        let line = std::str::from_utf8(&self.line).ok()?;
        let mut fields = Fields(Some(line));
        let mut wall_ms = None;
        let mut elapsed_us = None;
        let mut source = None;
        let mut readings = Readings::default();
        let mut status = None;
        let mut note = Note::default();
        for column in &self.columns {
            let field = fields.next()?;
            match column {
                Column::Timestamp => wall_ms = Some(parse_rfc3339_ms(&field)?),
                Column::Elapsed => elapsed_us = Some(parse_elapsed_us(&field)?),
                Column::Source => source = Some(intern(&mut self.sources, &field)),
                Column::Reading(_) if field.is_empty() => {}
                Column::Reading(channel) => {
                    readings.set(
                        *channel,
                        field.parse().ok().filter(|value: &f64| value.is_finite())?,
                    );
                }
                Column::Status => status = Some(Status::from_word(&field)?),
                Column::Note => note = Note::read(&field),
                Column::Unknown => {}
            }
        }
        if fields.next().is_some() {
            return None;
        }
        let stamp = Stamp {
            elapsed_us: elapsed_us?,
            wall_ms: wall_ms?,
        };
        Some(Row {
            stamp,
            source: source?,
            readings,
            status: status?,
            note,
        })
    }
}

fn column(name: &str) -> Column {
    match name.trim() {
        "timestamp" => Column::Timestamp,
        "elapsed_s" => Column::Elapsed,
        "source" => Column::Source,
        "status" => Column::Status,
        "note" => Column::Note,
        other => Channel::from_column(other).map_or(Column::Unknown, Column::Reading),
    }
}

/// The label as one of those known; a session has a handful.
fn intern(sources: &mut Vec<Arc<str>>, label: &str) -> Arc<str> {
    if let Some(known) = sources.iter().find(|known| &***known == label) {
        return Arc::clone(known);
    }
    let new: Arc<str> = label.into();
    sources.push(Arc::clone(&new));
    new
}

/// Seconds with up to six decimals, as microseconds, without a detour through a float.
fn parse_elapsed_us(text: &str) -> Option<i64> {
    let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
    if fraction.len() > 6 {
        return None;
    }
    let mut micros = 0;
    for place in 0..6 {
        let digit = match fraction.as_bytes().get(place) {
            Some(byte @ b'0'..=b'9') => i64::from(byte - b'0'),
            Some(_) => return None,
            None => 0,
        };
        micros = micros * 10 + digit;
    }
    let seconds: i64 = whole.parse().ok()?;
    seconds
        .checked_mul(1_000_000)?
        .checked_add(if text.starts_with('-') {
            -micros
        } else {
            micros
        })
}

/// The fields of one line, RFC 4180; the rows of our own files never go over a line's end.
struct Fields<'l>(Option<&'l str>);

impl<'l> Iterator for Fields<'l> {
    type Item = std::borrow::Cow<'l, str>;

    fn next(&mut self) -> Option<Self::Item> {
        let rest = self.0?;
        let Some(quoted) = rest.strip_prefix('"') else {
            // By bytes: fields are short, and a search set up for long texts costs more than it saves.
            let (field, rest) = match rest.bytes().position(|byte| byte == b',') {
                Some(end) => (rest.get(..end)?, rest.get(end + 1..)),
                None => (rest, None),
            };
            self.0 = rest;
            return Some(field.into());
        };
        let mut field = String::new();
        let mut from = quoted;
        loop {
            let Some((before, after)) = from.split_once('"') else {
                // A quote that is never closed: the line is no row.
                self.0 = None;
                return None;
            };
            field.push_str(before);
            let Some(doubled) = after.strip_prefix('"') else {
                self.0 = after.strip_prefix(',');
                return (after.is_empty() || self.0.is_some()).then(|| field.into());
            };
            field.push('"');
            from = doubled;
        }
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;
    use proptest::prelude::*;

    fn fields(line: &str) -> Vec<String> {
        Fields(Some(line))
            .map(std::borrow::Cow::into_owned)
            .collect()
    }

    /// RFC 4180, section 2, rules 5 to 7: its own examples, on one line.
    #[test]
    fn the_examples_of_rfc_4180_are_read() {
        assert_eq!(fields(r#""aaa","bbb","ccc""#), ["aaa", "bbb", "ccc"]);
        assert_eq!(fields("zzz,yyy,xxx"), ["zzz", "yyy", "xxx"]);
        assert_eq!(fields(r#""aaa","b""bb","ccc""#), ["aaa", "b\"bb", "ccc"]);
        assert_eq!(fields("a,,"), ["a", "", ""]);
    }

    #[test]
    fn elapsed_time_is_read_to_the_microsecond() {
        assert_eq!(parse_elapsed_us("1234567.000001"), Some(1_234_567_000_001));
        assert_eq!(parse_elapsed_us("0.5"), Some(500_000));
        assert_eq!(parse_elapsed_us("0.1234567"), None);
        assert_eq!(parse_elapsed_us("1e3"), None);
    }

    fn read(text: &[u8]) -> Result<(Vec<Row>, Skipped), SessionError> {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("samples.csv");
        fs::write(&path, text).unwrap();
        let mut reader = RowReader::open(&path)?;
        let mut all = Vec::new();
        let mut rows = Vec::new();
        while reader.next_chunk(&mut rows)? {
            all.append(&mut rows);
        }
        Ok((all, reader.skipped().clone()))
    }

    const HEADER: &str = "timestamp,elapsed_s,source,frequency_hz,battery_v,status,note\n";
    const ROW: &str = "2026-01-31T19:04:05.678Z,1.500000,counter,6231234.5,8.912,ok,\n";

    #[test]
    fn what_was_cut_off_or_spoilt_is_skipped_and_told() {
        let text = format!("{HEADER}{ROW}garbage\n{ROW}2026-01-31T19:04:06.678Z,2.5");
        let (rows, skipped) = read(text.as_bytes()).unwrap();
        assert_eq!(rows.len(), 2);
        assert_eq!(
            skipped,
            Skipped {
                bad_lines: 1,
                first_bad_line: Some(3),
                torn_end: true
            }
        );
    }

    #[test]
    fn what_another_program_saved_is_read_as_well() {
        let text = format!("\u{feff}{HEADER}{ROW}")
            .replace('\n', "\r\n")
            .replace(",note", ",note,extra");
        let text = text.replace(",ok,", ",ok,,9");
        let (rows, skipped) = read(text.as_bytes()).unwrap();
        assert_eq!((rows.len(), skipped), (1, Skipped::default()));
        assert_eq!(rows[0].readings.get(Channel::FrequencyHz), Some(6231234.5));
    }

    #[test]
    fn an_empty_file_and_a_foreign_one_are_told_apart_from_a_session_without_rows() {
        assert!(matches!(read(b""), Err(SessionError::NoTable { .. })));
        assert!(matches!(
            read(b"a,b\n1,2\n"),
            Err(SessionError::NoTable { .. })
        ));
        assert_eq!(read(HEADER.as_bytes()).unwrap().0, Vec::new());
    }

    proptest! {
        #[test]
        fn any_bytes_give_rows_or_skipped_lines_without_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
            let text = [HEADER.as_bytes(), &bytes].concat();
            prop_assert!(read(&text).is_ok());
        }

        #[test]
        fn a_row_with_a_bit_flipped_is_read_or_skipped_without_panic(at in 0..ROW.len(), bit in 0..8) {
            let mut row = ROW.as_bytes().to_vec();
            row[at] ^= 1_u8 << bit;
            prop_assert!(read(&[HEADER.as_bytes(), &row].concat()).is_ok());
        }
    }
}

//! Writes a session as it happens: a row counts once `write(2)` has taken it whole.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::csvw;
use super::digits;
use super::disk_sync::DiskSync;
use super::error::SessionError;
use super::folder::{Contents, replace_file};
use super::held::Anchor;
use super::meta::{ClockRate, InstrumentMeta, Meta, State};
use super::summary::Summary;
use super::table::{Refused, Table};
use super::text::{csv_text, elapsed, one_line, push_elapsed, push_field, sha256, write_new};
use crate::clock::rfc3339_ms;
use crate::reading::{Channel, Readings, Rejected, Row, Stamp, Status, VIRTUAL_IDENTITY};

/// `rejected.log` grows to this and no further: a day of garbage at full speed must not fill the disk.
const REJECTED_LIMIT: u64 = 1_000_000;

/// The wall clock moving by more than this against elapsed time makes a row, in milliseconds.
const CLOCK_STEP_MS: i64 = 500;

/// Rows that were written.
#[derive(Debug, Clone, PartialEq)]
pub struct Written {
    /// Their lines, as they stand in the table.
    pub lines: String,
    /// The rows as they were written, with one more where the wall clock was moved.
    pub rows: Vec<Row>,
}

/// An open session folder.
#[derive(Debug)]
pub struct Writer {
    pub(super) dir: PathBuf,
    pub(super) anchor: Anchor,
    pub(super) meta: Meta,
    pub(super) channels: Vec<Channel>,
    pub(super) samples: Table,
    pub(super) marks: Table,
    pub(super) rejected: Table,
    /// The time of each instrument's last row.
    last_us: Vec<(std::sync::Arc<str>, i64)>,
    /// Wall time minus elapsed time at the latest row, and its time.
    offset_ms: Option<(i64, i64)>,
    pub(super) summary: Summary,
    /// Rows of the last call of `append` that were not taken.
    missed: Vec<Row>,
    pub(super) sync: DiskSync,
}

impl Writer {
    /// Fills a new folder, which must be there and empty.
    ///
    /// `channels` are the columns of readings; frequency and battery voltage always have one.
    ///
    /// # Errors
    /// [`SessionError::Write`] with the file that could not be made.
    pub fn create(
        dir: &Path,
        mut meta: Meta,
        channels: &[Channel],
        contents: &Contents,
    ) -> Result<Self, SessionError> {
        let has_column = |channel: &Channel| {
            matches!(channel, Channel::FrequencyHz | Channel::BatteryV)
                || channels.contains(channel)
        };
        let channels: Vec<Channel> = Channel::ALL.into_iter().filter(has_column).collect();
        write_fixed(dir, &mut meta, &channels, contents)?;
        let table = |name: &str, head: &str| {
            let path = dir.join(name);
            Table::create(&path, head).map_err(SessionError::write(&path))
        };
        let marks = table("marks.csv", "timestamp,elapsed_s,text\n")?;
        let rejected = table("rejected.log", "")?;
        let samples = table("samples.csv", &format!("{}\n", meta.columns.join(",")))?;
        let sync = samples
            .file()
            .try_clone()
            .and_then(DiskSync::start)
            .map_err(SessionError::write(&dir.join("samples.csv")))?;
        let writer = Self {
            dir: dir.to_owned(),
            anchor: Anchor::of(dir),
            meta,
            channels,
            samples,
            marks,
            rejected,
            last_us: Vec::new(),
            offset_ms: None,
            summary: Summary::default(),
            missed: Vec::new(),
            sync,
        };
        writer.write_meta()?;
        Ok(writer)
    }

    /// The folder.
    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// The header line of `samples.csv`, without its end.
    pub fn header(&self) -> String {
        self.meta.columns.join(",")
    }

    /// Returns the contents of `session.toml`.
    pub const fn meta(&self) -> &Meta {
        &self.meta
    }

    /// Returns the summary of the rows written so far.
    pub const fn summary(&self) -> &Summary {
        &self.summary
    }

    /// Notes an instrument's identity, so that it stands even if the recording is cut off.
    ///
    /// # Errors
    /// [`SessionError::Write`].
    pub fn identify(&mut self, label: &str, identity: &str) -> Result<(), SessionError> {
        let is_new = |known: &&mut InstrumentMeta| {
            known.label == label && known.identity.as_deref() != Some(identity)
        };
        let Some(instrument) = self.meta.instruments.iter_mut().find(is_new) else {
            return Ok(());
        };
        instrument.identity = Some(identity.to_owned());
        // The instruments of the virtual bench give their identity, and none of their values may pass for measured.
        if identity.starts_with(VIRTUAL_IDENTITY) && !self.meta.simulated {
            self.meta.simulated = true;
            let path = self.dir.join("samples.csv-metadata.json");
            replace_file(&path, csvw::metadata(&self.meta, &self.channels).as_bytes())?;
        }
        self.write_meta()
    }

    /// Keeps how fast an instrument's clock ran; it is written when the session is closed.
    pub fn keep_clock(&mut self, label: &str, rate: ClockRate) {
        let mut instruments = self.meta.instruments.iter_mut();
        if let Some(instrument) = instruments.find(|known| known.label == label) {
            instrument.clock = Some(rate);
        }
    }

    /// Writes rows that came together and returns them; they count once this has returned.
    ///
    /// Elapsed time rises by at least a microsecond from row to row of each instrument. A row stands in the table once it
    /// is whole: behind rows of other instruments that began later.
    ///
    /// # Errors
    /// [`SessionError::Write`]; rows that were taken whole before it stay, no half row does, and the rest are given by
    /// [`Self::missed`].
    pub fn append(&mut self, mut rows: Vec<Row>) -> Result<Written, SessionError> {
        let path = self.dir.join("samples.csv");
        self.missed.clear();
        if let Some(source) = self.sync.failure() {
            self.missed = rows;
            return Err(SessionError::Write { path, source });
        }
        let mut at = 0;
        while let Some(row) = rows.get_mut(at) {
            let step = self.clock_step(row);
            row.stamp.elapsed_us = self.rising_us(row);
            if let Some(step) = step {
                rows.insert(at, step);
                at += 1;
            }
            at += 1;
        }
        let lines = lines(&rows, &self.channels).map_err(SessionError::write(&path))?;
        match self.samples.append(&lines) {
            Ok(()) => {
                self.summary.push(&rows);
                Ok(Written { lines, rows })
            }
            Err(Refused { lines, why: source }) => {
                self.missed = rows.split_off(lines.min(rows.len()));
                self.summary.push(&rows);
                Err(SessionError::Write { path, source })
            }
        }
    }

    /// The rows of the last call of [`Self::append`] that were not taken; none if that went well.
    pub fn missed(&self) -> &[Row] {
        &self.missed
    }

    /// The time of a row, moved where the one before it of the same instrument has it already.
    fn rising_us(&mut self, row: &Row) -> i64 {
        let elapsed_us = row.stamp.elapsed_us;
        let known = self
            .last_us
            .iter_mut()
            .find(|(source, _)| *source == row.source);
        let Some((_, last_us)) = known else {
            self.last_us
                .push((std::sync::Arc::clone(&row.source), elapsed_us));
            return elapsed_us;
        };
        *last_us = elapsed_us.max(*last_us + 1);
        *last_us
    }

    /// A row that says that the wall clock was moved since the last one.
    fn clock_step(&mut self, row: &Row) -> Option<Row> {
        let Stamp {
            elapsed_us,
            wall_ms,
        } = row.stamp;
        let offset_ms = wall_ms - elapsed_us.div_euclid(1000);
        let (last_ms, at_us) = self.offset_ms.unwrap_or((offset_ms, elapsed_us));
        if elapsed_us < at_us {
            // It began before the latest row: the clock that it was stamped by may have been moved since.
            return None;
        }
        self.offset_ms = Some((offset_ms, elapsed_us));
        let moved_ms = offset_ms - last_ms;
        if moved_ms.abs() <= CLOCK_STEP_MS {
            return None;
        }
        let elapsed_us = self.rising_us(row);
        Some(Row {
            stamp: Stamp {
                elapsed_us,
                ..row.stamp
            },
            source: std::sync::Arc::clone(&row.source),
            readings: Readings::default(),
            status: Status::ClockStep,
            note: format!(
                "the wall clock was moved by {:+.1} s",
                moved_ms as f64 / 1e3
            )
            .into(),
        })
    }

    /// Writes a mark of the person's.
    ///
    /// # Errors
    /// [`SessionError::Write`].
    pub fn mark(&mut self, stamp: Stamp, text: &str) -> Result<(), SessionError> {
        let path = self.dir.join("marks.csv");
        let text = one_line(text);
        csv_text(|csv| csv.write_record([rfc3339_ms(stamp.wall_ms), elapsed(stamp), text]))
            .and_then(|line| self.marks.append(&line).map_err(|refused| refused.why))
            .map_err(SessionError::write(&path))
    }

    /// Keeps the refused text, as long as there is room.
    ///
    /// # Errors
    /// [`SessionError::Write`].
    pub fn reject(&mut self, rejected: &Rejected) -> Result<(), SessionError> {
        if self.rejected.len() >= REJECTED_LIMIT {
            return Ok(());
        }
        let Rejected {
            stamp,
            source,
            why,
            bytes,
        } = rejected;
        let time = rfc3339_ms(stamp.wall_ms);
        let mut line = format!(
            "{time} {} {source} ({why}): {}\n",
            elapsed(*stamp),
            bytes.escape_ascii()
        );
        if self.rejected.len() + line.len() as u64 >= REJECTED_LIMIT {
            line.push_str(
                "the log is full; what is refused from here on is counted in the rows alone\n",
            );
        }
        self.rejected
            .append(&line)
            .map_err(|refused| refused.why)
            .map_err(SessionError::write(&self.dir.join("rejected.log")))
    }

    /// Closes the folder: all that was written goes to the disk, and `session.toml` says how it ended.
    ///
    /// # Errors
    /// [`SessionError::Write`]; the rows stand all the same.
    pub fn close(mut self, ended_wall_ms: i64, reason: &str) -> Result<Summary, SessionError> {
        self.end(ended_wall_ms, reason)
    }

    /// Says in `session.toml` how it ended.
    pub(super) fn write_end(&mut self, wall_ms: i64, reason: &str) -> Result<(), SessionError> {
        self.meta.state = State::Closed;
        self.meta.ended = Some(rfc3339_ms(wall_ms));
        self.meta.end_reason = Some(reason.to_owned());
        self.meta.summary = Some(self.summary.clone());
        self.write_meta()
    }

    fn write_meta(&self) -> Result<(), SessionError> {
        let path = self.dir.join("session.toml");
        let text = toml::to_string(&self.meta)
            .map_err(io::Error::other)
            .map_err(SessionError::write(&path))?;
        replace_file(&path, text.as_bytes())
    }
}

/// The names of all columns.
fn columns(channels: &[Channel]) -> Vec<String> {
    let readings = channels.iter().map(|channel| channel.column());
    let names = ["timestamp", "elapsed_s", "source"]
        .into_iter()
        .chain(readings)
        .chain(["status", "note"]);
    names.map(str::to_owned).collect()
}

/// Writes the parts of a session folder that stand from the start and are not added to: sheet, profiles, the table's description.
pub(super) fn write_fixed(
    dir: &Path,
    meta: &mut Meta,
    channels: &[Channel],
    contents: &Contents,
) -> Result<(), SessionError> {
    meta.columns = columns(channels);
    if let Some(sheet) = &contents.build_sheet {
        write_new(&dir.join("build.toml"), sheet)?;
        meta.checksums
            .insert("build.toml".to_owned(), sha256(sheet.as_bytes()));
    }
    let instruments = dir.join("instruments");
    fs::create_dir_all(&instruments).map_err(SessionError::write(&instruments))?;
    for (label, text) in &contents.profiles {
        let name = format!("{label}.toml");
        write_new(&instruments.join(&name), text)?;
        meta.checksums
            .insert(format!("instruments/{name}"), sha256(text.as_bytes()));
    }
    write_new(
        &dir.join("samples.csv-metadata.json"),
        &csvw::metadata(meta, channels),
    )
}

/// Rows as lines of the table. Written out by hand: at full speed a general writer takes most of a recording's time.
fn lines(rows: &[Row], channels: &[Channel]) -> io::Result<String> {
    let mut text = String::with_capacity(rows.len() * LINE_LEN);
    let mut time = (None, String::new());
    for row in rows {
        // Rows of one read have one wall time.
        if time.0 != Some(row.stamp.wall_ms) {
            time = (Some(row.stamp.wall_ms), rfc3339_ms(row.stamp.wall_ms));
        }
        text.push_str(&time.1);
        text.push(',');
        push_elapsed(&mut text, row.stamp);
        text.push(',');
        push_field(&mut text, &row.source)?;
        for channel in channels {
            text.push(',');
            if let Some(value) = row.readings.get(*channel) {
                digits::push_shortest(&mut text, value);
            }
        }
        text.push(',');
        text.push_str(row.status.word());
        text.push(',');
        if !row.note.is_empty() {
            push_field(&mut text, &one_line(&row.note.to_string()))?;
        }
        text.push('\n');
    }
    Ok(text)
}

/// About how long a line of the table is.
const LINE_LEN: usize = 80;

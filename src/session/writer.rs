//! Writes a session as it happens: a row counts once `write(2)` has taken it whole.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use sha2::{Digest as _, Sha256};

use super::disk_sync::DiskSync;
use super::{Contents, InstrumentMeta, Meta, SessionError, State, Summary, csvw, replace_file};
use crate::clock::rfc3339_ms;
use crate::reading::{Channel, Readings, Rejected, Row, Stamp, Status};

/// `rejected.log` grows to this and no further: a day of garbage at full speed must not fill the disk.
const REJECTED_LIMIT: u64 = 1_000_000;

/// How the instruments of the virtual bench begin their names.
const VIRTUAL_IDENTITY: &str = "sagtrace,virtual ";

/// The wall clock moving by more than this against elapsed time makes a row, in milliseconds.
const CLOCK_STEP_MS: i64 = 500;

/// An open session folder.
#[derive(Debug)]
pub struct Writer {
    dir: PathBuf,
    meta: Meta,
    channels: Vec<Channel>,
    samples: File,
    /// Bytes of whole rows in the file.
    whole_len: u64,
    marks: File,
    rejected: File,
    rejected_len: u64,
    last_us: i64,
    /// Wall time minus elapsed time at the last row.
    offset_ms: Option<i64>,
    summary: Summary,
    sync: DiskSync,
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
        meta.columns = columns(&channels);
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
            &csvw::metadata(&meta, &channels),
        )?;
        let marks = write_new(&dir.join("marks.csv"), "timestamp,elapsed_s,text\n")?;
        let rejected = write_new(&dir.join("rejected.log"), "")?;
        let header = format!("{}\n", meta.columns.join(","));
        let path = dir.join("samples.csv");
        let samples = write_new(&path, &header)?;
        let sync = samples
            .try_clone()
            .and_then(DiskSync::start)
            .map_err(SessionError::write(&path))?;
        let writer = Self {
            dir: dir.to_owned(),
            meta,
            channels,
            samples,
            whole_len: header.len() as u64,
            marks,
            rejected,
            rejected_len: 0,
            last_us: -1,
            offset_ms: None,
            summary: Summary::default(),
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

    /// What `session.toml` says.
    pub const fn meta(&self) -> &Meta {
        &self.meta
    }

    /// What was written so far.
    pub const fn summary(&self) -> &Summary {
        &self.summary
    }

    /// Notes what an instrument said it is, so that it stands even if the recording is cut off.
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
        // The instruments of the virtual bench say what they are, and nothing they give may pass for measured.
        if identity.starts_with(VIRTUAL_IDENTITY) && !self.meta.simulated {
            self.meta.simulated = true;
            let path = self.dir.join("samples.csv-metadata.json");
            replace_file(&path, csvw::metadata(&self.meta, &self.channels).as_bytes())?;
        }
        self.write_meta()
    }

    /// Writes rows that came together and returns their lines; they count once this has returned.
    ///
    /// Elapsed time rises by at least a microsecond from row to row: a row that comes late by way of another instrument
    /// is moved by that much.
    ///
    /// # Errors
    /// [`SessionError::Write`]; rows that were taken whole before it stay, no half row does.
    pub fn append(&mut self, rows: Vec<Row>) -> Result<String, SessionError> {
        let path = self.dir.join("samples.csv");
        if let Some(source) = self.sync.failure() {
            return Err(SessionError::Write { path, source });
        }
        let mut ready = Vec::with_capacity(rows.len());
        for mut row in rows {
            if let Some(step) = self.clock_step(&row) {
                ready.push(step);
            }
            row.stamp.elapsed_us = row.stamp.elapsed_us.max(self.last_us + 1);
            self.last_us = row.stamp.elapsed_us;
            ready.push(row);
        }
        let text = lines(&ready, &self.channels).map_err(SessionError::write(&path))?;
        match write_counted(&mut self.samples, text.as_bytes()) {
            (_, None) => {
                self.whole_len += text.len() as u64;
                self.summary.push(&ready);
                Ok(text)
            }
            (taken, Some(source)) => {
                self.keep_whole_rows(&text, taken, &ready);
                Err(SessionError::Write { path, source })
            }
        }
    }

    /// Cuts the file back to the last row that was taken whole.
    fn keep_whole_rows(&mut self, text: &str, taken: usize, rows: &[Row]) {
        let written = text.as_bytes().get(..taken).unwrap_or(&[]);
        let whole = written
            .iter()
            .rposition(|byte| *byte == b'\n')
            .map_or(0, |end| end + 1);
        let count = text.get(..whole).map_or(0, |whole| whole.lines().count());
        self.whole_len += whole as u64;
        self.summary.push(rows.get(..count).unwrap_or(&[]));
        // Where even this fails, the reader drops the half row.
        self.samples.set_len(self.whole_len).ok();
    }

    /// A row that says that the wall clock was moved since the last one.
    fn clock_step(&mut self, row: &Row) -> Option<Row> {
        let offset_ms = row.stamp.wall_ms - row.stamp.elapsed_us.div_euclid(1000);
        let moved_ms = offset_ms - self.offset_ms.replace(offset_ms).unwrap_or(offset_ms);
        if moved_ms.abs() <= CLOCK_STEP_MS {
            return None;
        }
        let elapsed_us = row.stamp.elapsed_us.max(self.last_us + 1);
        self.last_us = elapsed_us;
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
            ),
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
            .and_then(|line| self.marks.write_all(line.as_bytes()))
            .map_err(SessionError::write(&path))
    }

    /// Keeps what was refused, as long as there is room.
    ///
    /// # Errors
    /// [`SessionError::Write`].
    pub fn reject(&mut self, rejected: &Rejected) -> Result<(), SessionError> {
        if self.rejected_len >= REJECTED_LIMIT {
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
        self.rejected_len += line.len() as u64;
        if self.rejected_len >= REJECTED_LIMIT {
            line.push_str(
                "the log is full; what is refused from here on is counted in the rows alone\n",
            );
        }
        self.rejected
            .write_all(line.as_bytes())
            .map_err(SessionError::write(&self.dir.join("rejected.log")))
    }

    /// Closes the folder: all that was written goes to the disk, and `session.toml` says how it ended.
    ///
    /// # Errors
    /// [`SessionError::Write`]; the rows stand all the same.
    pub fn close(mut self, ended_wall_ms: i64, reason: &str) -> Result<Summary, SessionError> {
        self.meta.state = State::Closed;
        self.meta.ended = Some(rfc3339_ms(ended_wall_ms));
        self.meta.end_reason = Some(reason.to_owned());
        self.meta.summary = Some(self.summary.clone());
        let path = self.dir.join("samples.csv");
        self.samples
            .sync_all()
            .map_err(SessionError::write(&path))?;
        self.write_meta()?;
        Ok(self.summary)
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

pub(super) fn write_new(path: &Path, text: &str) -> Result<File, SessionError> {
    let mut file = OpenOptions::new()
        .append(true)
        .create_new(true)
        .open(path)
        .map_err(SessionError::write(path))?;
    file.write_all(text.as_bytes())
        .map_err(SessionError::write(path))?;
    Ok(file)
}

/// The checksum of a file's bytes as `session.toml` keeps it.
pub(super) fn sha256(bytes: &[u8]) -> String {
    let digest = Sha256::digest(bytes);
    let hex: Vec<String> = digest.iter().map(|byte| format!("{byte:02x}")).collect();
    format!("sha256:{}", hex.concat())
}

/// Writes all it can; how many bytes were taken, and why it stopped.
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

fn lines(rows: &[Row], channels: &[Channel]) -> io::Result<String> {
    csv_text(|csv| {
        for row in rows {
            csv.write_field(rfc3339_ms(row.stamp.wall_ms))?;
            csv.write_field(elapsed(row.stamp))?;
            csv.write_field(&*row.source)?;
            for channel in channels {
                // The shortest form that reads back to the same bits.
                csv.write_field(
                    row.readings
                        .get(*channel)
                        .map_or_else(String::new, |value| value.to_string()),
                )?;
            }
            csv.write_field(row.status.word())?;
            csv.write_field(one_line(&row.note))?;
            csv.write_record(None::<&[u8]>)?;
        }
        Ok(())
    })
}

/// Seconds to the microsecond.
pub(super) fn elapsed(stamp: Stamp) -> String {
    format!(
        "{}.{:06}",
        stamp.elapsed_us.div_euclid(1_000_000),
        stamp.elapsed_us.rem_euclid(1_000_000)
    )
}

/// A text without line ends, so that a line of the file is a row.
fn one_line(text: &str) -> String {
    text.replace(|c: char| c.is_control(), " ")
}

//! `forecast.csv`: the battery's forecasts while a session was recorded. It is made from the rows before each
//! moment and holds no reading of its own.

use std::io;
use std::path::{Path, PathBuf};

use super::csvw;
use super::error::SessionError;
use super::forecast_columns::{COLUMNS, Form};
use super::meta::Meta;
use super::table::Table;
use super::text::{csv_text, elapsed, is_there, write_new};
use crate::clock::{parse_rfc3339_ms, rfc3339_ms};
use crate::input;
use crate::reading::Stamp;
use crate::units::Span;

const FILE: &str = "forecast.csv";
const METADATA: &str = "forecast.csv-metadata.json";

/// The forecast of one moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Foretold {
    /// The stamp of the last row looked at.
    pub stamp: Stamp,
    /// Time under load, in seconds.
    pub running_s: f64,
    /// Voltage under load, in volts.
    pub battery_v: Option<f64>,
    /// Charge so far, in ampere hours.
    pub charge_ah: Option<f64>,
    /// Whether its current was estimated.
    pub is_estimated: bool,
    /// One of the words of the column.
    pub said: &'static str,
    /// Foot, middle and top of the time left, in seconds; no middle where the band is too wide for one.
    pub left_s: Option<(f64, Option<f64>, f64)>,
    /// Foot and top by the battery's own full runs, in seconds.
    pub by_log_s: Option<Span>,
    /// Its basis.
    pub basis: String,
    /// One of the words of the column.
    pub alarm: Option<&'static str>,
}

impl Foretold {
    fn line(&self) -> io::Result<String> {
        // A millisecond and a tenth of a milliampere hour are finer than any forecast.
        let seconds = |value: Option<f64>| value.map_or_else(String::new, |v| format!("{v:.3}"));
        let (low_s, middle_s, high_s) = self
            .left_s
            .map_or((None, None, None), |(low_s, middle_s, high_s)| {
                (Some(low_s), middle_s, Some(high_s))
            });
        let charge_from = match (self.charge_ah, self.is_estimated) {
            (None, _) => "",
            (Some(_), true) => "estimated",
            (Some(_), false) => "measured",
        };
        let fields = [
            rfc3339_ms(self.stamp.wall_ms),
            elapsed(self.stamp),
            format!("{:.3}", self.running_s),
            self.battery_v.map_or_else(String::new, |v| v.to_string()),
            self.charge_ah
                .map_or_else(String::new, |charge_ah| format!("{charge_ah:.7}")),
            charge_from.to_owned(),
            self.said.to_owned(),
            seconds(low_s),
            seconds(middle_s),
            seconds(high_s),
            seconds(self.by_log_s.map(|band| band.low)),
            seconds(self.by_log_s.map(|band| band.high)),
            self.basis.clone(),
            self.alarm.unwrap_or("").to_owned(),
        ];
        csv_text(|csv| csv.write_record(fields))
    }
}

/// Writes `forecast.csv`, a line per forecast.
#[derive(Debug)]
pub struct ForecastWriter {
    table: Table,
    path: PathBuf,
    last_us: i64,
}

impl ForecastWriter {
    /// Makes the table and its description in a session folder.
    ///
    /// # Errors
    /// [`SessionError::Write`].
    pub fn create(dir: &Path, meta: &Meta) -> Result<Self, SessionError> {
        let path = dir.join(FILE);
        let table =
            Table::create(&path, &format!("{}\n", header())).map_err(SessionError::write(&path))?;
        write_new(&dir.join(METADATA), &csvw::forecast_metadata(meta))?;
        Ok(Self {
            table,
            path,
            last_us: -1,
        })
    }

    /// Writes one; a moment that is not later than the last is left out.
    ///
    /// # Errors
    /// [`SessionError::Write`].
    pub fn append(&mut self, foretold: &Foretold) -> Result<(), SessionError> {
        if foretold.stamp.elapsed_us <= self.last_us {
            return Ok(());
        }
        foretold
            .line()
            .and_then(|line| self.table.append(&line).map_err(|refused| refused.why))
            .map_err(SessionError::write(&self.path))?;
        self.last_us = foretold.stamp.elapsed_us;
        Ok(())
    }
}

fn header() -> String {
    COLUMNS.map(|(name, ..)| name).join(",")
}

/// Returns the faults of the table in a folder, each with its file; nothing where no forecast was asked for.
pub(super) fn faults(dir: &Path) -> Result<Vec<(&'static str, String)>, SessionError> {
    let path = dir.join(FILE);
    if !is_there(&path) {
        return Ok(Vec::new());
    }
    let bytes = input::read(&path).map_err(SessionError::read(&path))?;
    let mut faults = Vec::new();
    if !dir.join(METADATA).is_file() {
        faults.push((METADATA, "it is missing".to_owned()));
    }
    let whole = whole_len(&bytes);
    if whole < bytes.len() {
        faults.push((FILE, "the last line was cut off".to_owned()));
    }
    let text = String::from_utf8_lossy(bytes.get(..whole).unwrap_or(&[]));
    let mut lines = text.lines();
    if lines.next() != Some(header().as_str()) {
        faults.push((
            FILE,
            "its header is not the one that record writes".to_owned(),
        ));
        return Ok(faults);
    }
    let mut last_us = i64::MIN;
    let (mut bad, mut first_bad, mut backwards) = (0_u64, 0, 0_u64);
    for (index, line) in lines.enumerate() {
        if let Some(at_us) = elapsed_us(line) {
            backwards += u64::from(at_us <= last_us);
            last_us = at_us;
        } else {
            bad += 1;
            first_bad = if bad == 1 { index + 2 } else { first_bad };
        }
    }
    if bad > 0 {
        let what = format!("lines that are no forecasts: {bad}, the first is line {first_bad}");
        faults.push((FILE, what));
    }
    if backwards > 0 {
        let what = format!("forecasts at which elapsed time does not rise: {backwards}");
        faults.push((FILE, what));
    }
    Ok(faults)
}

/// Bytes up to the last line that is whole.
pub(super) fn whole_len(bytes: &[u8]) -> usize {
    let end = bytes.iter().rposition(|byte| *byte == b'\n');
    end.map_or(0, |end| end + 1)
}

/// Returns the moment of a line whose every field has its column's form; `None` if one has not.
fn elapsed_us(line: &str) -> Option<i64> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(line.as_bytes());
    let record = reader.records().next()?.ok()?;
    let is_number = |text: &str| text.parse::<f64>().is_ok_and(f64::is_finite);
    let fits = |(field, (_, _, form)): (&str, &(&str, &str, Form))| match form {
        Form::Time => parse_rfc3339_ms(field).is_some(),
        Form::Decimal => is_number(field),
        Form::Number => field.is_empty() || is_number(field),
        Form::Text => true,
        Form::Words(words) => field.is_empty() || words.contains(&field),
    };
    let is_whole = record.len() == COLUMNS.len() && record.iter().zip(&COLUMNS).all(fits);
    let (seconds, micros) = record.get(1)?.split_once('.')?;
    let elapsed_us =
        seconds.parse::<i64>().ok()?.checked_mul(1_000_000)? + micros.parse::<i64>().ok()?;
    (is_whole && micros.len() == 6).then_some(elapsed_us)
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    fn foretold(elapsed_us: i64) -> Foretold {
        Foretold {
            stamp: Stamp {
                elapsed_us,
                wall_ms: 1_770_000_000_000,
            },
            running_s: 600.0,
            battery_v: Some(8.1),
            charge_ah: Some(0.05),
            is_estimated: true,
            said: "forecast",
            left_s: Some((900.0, Some(1200.0), 1500.0)),
            by_log_s: None,
            basis: "own runs".to_owned(),
            alarm: Some("little-left"),
        }
    }

    fn table(lines: &[String]) -> (tempfile::TempDir, Vec<(&'static str, String)>) {
        let dir = tempfile::tempdir().unwrap();
        fs::write(dir.path().join(METADATA), "{}").unwrap();
        let text = format!("{}\n{}", header(), lines.concat());
        fs::write(dir.path().join(FILE), text).unwrap();
        let faults = faults(dir.path()).unwrap();
        (dir, faults)
    }

    #[test]
    fn a_line_says_what_is_left_and_where_the_charge_comes_from() {
        insta::assert_snapshot!(foretold(612_345_678).line().unwrap(), @"2026-02-02T02:40:00.000Z,612.345678,600.000,8.1,0.0500000,estimated,forecast,900.000,1200.000,1500.000,,,own runs,little-left");
    }

    #[test]
    fn what_was_written_is_whole_and_what_was_spoilt_is_found() {
        let line = |at_us| foretold(at_us).line().unwrap();
        let good = [line(1_000_000), line(2_000_000)];
        assert_eq!(table(&good).1, []);
        let spoilt = [
            ("forecast,900", "perhaps,900"),
            ("900.000", "soon"),
            ("1.000000", "1.0"),
            (",own runs", ""),
        ];
        for (from, to) in spoilt {
            let bad = [good[0].replace(from, to)];
            assert_ne!(bad[0], good[0]);
            let what = table(&bad).1;
            assert!(
                what[0]
                    .1
                    .starts_with("lines that are no forecasts: 1, the first is line 2"),
                "{to}: {what:?}"
            );
        }
        let swapped = table(&[line(2_000_000), line(1_000_000)]).1;
        assert!(swapped[0].1.contains("does not rise: 1"), "{swapped:?}");
        let torn = table(&[good[0].clone(), good[1].get(..30).unwrap().to_owned()]).1;
        assert_eq!(torn, [(FILE, "the last line was cut off".to_owned())]);
        let (dir, _) = table(&good);
        fs::remove_file(dir.path().join(METADATA)).unwrap();
        assert_eq!(faults(dir.path()).unwrap()[0].0, METADATA);
    }

    #[test]
    fn a_folder_without_a_forecast_lacks_nothing() {
        let dir = tempfile::tempdir().unwrap();
        assert_eq!(faults(dir.path()).unwrap(), []);
    }
}

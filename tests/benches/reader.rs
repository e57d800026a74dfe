//! How fast a session is read back: our reader, a line a row, against the `csv` crate making the same rows, in the same
//! run. Prints the ratio; a time alone would say more of the machine than of the program.

use std::fmt::Write as _;
use std::fs;
use std::hint::black_box;
use std::path::Path;
use std::sync::Arc;

use sagtrace::clock::{Clock, parse_rfc3339_ms};
use sagtrace::reading::{Channel, Readings, Row, Stamp, Status};
use sagtrace::session::RowReader;

const ROWS: usize = 500_000;
const ROUNDS: usize = 5;

fn ours(path: &Path) -> f64 {
    let mut reader = RowReader::open(path).expect("the table opens");
    let mut rows = Vec::new();
    let mut sum = 0.0;
    while reader.next_chunk(&mut rows).expect("the table is read") {
        for row in &rows {
            sum += row.good(Channel::FrequencyHz).unwrap_or(0.0) + row.stamp.elapsed_s();
        }
    }
    sum
}

/// The baseline: the same rows made from the crate's records.
#[expect(
    clippy::cast_possible_truncation,
    reason = "the times of this table are small"
)]
fn with_csv(path: &Path) -> f64 {
    let mut reader = csv::Reader::from_path(path).expect("the table opens");
    let mut record = csv::StringRecord::new();
    let mut source: Arc<str> = Arc::from("");
    let mut rows = Vec::new();
    let mut sum = 0.0;
    while reader.read_record(&mut record).expect("the table is read") {
        let field = |index: usize| record.get(index).expect("a field");
        if *source != *field(2) {
            source = Arc::from(field(2));
        }
        let elapsed_s: f64 = field(1).parse().expect("a number");
        let mut readings = Readings::default();
        readings.set(Channel::FrequencyHz, field(3).parse().expect("a number"));
        readings.set(Channel::BatteryV, field(4).parse().expect("a number"));
        let row = Row {
            stamp: Stamp {
                elapsed_us: (elapsed_s * 1e6).round() as i64,
                wall_ms: parse_rfc3339_ms(field(0)).expect("a time"),
            },
            source: Arc::clone(&source),
            readings,
            status: Status::from_word(field(5)).expect("a status"),
            note: field(6).into(),
        };
        rows.push(row);
        if rows.len() == 4096 {
            sum += total(&rows);
            rows.clear();
        }
    }
    sum + total(&rows)
}

fn total(rows: &[Row]) -> f64 {
    rows.iter()
        .map(|row| row.good(Channel::FrequencyHz).unwrap_or(0.0) + row.stamp.elapsed_s())
        .sum()
}

/// The shortest of several rounds, in seconds.
fn shortest(path: &Path, read: fn(&Path) -> f64) -> (f64, f64) {
    let mut sum = 0.0;
    let mut best_s = f64::INFINITY;
    for _ in 0..ROUNDS {
        let clock = Clock::real();
        sum = black_box(read(path));
        best_s = best_s.min(clock.elapsed_s());
    }
    (best_s, sum)
}

fn main() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let path = dir.path().join("samples.csv");
    let mut text = String::from("timestamp,elapsed_s,source,frequency_hz,battery_v,status,note\n");
    for index in 0..ROWS {
        let (seconds, millis) = (index / 100, index % 100 * 10);
        let frequency_hz = 6_231_234.5 - index as f64 / 100.0;
        let (hour, minute, second) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
        let time = format!("2026-01-31T{hour:02}:{minute:02}:{second:02}.{millis:03}Z");
        writeln!(
            text,
            "{time},{seconds}.{millis:03}000,counter,{frequency_hz},8.912,ok,"
        )
        .expect("a text takes it");
    }
    fs::write(&path, text).expect("the table is written");
    let (ours_s, ours_sum) = shortest(&path, ours);
    let (csv_s, csv_sum) = shortest(&path, with_csv);
    assert!(
        (ours_sum - csv_sum).abs() < 1e-9 * csv_sum.abs(),
        "both read the same: {ours_sum} and {csv_sum}"
    );
    let rate = |seconds: f64| ROWS as f64 / seconds / 1e6;
    println!(
        "our reader           {:.2} million rows a second",
        rate(ours_s)
    );
    println!(
        "csv crate            {:.2} million rows a second (baseline)",
        rate(csv_s)
    );
    println!(
        "ratio                {:.2} times as fast as the baseline",
        csv_s / ours_s
    );
}

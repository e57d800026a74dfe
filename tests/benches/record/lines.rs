//! Lines as fast as they are taken: from a pseudo-terminal to rows on disk.

use std::io::Write as _;
use std::path::Path;
use std::process::Command;
use std::time::Duration;

use rustix::fd::OwnedFd;
use sagtrace::clock::Clock;
use sagtrace::reading::{Channel, Row};
use sagtrace::session::RowReader;

use crate::child::{Recorder, Use, on_one_core, wait_for_rest};
use crate::line::{pause, pseudo_terminal};

const MILLION: u32 = 1_000_000;
const ROUNDS: usize = 3;

/// A Python with pyserial, as `.ci/run` sets it up.
const PYTHON: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/target/ci-python/bin/python");
const SCRIPT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/compare/lines_to_csv.py");

/// What the line of this number holds, in tenths of a hertz and in millivolts.
fn numbers(line: u32) -> (u32, u32) {
    (10_000_000 + line, line % 9_000 + 1_000)
}

fn add_line(text: &mut Vec<u8>, line: u32) {
    let (tenths_hz, millivolts) = numbers(line);
    writeln!(
        text,
        "f={}.{}Hz v={}.{:03}V",
        tenths_hz / 10,
        tenths_hz % 10,
        millivolts / 1000,
        millivolts % 1000
    )
    .expect("a vector takes it");
}

/// Says lines of these numbers; the line takes none before it is read.
fn say(master: &OwnedFd, lines: std::ops::Range<u32>) {
    let mut text = Vec::new();
    for line in lines.clone() {
        add_line(&mut text, line);
        if text.len() > 1 << 16 || line + 1 == lines.end {
            let mut rest = text.as_slice();
            while !rest.is_empty() {
                let count = rustix::io::write(master, rest).expect("the line takes it");
                rest = &rest[count..];
            }
            text.clear();
        }
    }
}

/// The end of the table when the row of this line is there.
fn ends_with(line: u32) -> impl Fn(&[u8]) -> bool {
    let (tenths_hz, _) = numbers(line);
    let hertz = format!(",{},", f64::from(tenths_hz) / 10.0);
    move |end| {
        let text = String::from_utf8_lossy(end);
        text.ends_with('\n') && text.lines().last().is_some_and(|row| row.contains(&hertz))
    }
}

/// Counts rows, which must be the lines from the first on, each once, with the same digits.
fn check(path: &Path, count: u32) {
    let mut reader = RowReader::open(path).expect("the table opens");
    let (mut rows, mut line): (Vec<Row>, _) = (Vec::new(), 0);
    while reader.next_chunk(&mut rows).expect("the table is read") {
        for row in rows.drain(..) {
            let (tenths_hz, millivolts) = numbers(line);
            let value = |channel| row.readings.get(channel).expect("a value");
            let want = (f64::from(tenths_hz) / 10.0, f64::from(millivolts) / 1000.0);
            let got = (value(Channel::FrequencyHz), value(Channel::BatteryV));
            assert!(
                (got.0 - want.0).abs() < 1e-6 && (got.1 - want.1).abs() < 1e-9,
                "line {line}: {got:?} where {want:?} was sent"
            );
            line += 1;
        }
    }
    assert_eq!((line, reader.skipped().bad_lines), (count, 0), "rows");
}

/// One run of a recorder.
struct Run {
    wall_s: f64,
    busy_s: f64,
    /// After a million lines.
    early: Use,
    late: Use,
}

impl Run {
    fn told(&self, name: &str, count: u32) {
        let lines = f64::from(count);
        println!(
            "{name:<22} {:.2} million lines a second of one core's time, {:.2} as they came in",
            lines / self.busy_s / 1e6,
            lines / self.wall_s / 1e6
        );
    }
}

/// Says a number of lines to a recorder that is on the line, and waits until all their rows stand in the table.
fn measure(recorder: &Recorder, master: &OwnedFd, table: &Path, count: u32) -> Run {
    // The first line may be a fragment, and is dropped as such.
    rustix::io::write(master, b"dropped\n").expect("the line takes it");
    pause(Duration::from_millis(300));
    let before = recorder.usage();
    let clock = Clock::real();
    say(master, 0..MILLION.min(count));
    let early = recorder.usage();
    say(master, MILLION.min(count)..count);
    wait_for_rest(table, ends_with(count - 1));
    let wall_s = clock.elapsed_s();
    let late = recorder.usage();
    Run {
        wall_s,
        busy_s: late.busy_s - before.busy_s,
        early,
        late,
    }
}

fn ours(count: u32) -> Run {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let (master, port) = pseudo_terminal();
    let address = format!("plain-lines@serial:{port}");
    let recorder = Recorder::start(dir.path(), &["-i", &address]);
    let table = dir.path().join("out/samples.csv");
    wait_for_rest(&table, |end| end.ends_with(b"note\n"));
    let run = measure(&recorder, &master, &table, count);
    recorder.interrupt();
    check(&table, count);
    run
}

fn with_python(count: u32) -> Run {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let (master, port) = pseudo_terminal();
    let table = dir.path().join("samples.csv");
    let mut command: Command = on_one_core(PYTHON);
    command
        .arg(SCRIPT)
        .arg(&port)
        .arg(&table)
        .arg(count.to_string());
    let recorder = Recorder::spawn(dir.path(), &mut command);
    wait_for_rest(&table, |end| end.ends_with(b"note\n"));
    let run = measure(&recorder, &master, &table, count);
    recorder.wait();
    check(&table, count);
    run
}

/// The best of some rounds, as other programs take from a core what they take.
fn best(mut record: impl FnMut() -> Run) -> Run {
    let rounds = (0..ROUNDS).map(|_| record());
    let by_time = |one: &Run, other: &Run| one.busy_s.total_cmp(&other.busy_s);
    rounds.min_by(by_time).expect("there are rounds")
}

pub(crate) fn run() {
    let python = best(|| with_python(MILLION));
    python.told("pyserial and csv", MILLION);
    let once = best(|| ours(MILLION));
    once.told("our recorder", MILLION);
    println!(
        "ratio                  {:.1} times as fast as the script (baseline), {:.1} as they came in; no line lost",
        python.busy_s / once.busy_s,
        python.wall_s / once.wall_s
    );
    let long = ours(10 * MILLION);
    long.told("ten million lines", 10 * MILLION);
    println!(
        "memory                 at most {} KiB after one million lines, {} KiB after ten",
        long.early.peak_kib, long.late.peak_kib
    );
}

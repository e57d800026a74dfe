//! Ten rows a second: what the program takes while it mostly waits.

use std::fmt::Write as _;
use std::path::Path;
use std::time::Duration;

use rustix::fd::OwnedFd;
use sagtrace::clock::Clock;

use crate::child::Recorder;
use crate::line::{pause, pseudo_terminal};
use crate::polling::Instrument;

/// How long it is looked at.
const SECONDS: u32 = 30;

/// Its share of a core, and its memory.
fn told(name: &str, recorder: &Recorder) -> f64 {
    // What it takes to start is not what it takes to run.
    pause(Duration::from_secs(3));
    let (before, clock) = (recorder.usage(), Clock::real());
    pause(Duration::from_secs(SECONDS.into()));
    let after = recorder.usage();
    let share = (after.busy_s - before.busy_s) / clock.elapsed_s();
    println!(
        "{name:<26} {:.2} % of a core, at most {} KiB",
        100.0 * share,
        after.peak_kib
    );
    share
}

fn board(master: &OwnedFd, rows: u32) {
    for row in 0..rows {
        let mut line = String::new();
        writeln!(line, "f=62312{:02}.5Hz v=8.9{:02}V", row % 100, row % 97)
            .expect("a text takes it");
        rustix::io::write(master, line.as_bytes()).expect("the line takes it");
        pause(Duration::from_millis(100));
    }
}

/// A board that says ten lines a second while somebody listens.
fn listened(name: &str, start: impl FnOnce(&Path, &str) -> Recorder) -> f64 {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let (master, port) = pseudo_terminal();
    let recorder = start(dir.path(), &port);
    // It has set its line by then; what was said before is thrown away with that.
    pause(Duration::from_secs(1));
    let share = std::thread::scope(|scope| {
        let saying = scope.spawn(|| board(&master, 10 * (SECONDS + 4)));
        let share = told(name, &recorder);
        saying.join().expect("it says them all");
        share
    });
    recorder.kill();
    share
}

/// A counter that is asked ten times a second.
fn asked(name: &str, start: impl FnOnce(&Path, &str) -> Recorder) -> f64 {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let (instrument, thread) = Instrument::start(Duration::ZERO);
    let recorder = start(dir.path(), &instrument.port);
    let share = told(name, &recorder);
    recorder.kill();
    instrument.finish(thread);
    share
}

pub(crate) fn run() {
    let bare_lines = listened("a bare loop, 10 lines/s", |dir, port| {
        Recorder::bare(dir, "lines", port)
    });
    let lines = listened("a board, 10 lines/s", |dir, port| {
        Recorder::start(dir, &["-i", &format!("plain-lines@serial:{port}")])
    });
    println!("ratio {:.2} (baseline: the bare loop)", lines / bare_lines);
    let bare_asks = asked("a bare loop, 10 rows/s", |dir, port| {
        Recorder::bare(dir, "asks", port)
    });
    let asks = asked("a counter, 10 rows/s", |dir, port| {
        let address = format!("scpi-counter@serial:{port}");
        Recorder::start(dir, &["-i", &address, "--every", "100ms"])
    });
    println!("ratio {:.2} (baseline: the bare loop)", asks / bare_asks);
}

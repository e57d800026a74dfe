//! Ten rows a second: what the program takes while it mostly waits.

use std::fmt::Write as _;
use std::time::Duration;

use rustix::fd::OwnedFd;
use sagtrace::clock::Clock;

use crate::child::{Recorder, wait_for_rest};
use crate::line::{pause, pseudo_terminal};
use crate::polling::Instrument;

/// How long it is looked at.
const SECONDS: u32 = 30;

/// Its share of a core, and its memory.
fn told(name: &str, recorder: Recorder) {
    // What it takes to start is not what it takes to run.
    pause(Duration::from_secs(3));
    let (before, clock) = (recorder.usage(), Clock::real());
    pause(Duration::from_secs(SECONDS.into()));
    let after = recorder.usage();
    let share = (after.busy_s - before.busy_s) / clock.elapsed_s();
    println!(
        "{name:<22} {:.2} % of a core, at most {} KiB",
        100.0 * share,
        after.peak_kib
    );
    recorder.interrupt();
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

pub(crate) fn run() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let (master, port) = pseudo_terminal();
    let address = format!("plain-lines@serial:{port}");
    let recorder = Recorder::start(dir.path(), &["-i", &address]);
    wait_for_rest(&dir.path().join("out/samples.csv"), |end| {
        end.ends_with(b"note\n")
    });
    std::thread::scope(|scope| {
        scope.spawn(|| board(&master, 10 * (SECONDS + 5)));
        told("a board, 10 lines/s", recorder);
    });
    let dir = tempfile::tempdir().expect("a temporary folder");
    let (instrument, thread) = Instrument::start(Duration::ZERO);
    let address = format!("scpi-counter@serial:{}", instrument.port);
    let recorder = Recorder::start(dir.path(), &["-i", &address, "--every", "100ms"]);
    told("a counter, 10 rows/s", recorder);
    instrument.finish(thread);
}

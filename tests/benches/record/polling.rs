//! What asking costs beside the instrument's own time, and which moment a row is of.

use std::collections::BTreeMap;
use std::io::{Read as _, Write as _};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use rustix::fd::{AsFd, OwnedFd};
use sagtrace::clock::{Clock, parse_rfc3339_ms};
use sagtrace::reading::Stamp;

use crate::child::{Recorder, wait_for_rest};
use crate::line::{pause, pseudo_terminal};

/// How long the instrument takes for each answer.
const ANSWER: Duration = Duration::from_millis(2);
/// How long the rest of an answer takes behind its first byte, where that is tried.
const SLOW_REST: Duration = Duration::from_millis(20);
const ROUNDS: usize = 1000;

/// One question on the line, on one clock.
#[derive(Debug, Clone)]
pub(crate) struct Heard {
    question: String,
    /// When its end was heard.
    asked: Stamp,
    /// When the first byte of the answer was sent.
    answered: Stamp,
}

/// An instrument that logs what it does.
pub(crate) struct Instrument {
    master: OwnedFd,
    pub(crate) port: String,
    clock: Clock,
    rest: Duration,
    log: Mutex<Vec<Heard>>,
    ends: AtomicBool,
}

fn answer(question: &str) -> Option<&'static str> {
    match question {
        "*IDN?" => Some("glow pillar,counter,0,1"),
        "*OPC?" => Some("1"),
        "SYST:ERR?" => Some("0,\"No error\""),
        "MEAS:FREQ?" => Some("+6.231234500E+06"),
        "MEAS:VOLT:DC?" => Some("+8.91200000E+00"),
        _ => None,
    }
}

impl Instrument {
    /// An instrument whose answers come in one piece, or with a pause behind the first byte.
    pub(crate) fn start(rest: Duration) -> (Arc<Self>, std::thread::JoinHandle<()>) {
        let (master, port) = pseudo_terminal();
        let instrument = Arc::new(Self {
            master,
            port,
            clock: Clock::real(),
            rest,
            log: Mutex::default(),
            ends: AtomicBool::new(false),
        });
        let served = Arc::clone(&instrument);
        let thread = std::thread::spawn(move || served.serve());
        (instrument, thread)
    }

    fn serve(&self) {
        let (mut heard, mut buffer) = (Vec::new(), [0; 256]);
        while !self.ends.load(Ordering::Relaxed) {
            let mut wait = [rustix::event::PollFd::new(
                &self.master,
                rustix::event::PollFlags::IN,
            )];
            let time = rustix::event::Timespec {
                tv_sec: 0,
                tv_nsec: 50_000_000,
            };
            rustix::event::poll(&mut wait, Some(&time)).expect("it can be waited for");
            if !wait[0].revents().contains(rustix::event::PollFlags::IN) {
                if wait[0].revents().contains(rustix::event::PollFlags::HUP) {
                    pause(Duration::from_millis(1));
                }
                continue;
            }
            let Ok(count) = rustix::io::read(self.master.as_fd(), &mut buffer) else {
                continue;
            };
            let asked = self.clock.now();
            heard.extend_from_slice(&buffer[..count]);
            while let Some(end) = heard.iter().position(|byte| *byte == b'\n') {
                let line: Vec<u8> = heard.drain(..=end).collect();
                let question = String::from_utf8_lossy(&line).trim().to_owned();
                self.take(&question, asked);
            }
        }
    }

    fn take(&self, question: &str, asked: Stamp) {
        let Some(answer) = answer(question) else {
            return;
        };
        let answered = self.wait_until(asked, ANSWER);
        let text = format!("{answer}\n");
        let (first, rest) = text.as_bytes().split_at(1);
        if self.rest.is_zero() {
            rustix::io::write(&self.master, text.as_bytes()).expect("the line takes it");
        } else {
            rustix::io::write(&self.master, first).expect("the line takes it");
            self.wait_until(answered, self.rest);
            rustix::io::write(&self.master, rest).expect("the line takes it");
        }
        self.log.lock().expect("nobody failed").push(Heard {
            question: question.to_owned(),
            asked,
            answered,
        });
    }

    /// Waits until a time after a moment, to some microseconds. Returns the moment then.
    fn wait_until(&self, from: Stamp, wait: Duration) -> Stamp {
        let wait_us = i64::try_from(wait.as_micros()).expect("a short wait");
        loop {
            let now = self.clock.now();
            let left_us = from.elapsed_us + wait_us - now.elapsed_us;
            if left_us <= 0 {
                return now;
            }
            if left_us > 500 {
                pause(Duration::from_micros(
                    u64::try_from(left_us - 300).expect("a short wait"),
                ));
            }
        }
    }

    /// Ends it; what it logged.
    pub(crate) fn finish(&self, thread: std::thread::JoinHandle<()>) -> Vec<Heard> {
        self.ends.store(true, Ordering::Relaxed);
        thread.join().expect("the instrument works");
        self.log.lock().expect("nobody failed").clone()
    }
}

/// From one question of a row to the next, by the instrument's log, in milliseconds: the median.
fn period_ms(log: &[Heard], from: &str, to: &str) -> f64 {
    let mut periods: Vec<i64> = log
        .windows(2)
        .filter(|pair| pair[0].question == from && pair[1].question == to)
        .map(|pair| pair[1].asked.elapsed_us - pair[0].asked.elapsed_us)
        .collect();
    periods.sort_unstable();
    periods[periods.len() / 2] as f64 / 1e3
}

/// The baseline: asks and reads in a bare loop.
fn bare() -> Vec<Heard> {
    let (instrument, thread) = Instrument::start(Duration::ZERO);
    let mut port = serialport::new(&instrument.port, 115_200)
        .timeout(Duration::from_secs(5))
        .open()
        .expect("the line opens");
    let mut byte = [0; 64];
    for round in 0..2 * ROUNDS {
        let question: &[u8] = [b"MEAS:FREQ?\n".as_slice(), b"MEAS:VOLT:DC?\n"][round % 2];
        port.write_all(question).expect("the line takes it");
        loop {
            let count = port.read(&mut byte).expect("an answer");
            if byte[..count].ends_with(b"\n") {
                break;
            }
        }
    }
    instrument.finish(thread)
}

/// Records this number of rows. Returns the instrument's log, and the table.
fn recorded(rest: Duration, every: &str, rows: usize) -> (Vec<Heard>, String) {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let (instrument, thread) = Instrument::start(rest);
    let address = format!("scpi-counter@serial:{}", instrument.port);
    let recorder = Recorder::start(dir.path(), &["-i", &address, "--every", every]);
    let table = dir.path().join("out/samples.csv");
    wait_for_rest(&table, |_| {
        let log = instrument.log.lock().expect("nobody failed");
        log.iter()
            .filter(|heard| heard.question == "MEAS:VOLT:DC?")
            .count()
            > rows
    });
    recorder.interrupt();
    let log = instrument.finish(thread);
    (log, std::fs::read_to_string(table).expect("the table"))
}

/// How many milliseconds behind the first byte of its last answer each row is, by the wall clock: how many rows by how many.
fn lateness(log: &[Heard], table: &str) -> BTreeMap<i64, usize> {
    let answered = log.iter().filter(|heard| heard.question == "MEAS:VOLT:DC?");
    let mut count = BTreeMap::new();
    for (row, heard) in table.lines().skip(1).zip(answered) {
        let time = row.split(',').next().expect("a time");
        let row_ms = parse_rfc3339_ms(time).expect("a time");
        *count.entry(row_ms - heard.answered.wall_ms).or_default() += 1;
    }
    count
}

pub(crate) fn run() {
    let bare = bare();
    let (ours, _) = recorded(Duration::ZERO, "1ms", ROUNDS);
    let (frequency, battery) = ("MEAS:FREQ?", "MEAS:VOLT:DC?");
    let bare_ms = period_ms(&bare, frequency, battery);
    let ours_ms = period_ms(&ours, frequency, battery);
    println!("bare loop              {bare_ms:.3} ms from question to question (baseline)");
    println!(
        "our recorder           {ours_ms:.3} ms within a row: {:+.3} ms, {:+.1} %",
        ours_ms - bare_ms,
        100.0 * (ours_ms / bare_ms - 1.0)
    );
    let bare_ms = period_ms(&bare, battery, frequency);
    let ours_ms = period_ms(&ours, battery, frequency);
    println!(
        "                       {ours_ms:.3} ms from row to row: {:+.3} ms to the baseline",
        ours_ms - bare_ms
    );
    let (log, table) = recorded(SLOW_REST, "100ms", 100);
    let late = lateness(&log, &table);
    println!(
        "times of rows          behind the first byte, where the rest came {} ms later: {}",
        SLOW_REST.as_millis(),
        late.iter()
            .map(|(ms, rows)| format!("{rows} rows by {ms} ms"))
            .collect::<Vec<_>>()
            .join(", ")
    );
}

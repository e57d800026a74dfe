//! Two instruments in one session: each row keeps the time of its first byte, and all bytes play back to the same rows.

use sagtrace::bench::Instrument;
use sagtrace::bench::lines::Lines;
use sagtrace::bench::pty::Device;
use sagtrace::bench::world::World;
use sagtrace::reading::{Row, Status};
use sagtrace::session::Session;

use crate::common::Desk;
use crate::line::device;

const DONE: Option<i32> = Some(0);

/// How long the rest of a voltage is behind its first byte: as a scope's block is, on a slow line.
const DRAWL_S: f64 = 0.3;

/// A counter that says the beginning of a voltage at once and the rest much later.
#[derive(Debug, Default)]
struct Drawling {
    heard: Vec<u8>,
    rest_s: Option<f64>,
}

impl Instrument for Drawling {
    fn hear(&mut self, bytes: &[u8], _world: &World, elapsed_s: f64) -> Vec<Vec<u8>> {
        self.heard.extend_from_slice(bytes);
        let mut said = Vec::new();
        while let Some(at) = self.heard.iter().position(|byte| *byte == b'\n') {
            let question: Vec<u8> = self.heard.drain(..=at).collect();
            let answer: &[u8] = match question.trim_ascii() {
                b"*IDN?" => b"club,drawling,7,1\n",
                b"*OPC?" => b"1\n",
                b"SYST:ERR?" => b"0,\"No error\"\n",
                b"MEAS:FREQ?" => b"6.2E+06\n",
                b"MEAS:VOLT:DC?" => {
                    self.rest_s = Some(elapsed_s + DRAWL_S);
                    b"8."
                }
                _ => continue,
            };
            said.push(answer.to_vec());
        }
        said
    }

    fn due_s(&self) -> Option<f64> {
        self.rest_s
    }

    fn speak(&mut self, _world: &World) -> Vec<u8> {
        self.rest_s = None;
        b"9125\n".to_vec()
    }
}

fn at(label: &str, profile: &str, device: &Device) -> String {
    format!("{label}={profile}@serial:{}", device.path().display())
}

/// The rows of a session as they are read: in the order of time.
fn in_order(desk: &Desk, folder: &str) -> Vec<Row> {
    let session = Session::open(&desk.path().join(folder)).unwrap();
    let (mut reader, mut all, mut rows) = (session.rows().unwrap(), Vec::new(), Vec::new());
    while reader.next_chunk(&mut rows).unwrap() {
        all.append(&mut rows);
    }
    all
}

fn of<'r>(rows: &'r [Row], source: &'r str) -> Vec<&'r Row> {
    rows.iter().filter(|row| &*row.source == source).collect()
}

fn rises(rows: &[&Row]) -> bool {
    rows.windows(2)
        .all(|pair| pair[0].stamp.elapsed_us < pair[1].stamp.elapsed_us)
}

#[test]
fn a_row_that_is_whole_late_keeps_its_time_beside_another_instrument_and_plays_back() {
    let desk = Desk::new();
    let slow = device(Drawling::default(), Vec::new());
    let board = device(Lines::plain(0.02).unwrap(), Vec::new());
    let (slow, board) = (
        at("slow", "quick-scpi-counter", &slow),
        at("board", "quick-plain-lines", &board),
    );
    let args = [
        "-i",
        &slow,
        "-i",
        &board,
        "--every",
        "400ms",
        "--for",
        "4s",
        "--keep-bytes",
    ];
    desk.record(&args).well();
    let written = desk.rows();
    let late = written.windows(2).filter(|pair| {
        let behind_us = pair[0].stamp.elapsed_us - pair[1].stamp.elapsed_us;
        &*pair[1].source == "slow" && behind_us > 200_000
    });
    assert!(late.count() >= 3, "they were written {DRAWL_S} s late");
    for source in ["slow", "board"] {
        let rows = of(&written, source);
        assert!(rows.len() >= 5 && rises(&rows), "{source}");
        assert!(rows.iter().all(|row| row.status == Status::Ok), "{source}");
    }
    let rows = in_order(&desk, "out");
    assert!(
        rows.windows(2)
            .all(|pair| pair[0].stamp.elapsed_us <= pair[1].stamp.elapsed_us)
    );
    let ended = desk.run(&["check", "out"]);
    assert_eq!(ended.code, DONE, "{}{}", ended.stdout, ended.stderr);
    desk.run(&[
        "record",
        "-i",
        "slow=quick-scpi-counter@log:out/bytes/slow.log",
        "-i",
        "board=quick-plain-lines@log:out/bytes/board.log",
        "-o",
        "again",
    ])
    .well();
    let again = in_order(&desk, "again");
    for source in ["slow", "board"] {
        let (one, other) = (of(&rows, source), of(&again, source));
        assert_eq!(one, other, "{source}");
    }
}

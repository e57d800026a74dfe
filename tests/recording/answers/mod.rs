//! Every kind of text answer, from instruments on real pseudo-terminals to rows; and all their bytes, kept and played again.

use std::collections::VecDeque;
use std::process::Command;
use std::time::Duration;

use sagtrace::bench::Instrument;
use sagtrace::bench::faults::{Fault, FaultKind};
use sagtrace::bench::lines::Lines;
use sagtrace::bench::pty::Device;
use sagtrace::bench::scpi::Scpi;
use sagtrace::bench::world::World;
use sagtrace::reading::{Channel, Row, Status};

use crate::common::{Desk, Ended, Running, wait_until};
use crate::line::device;

mod played;
mod proved;

const PLAIN_LINES: &str = include_str!("../../../devices/plain-lines.toml");

const DONE: Option<i32> = Some(0);
const USAGE: Option<i32> = Some(2);
const INSTRUMENT: Option<i32> = Some(3);

/// Answers questions from a list, and counts nothing; what it does not know it leaves to its queue of complaints.
#[derive(Debug)]
struct Parrot {
    answers: Vec<(&'static str, &'static str)>,
    end: &'static str,
    heard: Vec<u8>,
    complaints: VecDeque<String>,
}

impl Parrot {
    fn new(answers: &[(&'static str, &'static str)]) -> Self {
        Self {
            answers: answers.to_vec(),
            end: "\n",
            heard: Vec::new(),
            complaints: VecDeque::new(),
        }
    }

    fn answer(&mut self, message: &str) -> Option<String> {
        let known = self
            .answers
            .iter()
            .find(|(question, _)| *question == message);
        match (known, message) {
            (Some((_, answer)), _) => Some((*answer).to_owned()),
            (None, "*IDN?") => Some("club,parrot,7,1".to_owned()),
            (None, "*OPC?") => Some("1".to_owned()),
            (None, "*CLS") => {
                self.complaints.clear();
                None
            }
            (None, "SYST:ERR?") => {
                let none = "0,\"No error\"".to_owned();
                Some(self.complaints.pop_front().unwrap_or(none))
            }
            (None, other) => {
                self.complaints
                    .push_back(format!("-113,\"Undefined header;{other};\""));
                None
            }
        }
    }
}

impl Instrument for Parrot {
    fn hear(&mut self, bytes: &[u8], _world: &World, _elapsed_s: f64) -> Vec<Vec<u8>> {
        self.heard.extend_from_slice(bytes);
        let mut answers = Vec::new();
        while let Some(at) = self.heard.iter().position(|byte| *byte == b'\n') {
            let message: Vec<u8> = self.heard.drain(..=at).collect();
            let message = String::from_utf8(message).unwrap();
            if let Some(answer) = self.answer(message.trim()) {
                answers.push(format!("{answer}{}", self.end).into_bytes());
            }
        }
        answers
    }
}

/// Says pieces of bytes one after the other, 20 ms apart, repeatedly from a given one on.
#[derive(Debug)]
struct Talker {
    pieces: Vec<Vec<u8>>,
    again_from: usize,
    said: usize,
    /// How much was said before a program came to hear it.
    unheard: usize,
}

impl Talker {
    fn new(pieces: &[&[u8]], again_from: usize) -> Self {
        Self {
            pieces: pieces.iter().map(|piece| piece.to_vec()).collect(),
            again_from,
            said: 0,
            unheard: 0,
        }
    }
}

impl Instrument for Talker {
    fn hear(&mut self, _bytes: &[u8], _world: &World, _elapsed_s: f64) -> Vec<Vec<u8>> {
        Vec::new()
    }

    fn opened(&mut self) -> Vec<Vec<u8>> {
        self.unheard += std::mem::take(&mut self.said);
        Vec::new()
    }

    fn due_s(&self) -> Option<f64> {
        Some((self.unheard + self.said) as f64 * 0.02)
    }

    fn speak(&mut self, _world: &World) -> Vec<u8> {
        let count = self.pieces.len();
        let again = count - self.again_from;
        let index = if self.said < count {
            self.said
        } else {
            self.again_from + (self.said - count) % again
        };
        self.said += 1;
        self.pieces[index].clone()
    }
}

fn at(profile: &str, device: &Device) -> String {
    format!("{profile}@serial:{}", device.path().display())
}

fn values(row: &Row) -> (Option<f64>, Option<f64>) {
    let get = |channel| row.readings.get(channel);
    (get(Channel::FrequencyHz), get(Channel::BatteryV))
}

/// A profile that asks both values with one question, or with any two.
fn asking(desk: &Desk, name: &str, frequency: &str, voltage: &str) {
    let both = if frequency == voltage {
        "position = 2\n"
    } else {
        ""
    };
    let of = if frequency == voltage { "of = 2\n" } else { "" };
    let text = format!(
        "schema = 1\nname = \"{name}\"\nabout = \"of a test\"\nmanner = \"asked\"\n[timing]\nevery = \"50 ms\"\ntimeout = \"300 ms\"\n[start]\nsend = [\"*CLS\"]\nidentity = \"*IDN?\"\n[resync]\nask = \"*OPC?\"\nanswer = \"1\"\n[errors]\nask = \"SYST:ERR?\"\nnone = \"0\"\n[marks]\nno_signal = [\"9.91E37\"]\n[[value]]\nchannel = \"frequency_hz\"\nask = \"{frequency}\"\nunit = \"Hz\"\n{of}[[value]]\nchannel = \"battery_v\"\nask = \"{voltage}\"\nunit = \"V\"\n{both}"
    );
    desk.file(&format!("sagtrace/devices/{name}.toml"), &text);
}

/// Records until a row is as wanted, then ends.
fn record_until(desk: &Desk, address: &str, what: &str, is_it: impl Fn(&str) -> bool) -> Ended {
    let mut running = desk.start(&["-i", address]);
    running.wait_for(what, is_it);
    running.interrupt()
}

const BOTH: &str = "MEAS:FREQ?;:MEAS:VOLT:DC?";

/// 3D4398 hexadecimal is 4015000: 3·16^5 + 13·16^4 + 4·16^3 + 3·16^2 + 9·16 + 8.
#[test]
fn compound_answers_headers_strings_and_bases_become_rows() {
    for (answer, end) in [
        ("+4.015E+06;+9.36E+00", "\n"),
        (":MEAS:FREQ 4015 kHz;:MEAS:VOLT:DC 9360 mV", "\r\n"),
        ("\"4.015E6\",'9.36'", "\r"),
        ("#H3D4398;9.36", "\n\r"),
        ("4.015 E +06 , 9.36", "\r\n"),
    ] {
        let desk = Desk::new();
        asking(&desk, "both", BOTH, BOTH);
        let mut parrot = Parrot::new(&[(BOTH, answer)]);
        parrot.end = end;
        let parrot = device(parrot, Vec::new());
        let ended = record_until(&desk, &at("both", &parrot), answer, |line| {
            line.ends_with(",4015000,9.36,ok,")
        });
        assert_eq!(ended.code, DONE, "{answer}: {}", ended.stderr);
        let rows = desk.rows();
        assert!(rows.iter().all(|row| row.status == Status::Ok), "{answer}");
    }
}

#[test]
fn a_compound_answer_with_one_value_puts_no_voltage_into_the_frequency() {
    let desk = Desk::new();
    asking(&desk, "both", BOTH, BOTH);
    let parrot = device(Parrot::new(&[(BOTH, "+9.36E+00")]), Vec::new());
    let ended = record_until(&desk, &at("both", &parrot), "a marked row", |line| {
        line.contains(",garbled,") && line.contains("gave 1 values where the profile says 2")
    });
    assert_eq!(ended.code, INSTRUMENT);
    assert!(desk.rows().iter().all(|row| row.readings.is_empty()));
}

#[test]
fn a_question_it_does_not_know_is_a_refused_row_in_the_instruments_words() {
    let desk = Desk::new();
    asking(&desk, "bogus", "MEAS:BOGUS?", "MEAS:VOLT:DC?");
    let parrot = device(Parrot::new(&[("MEAS:VOLT:DC?", "9.36")]), Vec::new());
    let ended = record_until(&desk, &at("bogus", &parrot), "a refused row", |line| {
        line.contains(",,9.36,refused,\"MEAS:BOGUS?: -113, Undefined header;MEAS:BOGUS?;\"")
    });
    assert!(
        ended
            .stderr
            .contains("MEAS:BOGUS?: -113, Undefined header;MEAS:BOGUS?;"),
        "it is shown to the person: {}",
        ended.stderr
    );
    // The voltage is the battery's in every row, and never in the frequency's place.
    for row in desk.rows() {
        assert_eq!(values(&row).0, None);
    }
}

#[test]
fn a_stream_of_columns_is_read_by_its_names_in_any_order() {
    let desk = Desk::new();
    let talker = Talker::new(
        &[
            b"2,8.9\n",
            b"time_ms,batt_v,freq_khz\n",
            b"1,8.9,6231.2345\n",
            b"2,8.9,6231.2345,\n",
            // It restarts with another order of columns.
            b"freq_khz,batt_v\n",
            b"6231.2345,8.9\n",
        ],
        5,
    );
    let talker = device(talker, Vec::new());
    let mut running = desk.start(&["-i", &at("quick-columns", &talker)]);
    running.wait_for_rows(6);
    assert_eq!(running.interrupt().code, DONE);
    for row in desk.rows() {
        assert_eq!(values(&row), (Some(6231234.5), Some(8.9)), "{row:?}");
    }
}

#[test]
fn renamed_columns_are_told_by_name_and_give_no_number() {
    let desk = Desk::new();
    let talker = Talker::new(
        &[b"x\n", b"time_ms,f_khz,batt_v\n", b"1,6231.2345,8.9\n"],
        1,
    );
    let talker = device(talker, Vec::new());
    let mut running = desk.start(&["-i", &at("quick-columns", &talker)]);
    let note = "no column freq_khz: the line of names has time_ms, f_khz, batt_v";
    running.wait_for("a garbled row", |line| line.contains(note));
    let ended = running.interrupt();
    assert_eq!(ended.code, INSTRUMENT);
    assert!(ended.stderr.contains(note), "{}", ended.stderr);
    assert!(desk.rows().iter().all(|row| row.readings.is_empty()));
}

/// Cases with one board: every line end, a fragment first, lines in pieces, glued lines, a line beyond the limit.
#[test]
fn a_board_of_bad_manners_gives_its_whole_lines_and_nothing_else() {
    let desk = Desk::new();
    let long = [b'f'; 5000];
    let talker = Talker::new(
        &[
            b"15684Hz v=8.9V\n",
            b"f=6231234.5Hz v=8.9V\r\n",
            b"f=62312",
            b"34.5Hz v=",
            b"8.9V\r",
            b"\n\n\r\r\n",
            b"f=6231234.5Hz v=8.9V\n\rf=6231234.5Hz v=8.9V\r",
            b"f=6231234.f=6231234.5Hz\n",
            b"f=5231234.5Hz v=8.9V *00\n",
            &long,
            b"Hz v=7V\n",
            b"f=6231234.5Hz v=8.9V\n",
        ],
        11,
    );
    let talker = device(talker, Vec::new());
    let mut running = desk.start(&["-i", &at("quick-plain-lines", &talker)]);
    running.wait_for("the long line", |line| {
        line.contains("a line beyond the limit")
    });
    running.wait_for_rows(2);
    assert_eq!(running.interrupt().code, DONE);
    let rows = desk.rows();
    let first = rows
        .iter()
        .position(|row| row.note.to_string().contains("limit"))
        .unwrap();
    let good = rows[..first].iter().filter(|row| row.status == Status::Ok);
    assert_eq!(good.count(), 4, "{rows:?}");
    for row in rows.iter().filter(|row| row.status == Status::Ok) {
        assert_eq!(values(row), (Some(6231234.5), Some(8.9)));
    }
    let bad: Vec<_> = rows
        .iter()
        .filter(|row| row.status == Status::Garbled)
        .collect();
    assert_eq!(bad.len(), 3, "{bad:?}");
    assert!(bad.iter().all(|row| values(row).0.is_none()));
    assert!(desk.read("out/rejected.log").contains("15684Hz v=8.9V"));
}

#[test]
fn noise_without_a_line_end_is_told_as_a_wrong_speed() {
    let desk = Desk::new();
    let noise: Vec<u8> = (0..40_u8).map(|n| n.wrapping_mul(5) | 0x80).collect();
    let talker = device(Talker::new(&[&noise], 0), Vec::new());
    let mut running = desk.start(&["-i", &at("quick-plain-lines", &talker)]);
    running.wait_for("a garbled row", |line| line.contains(",garbled,"));
    wait_until("it is reported", || {
        running.stderr().contains("is the speed right?")
    });
    let ended = running.interrupt();
    assert_eq!(ended.stderr.matches("is the speed right?").count(), 1);
    assert!(desk.rows().iter().all(|row| row.readings.is_empty()));
}

#[test]
fn a_board_that_prints_while_it_starts_raises_no_alarm() {
    let desk = Desk::new();
    let text = include_str!("../../../devices/plain-lines.toml")
        .replacen("name = \"", "name = \"slow-", 1)
        .replace("\"2 s\"", "\"400 ms\"");
    desk.file("sagtrace/devices/slow-plain-lines.toml", &text);
    let talker = Talker::new(
        &[
            b"x\n",
            b"\xf0\xe1boot 1.2\n",
            b"ready\n",
            b"f=6231234.5Hz v=8.9V\n",
        ],
        3,
    );
    let talker = device(talker, Vec::new());
    let mut running = desk.start(&["-i", &at("slow-plain-lines", &talker)]);
    running.wait_for_rows(3);
    let ended = running.interrupt();
    assert_eq!(ended.code, DONE);
    assert!(!ended.stderr.contains("nothing that can be read"));
    assert!(desk.rows().iter().all(|row| row.status == Status::Ok));
    assert!(
        desk.read("out/rejected.log")
            .contains("(the board was starting): ready")
    );
}

#[test]
fn a_line_damaged_soon_after_opening_has_a_row_once_the_board_speaks_well() {
    let desk = Desk::new();
    let board = PLAIN_LINES
        .replacen("plain-lines", "board", 1)
        .replace("settle = \"2 s\"", "settle = \"60 s\"");
    desk.file("sagtrace/devices/board.toml", &board);
    let talker = Talker::new(
        &[
            b"5684Hz v=8.9V\nloader 7\n",
            b"f=6231234.5Hz v=8.9V\nf=6231234.5Hz v=8.9V\n",
            b"f=5231234.5Hz v=8.9V *00\n",
            b"f=6231234.5Hz v=8.9V\n",
        ],
        3,
    );
    let talker = device(talker, Vec::new());
    let mut running = desk.start(&["-i", &at("board", &talker)]);
    running.wait_for_rows(2);
    running.wait_for("the damaged line", |line| line.contains(",garbled,"));
    running.wait_for_rows(1);
    assert_eq!(running.interrupt().code, DONE);
    let rejected = desk.read("out/rejected.log");
    assert!(
        rejected.contains("(the board was starting): loader 7"),
        "{rejected}"
    );
}

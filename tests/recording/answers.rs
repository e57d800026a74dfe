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

const PLAIN_LINES: &str = include_str!("../../devices/plain-lines.toml");

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

/// Says pieces of bytes one after the other, 20 ms apart, over and over from a given one on.
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

/// 3D4398 hexadecimal is 4015000: 3·16^5 + 13·16^4 + 4·16^3 + 3·16^2 + 9·16 + 8.
#[test]
fn the_hexadecimal_number_above_is_what_it_says() {
    assert_eq!(
        3 * 1_048_576 + 13 * 65_536 + 4 * 4096 + 3 * 256 + 9 * 16 + 8,
        4_015_000
    );
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
        .position(|row| row.note.contains("limit"))
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
    wait_until("it is told", || {
        running.stderr().contains("is the speed right?")
    });
    let ended = running.interrupt();
    assert_eq!(ended.stderr.matches("is the speed right?").count(), 1);
    assert!(desk.rows().iter().all(|row| row.readings.is_empty()));
}

#[test]
fn a_board_that_prints_while_it_starts_raises_no_alarm() {
    let desk = Desk::new();
    let text = include_str!("../../devices/plain-lines.toml")
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

/// What a recording and the replay of its bytes must have in common.
fn assert_replays(desk: &Desk, profile: &str, what: &str) {
    let log = format!("{profile}@log:out/bytes/{profile}.log");
    let ended = desk.run(&["record", "-i", &log, "-o", "again"]);
    assert!(
        ended.code == DONE || ended.code == INSTRUMENT,
        "{what}: {}",
        ended.stderr
    );
    for file in ["samples.csv", "rejected.log"] {
        let (first, again) = (
            desk.read(&format!("out/{file}")),
            desk.read(&format!("again/{file}")),
        );
        assert!(
            first == again,
            "{what}, {file}:\n--- recorded\n{first}\n--- played\n{again}\n--- bytes\n{}",
            desk.read(&format!("out/bytes/{profile}.log"))
        );
    }
}

fn once(from_s: f64, kind: FaultKind) -> Fault {
    Fault {
        from_s,
        to_s: f64::INFINITY,
        at_most: Some(1),
        kind,
    }
}

#[test]
fn the_bytes_of_a_faulty_instrument_played_again_give_the_same_files() {
    let late = |from_s, wait_ms| once(from_s, FaultKind::Late(Duration::from_millis(wait_ms)));
    let mixes: Vec<(&str, Vec<Fault>)> = vec![
        ("no fault", Vec::new()),
        (
            "echo and banner",
            vec![
                Fault::always(FaultKind::Echo),
                Fault::always(FaultKind::Banner("\r\nready 1.2\r\n".to_owned())),
            ],
        ),
        (
            "garbage",
            vec![
                Fault::first(9, FaultKind::Garbage),
                once(0.9, FaultKind::Garbage),
            ],
        ),
        ("late answers", vec![late(0.3, 900), late(2.0, 1800)]),
        (
            "silence to the end",
            vec![Fault::between(0.6, f64::INFINITY, FaultKind::Silent)],
        ),
        ("silence", vec![Fault::always(FaultKind::Silent)]),
        (
            "a loss",
            vec![
                Fault::between(0.5, 1.0, FaultKind::Vanish),
                once(1.5, FaultKind::Garbage),
                Fault::between(2.0, 2.3, FaultKind::Vanish),
            ],
        ),
    ];
    for (what, faults) in mixes {
        let desk = Desk::new();
        let counter = device(Scpi::counter(), faults);
        let args = [
            "-i",
            &at("quick-scpi-counter", &counter),
            "--every",
            "20ms",
            "--for",
            "4s",
            "--keep-bytes",
        ];
        let ended = desk.record(&args);
        assert!(ended.stdout.lines().count() > 2, "{what}: {}", ended.stderr);
        assert_replays(&desk, "quick-scpi-counter", what);
    }
}

#[test]
fn the_bytes_of_a_board_of_bad_manners_played_again_give_the_same_files() {
    let mixes: Vec<(&str, Vec<Fault>)> = vec![
        ("no fault", Vec::new()),
        (
            "garbage and silence",
            vec![
                Fault::first(5, FaultKind::Garbage),
                Fault::between(0.5, 1.8, FaultKind::Silent),
                Fault::always(FaultKind::Banner("ready\r\n".to_owned())),
            ],
        ),
        (
            "a loss",
            vec![
                Fault::between(0.5, 1.0, FaultKind::Vanish),
                Fault::between(1.5, 1.7, FaultKind::Vanish),
                once(1.9, FaultKind::WrongDigit),
            ],
        ),
        ("silence", vec![Fault::always(FaultKind::Silent)]),
    ];
    for (what, faults) in mixes {
        for (profile, lines) in [
            ("quick-plain-lines", Lines::plain(0.01).unwrap()),
            ("quick-columns", Lines::columns(0.007).unwrap()),
        ] {
            let desk = Desk::new();
            let board = device(lines, faults.clone());
            let ended = desk.record(&["-i", &at(profile, &board), "--for", "3s", "--keep-bytes"]);
            assert!(ended.stdout.lines().count() > 2, "{what}: {}", ended.stderr);
            assert_replays(&desk, profile, &format!("{profile}, {what}"));
        }
    }
}

#[test]
fn bytes_cut_off_by_a_kill_are_played_to_their_last_whole_entry() {
    let desk = Desk::new();
    let board = device(Lines::plain(0.01).unwrap(), Vec::new());
    let mut running = desk.start(&["-i", &at("quick-plain-lines", &board), "--keep-bytes"]);
    running.wait_for_rows(20);
    running.signal(rustix::process::Signal::KILL);
    running.end();
    let log = desk.read("out/bytes/quick-plain-lines.log");
    let (whole, _) = log.rsplit_once('\n').unwrap();
    let torn = format!("{whole}\n12345");
    desk.file("torn.log", &torn);
    let ended = desk
        .run(&[
            "record",
            "-i",
            "quick-plain-lines@log:torn.log",
            "-o",
            "again",
        ])
        .well();
    assert!(
        ended
            .stderr
            .contains("the last line of torn.log is half a line and left out")
    );
    let (first, again) = (desk.read("out/samples.csv"), desk.read("again/samples.csv"));
    // The bytes are written by another thread than the rows; either may be ahead when both are killed.
    let common = first.len().min(again.len());
    assert_eq!(first.as_bytes()[..common], again.as_bytes()[..common]);
    assert!(again.lines().count() > 15);
}

/// Invented: two instruments whose logs take turns.
#[test]
fn two_byte_logs_are_merged_by_their_times() {
    let desk = Desk::new();
    let entry = |ms: i64, text: &str| {
        format!(
            "{} 2026-01-31T19:00:{:02}.{:03}Z < {text}\\n\n",
            ms * 1000,
            ms / 1000,
            ms % 1000
        )
    };
    let (mut one, mut other) = (String::new(), String::new());
    for n in 0..400 {
        let line = "f=6MHz v=8.9V";
        // The first has a burst, the second a steady pace: neither order is that of the files' lines.
        one.push_str(&entry(1000 + n, line));
        other.push_str(&entry(7 + n * 10, line));
    }
    desk.file("one.log", &one);
    desk.file("other.log", &other);
    let args = [
        "-i",
        "a=plain-lines@log:one.log",
        "-i",
        "b=plain-lines@log:other.log",
    ];
    desk.record(&args).well();
    let rows = desk.rows();
    assert_eq!(rows.len(), 798, "the first of each may be a fragment");
    for row in &rows {
        // Out of order, a row would have been moved to rise above the one before it, and its two times would differ.
        let wall_ms = row.stamp.wall_ms % 60_000;
        assert_eq!(wall_ms, row.stamp.elapsed_us.div_euclid(1000), "{row:?}");
    }
}

#[test]
fn a_byte_log_can_be_played_at_its_own_speed() {
    let desk = Desk::new();
    let lines = [(0, "0"), (100, "1"), (1000, "2"), (1500, "3")].map(|(ms, n)| {
        format!(
            "{} 2026-01-31T19:00:{:02}.{:03}Z < f=6MHz v={n}V\\n\n",
            ms * 1000,
            ms / 1000,
            ms % 1000
        )
    });
    desk.file("bytes.log", &lines.concat());
    let clock = sagtrace::clock::Clock::real();
    let args = ["-i", "plain-lines@log:bytes.log", "--replay-speed", "2"];
    assert_eq!(desk.record(&args).code, DONE);
    assert!(clock.elapsed_s() >= 0.75, "1.5 s at twice the speed");
    assert_eq!(desk.rows().len(), 3);
    for wrong in ["0", "-1", "fast", "nan", "inf"] {
        let ended = desk.run(&[
            "record",
            "-i",
            "plain-lines@log:bytes.log",
            "--replay-speed",
            wrong,
        ]);
        assert_eq!(ended.code, USAGE, "{wrong}");
    }
}

#[test]
fn a_disk_too_full_for_the_bytes_does_not_end_the_recording() {
    let (desk, counter) = (Desk::new(), device(Scpi::counter(), Vec::new()));
    // The byte log grows three times as fast as the rows, and meets the limit on a file's size first.
    let script = "trap '' XFSZ; ulimit -f 16; exec \"$@\"";
    let mut command = Command::new("sh");
    command.args(["-c", script, "sh", env!("CARGO_BIN_EXE_sagtrace")]);
    command.args([
        "record",
        "--show",
        "rows",
        "--out",
        "out",
        "--keep-bytes",
        "--every",
        "20ms",
    ]);
    command.args(["-i", &at("quick-scpi-counter", &counter)]);
    desk.settle(&mut command);
    let mut running = Running::start(&mut command);
    wait_until("the log is full", || {
        running.stderr().contains("the byte log of")
    });
    running.wait_for_rows(3);
    let ended = running.interrupt().well();
    assert!(
        ended.stderr.contains(
            "the byte log of quick-scpi-counter ends here: File too large (os error 27); the recording goes on"
        ),
        "{}",
        ended.stderr
    );
    let log = desk.read("out/bytes/quick-scpi-counter.log");
    assert!(log.ends_with('\n') && log.len() > 4000, "{}", log.len());
    let rows = desk.rows().len();
    desk.run(&[
        "record",
        "-i",
        "quick-scpi-counter@log:out/bytes/quick-scpi-counter.log",
        "-o",
        "again",
    ])
    .well();
    assert!(desk.read("again/samples.csv").lines().count() <= rows);
}

/// The text of a dry run without what differs from run to run.
fn without_times(text: &str) -> String {
    let mut lines = Vec::new();
    for line in text.lines() {
        let line = match line.split_once(" at serial:") {
            Some((before, _)) => format!("{before} at serial:PORT"),
            None => line.to_owned(),
        };
        let line = match (line.rsplit_once(" in "), line.trim_start()) {
            (Some((before, _)), trimmed) if trimmed.starts_with("asked ") => {
                format!("{before} in TIME")
            }
            (_, trimmed) if trimmed.starts_with("round trip") => "  round trip …".to_owned(),
            (_, trimmed) if trimmed.starts_with("rows") => "  rows …".to_owned(),
            _ => line,
        };
        lines.push(line);
    }
    lines.join("\n")
}

#[test]
fn a_profile_that_fits_is_proved_and_nothing_is_recorded() {
    let desk = Desk::new();
    asking(&desk, "both", BOTH, BOTH);
    let parrot = device(
        Parrot::new(&[(BOTH, ":MEAS:FREQ 4015 kHz;:MEAS:VOLT:DC 9.36")]),
        Vec::new(),
    );
    let ended = desk.run(&["record", "--dry-run", "-i", &at("both", &parrot)]);
    assert_eq!(ended.code, DONE, "{}{}", ended.stdout, ended.stderr);
    insta::assert_snapshot!(without_times(&ended.stdout), @r"
    both by both at serial:PORT
      identity     club,parrot,7,1
      asked        MEAS:FREQ?;:MEAS:VOLT:DC?: :MEAS:FREQ 4015 kHz;:MEAS:VOLT:DC 9.36 in TIME
                   frequency_hz (frequency_hz, value 1 of 2) is 4.015 MHz
                   battery_v (battery_v, value 2 of 2) is 9.36 V
      round trip …
      rows …
      the profile fits
    ");
    assert!(ended.stdout.contains("of 20 questions"), "{}", ended.stdout);
    let left: Vec<_> = std::fs::read_dir(desk.path()).unwrap().collect();
    assert_eq!(left.len(), 1, "only the profiles are there: {left:?}");

    let board = device(Lines::plain(0.02).unwrap(), Vec::new());
    let args = [
        "record",
        "--dry-run",
        "--format",
        "json",
        "-i",
        &at("quick-plain-lines", &board),
    ];
    let ended = desk.run(&args);
    assert_eq!(ended.code, DONE, "{}{}", ended.stdout, ended.stderr);
    let json: serde_json::Value = serde_json::from_str(&ended.stdout).unwrap();
    let one = &json["instruments"][0];
    assert_eq!(one["heard"][0]["values"][0]["field"], "field f");
    assert!(one["rows_per_s"].as_f64().unwrap() > 10.0, "{one}");
    assert_eq!(one["faults"].as_array().unwrap().len(), 0);
}

#[test]
fn what_a_profile_got_wrong_is_told_with_the_instruments_own_words() {
    let desk = Desk::new();
    asking(&desk, "bogus", "MEAS:BOGUS?", "MEAS:VOLT:DC?");
    let parrot = device(Parrot::new(&[("MEAS:VOLT:DC?", "9,36")]), Vec::new());
    let ended = desk.run(&["record", "--dry-run", "-i", &at("bogus", &parrot)]);
    assert_eq!(ended.code, INSTRUMENT);
    insta::assert_snapshot!(without_times(&format!("{}{}", ended.stdout, ended.stderr)), @r"
    bogus by bogus at serial:PORT
      identity     club,parrot,7,1
      asked        MEAS:VOLT:DC?: 9,36 in TIME
                   battery_v (battery_v, value 1 of 1) is no number
      wrong        MEAS:BOGUS? was not answered in 300 ms; it complains: -113, Undefined header;MEAS:BOGUS?;
      wrong        MEAS:VOLT:DC? gave 2 values where the profile says 1: 9,36
    error: the profile of bogus does not fit
    hint: devices/README.md has every key of a profile; sagtrace ports --identify tries all profiles
    ");

    let mute = device(Scpi::counter(), vec![Fault::always(FaultKind::Silent)]);
    let ended = desk.run(&[
        "record",
        "--dry-run",
        "-i",
        &at("quick-scpi-counter", &mute),
    ]);
    assert_eq!(ended.code, INSTRUMENT);
    assert!(
        ended
            .stdout
            .contains("[resync] *OPC? was not answered by 1 in 500 ms"),
        "{}",
        ended.stdout
    );

    let talker = device(Talker::new(&[b"x\n", b"f=4MHz v=8.9\n"], 1), Vec::new());
    let ended = desk.run(&[
        "record",
        "--dry-run",
        "-i",
        &at("quick-plain-lines", &talker),
    ]);
    assert_eq!(ended.code, INSTRUMENT);
    assert!(
        ended
            .stdout
            .contains("wrong        battery_v: a number without its unit: f=4MHz v=8.9"),
        "{}",
        ended.stdout
    );
    assert!(!desk.path().join("out").exists());
}

#[test]
fn what_is_missing_is_told_with_what_to_do() {
    let desk = Desk::new();
    let mut told = String::new();
    for args in [
        ["record", "-i", "scpi-conter@serial:/dev/null"].as_slice(),
        &["record", "-i", "scpi-counter@log:gone.log"],
        &["predict", "gone.toml"],
        &["record", "-i", "scpi-counter@log:gone.log", "--dry-run"],
    ] {
        let ended = desk.run(args);
        assert_eq!(ended.code, USAGE, "{args:?}");
        told.push_str(&ended.stderr);
    }
    insta::assert_snapshot!(told, @r#"
    error: no profile "scpi-conter": known are columns, plain-lines, quick-columns, quick-plain-lines, quick-scpi-counter, scpi-counter, scpi-scope, scpi-scope-wave
    hint: did you mean scpi-counter?
    error: cannot read the byte log gone.log: No such file or directory (os error 2)
    hint: record --keep-bytes makes byte logs, as bytes/LABEL.log in the session folder
    error: cannot read gone.toml: No such file or directory (os error 2)
    hint: begin one with: sagtrace sheet template > my-pillar.toml
    error: gone.log is a byte log, not an instrument
    hint: leave --dry-run out to play it
    "#);
    desk.file(
        "bad.log",
        "10000 2026-01-31T19:00:00.010Z < a\\n\n20000 now < b\n",
    );
    let ended = desk.run(&["record", "-i", "scpi-counter@log:bad.log"]);
    assert_eq!(ended.code, USAGE);
    insta::assert_snapshot!(ended.stderr, @r"
    error: byte log bad.log, line 2: the time is not in RFC 3339, an entry is `elapsed_us time sign bytes`
    hint: README.md describes the byte log, line by line
    ");
}

#[test]
fn ports_are_identified_by_who_answers_or_speaks() {
    let desk = Desk::new();
    let counter = device(Scpi::counter(), Vec::new());
    let board = device(Lines::plain(0.1).unwrap(), Vec::new());
    let mute = device(Scpi::counter(), vec![Fault::always(FaultKind::Silent)]);
    // It says the names of its columns once, when it is opened.
    let columns = device(Lines::columns(0.1).unwrap(), Vec::new());
    let paths: Vec<String> = [&counter, &board, &mute, &columns]
        .iter()
        .map(|device| device.path().display().to_string())
        .collect();
    let mut args = vec!["ports", "--identify", "--format", "json"];
    for path in &paths {
        args.extend(["--path", path]);
    }
    let ended = desk.run(&args).well();
    let json: serde_json::Value = serde_json::from_str(&ended.stdout).unwrap();
    let found = |path: &String| {
        let ports = json["ports"].as_array().unwrap();
        let port = ports
            .iter()
            .find(|port| port["name"] == path.as_str())
            .unwrap();
        let names = port["found"].as_array().unwrap().iter();
        names
            .map(|found| found["profile"].as_str().unwrap().to_owned())
            .collect::<Vec<_>>()
    };
    assert_eq!(found(&paths[0]), ["quick-scpi-counter", "scpi-counter"]);
    assert_eq!(found(&paths[1]), ["plain-lines", "quick-plain-lines"]);
    assert!(found(&paths[2]).is_empty());
    assert_eq!(found(&paths[3]), ["columns", "quick-columns"]);
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

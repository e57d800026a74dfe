//! A recording from start to end, by the program itself, from instruments on real lines.

use std::io::{BufRead as _, BufReader, Write as _};
use std::net::TcpListener;
use std::os::unix::ffi::OsStringExt as _;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use rustix::process::Signal;
use sagtrace::analysis::pairing::Pairing;
use sagtrace::bench::faults::{Fault, FaultKind};
use sagtrace::bench::lines::Lines;
use sagtrace::bench::pty::Device;
use sagtrace::bench::scpi::Scpi;
use sagtrace::clock::Clock;
use sagtrace::reading::{Channel, Row, Status};
use sagtrace::session::{Session, State};

use crate::common::{Desk, Running, pause, wait_until};
use crate::line::device;

mod boards;
mod kill;
mod simulated;

fn counter() -> Device {
    device(Scpi::counter(), Vec::new())
}

fn address(profile: &str, device: &Device) -> String {
    format!("{profile}@serial:{}", device.path().display())
}

fn session(desk: &Desk) -> Session {
    Session::open(&desk.path().join("out")).unwrap()
}

#[test]
fn each_signal_ends_a_recording_cleanly_with_its_own_code() {
    for (signal, code, word) in [
        (Signal::INT, 130, "Ctrl-C"),
        (Signal::TERM, 143, "SIGTERM"),
        (Signal::HUP, 129, "SIGHUP"),
    ] {
        for (duration, code) in [([].as_slice(), 0), (&["--for", "10min"], code)] {
            let (desk, counter) = (Desk::new(), counter());
            let address = address("quick-scpi-counter", &counter);
            let args = [&["-i", &address, "--every", "50ms"], duration].concat();
            let mut running = desk.start(&args);
            running.wait_for_rows(1);
            running.signal(signal);
            let ended = running.end();
            assert_eq!(
                ended.code,
                Some(code),
                "{signal:?} {duration:?}: {}",
                ended.stderr
            );
            let meta = session(&desk).meta;
            assert_eq!(meta.state, State::Closed);
            assert!(meta.end_reason.is_some_and(|reason| reason.contains(word)));
            assert_eq!(meta.summary.unwrap().rows, desk.rows().len() as u64);
        }
    }
}

#[test]
fn a_second_ctrl_c_leaves_at_once() {
    let desk = Desk::new();
    let slow = include_str!("../../../devices/scpi-counter.toml")
        .replacen("scpi-counter", "slow-counter", 1)
        .replace("\"3 s\"", "\"60 s\"");
    desk.file("sagtrace/devices/slow-counter.toml", &slow);
    let mute = device(Scpi::counter(), vec![Fault::always(FaultKind::Silent)]);
    let running = desk.start(&["-i", &address("slow-counter", &mute)]);
    wait_until("it asks", || mute.counts().heard_bytes > 10);
    // Two signals that come together count as one, so it is signalled until it leaves.
    let clock = Clock::real();
    for _ in 0..3 {
        running.signal(Signal::INT);
        pause(std::time::Duration::from_millis(150));
    }
    assert_eq!(running.end().code, Some(130));
    assert!(clock.elapsed_s() < 30.0, "it waited for the answer");
    assert_eq!(session(&desk).meta.state, State::Recording);
}

#[test]
fn marks_are_stamped_and_the_end_of_the_input_does_not_end_the_recording() {
    let (desk, counter) = (Desk::new(), counter());
    let (reader, mut input) = std::io::pipe().unwrap();
    let address = address("quick-scpi-counter", &counter);
    let args = [
        "record", "--show", "rows", "-o", "out", "-i", &address, "--every", "50ms",
    ];
    let mut running = Running::start(desk.command(&args).stdin(reader));
    running.wait_for_rows(2);
    input
        .write_all(b"a hand, near \"the top\"\n\n  lamp on  \n")
        .unwrap();
    wait_until("the marks are taken", || {
        running.stderr().contains("marked: lamp on")
    });
    running.wait_for_rows(1);
    input.write_all(b"without an end").unwrap();
    drop(input);
    wait_until("the last mark is taken", || {
        running.stderr().contains("marked: without an end")
    });
    running.wait_for_rows(3);
    assert_eq!(running.interrupt().code, Some(0));
    let marks = session(&desk).marks().unwrap();
    let texts: Vec<&str> = marks.iter().map(|mark| mark.text.as_str()).collect();
    assert_eq!(
        texts,
        ["a hand, near \"the top\"", "lamp on", "without an end"]
    );
    let rows = desk.rows();
    assert!(marks[0].elapsed_s > rows[1].stamp.elapsed_s() - 0.1);
    assert!(
        marks[0].elapsed_s < marks[2].elapsed_s
            && marks[2].elapsed_s < rows[rows.len() - 1].stamp.elapsed_s()
    );
}

#[test]
fn a_recording_ends_after_three_good_readings_below_the_limit() {
    let (desk, counter) = (Desk::new(), counter());
    desk.record(&[
        "-i",
        &address("quick-scpi-counter", &counter),
        "--every",
        "50ms",
        "--until-below",
        "8.9985V",
    ])
    .well();
    let rows = desk.rows();
    let below: Vec<bool> = rows
        .iter()
        .filter_map(|row| Some(row.good(Channel::BatteryV)? < 8.9985))
        .collect();
    assert!(below.ends_with(&[true, true, true]), "{below:?}");
    // The exchange in hand is finished, so a row or two may follow the third.
    let third = below
        .windows(3)
        .position(|three| three == [true; 3])
        .unwrap()
        + 3;
    assert!(below.len() - third <= 2, "{below:?}");
    insta::assert_snapshot!(session(&desk).meta.end_reason.unwrap(), @"the battery was below 8.9985 V");
    // The instrument says that it is a virtual one.
    assert!(session(&desk).meta.simulated);
    assert!(
        desk.read("out/samples.csv-metadata.json")
            .contains("simulated: invented")
    );
}

#[test]
fn a_divider_of_ten_moves_the_point_and_stands_in_the_session() {
    let (desk, counter) = (Desk::new(), counter());
    let connected = "CH1 loop 10 cm; CH2 battery via x10";
    let mut running = desk.start(&[
        "-i",
        &address("quick-scpi-counter", &counter),
        "--every",
        "50ms",
        "--connected",
        connected,
    ]);
    // Ninety volts are no battery of this trade: each row is reported as suspect, and kept.
    for _ in 0..5 {
        running.wait_for("a suspect row", |line| line.contains(",suspect,"));
    }
    assert_eq!(running.interrupt().code, Some(0));
    let sent: Vec<String> = counter
        .stop()
        .into_iter()
        .map(|sent| String::from_utf8(sent.bytes).unwrap().trim().to_owned())
        .collect();
    for row in desk.rows() {
        let Some(battery_v) = row.readings.get(Channel::BatteryV) else {
            continue;
        };
        // The raw value is the recorded one with the exponent one lower.
        let is_raw = |text: &String| {
            text.strip_suffix("E+00")
                .is_some_and(|mantissa| format!("{mantissa}E+01").parse() == Ok(battery_v))
        };
        assert!(
            sent.iter().any(is_raw),
            "{battery_v} V is ten times none of {sent:?}"
        );
    }
    let text = desk.read("out/session.toml");
    let (_, connection) = text.split_once("[[connection]]").unwrap();
    let (connection, _) = connection.split_once("[checksums]").unwrap();
    insta::assert_snapshot!(connection, @r#"
    instrument = "quick-scpi-counter"
    input = "CH1"
    sees = "loop 10 cm"
    factor = 1.0
    scaled_columns = []

    [[connection]]
    instrument = "quick-scpi-counter"
    input = "CH2"
    sees = "battery via x10"
    factor = 10.0
    scaled_columns = ["battery_v"]
    "#);
}

#[test]
fn of_two_instruments_one_may_die_and_the_other_goes_on() {
    let desk = Desk::new();
    let (counter, board) = (counter(), device(Lines::plain(0.02).unwrap(), Vec::new()));
    // One that reads no voltage, so that each pair needs both instruments.
    let text = desk.read("sagtrace/devices/quick-scpi-counter.toml");
    let (text, _) = text.rsplit_once("[[value]]").unwrap();
    let text = text.replacen("quick-scpi-counter", "frequency", 1);
    desk.file("sagtrace/devices/frequency.toml", &text);
    let one = format!("f={}", address("frequency", &counter));
    let other = format!("v={}", address("quick-plain-lines", &board));
    let mut running = desk.start(&["-i", &one, "-i", &other, "--every", "100ms"]);
    running.wait_for("the counter", |line| line.contains(",f,"));
    for _ in 0..4 {
        running.wait_for("the board", |line| line.contains(",v,"));
    }
    drop(board);
    running.wait_for("the loss", |line| {
        line.contains(",v,") && line.contains(",gap,")
    });
    // At ten rows a second: well beyond the second within which readings are paired.
    for _ in 0..15 {
        running.wait_for("the counter goes on", |line| {
            line.contains(",f,") && line.ends_with(",ok,")
        });
    }
    let ended = running.interrupt();
    assert_eq!(ended.code, Some(3));
    assert_pairs_are_neighbours(&desk.rows());
    assert!(
        ended
            .stderr
            .contains("the line to v was lost and did not come back")
    );
    let rows = desk.rows();
    assert!(
        rows.windows(2)
            .all(|pair| pair[0].stamp.elapsed_us < pair[1].stamp.elapsed_us)
    );
    assert!(rows.iter().filter(|row| &*row.source == "v").count() > 3);
    assert_eq!(session(&desk).meta.instruments[0].every_s, Some(0.1));
}

/// Holds each pair of a frequency of `f` and a voltage of `v` against the rows by plain search.
fn assert_pairs_are_neighbours(rows: &[Row]) {
    let voltages: Vec<(i64, f64)> = rows
        .iter()
        .filter(|row| &*row.source == "v")
        .filter_map(|row| Some((row.stamp.elapsed_us, row.good(Channel::BatteryV)?)))
        .collect();
    let mut pairing = Pairing::of(Some("f".into()), Some("v".into()));
    let mut pairs = Vec::new();
    pairing.push(rows, &mut |pair| pairs.push(pair));
    pairs.extend(pairing.rest());
    let (mut paired, mut alone) = (0, 0);
    for pair in pairs {
        let away_us = |(at_us, _): &&(i64, f64)| (at_us - pair.stamp.elapsed_us).abs();
        let nearest = voltages.iter().min_by_key(away_us).unwrap();
        if away_us(&nearest) > 1_000_000 {
            assert_eq!(pair.battery_v, None, "a voltage of long ago");
            alone += 1;
        } else if let Some(battery_v) = pair.battery_v {
            let is_as_near = |one: &&(i64, f64)| away_us(one) == away_us(&nearest);
            assert!(
                voltages
                    .iter()
                    .filter(is_as_near)
                    .any(|one| one.1.to_bits() == battery_v.to_bits()),
                "{battery_v} V is not the nearest"
            );
            paired += 1;
        }
    }
    assert!(paired > 0 && alone > 0, "{paired} paired, {alone} alone");
}

/// An instrument on the network whose answers are invented here; it serves one connection.
fn network_counter() -> String {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = listener.local_addr().unwrap().to_string();
    std::thread::spawn(move || {
        let (stream, _) = listener.accept().unwrap();
        let mut answers = stream.try_clone().unwrap();
        for line in BufReader::new(stream).lines().map_while(Result::ok) {
            let answer = match line.trim() {
                "*IDN?" => "club,network counter,7,1",
                "*OPC?" => "1",
                "MEAS:FREQ?" => "+6.2312345E+06",
                "MEAS:VOLT:DC?" => "+8.912E+00",
                _ => continue,
            };
            answers
                .write_all(format!("{answer}\r\n").as_bytes())
                .unwrap();
        }
    });
    address
}

#[test]
fn an_instrument_on_the_network_is_recorded_from() {
    let desk = Desk::new();
    let place = format!("quick-scpi-counter@tcp:{}", network_counter());
    let mut running = desk.start(&["-i", &place, "--every", "50ms"]);
    running.wait_for("a row", |line| {
        line.ends_with(",quick-scpi-counter,6231234.5,8.912,ok,")
    });
    assert_eq!(running.interrupt().code, Some(0));
    assert_eq!(
        session(&desk).meta.instruments[0].identity.as_deref(),
        Some("club,network counter,7,1")
    );
    assert!(
        !session(&desk).meta.simulated,
        "what does not say that it is virtual is measured"
    );
}

/// The master's side of a new line, and the path of the other.
fn pseudo_terminal() -> (rustix::fd::OwnedFd, String) {
    let flags = rustix::pty::OpenptFlags::RDWR | rustix::pty::OpenptFlags::NOCTTY;
    let master = rustix::pty::openpt(flags).unwrap();
    rustix::io::fcntl_setfd(&master, rustix::io::FdFlags::CLOEXEC).unwrap();
    rustix::pty::grantpt(&master).unwrap();
    rustix::pty::unlockpt(&master).unwrap();
    let name = rustix::pty::ptsname(&master, Vec::new())
        .unwrap()
        .into_bytes();
    let port = std::ffi::OsString::from_vec(name).into_string().unwrap();
    (master, port)
}

//! The virtual bench as a user meets it: through `serialport` and through plain file descriptors.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read as _, Write as _};
use std::os::unix::fs::OpenOptionsExt as _;
use std::path::Path;
use std::process::Command;
use std::sync::Arc;
use std::time::Duration;

use sagtrace::bench::Instrument;
use sagtrace::bench::account::PtyError;
use sagtrace::bench::faults::{Fault, FaultKind, Script};
use sagtrace::bench::lines::Lines;
use sagtrace::bench::pty::Device;
use sagtrace::bench::scpi::Scpi;
use sagtrace::bench::world::{NoiseSize, World, WorldSpec};
use sagtrace::clock::Clock;
use serialport::SerialPort;

mod faulty;

/// Long enough for any answer on a loaded machine; only a failing test waits to its end.
const PATIENCE: Duration = Duration::from_mins(1);

/// How long silence is listened to.
const SILENCE: Duration = Duration::from_millis(150);

fn world() -> Arc<World> {
    let mut spec = WorldSpec::steady(6_231_234.5, 9.0);
    spec.battery.push((3600.0, 6.0));
    spec.pushing_hz_per_v = 1500.0;
    spec.noise = NoiseSize {
        white_hz: 2.0,
        walk_hz: 0.5,
        white_v: 0.002,
    };
    Arc::new(World::new(spec).unwrap())
}

fn device(instrument: impl Instrument + 'static, scale: f64, faults: Vec<Fault>) -> Device {
    let script = Script::new(1, faults);
    Device::open(Box::new(instrument), world(), Clock::scaled(scale), script).unwrap()
}

fn open(path: &Path) -> Box<dyn SerialPort> {
    serialport::new(path.to_string_lossy(), 115_200)
        .timeout(PATIENCE)
        .open()
        .unwrap()
}

/// One line without its line feed, or what came before an error.
fn read_line(port: &mut dyn io::Read) -> Result<String, (io::Error, Vec<u8>)> {
    let mut line = Vec::new();
    loop {
        let mut byte = [0];
        match port.read(&mut byte) {
            Ok(0) => return Err((io::ErrorKind::UnexpectedEof.into(), line)),
            Ok(_) if byte == *b"\n" => return Ok(String::from_utf8_lossy(&line).into_owned()),
            Ok(_) => line.push(byte[0]),
            Err(error) => return Err((error, line)),
        }
    }
}

fn ask(port: &mut Box<dyn SerialPort>, message: &str) -> String {
    port.write_all(format!("{message}\n").as_bytes()).unwrap();
    read_line(port).unwrap()
}

fn wait_until(what: &str, mut is_so: impl FnMut() -> bool) {
    let clock = Clock::real();
    while !is_so() {
        assert!(clock.elapsed_s() < PATIENCE.as_secs_f64(), "{what}");
        pause(Duration::from_millis(2));
    }
}

/// Closes a line and leaves the device time to notice it.
fn close(port: Box<dyn SerialPort>) {
    drop(port);
    pause(Duration::from_millis(50));
}

fn pause(time: Duration) {
    let time = rustix::event::Timespec::try_from(time).unwrap();
    rustix::event::poll(&mut [], Some(&time)).unwrap();
}

/// Exclusive or of all bytes, in two upper-case digits.
fn checksum(body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("{sum:02X}")
}

fn number(text: &str) -> f64 {
    text.parse().unwrap()
}

#[test]
fn a_counter_answers_a_serial_program() {
    let device = device(Scpi::counter(), 1.0, Vec::new());
    let mut port = open(&device.path());
    assert!(ask(&mut port, "*IDN?").starts_with("sagtrace,virtual counter,0,"));
    assert_eq!(ask(&mut port, "*RST;*CLS;*OPC?"), "1");
    assert!((number(&ask(&mut port, "MEAS:FREQ?")) - 6_231_234.5).abs() < 50.0);
    assert!((number(&ask(&mut port, "meas:volt:dc?")) - 9.0).abs() < 0.05);
    port.write_all(b"MEAS:BOGUS?\n").unwrap();
    assert_eq!(ask(&mut port, "SYST:ERR?"), "-113,\"Undefined header\"");
    let counts = device.counts();
    assert_eq!((counts.openings, counts.sent, counts.lost_bytes), (1, 5, 0));
}

#[test]
fn a_scope_answers_a_plain_file() {
    let device = device(Scpi::scope(), 1.0, Vec::new());
    let mut file = OpenOptions::new()
        .read(true)
        .write(true)
        .open(device.path())
        .unwrap();
    file.write_all(b"MEAS:VOLT:FREQ? (@1);:MEAS:VOLT:PTP? (@1);:MEAS:VOLT? (@2)\n")
        .unwrap();
    let answer = read_line(&mut file).unwrap();
    let values: Vec<f64> = answer.split(';').map(number).collect();
    assert!((values[0] - 6_231_000.0).abs() < 1.0, "{answer}");
    assert!(
        (values[1] - 3.0).abs() < 0.01 && (values[2] - 9.0).abs() < 0.02,
        "{answer}"
    );
}

#[test]
fn answers_come_at_once() {
    let device = device(Scpi::counter(), 1.0, Vec::new());
    let mut port = open(&device.path());
    let clock = Clock::real();
    let mut times_s: Vec<f64> = (0..50)
        .map(|_| {
            let start_s = clock.elapsed_s();
            ask(&mut port, "MEAS:FREQ?");
            clock.elapsed_s() - start_s
        })
        .collect();
    times_s.sort_by(f64::total_cmp);
    // Well below the thread's own wait of 20 ms: an answer does not wait for a turn.
    assert!(times_s[25] < 0.010, "median {} s", times_s[25]);
}

#[test]
fn what_is_sent_is_the_world_at_that_moment_and_stands_in_the_log() {
    let device = device(Scpi::counter(), 240.0, Vec::new());
    let mut port = open(&device.path());
    let answers: Vec<String> = (0..20)
        .map(|_| ask(&mut port, "MEAS:FREQ?;VOLT?"))
        .collect();
    let sent = device.stop();
    assert_eq!(sent.len(), answers.len());
    let world = world();
    for (answer, sent) in answers.iter().zip(&sent) {
        assert_eq!(format!("{answer}\n").as_bytes(), sent.bytes);
        let moment = world.at(sent.elapsed_s);
        let (hz, volts) = answer.split_once(';').unwrap();
        // Half of the last digit, and a little for the arithmetic.
        assert!((number(hz) - moment.frequency_hz.unwrap()).abs() < 0.0501);
        assert!((number(volts) - moment.battery_v).abs() < 0.000_501);
    }
    assert!(sent[19].elapsed_s > sent[0].elapsed_s);
}

#[test]
fn two_instruments_look_at_one_world() {
    let (world, clock) = (world(), Clock::scaled(240.0));
    let on_bench = |instrument: Box<dyn Instrument>| {
        Device::open(
            instrument,
            Arc::clone(&world),
            clock.clone(),
            Script::default(),
        )
        .unwrap()
    };
    let (counter, board) = (
        on_bench(Box::new(Scpi::counter())),
        on_bench(Box::new(Lines::plain(1.0).unwrap())),
    );
    let (mut asked, mut unasked) = (open(&counter.path()), open(&board.path()));
    let line = read_line(&mut unasked).unwrap();
    ask(&mut asked, "MEAS:FREQ?");
    let at_s = board.sent()[0].elapsed_s;
    assert!(line.starts_with(&format!("f={:.1}Hz ", world.at(at_s).frequency_hz.unwrap())));
    let later_s = counter.sent()[0].elapsed_s;
    // Both were started together, so their clocks are one and the question came after the line.
    assert!(later_s >= at_s && later_s - at_s < 240.0 * PATIENCE.as_secs_f64());
}

#[test]
fn plain_lines_come_unasked_each_with_a_good_checksum() {
    let device = device(Lines::plain(1.0).unwrap(), 240.0, Vec::new());
    let mut port = open(&device.path());
    let lines: Vec<String> = (0..100).map(|_| read_line(&mut port).unwrap()).collect();
    for line in &lines {
        let (body, sum) = line.split_once(" *").unwrap();
        assert_eq!(sum, checksum(body), "{line}");
        let names: String = body
            .split(' ')
            .filter_map(|field| field.chars().next())
            .collect();
        assert_eq!(names, "fviat", "{line}");
    }
    let sent = device.stop();
    assert!(
        sent.iter()
            .zip(&lines)
            .all(|(sent, line)| sent.bytes == format!("{line}\n").as_bytes())
    );
    for (before, after) in sent.iter().zip(sent.iter().skip(1)) {
        assert!(
            (after.elapsed_s - before.elapsed_s - 1.0).abs() < 1e-9,
            "one a second of the world"
        );
    }
}

#[test]
fn columns_begin_with_their_heading_at_each_opening() {
    let device = device(Lines::columns(0.5).unwrap(), 240.0, Vec::new());
    for _ in 0..2 {
        let mut port = open(&device.path());
        assert_eq!(read_line(&mut port).unwrap(), "time_ms,freq_khz,batt_v");
        let first = read_line(&mut port).unwrap();
        let second = read_line(&mut port).unwrap();
        let time_ms = |line: &str| number(line.split(',').next().unwrap());
        assert!(
            (time_ms(&second) - time_ms(&first) - 500.0).abs() < 1e-9,
            "{first} {second}"
        );
        close(port);
    }
}

#[test]
fn a_program_gets_nothing_that_was_said_before_it_came() {
    let device = device(Lines::columns(1.0).unwrap(), 240.0, Vec::new());
    let mut first = open(&device.path());
    read_line(&mut first).unwrap();
    // Lines pile up unread, then the program goes and a second of the clock passes with nobody there.
    pause(Duration::from_millis(100));
    drop(first);
    pause(Duration::from_millis(200));
    let mut second = open(&device.path());
    assert_eq!(read_line(&mut second).unwrap(), "time_ms,freq_khz,batt_v");
    let time_ms = number(read_line(&mut second).unwrap().split(',').next().unwrap());
    // 300 real milliseconds at least have passed, 72 s of this world.
    assert!(time_ms >= 72_000.0, "{time_ms} ms is an old line");
    wait_until("both openings are counted", || {
        device.counts().openings == 2
    });
}

#[test]
fn nobody_reading_costs_bytes_and_not_the_device() {
    let device = device(Lines::plain(0.01).unwrap(), 240.0, Vec::new());
    let mut port = open(&device.path());
    wait_until("the line is full", || device.counts().lost_bytes > 0);
    let kept: u64 = device
        .sent()
        .iter()
        .map(|sent| sent.bytes.len() as u64)
        .sum();
    assert!(kept < 200_000, "{kept} bytes on a line that nobody reads");
    assert!(read_line(&mut port).unwrap().starts_with("f="));
}

#[test]
fn a_link_leads_to_the_line_and_goes_with_the_device() {
    let dir = tempfile::tempdir().unwrap();
    let link = dir.path().join("counter");
    let device = device(Scpi::counter(), 1.0, Vec::new());
    let line = device.path();
    device.link(&link).unwrap();
    assert_eq!(fs::read_link(&link).unwrap(), line);
    assert_eq!(device.path(), link);
    assert_eq!(ask(&mut open(&link), "*OPC?"), "1");
    drop(device);
    assert!(fs::symlink_metadata(&link).is_err());
}

#[test]
fn a_link_takes_no_ones_place() {
    let dir = tempfile::tempdir().unwrap();
    let taken = dir.path().join("taken");
    fs::write(&taken, "precious").unwrap();
    let device = device(Scpi::counter(), 1.0, Vec::new());
    let refused = device.link(&taken).unwrap_err();
    assert!(
        matches!(&refused, PtyError::Link { path, .. } if *path == taken),
        "{refused}"
    );
    drop(device);
    assert_eq!(fs::read_to_string(&taken).unwrap(), "precious");
}

#[test]
fn dropping_the_device_is_pulling_the_plug() {
    let device = device(Scpi::counter(), 1.0, Vec::new());
    let mut port = open(&device.path());
    ask(&mut port, "*OPC?");
    drop(device);
    let (error, _) = read_line(&mut port).unwrap_err();
    assert_eq!(error.kind(), io::ErrorKind::BrokenPipe);
}

#[test]
fn the_board_in_shell_prints_lines_with_good_checksums() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("lines");
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/devices/lines.sh");
    let status = Command::new("sh").arg(script).arg("12").arg(&file).status();
    assert!(status.unwrap().success());
    let text = fs::read_to_string(file).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(lines.len(), 12);
    assert_eq!(lines[1].split(" *").next(), Some("f=6230990.5Hz v=8.999V"));
    assert_eq!(lines[9].split(" *").next(), Some("f=none v=8.991V"));
    for line in lines {
        let (body, sum) = line.split_once(" *").unwrap();
        assert_eq!(sum, checksum(body), "{line}");
    }
}

#[test]
fn a_message_left_by_a_program_that_has_gone_is_still_heard() {
    let device = device(Scpi::counter(), 1.0, Vec::new());
    let write = |bytes: &[u8]| {
        let mut file: File = OpenOptions::new()
            .write(true)
            .custom_flags(i32::try_from(rustix::fs::OFlags::NOCTTY.bits()).unwrap())
            .open(device.path())
            .unwrap();
        file.write_all(bytes).unwrap();
    };
    write(b"BOGUS?\n");
    wait_until("it is heard", || device.counts().heard_bytes == 7);
    let mut port = open(&device.path());
    assert_eq!(ask(&mut port, "SYST:ERR?"), "-113,\"Undefined header\"");
}

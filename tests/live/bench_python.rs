//! A counter by another hand, in Python, on its own pseudo-terminal.

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use sagtrace::reading::Channel;

use crate::common::Desk;

/// Answers of the Python counter, see its first lines; its values are invented there.
const EXCHANGES: &[(&str, &str)] = &[
    ("*IDN?", "sagtrace,python counter,0,1"),
    ("MEASure:FREQuency?", "+6.23099050E+06"),
    ("meas:volt:dc?", "+8.99800000E+00"),
    ("BOGUS?\nSYST:ERR?", "-113,\"Undefined header\""),
    ("SYSTem:ERRor:NEXT?", "0,\"No error\""),
];

/// The Python program, ended with the test whatever comes.
pub(crate) struct Counter(Child);

impl Drop for Counter {
    fn drop(&mut self) {
        self.0.kill().ok();
        self.0.wait().ok();
    }
}

impl Counter {
    /// Starts it, for a number of answers if given. Returns the path of its port.
    pub(crate) fn start(answers: Option<usize>) -> (Self, String) {
        let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/devices/counter.py");
        let child = Command::new("python3")
            .arg(script)
            .args(answers.map(|count| count.to_string()))
            .stdout(Stdio::piped())
            .spawn()
            .expect("python3 is on this machine");
        let mut counter = Self(child);
        let mut path = String::new();
        BufReader::new(counter.0.stdout.take().unwrap())
            .read_line(&mut path)
            .unwrap();
        (counter, path.trim_end().to_owned())
    }
}

#[test]
fn the_python_counter_answers_on_its_line_and_ends_after_its_answers() {
    // One more, since the hang-up may take the last with it.
    let (mut counter, path) = Counter::start(Some(EXCHANGES.len() + 1));
    let mut port = serialport::new(path, 9600)
        .timeout(Duration::from_secs(10))
        .open()
        .unwrap();
    for (message, want) in EXCHANGES {
        port.write_all(format!("{message}\n").as_bytes()).unwrap();
        let mut answer = vec![0; want.len() + 1];
        if let Err(error) = port.read_exact(&mut answer) {
            panic!("{message}: {error}");
        }
        assert_eq!(answer, format!("{want}\n").as_bytes(), "{message}");
    }
    port.write_all(b"*OPC?\n").unwrap();
    assert!(counter.0.wait().unwrap().success());
}

#[test]
fn a_counter_in_python_is_recorded_from() {
    let desk = Desk::new();
    let (_counter, path) = Counter::start(None);
    let place = format!("quick-scpi-counter@serial:{path}");
    let mut running = desk.start(&["-i", &place, "--every", "50ms"]);
    running.wait_for_rows(5);
    running.interrupt().well();
    let rows = desk.rows();
    // Ten hertz and a millivolt an answer, and each row has two.
    assert!(rows.iter().all(|row| {
        let hz = row.good(Channel::FrequencyHz).unwrap();
        let answers = (6_231_000.5 - hz) / 10.0;
        (row.good(Channel::BatteryV).unwrap() - (9.0 - 0.001 * (answers + 1.0))).abs() < 1e-9
    }));
}

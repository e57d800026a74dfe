//! A counter by another hand, in Python, on its own pseudo-terminal.
#![cfg(unix)]

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// Answers of the Python counter, see its first lines; its values are invented there.
const EXCHANGES: &[(&str, &str)] = &[
    ("*IDN?", "sagtrace,python counter,0,1"),
    ("MEASure:FREQuency?", "+6.23099050E+06"),
    ("meas:volt:dc?", "+8.99800000E+00"),
    ("BOGUS?\nSYST:ERR?", "-113,\"Undefined header\""),
    ("SYSTem:ERRor:NEXT?", "0,\"No error\""),
];

/// The Python program, ended with the test whatever comes.
struct Counter(Child);

impl Drop for Counter {
    fn drop(&mut self) {
        self.0.kill().ok();
        self.0.wait().ok();
    }
}

#[test]
fn the_python_counter_answers_on_its_line_and_ends_after_its_answers() {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/devices/counter.py");
    let child = Command::new("python3")
        .arg(script)
        // One more, since the hang-up may take the last with it.
        .arg((EXCHANGES.len() + 1).to_string())
        .stdout(Stdio::piped())
        .spawn()
        .expect("python3 is on this machine");
    let mut counter = Counter(child);
    let mut path = String::new();
    let mut stdout = BufReader::new(counter.0.stdout.take().unwrap());
    stdout.read_line(&mut path).unwrap();
    let mut port = serialport::new(path.trim_end(), 9600)
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

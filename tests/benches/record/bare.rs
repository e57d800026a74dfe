//! The least that takes readings from a line to a table: one thread that waits, reads, stamps, writes, and sees to the disk
//! each second. It checks nothing, keeps nothing else and is lost with its line.

use std::fs::File;
use std::io::{ErrorKind, Read as _, Write as _};
use std::time::Duration;

use sagtrace::clock::Clock;

use crate::line::pause;

/// The first argument of this program when it is to be this loop: then the manner, the port and the table.
pub(crate) const NAME: &str = "bare-loop";

const QUESTIONS: [&[u8]; 2] = [b"MEAS:FREQ?\n", b"MEAS:VOLT:DC?\n"];

/// Runs until it is killed.
pub(crate) fn run(manner: &str, port: &str, table: &str) {
    let mut port = serialport::new(port, 115_200)
        .timeout(Duration::from_mins(1))
        .open()
        .expect("the line opens");
    let mut table = File::create(table).expect("the table");
    let (clock, mut synced_s) = (Clock::real(), 0.0);
    let mut bytes = [0; 256];
    let mut hear = |port: &mut Box<dyn serialport::SerialPort>| {
        let mut len = 0;
        while !bytes[..len].ends_with(b"\n") {
            match port.read(&mut bytes[len..]) {
                Ok(count) => len += count,
                Err(error) if error.kind() == ErrorKind::TimedOut => {}
                Err(_) => return None,
            }
        }
        Some(String::from_utf8_lossy(&bytes[..len - 1]).into_owned())
    };
    loop {
        let mut row = Vec::new();
        if manner == "asks" {
            pause(Duration::from_millis(96));
            for question in QUESTIONS {
                port.write_all(question).expect("the line takes it");
                row.extend(hear(&mut port));
            }
        } else {
            row.extend(hear(&mut port));
        }
        if row.is_empty() {
            return;
        }
        let stamp = clock.now();
        let text = format!("{},{}\n", stamp.wall_ms, row.join(","));
        table.write_all(text.as_bytes()).expect("the disk takes it");
        if stamp.elapsed_s() >= synced_s + 1.0 {
            table.sync_data().expect("the disk takes it");
            synced_s = stamp.elapsed_s();
        }
    }
}

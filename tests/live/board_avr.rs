//! The page's C example on the controller it is for: compiled for an 8-bit AVR, run in a simulator of one, read back.

use std::process::Command;

use sagtrace::instrument::{Catalogue, Checksum, Seal};
use sagtrace::reading::{Channel, Status};

use crate::page::{block, page, row};

/// A common 8-bit controller with a serial line: both its compiler and the simulator know it.
const CONTROLLER: &str = "-mmcu=atmega328p";

const HEAD: &str = "#include <avr/interrupt.h>\n#include <avr/io.h>\n#include <avr/sleep.h>\nstatic void put_byte(int byte);\n";

/// Sleeping with interrupts off ends the simulation.
const TAIL: &str = "
static void put_byte(int byte) {
    loop_until_bit_is_set(UCSR0A, UDRE0);
    UDR0 = (unsigned char)byte;
}

int main(void) {
    UCSR0B = _BV(TXEN0);
    send_reading(62312345UL, 8912);
    send_reading(98765432UL, 7);
    send_reading(0, 6100);
    send_reading(4294967295UL, 65535U);
    loop_until_bit_is_set(UCSR0A, UDRE0);
    cli();
    sleep_mode();
}
";

/// The text without the colours that the simulator puts around each line, and without the point for its line end.
fn lines(said: &str) -> Vec<String> {
    let said = said.replace("\u{1b}[32m", "").replace("\u{1b}[0m", "");
    let lines = said.lines().filter(|line| line.contains('*'));
    lines
        .map(|line| line.strip_suffix('.').unwrap_or(line).to_owned())
        .collect()
}

#[test]
fn the_c_example_prints_the_same_lines_on_an_8_bit_controller() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let (source, program) = (dir.path().join("board.c"), dir.path().join("board.elf"));
    let text = format!("{HEAD}{}{TAIL}", block(&page(), "c"));
    std::fs::write(&source, text).expect("the source is written");
    let compiled = Command::new("avr-gcc")
        .args([CONTROLLER, "-Os", "-Wall", "-Wextra", "-Werror", "-o"])
        .args([&program, &source])
        .output()
        .expect("avr-gcc runs: Debian's gcc-avr and avr-libc");
    let said = String::from_utf8_lossy(&compiled.stderr);
    assert!(compiled.status.success(), "{said}");
    let output = Command::new("timeout")
        .args(["60", "simavr", "-m", "atmega328p", "-f", "16000000"])
        .arg(&program)
        .output()
        .expect("simavr runs: Debian's simavr");
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    let lines = lines(&said);
    let want = [
        ("f=6231234.5Hz v=8.912V", Some(6_231_234.5), 8.912),
        // What a `double` of four bytes rounds to 9876543.0.
        ("f=9876543.2Hz v=0.007V", Some(9_876_543.2), 0.007),
        ("f=none v=6.100V", None, 6.1),
        // The largest numbers that the controller can hold.
        ("f=429496729.5Hz v=65.535V", Some(429_496_729.5), 65.535),
    ];
    assert_eq!(lines.len(), want.len(), "{said}");
    let (profile, _) = Catalogue::default()
        .get("plain-lines")
        .expect("the profile is sound");
    for (line, (begins, frequency_hz, battery_v)) in lines.iter().zip(want) {
        assert_eq!(line.split_once(" *").map(|split| split.0), Some(begins));
        assert!(Seal::from(Checksum::Required).proves(line), "{line}");
        let read = row(&profile, line);
        assert_eq!(
            read.readings.get(Channel::FrequencyHz),
            frequency_hz,
            "{line}"
        );
        assert_eq!(
            read.readings.get(Channel::BatteryV),
            Some(battery_v),
            "{line}"
        );
        assert_eq!(
            read.status == Status::NoSignal,
            frequency_hz.is_none(),
            "{line}"
        );
    }
}

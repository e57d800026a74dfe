//! A battery that runs down while its counter no longer gives a frequency: it is followed all the same.

use sagtrace::bench::Instrument;
use sagtrace::bench::scpi::Scpi;
use sagtrace::bench::world::World;
use sagtrace::reading::Status;
use sagtrace::session::Session;

use crate::common::Desk;
use crate::line::device;

/// Readings before the coil stops.
const RUNNING: u32 = 8;

/// What the counter does when it is asked for a frequency and the coil has stopped.
#[derive(Debug, Clone, Copy)]
enum Manner {
    SaysNothing,
    Refuses,
    SaysNonsense,
    SaysOverload,
}

/// A counter beside a battery that falls by 50 mV from reading to reading, from 9.55 V on.
#[derive(Debug)]
struct Stopping {
    counter: Scpi,
    manner: Manner,
    heard: Vec<u8>,
    frequencies: u32,
    volts: u32,
}

impl Stopping {
    fn answer(&mut self, line: &[u8], world: &World, elapsed_s: f64) -> Vec<Vec<u8>> {
        if line == b"MEAS:VOLT:DC?\n" {
            self.volts += 1;
            return vec![format!("{:.3}\n", 9.6 - 0.05 * f64::from(self.volts)).into_bytes()];
        }
        if line == b"MEAS:FREQ?\n" {
            self.frequencies += 1;
            if self.frequencies > RUNNING {
                return match self.manner {
                    Manner::SaysNothing => Vec::new(),
                    // It leaves a complaint in its queue, which is the parser's own.
                    Manner::Refuses => self.counter.hear(b"BOGUS?\n", world, elapsed_s),
                    Manner::SaysNonsense => vec![b"6.2#12\n".to_vec()],
                    Manner::SaysOverload => vec![b"9.9E37\n".to_vec()],
                };
            }
        }
        self.counter.hear(line, world, elapsed_s)
    }
}

impl Instrument for Stopping {
    fn hear(&mut self, bytes: &[u8], world: &World, elapsed_s: f64) -> Vec<Vec<u8>> {
        let mut answers = Vec::new();
        for &byte in bytes {
            self.heard.push(byte);
            if byte == b'\n' {
                let line = std::mem::take(&mut self.heard);
                answers.extend(self.answer(&line, world, elapsed_s));
            }
        }
        answers
    }
}

#[test]
fn a_battery_is_followed_to_its_limit_whatever_befell_the_frequency() {
    for (manner, status) in [
        (Manner::SaysNothing, Status::Silent),
        (Manner::Refuses, Status::Refused),
        (Manner::SaysNonsense, Status::Garbled),
        (Manner::SaysOverload, Status::Overload),
    ] {
        let desk = Desk::new();
        let counter = device(
            Stopping {
                counter: Scpi::counter(),
                manner,
                heard: Vec::new(),
                frequencies: 0,
                volts: 0,
            },
            Vec::new(),
        );
        let address = format!("quick-scpi-counter@serial:{}", counter.path().display());
        let args = ["-i", &address, "--every", "20ms", "--until-below", "9.01V"];
        // It ends by itself long before.
        let ended = desk.record(&[&args[..], &["--battery", "N1", "--for", "1min"]].concat());
        assert_eq!(ended.code, Some(0), "{manner:?}: {}", ended.stderr);
        let meta = Session::open(&desk.path().join("out")).unwrap().meta;
        assert_eq!(
            meta.end_reason.as_deref(),
            Some("the battery was below 9.01 V"),
            "{manner:?}"
        );
        let rows = desk.rows();
        // The end cuts a round short, which may have no voltage any more.
        let mut read = rows.iter().filter(|row| row.battery_v().is_some());
        assert_eq!(
            read.next_back().unwrap().status,
            status,
            "{manner:?}: {rows:?}"
        );
        let least_v = meta.summary.unwrap().battery_v.unwrap().min;
        assert!(least_v < 8.91, "{manner:?}: lowest {least_v} V");
        let json = |args: &[&str]| -> serde_json::Value {
            let ended = desk.run(args).well();
            serde_json::from_str(&ended.stdout).unwrap()
        };
        let compared = json(&["compare", "out", "--no-plots", "--format", "json"]);
        let read = &compared["sources"][0]["channels"]["battery_v"];
        assert_eq!(read["min"], least_v, "{manner:?}");
        let book = json(&["battery", "--sessions", ".", "--format", "json"]);
        let run = &book["batteries"][0]["sessions"][0];
        assert_eq!(run["least_v"], least_v, "{manner:?}");
    }
}

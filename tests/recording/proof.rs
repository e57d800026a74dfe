//! `record --dry-run` and `ports --identify` against what a recording of the same instrument gives.

use sagtrace::bench::Instrument;
use sagtrace::bench::lines::Lines;
use sagtrace::bench::pty::Device;
use sagtrace::bench::world::World;
use sagtrace::reading::Status;

use crate::common::{Desk, pause};
use crate::line::device;

const SCPI_COUNTER: &str = include_str!("../../devices/scpi-counter.toml");
const PLAIN_LINES: &str = include_str!("../../devices/plain-lines.toml");

const DONE: Option<i32> = Some(0);
const INSTRUMENT: Option<i32> = Some(3);

fn at(profile: &str, device: &Device) -> String {
    format!("{profile}@serial:{}", device.path().display())
}

/// Answers as a counter does, each answer in front of and behind what its manner says.
#[derive(Debug)]
struct Mannered {
    before: &'static str,
    behind: &'static str,
    frequency: &'static str,
    heard: Vec<u8>,
}

impl Mannered {
    const fn new(before: &'static str, behind: &'static str) -> Self {
        Self {
            before,
            behind,
            frequency: "6.2E+06",
            heard: Vec::new(),
        }
    }
}

impl Instrument for Mannered {
    fn hear(&mut self, bytes: &[u8], _world: &World, _elapsed_s: f64) -> Vec<Vec<u8>> {
        self.heard.extend_from_slice(bytes);
        let mut said = Vec::new();
        while let Some(at) = self.heard.iter().position(|byte| *byte == b'\n') {
            let question: Vec<u8> = self.heard.drain(..=at).collect();
            let answer = match question.trim_ascii() {
                b"*IDN?" => "club,mannered,7,1",
                b"*OPC?" => "1",
                b"SYST:ERR?" => "0,\"No error\"",
                b"MEAS:FREQ?" => self.frequency,
                b"MEAS:VOLT:DC?" => "9.0",
                _ => {
                    said.push(self.behind.as_bytes().to_vec());
                    continue;
                }
            };
            said.push(format!("{}{answer}\n{}", self.before, self.behind).into_bytes());
        }
        said
    }
}

/// A profile of the counter with another name, and this in the place of that.
fn counter(desk: &Desk, name: &str, from: &str, to: &str) {
    let text = SCPI_COUNTER
        .replacen("scpi-counter", name, 1)
        .replace("\"3 s\"", "\"500 ms\"");
    assert!(text.contains(from), "{from}");
    let text = text.replacen(from, to, 1);
    desk.file(&format!("sagtrace/devices/{name}.toml"), &text);
}

/// A prompt behind each answer made the synchronising answer another: the proof said "fits", and the recording had no row.
#[test]
fn an_instrument_with_a_prompt_is_recorded_and_its_proof_says_so() {
    let desk = Desk::new();
    counter(
        &desk,
        "named",
        "[port]\n",
        "[port]\nprompt = \"CH1:\"\nskip = \"CR:Ack\"\n",
    );
    for (profile, instrument) in [
        ("quick-scpi-counter", Mannered::new("", "> ")),
        ("quick-scpi-counter", Mannered::new("", "OK>")),
        ("named", Mannered::new("CR:Ack\nCH1:", "CH1:")),
    ] {
        let what = format!("{instrument:?}");
        let device = device(instrument, Vec::new());
        let path = device.path().display().to_string();
        let ended = desk.run(&["ports", "--identify", "--path", &path]);
        let answers = format!("answers to {profile} as club,mannered,7,1: 6.2 MHz, 9 V");
        assert!(ended.stdout.contains(&answers), "{what}: {}", ended.stdout);
        let ended = desk.run(&["record", "--dry-run", "-i", &at(profile, &device)]);
        assert_eq!(ended.code, DONE, "{what}: {}{}", ended.stdout, ended.stderr);
        let address = at(profile, &device);
        let args = ["-i", &address, "--every", "50ms", "--for", "2s"];
        desk.record(&args).well();
        let rows = desk.rows();
        let good = rows.iter().filter(|row| row.status == Status::Ok).count();
        assert!(
            good == rows.len() && good >= 10,
            "{what}: {good} of {}",
            rows.len()
        );
        std::fs::remove_dir_all(desk.path().join("out")).unwrap();
    }
}

/// The proof cut lines otherwise than the recording, which garbled every row.
#[test]
fn a_line_that_is_too_long_for_the_recording_is_so_for_the_proof() {
    let desk = Desk::new();
    counter(&desk, "short", "[port]\n", "[port]\nlongest_line = 64\n");
    let text = PLAIN_LINES
        .replacen("plain-lines", "short-lines", 1)
        .replacen("[port]\n", "[port]\nlongest_line = 16\n", 1)
        .replace("\"2 s\"", "\"0 s\"");
    desk.file("sagtrace/devices/short-lines.toml", &text);
    let mut long = Mannered::new("", "");
    // 84 bytes; a number of up to 255 digits is one.
    long.frequency =
        "6.200000000000000000000000000000000000000000000000000000000000000000000000000000E+06";
    assert_eq!(long.frequency.len(), 84);
    for (profile, device, fault) in [
        (
            "short",
            device(long, Vec::new()),
            "MEAS:FREQ?: a line beyond longest_line",
        ),
        (
            "short-lines",
            device(Lines::plain(0.05).unwrap(), Vec::new()),
            "a line beyond the limit: f=",
        ),
    ] {
        let address = at(profile, &device);
        let ended = desk.run(&["record", "--dry-run", "-i", &address]);
        assert_eq!(ended.code, INSTRUMENT, "{}", ended.stdout);
        assert!(ended.stdout.contains(fault), "{}", ended.stdout);
        let ended = desk.record(&["-i", &address, "--for", "2s"]);
        let rows = desk.rows();
        assert!(
            rows.iter().all(|row| row.status == Status::Garbled),
            "{}",
            ended.stdout
        );
        std::fs::remove_dir_all(desk.path().join("out")).unwrap();
    }
}

/// Each row has a battery voltage, however its frequency is refused: that is not nothing.
#[test]
fn an_instrument_that_gave_a_voltage_in_each_row_gave_something() {
    let desk = Desk::new();
    let mut half = Mannered::new("", "");
    half.frequency = "what?";
    let device = device(half, Vec::new());
    let ended = desk.record(&["-i", &at("quick-scpi-counter", &device), "--for", "2s"]);
    let rows = desk.rows();
    assert!(!rows.is_empty() && rows.iter().all(|row| row.status == Status::Garbled));
    assert_eq!(ended.code, DONE, "{}", ended.stderr);
    assert!(!ended.stderr.contains("gave nothing"), "{}", ended.stderr);
}

/// Prints a word for "beyond the range" and nothing else.
#[derive(Debug, Default)]
struct Over(usize);

impl Instrument for Over {
    fn hear(&mut self, _bytes: &[u8], _world: &World, _elapsed_s: f64) -> Vec<Vec<u8>> {
        Vec::new()
    }

    fn due_s(&self) -> Option<f64> {
        Some(self.0 as f64 * 0.1)
    }

    fn speak(&mut self, _world: &World) -> Vec<u8> {
        self.0 += 1;
        b"f=over\n".to_vec()
    }
}

#[test]
fn a_word_without_a_number_proves_no_profile() {
    let desk = Desk::new();
    let over = device(Over::default(), Vec::new());
    let path = over.path().display().to_string();
    let ended = desk.run(&["ports", "--identify", "--path", &path]);
    let told: Vec<&str> = ended
        .stdout
        .lines()
        .filter(|line| line.contains("plain-lines"))
        .collect();
    assert!(
        !told.is_empty()
            && told
                .iter()
                .all(|line| line.ends_with("overload, and no number that proves it")),
        "{told:?}"
    );
}

#[test]
fn the_hint_for_an_address_on_the_network_names_no_ports() {
    let desk = Desk::new();
    let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let address = format!("quick-scpi-counter@tcp:{}", listener.local_addr().unwrap());
    let mute = std::thread::spawn(move || {
        let open: Vec<_> = listener.incoming().take(2).collect();
        // They stay open while the program waits.
        pause(std::time::Duration::from_secs(8));
        drop(open);
    });
    for args in [
        ["record", "-o", "out", "--for", "2s"].as_slice(),
        &["record", "--dry-run"],
    ] {
        let ended = desk.run(&[args, &["-i", &address]].concat());
        assert_eq!(ended.code, INSTRUMENT, "{}", ended.stderr);
        assert!(!ended.stderr.contains("sagtrace ports"), "{}", ended.stderr);
    }
    mute.join().unwrap();
}

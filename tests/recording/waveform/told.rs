//! Blocks from an instrument that says what a test sets.

use super::*;

/// An instrument that says what a test sets: for each question its answers in turn, the last one for ever.
#[derive(Debug)]
struct Told {
    heard: Vec<u8>,
    answers: Vec<(&'static str, Vec<Vec<u8>>)>,
}

impl Told {
    fn new(answers: Vec<(&'static str, Vec<Vec<u8>>)>) -> Self {
        Self {
            heard: Vec::new(),
            answers,
        }
    }
}

impl Instrument for Told {
    fn hear(&mut self, bytes: &[u8], _world: &World, _elapsed_s: f64) -> Vec<Vec<u8>> {
        self.heard.extend_from_slice(bytes);
        let mut said = Vec::new();
        while let Some(end) = self.heard.iter().position(|byte| *byte == b'\n') {
            let line: Vec<u8> = self.heard.drain(..=end).collect();
            let question = String::from_utf8_lossy(&line).trim().to_owned();
            if question == "*OPC?" {
                said.push(b"1\n".to_vec());
            }
            let known = self
                .answers
                .iter_mut()
                .find(|(known, _)| *known == question);
            if let Some((_, answers)) = known {
                let is_last = answers.len() == 1;
                said.push(if is_last {
                    answers[0].clone()
                } else {
                    answers.remove(0)
                });
            }
        }
        said
    }
}

/// 500 samples without a sign about 128, 30.65 cycles, amplitude 118: both line ends stand among them.
fn samples() -> Vec<u8> {
    (0..500)
        .map(|index| (128.0 + 118.0 * (TAU * 0.0613 * f64::from(index) + 0.3).cos()).round())
        .map(|code| format!("{code}").parse().unwrap())
        .collect()
}

fn definite(data: &[u8]) -> Vec<u8> {
    let length = data.len().to_string();
    [
        b"#",
        length.len().to_string().as_bytes(),
        length.as_bytes(),
        data,
        b"\n",
    ]
    .concat()
}

const TOLD: &str = r#"
schema = 1
name = "told"
about = "an instrument that says what a test sets"
manner = "asked"
[timing]
timeout = "300 ms"
[resync]
ask = "*OPC?"
answer = "1"
[waveform]
preamble = "P?"
ask = "W?"
codes = "uint8"
points = 1
interval = 2
volts_per_code = 3
zero_code = 4
longest_block = 2000
idle = "100 ms"
[[value]]
channel = "frequency_hz"
waveform = "frequency"
[[value]]
channel = "amplitude_v"
waveform = "fundamental"
"#;

/// 0.0613 cycles in 20 ns are 3.065 MHz; 2 · 118 codes of 10 mV are 2.36 V.
const PREAMBLE: &[u8] = b"500,2E-8,:WF:YM 1.0E-02,128\n";

fn told(profile: &str, preambles: &[&[u8]], waves: &[Vec<u8>]) -> Recorded {
    let desk = Desk::new();
    desk.file("sagtrace/devices/told.toml", profile);
    let preambles = preambles.iter().map(|text| text.to_vec()).collect();
    let instrument = Told::new(vec![("P?", preambles), ("W?", waves.to_vec())]);
    record(desk, "told", steady(instrument, |_| {}, Vec::new()), "2s")
}

/// The first row is as wanted, and the ones after it are good.
fn then_good(recorded: &Recorded, note: &str) {
    let [first, rest @ ..] = recorded.rows.as_slice() else {
        panic!("no rows");
    };
    assert_eq!(
        (first.status, first.note.to_string().as_str()),
        (Status::Garbled, note)
    );
    assert!(first.readings.is_empty(), "{first:?}");
    assert!(!rest.is_empty(), "{note}: it does not go on");
    rest.iter().for_each(good);
}

fn good(row: &Row) {
    assert_eq!(
        (row.status, row.note.to_string().as_str()),
        (Status::Ok, "")
    );
    assert!(
        (get(row, Channel::FrequencyHz) - 3.065e6).abs() < 100.0,
        "{row:?}"
    );
    assert!(
        (get(row, Channel::AmplitudeV) - 2.36).abs() < 0.01,
        "{row:?}"
    );
}

#[test]
fn an_indefinite_block_ends_where_the_preamble_says() {
    let data = samples();
    assert!(data.contains(&b'\n') && data.contains(&b'\r'));
    let wave = [b"#0", data.as_slice(), b"\r\n"].concat();
    told(TOLD, &[PREAMBLE], &[wave]).rows.iter().for_each(good);
    // The last sample looks like the beginning of the line's end.
    let last = data.iter().rposition(|code| *code == b'\r').unwrap();
    let preamble = format!("{},2E-8,1.0E-02,128\n", last + 1).into_bytes();
    let wave = [b"#0", &data[..=last], b"\n"].concat();
    told(TOLD, &[&preamble], &[wave]).rows.iter().for_each(good);
}

#[test]
fn an_indefinite_block_of_unknown_length_ends_when_the_line_is_quiet() {
    let profile = TOLD.replace("points = 1\n", "");
    let wave = [b"#0", samples().as_slice(), b"\n"].concat();
    told(&profile, &[PREAMBLE], &[wave])
        .rows
        .iter()
        .for_each(good);
}

#[test]
fn a_block_with_other_than_the_preamble_says_is_refused() {
    let waves = [definite(&samples()[..400]), definite(&samples())];
    then_good(
        &told(TOLD, &[PREAMBLE], &waves),
        "the samples are not as many as points says",
    );
}

#[test]
fn a_scale_that_changes_while_the_waveform_is_read_is_refused() {
    let other: &[u8] = b"500,2E-8,5.0E-02,128\n";
    then_good(
        &told(TOLD, &[PREAMBLE, other, PREAMBLE], &[definite(&samples())]),
        "the scale changed while the waveform was read",
    );
}

#[test]
fn a_scale_that_is_none_is_refused() {
    for (preamble, note) in [
        (
            &b"500,2E-8\n"[..],
            "volts_per_code: too few values in the preamble",
        ),
        (
            b"500,2E-8,9.91E37,128\n",
            "volts_per_code: no number in the preamble",
        ),
        (b"500,0,1E-2,128\n", "interval: not above 0"),
        (b"500,2E-8,0,128\n", "volts_per_code: 0 volts"),
    ] {
        then_good(
            &told(TOLD, &[preamble, PREAMBLE], &[definite(&samples())]),
            note,
        );
    }
}

#[test]
fn what_is_no_block_is_refused_and_the_next_one_is_read() {
    for (answer, note) in [
        (&b"#H1F\n"[..], "W?: a line where a block is expected"),
        (
            b"#9999999999",
            "W?: a block beyond the limit, 0 of 500 bytes came",
        ),
        (
            b"#12abc\n",
            "W?: more bytes than the block is to have, 2 of 500 bytes came",
        ),
        (
            b"#43x00\n",
            "W?: a block whose length is no number, 0 of 500 bytes came",
        ),
    ] {
        let recorded = told(TOLD, &[PREAMBLE], &[answer.to_vec(), definite(&samples())]);
        then_good(&recorded, note);
    }
}

#[test]
fn a_byte_log_of_a_waveform_is_played_again() {
    let desk = Desk::new();
    desk.file("sagtrace/devices/told.toml", TOLD);
    let mut log = String::new();
    let mut at_us = 0;
    let mut entry = |sign: &str, bytes: &[u8]| {
        at_us += 1000;
        // Entries have their own escapes; all of these are among them.
        write!(log, "{at_us} 2026-01-31T19:00:00.000Z {sign} ").unwrap();
        for byte in bytes {
            write!(log, "\\x{byte:02x}").unwrap();
        }
        log.push('\n');
    };
    let block = definite(&samples());
    for _ in 0..3 {
        entry(">", b"P?\n");
        entry("<", PREAMBLE);
        entry(">", b"W?\n");
        entry("<", &block[..300]);
        entry("<", &block[300..]);
        entry(">", b"P?\n");
        entry("<", PREAMBLE);
    }
    let path = desk.file("waves.log", &log);
    let address = format!("told@log:{}", path.display());
    let ended = desk.record(&["-i", &address]);
    let rows = desk.rows();
    assert_eq!(rows.len(), 3, "{}\n{rows:?}", ended.stderr);
    rows.iter().for_each(good);
    // The row's moment is that of the block's first bytes.
    assert_eq!(rows[0].stamp.elapsed_us, 4000);
}

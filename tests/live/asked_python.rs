//! Instruments that are asked, as they are: `tests/devices/asked.py` plays their bytes on real pseudo-terminals, a profile
//! written as `devices/README.md` says reads them, and the rows are compared with the values that the bytes mean.
//!
//! The numbers of the forms, and where each comes from (T exact bytes from tests of general-purpose instrument libraries,
//! D the form from their drivers, M from memory of public data sheets, I made up), stand in the Python file.

use sagtrace::reading::{Channel, Row, Status};

use crate::common::{Desk, Ended};
use crate::player::play;

/// Records rows from a form with a profile of these lines.
fn record(form: &str, lines: &str) -> (Ended, Vec<Row>, Desk) {
    let (_played, path) = play("asked.py", form);
    let desk = Desk::new();
    let text = format!(
        "schema = 1\nname = \"mine\"\nabout = \"form {form}\"\nmanner = \"asked\"\n\n[timing]\nevery = \"50 ms\"\n\
         timeout = \"1 s\"\n\n{lines}"
    );
    desk.file("sagtrace/devices/mine.toml", &text);
    let mut running = desk.start(&["-i", &format!("mine@serial:{path}"), "--keep-bytes"]);
    // A line of names, and four rows of any kind.
    for _ in 0..5 {
        running.wait_for("a row", |line| line.contains(','));
    }
    let ended = running.interrupt();
    let rows = desk.rows();
    (ended, rows, desk)
}

/// Records, and holds every row to these values, each within its tolerance.
fn check(form: &str, lines: &str, expected: &[(Channel, f64, f64)]) {
    let (ended, rows, desk) = record(form, lines);
    assert_eq!(ended.code, Some(0), "{form}: {}", ended.stderr);
    assert!(rows.len() >= 4, "{form}: {rows:?}");
    // The bytes that were kept come to the same rows when they are played.
    let log = "mine@log:out/bytes/mine.log";
    desk.run(&["record", "-i", log, "-o", "again"]).well();
    let (first, again) = (desk.read("out/samples.csv"), desk.read("again/samples.csv"));
    assert!(again.starts_with(&first), "{form}:\n{first}\n{again}");
    for row in &rows {
        assert_eq!(
            (row.status, row.note.to_string().as_str()),
            (Status::Ok, ""),
            "{form}"
        );
        for (channel, value, tolerance) in expected {
            let found = row.readings.get(*channel).unwrap_or(f64::NAN);
            assert!((found - value).abs() <= *tolerance, "{form}: {row:?}");
        }
    }
}

/// A waveform of 3.065 MHz (0.0613 cycles in 20 ns) of a known height, its samples rounded to whole codes.
fn check_wave(form: &str, lines: &str, height_v: f64) {
    let values = r#"
[[value]]
channel = "frequency_hz"
waveform = "frequency"

[[value]]
channel = "amplitude_v"
waveform = "fundamental"
"#;
    let expected = [
        (Channel::FrequencyHz, 3.065e6, 100.0),
        (Channel::AmplitudeV, height_v, 0.005 * height_v),
    ];
    check(form, &format!("{lines}{values}"), &expected);
}

#[test]
fn form_1_has_letters_glued_to_the_number() {
    let lines = |ask: &str| {
        format!(
            "[port]\nsent_end = \"crlf\"\n\n[[value]]\nchannel = \"frequency_hz\"\nat_least = \"1 MHz\"\n{ask}\n"
        )
    };
    // 010.00000000E+06 Hz, and a period of 000100.00000E-09 s.
    let expected = [(Channel::FrequencyHz, 10e6, 0.0)];
    let frequency = "ask = \" FA\"\nheader = \"FA\"\nunit = \"Hz\"";
    check("1", &lines(frequency), &expected);
    let period = "ask = \" PA\"\nheader = \"PA\"\nquantity = \"period\"\nunit = \"s\"";
    check("1", &lines(period), &expected);
}

#[test]
fn form_1_behind_another_header_is_refused() {
    let lines = "[port]\nsent_end = \"crlf\"\n\n[[value]]\nchannel = \"frequency_hz\"\nask = \" PA\"\nheader = \"FA\"\nunit = \"Hz\"\n";
    let (_, rows, _desk) = record("1", lines);
    for row in &rows {
        assert_eq!(row.status, Status::Garbled, "{row:?}");
        assert!(row.readings.is_empty(), "{row:?}");
    }
}

#[test]
fn form_2_has_seven_values_of_which_the_first_is_read() {
    let lines = r#"
[start]
send = ["FORM ASC"]

[[value]]
channel = "frequency_hz"
ask = ":INIT\n:FETC:ARR? 7"
position = 1
of = 7
unit = "Hz"
"#;
    check("2", lines, &[(Channel::FrequencyHz, 9_999_992.027, 0.0)]);
}

#[test]
fn form_3_has_a_name_and_blanks_before_the_value() {
    let lines = r#"
[start]
send = ["EOI ON", "FRUN OFF"]

[[value]]
channel = "frequency_hz"
ask = "X"
header = "FREQ"
unit = "Hz"
"#;
    check("3", lines, &[(Channel::FrequencyHz, 9_999_999.3, 0.0)]);
}

#[test]
fn form_4_is_set_up_and_has_an_overload() {
    let lines = r#"
[start]
send = ["CONF:VOLT:DC", "VOLT:DC:RANG:AUTO ON", "TRIG:SOUR IMM"]

[errors]
ask = "SYST:ERR?"
none = "0"

[marks]
overload = ["9.9E37"]

[[value]]
channel = "battery_v"
ask = ":READ?"
unit = "V"
"#;
    let (ended, rows, _desk) = record("4", lines);
    assert_eq!(ended.code, Some(0), "{}", ended.stderr);
    for pair in rows.chunks_exact(2) {
        let found = pair
            .iter()
            .map(|row| (row.status, row.readings.get(Channel::BatteryV)));
        let expected = [(Status::Ok, Some(0.000_123)), (Status::Overload, None)];
        assert_eq!(found.collect::<Vec<_>>(), expected, "{pair:?}");
    }
}

#[test]
fn form_5_has_two_values_in_text_or_one_in_a_small_block() {
    let lines = r#"
[[value]]
channel = "battery_v"
ask = "FETC?"
unit = "V"

[[value]]
channel = "current_a"
ask = "FETC?"
position = 2
unit = "A"
"#;
    let expected = [
        (Channel::BatteryV, 4.2715e-3, 0.0),
        (Channel::CurrentA, 5.2715e-3, 0.0),
    ];
    check("5", lines, &expected);
    let lines = r#"
[start]
send = ["FORM:DATA REAL,64"]

[[value]]
channel = "battery_v"
ask = "R? 1"
codes = "real-64-high-first"
unit = "V"

[[value]]
channel = "current_a"
ask = "FETC?"
position = 2
unit = "A"
"#;
    let expected = [
        (Channel::BatteryV, 1.0, 0.0),
        (Channel::CurrentA, 5.2715e-3, 0.0),
    ];
    check("5", lines, &expected);
}

#[test]
fn form_5_as_other_numbers_than_it_has_is_refused() {
    let lines = "[start]\nsend = [\"FORM:DATA REAL,64\"]\n\n[[value]]\nchannel = \"battery_v\"\nask = \"R? 1\"\ncodes = \"real-32-high-first\"\nunit = \"V\"\n";
    let (_, rows, desk) = record("5", lines);
    for row in &rows {
        assert_eq!(row.status, Status::Garbled, "{row:?}");
        assert_eq!(
            row.note.to_string(),
            "R? 1 gave 2 values where the profile says 1"
        );
    }
    assert!(desk.read("out/rejected.log").contains("(too many values)"));
}

#[test]
fn form_6_ends_its_lines_with_a_carriage_return() {
    let lines = r#"
[port]
sent_end = "cr"
received_end = "cr"

[start]
send = ["HO0T4SO1"]

[[value]]
channel = "battery_v"
ask = "S0F1W1STNT3"
unit = "V"
"#;
    check("6", lines, &[(Channel::BatteryV, 2e-7, 0.0)]);
}

/// (code - 20) × 0.25 mV + 0.1 V, and 4000 codes of swing: 2 V from peak to peak.
#[test]
fn form_8_has_a_preamble_of_five_questions() {
    let lines = r#"
[start]
send = ["DAT:ENC RIB", "DATA:WIDTH 2"]

[waveform]
preamble = ["YOF?", "YMU?", "YZE?", "XIN?", "NR_P?"]
ask = "CURVE?"
codes = "int16-high-first"
zero_code = 1
volts_per_code = 2
added_volts = 3
interval = 4
points = 5
"#;
    check_wave("8", lines, 2.0);
    check_wave("8-headers", lines, 2.0);
}

#[test]
fn form_9_is_read_with_its_header_and_without() {
    let lines =
        "[[value]]\nchannel = \"frequency_hz\"\nask = \"MEASU:MEAS1:VAL?\"\nunit = \"Hz\"\n";
    for form in ["9", "9-headers"] {
        check(form, lines, &[(Channel::FrequencyHz, 6.231e6, 0.0)]);
    }
}

/// 1 us a division: × 12/600 = 20 ns. 0.5 V a division: / 25 = 20 mV a code; 100 codes of swing: 4 V.
#[test]
fn form_10_has_no_preamble_but_settings() {
    let lines = r#"
[waveform]
ask = ":WAV:DATA? CHAN2"
codes = "uint8"
points = "600"
interval = { ask = ":TIM:SCAL?", factor = 0.02 }
volts_per_code = { ask = ":CHAN2:SCAL?", factor = 0.04 }
zero_code = "125"
"#;
    check_wave("10", lines, 4.0);
}

#[test]
fn form_10_with_another_number_of_samples_is_refused() {
    let lines = r#"
[waveform]
ask = ":WAV:DATA? CHAN2"
codes = "uint8"
points = "500"
interval = "20 ns"
volts_per_code = "20 mV"

[[value]]
channel = "frequency_hz"
waveform = "frequency"
"#;
    let (_, rows, _desk) = record("10", lines);
    for row in &rows {
        assert_eq!(row.status, Status::Garbled, "{row:?}");
        let note = "the samples are not as many as points says";
        assert_eq!(row.note.to_string(), note);
    }
}

/// 100 codes of swing, 20 mV each: 4 V.
#[test]
fn forms_12_and_13_have_their_origin_in_codes_and_in_volts() {
    let lines = r#"
[waveform]
preamble = ":WAV:PRE?"
ask = ":WAV:DATA?"
codes = "uint8"
points = 3
interval = 5
volts_per_code = 8
"#;
    check_wave("12", &format!("{lines}zero_code = [9, 10]\n"), 4.0);
    check_wave(
        "13",
        &format!("{lines}zero_code = 10\nadded_volts = 9\n"),
        4.0,
    );
}

/// 100 codes of swing, 40 mV each: 8 V.
#[test]
fn form_14_has_sixteen_values_and_a_text_in_its_preamble() {
    let lines = r#"
[waveform]
preamble = "WFP?"
ask = "CURV?"
codes = "int8"
points = 6
interval = 9
volts_per_code = 13
added_volts = 14
zero_code = 15
"#;
    check_wave("14", lines, 8.0);
}

/// 1 V of swing about 0.1 V: 2 V.
#[test]
fn form_15_has_samples_in_text() {
    let lines = "[waveform]\nask = \"DATA?\"\ncodes = \"ascii\"\ninterval = \"20 ns\"\n";
    check_wave("15", lines, 2.0);
    check_wave("15-plain", lines, 2.0);
    // Volts beyond an end stop are clipped here, too.
    let stop = format!(
        "{lines}highest_code = 1.0\n\n[[value]]\nchannel = \"amplitude_v\"\nwaveform = \"peak-to-peak\"\n"
    );
    let (_, rows, _desk) = record("15", &stop);
    for row in &rows {
        assert_eq!(row.status, Status::Overload, "{row:?}");
        assert!(
            row.note.to_string().starts_with("amplitude_v: at least "),
            "{row:?}"
        );
    }
}

#[test]
fn an_answer_that_breaks_off_costs_its_own_row_alone() {
    let text = "[waveform]\nask = \"DATA?\"\ncodes = \"ascii\"\ninterval = \"20 ns\"\n\n[[value]]\nchannel = \"frequency_hz\"\nwaveform = \"frequency\"\n";
    let small = "[[value]]\nchannel = \"battery_v\"\nask = \"R? 1\"\ncodes = \"real-64-high-first\"\nunit = \"V\"\n";
    for (lines, note) in [
        (text, "DATA?: the block broke off, 1000 bytes came"),
        (small, "R? 1: the block broke off, 4 bytes came"),
    ] {
        let (ended, rows, desk) = record("breaks", lines);
        assert_eq!(ended.code, Some(0), "{}", ended.stderr);
        for (index, row) in rows.iter().enumerate() {
            let expected = if index % 2 == 0 {
                (Status::Garbled, note)
            } else {
                (Status::Ok, "")
            };
            assert_eq!(
                (row.status, row.note.to_string().as_str()),
                expected,
                "{rows:?}"
            );
            assert_eq!(row.readings.is_empty(), index % 2 == 0, "{row:?}");
        }
        assert!(
            desk.read("out/rejected.log")
                .contains("(the block broke off)")
        );
    }
}

/// 100 codes of swing, 20 mV each: 4 V.
#[test]
fn form_16_has_its_scale_in_the_block() {
    let lines = r#"
[waveform]
ask = "C1:WF? ALL"
codes = "int8"
skip = 346
interval = { offset = 176, form = "real-32-low-first" }
volts_per_code = { offset = 156, form = "real-32-low-first" }
added_volts = { offset = 160, form = "real-32-low-first", factor = -1 }
"#;
    check_wave("16", lines, 4.0);
}

/// 0.5 V a division / 25, 100 codes of swing: 4 V. 50 MSa/s: 20 ns.
#[test]
fn form_16s_sister_has_headers_units_and_a_block_behind_a_comma() {
    let lines = r#"
[waveform]
ask = "C1:WF? DAT2"
codes = "int8"
interval = { ask = "SARA?", reciprocal = true }
volts_per_code = { ask = "C1:VDIV?", factor = 0.04 }
added_volts = { ask = "C1:OFST?", factor = -1 }
"#;
    check_wave("16-sister", lines, 4.0);
}

#[test]
fn form_22_is_asked_for_its_answer_with_a_line_of_its_own() {
    let lines = r#"
[start]
send = ["++eoi 1"]

[[value]]
channel = "frequency_hz"
ask = "MEAS:FREQ?\n++read eoi"
unit = "Hz"
"#;
    check("22", lines, &[(Channel::FrequencyHz, 6_231_234.5, 0.0)]);
    let (_, rows, _desk) = record("22-mute", lines);
    for row in &rows {
        assert_eq!(row.status, Status::Silent, "{row:?}");
    }
    assert_eq!(
        rows[0].note.to_string(),
        "no answer to MEAS:FREQ? ++read eoi in 1 s"
    );
}

//! Forms of scopes. The exact bytes come from the tests of general-purpose instrument libraries, forms from drivers, scales from
//! memory of public data sheets. Each source is named beside its test. The sums are by hand.

use super::*;
use crate::instrument::Profile;

/// A profile with this `[waveform]` table.
fn parse(table: &str) -> WaveformRule {
    let text = format!(
        "schema = 1\nname = \"m\"\nabout = \"a scope\"\nmanner = \"asked\"\n[waveform]\n{table}\n[[value]]\nchannel = \"amplitude_v\"\nwaveform = \"peak-to-peak\"\n"
    );
    Profile::parse("m", &text).unwrap().waveform.unwrap()
}

/// The interval, and the samples in volts, rounded to a nanovolt.
fn read(table: &str, answers: &[&str], block: &[u8]) -> Result<(f64, Vec<f64>), String> {
    let rule = parse(table);
    assert_eq!(rule.scale.questions().count(), answers.len());
    let answers: Vec<String> = answers.iter().map(|text| (*text).to_owned()).collect();
    let scale = Preamble::read(&answers, Some(block), &rule.scale);
    let scale = scale.map_err(|fault| fault.to_string())?;
    let trace = rule
        .samples(block)
        .and_then(|samples| Trace::new(scale, samples, rule.codes))
        .map_err(|why| why.to_string())?;
    let volts = trace.volts().map(|volts| (volts * 1e9).round() / 1e9);
    Ok((scale.interval_s, volts.collect()))
}

const FIVE: &str = r#"
preamble = ["YOF?", "YMU?", "YZE?", "XIN?", "NR_P?"]
ask = "CURVE?"
codes = "int16-high-first"
zero_code = 1
volts_per_code = 2
added_volts = 3
interval = 4
points = 5
"#;

/// The ten bytes are a library test's, codes 0 to 4; the five answers are ours: volts = (code - 2) × 0.04 + 0.1.
#[test]
fn a_preamble_may_be_five_questions() {
    let block = [0, 0, 0, 1, 0, 2, 0, 3, 0, 4];
    let answers = ["2.0E0", "4.0E-2", "1.0E-1", "2.0E-8", "5"];
    let want = vec![0.02, 0.06, 0.1, 0.14, 0.18];
    assert_eq!(read(FIVE, &answers, &block), Ok((2e-8, want.clone())));
    // With the headers on.
    let headed = [
        ":WF:YOF 2.0",
        ":WF:YMU 4.0E-2",
        ":WF:YZE 0.1",
        ":WF:XIN 2.0E-8",
        ":WF:NR_P 5",
    ];
    assert_eq!(read(FIVE, &headed, &block), Ok((2e-8, want)));
    let silent = ["2.0E0", "4.0E-2", "1.0E-1", "9.91E37", "5"];
    let refused = read(FIVE, &silent, &block).unwrap_err();
    assert_eq!(refused, "interval: no number in the preamble");
}

/// The framing `#8` is a library test's; the scale is from memory: a division is 25 codes, and twelve are 600 points.
#[test]
fn a_scale_may_come_from_settings() {
    let table = r#"
ask = ":WAV:DATA? CHAN2"
codes = "uint8"
interval = { ask = ":TIM:SCAL?", factor = 0.02 }
volts_per_code = { ask = ":CHAN2:SCAL?", factor = 0.04 }
zero_code = "125"
"#;
    // 1 us per division: 1 us × 12/600 = 20 ns. 0.5 V per division: 20 mV per code.
    let got = read(table, &["1.000000e-06", "5.0e-01"], &[125, 150, 100]);
    assert_eq!(got, Ok((2e-8, vec![0.0, 0.5, -0.5])));
    let got = read(table, &["1us", "500 mV"], &[125, 150, 100]);
    assert_eq!(got, Ok((2e-8, vec![0.0, 0.5, -0.5])));
    for (answers, why) in [
        (["0", "0.5"], "interval: not above 0"),
        (
            ["1e-6", "0.5 A"],
            "volts_per_code: no number in the answer to its question",
        ),
        (
            ["1e-6", "500 MV"],
            "volts_per_code: no number in the answer to its question",
        ),
        (
            ["1e-6", ""],
            "volts_per_code: no number in the answer to its question",
        ),
        (
            ["1e-6", ":TIM:OFFS 0.5"],
            "volts_per_code: a value behind the header of another question",
        ),
    ] {
        assert_eq!(read(table, &answers, &[1]).unwrap_err(), why, "{answers:?}");
    }
}

const TEN: &str = "4,0,5,1,2.000E-08,-5.000E-06,0,2.000E-02,25,128";

/// Ten values, as drivers read them: points, interval, volts per code, and both origins in codes.
#[test]
fn two_origins_in_codes_are_added() {
    let table = r#"
preamble = ":WAV:PRE?"
ask = ":WAV:DATA?"
codes = "uint8"
points = 3
interval = 5
volts_per_code = 8
zero_code = [9, 10]
"#;
    // (code - 25 - 128) × 20 mV.
    let got = read(table, &[TEN], &[153, 203, 103, 154, 152]);
    assert_eq!(got, Ok((2e-8, vec![0.0, 1.0, -1.0, 0.02, -0.02])));
}

/// Ten values, as drivers read them, with the origin in volts and the reference in codes.
#[test]
fn an_origin_in_volts_is_added_to_the_volts() {
    let table = r#"
preamble = ":WAV:PRE?"
ask = ":WAV:DATA?"
codes = "uint8"
points = 3
interval = 5
volts_per_code = 8
zero_code = 10
added_volts = 9
"#;
    // (code - 128) × 20 mV - 0.5 V.
    let preamble = "0,0,3,1,2.000E-08,0,0,2.000E-02,-5.0E-01,128";
    let got = read(table, &[preamble], &[128, 178, 78]);
    assert_eq!(got, Ok((2e-8, vec![-0.5, 0.5, -1.5])));
}

/// Sixteen values with semicolons, one of them a text with commas in it, as drivers read them; the numbers are ours.
#[test]
fn a_preamble_of_sixteen_values_may_hold_a_text() {
    let table = r#"
preamble = "WFP?"
ask = "CURV?"
codes = "int8"
points = 6
interval = 9
volts_per_code = 13
added_volts = 14
zero_code = 15
"#;
    let preamble = "1;8;BIN;RI;MSB;3;\"Ch1, DC coupling, 1.0E0 V/div; 5.0E-7 s/div\";Y;2.0E-8;0;-2.5E-6;\"s\";4.0E-2;1.0E-1;5.0E0;\"V\"";
    // (code - 5) × 40 mV + 0.1 V.
    let got = read(table, &[preamble], &[5, 30, 0xec]);
    assert_eq!(got, Ok((2e-8, vec![0.1, 1.1, -0.9])));
}

/// Samples in volts as text, as drivers read them; without a preamble the interval is a setting or a constant.
#[test]
fn samples_may_be_text_in_volts() {
    let table = "ask = \"DATA?\"\ncodes = \"ascii\"\ninterval = \"20 ns\"";
    let got = read(table, &[], b"{0.1,0.2,-3.5E-1}");
    assert_eq!(got, Ok((2e-8, vec![0.1, 0.2, -0.35])));
    // Codes in text: (code - 2) × 10 mV, at a rate of 50 MSa/s.
    let table = "ask = \"DATA?\"\ncodes = \"ascii\"\ninterval = { ask = \"RATE?\", reciprocal = true }\nvolts_per_code = \"10 mV\"\nzero_code = \"2\"\npoints = \"3\"";
    for rate in ["5.0E7", "50 MSa/s", "RATE 50MHz"] {
        let got = read(table, &[rate], b"1,2,3\r");
        assert_eq!(got, Ok((2e-8, vec![-0.01, 0.0, 0.01])), "{rate}");
    }
    assert_eq!(
        read(table, &["-1"], b"1,2,3").unwrap_err(),
        "interval: a rate that is not above 0"
    );
    assert_eq!(
        read(table, &["5.0E7"], b"1,2").unwrap_err(),
        "the samples are not as many as points says"
    );
}

/// Floating-point samples: 0.1, -0.25 of 32 bits.
#[test]
fn samples_may_be_floating_point_numbers() {
    let table = "ask = \"DATA?\"\ncodes = \"real-32-low-first\"\ninterval = \"20 ns\"";
    let block = [0.1_f32.to_le_bytes(), (-0.25_f32).to_le_bytes()].concat();
    let (_, volts) = read(table, &[], &block).unwrap();
    assert!((volts[0] - 0.1).abs() < 1e-8 && (volts[1] + 0.25).abs() < 1e-9);
}

/// The form of the answers is a driver's: `C1:VDIV 5.00E-01V`, volts = code × V/div / 25 - offset, every fourth sample.
#[test]
fn settings_may_have_headers_units_and_a_factor() {
    let table = r#"
ask = "C1:WF? DAT2"
codes = "int8"
interval = { ask = "SARA?", reciprocal = true, factor = 4 }
volts_per_code = { ask = "C1:VDIV?", factor = 0.04 }
added_volts = { ask = "C1:OFST?", factor = -1 }
"#;
    let answers = [
        "SARA 2.00E+08Sa/s",
        "C1:VDIV 5.00E-01V",
        "C1:OFST -1.00E+00V",
    ];
    let got = read(table, &answers, &[0, 50, 0xce]);
    assert_eq!(got, Ok((2e-8, vec![1.0, 2.0, 0.0])));
    let answers = ["SARA 200MSa/s", "C1:VDIV 500mV", "C1:OFST -1V"];
    assert_eq!(read(table, &answers, &[0, 50, 0xce]), got);
}

/// One block holds 346 bytes of description and the samples; 346 is the length in a library's test. The places are from memory of
/// a public template: volts per code at 156, added volts (with a minus) at 160, the interval at 176. All are of 32 bits.
#[test]
fn a_scale_may_stand_in_the_block() {
    let table = r#"
ask = "C1:WF? ALL"
codes = "int8"
skip = 346
interval = { offset = 176, form = "real-32-low-first" }
volts_per_code = { offset = 156, form = "real-32-low-first" }
added_volts = { offset = 160, form = "real-32-low-first", factor = -1 }
"#;
    let mut block = vec![0_u8; 346];
    block[156..160].copy_from_slice(&0.25_f32.to_le_bytes());
    block[160..164].copy_from_slice(&0.5_f32.to_le_bytes());
    block[176..180].copy_from_slice(&2.0_f32.powi(-26).to_le_bytes());
    block.extend([0, 4, 0xfc]);
    let got = read(table, &[], &block);
    assert_eq!(got, Ok((2.0_f64.powi(-26), vec![-0.5, 0.5, -1.5])));
    assert_eq!(
        read(table, &[], &block[..100]).unwrap_err(),
        "interval: the block ends before it"
    );
    assert_eq!(
        read(table, &[], &block[..346]).unwrap_err(),
        "a block without samples"
    );
    let rule = parse(table);
    assert_eq!(rule.block_len(3), Some(349));
}

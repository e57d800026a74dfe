use crate::instrument::{Codes, Profile};

#[test]
fn every_fault_of_a_waveform_is_told_at_once() {
    let text = r#"
schema = 1
name = "m"
about = "a scope"
manner = "asked"
[port]
data_bits = 7
handshake = "software"
[waveform]
preamble = "P?"
codes = "int12"
interval = 0
lowest_code = 5
highest_code = 5
highest = "10"
unit = "V"
[[value]]
channel = "frequency_hz"
waveform = "frequency"
unit = "Hz"
[[value]]
channel = "battery_v"
waveform = "peak-to-peak"
[[value]]
channel = "amplitude_v"
waveform = "height"
"#;
    insta::assert_snapshot!(Profile::parse("m", text).unwrap_err(), @r#"
    line 9: waveform.ask: missing: expected the question for the samples
    line 9: waveform: lowest_code 5 and highest_code 5: the lowest must be below the highest
    line 9: waveform.volts_per_code: missing: expected its position in the preamble, a constant in quotes or { ask = "..." }
    line 9: waveform: port.data_bits is not 8: the bytes of a block have eight bits
    line 9: waveform: port.handshake is software: expected none or hardware: a block may hold the bytes that stop and start the line
    line 11: waveform.codes: found "int12": expected one of "int8", "uint8", "int16-high-first", "int16-low-first", "uint16-high-first", "uint16-low-first", "real-32-high-first", "real-32-low-first", "real-64-high-first", "real-64-low-first", "ascii"
    line 12: waveform.interval: found 0: expected a whole number from 1 to 1000
    line 15: waveform.highest: found "10": expected a frequency with its unit, such as "4.2 MHz"
    line 16: waveform.unit: unknown key: expected one of before, preamble, ask, codes, lowest_code, highest_code, skip, points, interval, volts_per_code, zero_code, added_volts, highest, longest_block, idle
    line 20: value[1].unit: found "Hz": a value taken from the waveform has none
    line 23: value[2].waveform: found "peak-to-peak": battery_v is not taken from it
    line 26: value[3].waveform: found "height": expected one of "frequency", "peak-to-peak", "fundamental"
    "#);
}

#[test]
fn a_waveform_and_the_values_taken_from_it_go_together() {
    let head = "schema = 1\nname = \"m\"\nabout = \"a scope\"\nmanner = \"asked\"\n";
    let value = "[[value]]\nchannel = \"frequency_hz\"\nwaveform = \"frequency\"\n";
    let other = "[[value]]\nchannel = \"battery_v\"\nask = \"V?\"\nunit = \"V\"\n";
    let table = "[waveform]\npreamble = \"P?\"\nask = \"W?\"\ncodes = \"int8\"\ninterval = 1\nvolts_per_code = 2\n";
    let parse = |parts: &[&str]| Profile::parse("m", &[&[head], parts].concat().concat());
    assert!(parse(&[table, value]).is_ok());
    insta::assert_snapshot!(parse(&[value]).unwrap_err(), @"line 1: no [waveform]: a value taken from the waveform needs this table, which says how to ask for it");
    insta::assert_snapshot!(parse(&[table, other]).unwrap_err(), @r#"line 5: waveform: no [[value]] is taken from it: expected a value with waveform = "frequency", for example"#);
    insta::assert_snapshot!(
        Profile::parse("m", &[&head.replace("asked", "unasked"), table, value, "[lines]\nlayout = \"fields\"\n"].concat()).unwrap_err(),
        @"line 5: waveform: [waveform] in an unasked profile: a waveform is asked for"
    );
}

/// A profile whose scale is these lines; the first of them is line 8.
fn scale(lines: &str) -> Result<Profile, crate::faults::Faults> {
    let text = format!(
        "schema = 1\nname = \"m\"\nabout = \"a scope\"\nmanner = \"asked\"\n[waveform]\nask = \"W?\"\ncodes = \"int8\"\n{lines}\n[[value]]\nchannel = \"frequency_hz\"\nwaveform = \"frequency\"\n"
    );
    Profile::parse("m", &text)
}

#[test]
fn every_fault_of_a_scale_is_named_with_its_line() {
    let lines = r#"interval = { ask = "T?", factor = 0 }
volts_per_code = "4 mA"
zero_code = ["x", "12 codes", { ask = "Z?", offset = 4 }]
added_volts = { offset = 4, form = "ascii" }
points = 7"#;
    insta::assert_snapshot!(scale(lines).unwrap_err(), @r#"
    line 8: waveform.interval.factor: found 0: expected a number other than 0
    line 9: waveform.volts_per_code: found "4 mA": expected a voltage, such as "6.5 V"
    line 10: waveform.zero_code[1]: found "x": expected a number in quotes, such as "128"
    line 10: waveform.zero_code[2]: found "12 codes": expected a number in quotes and nothing else, such as "128"
    line 10: waveform.zero_code[3]: it is not clear where the number stands: ask (and position), or position in the preamble, or offset and form in the block
    line 11: waveform.added_volts.form: found "ascii": expected one of "int8", "uint8", "int16-high-first", "int16-low-first", "uint16-high-first", "uint16-low-first", "real-32-high-first", "real-32-low-first", "real-64-high-first", "real-64-low-first"
    line 12: waveform.points: found 7: expected a constant in quotes or { ask = "..." }: there is no preamble to count in
    "#);
    let lines =
        "preamble = [\"P?\", 3]\ninterval = { asks = \"T?\" }\nvolts_per_code = { position = 0 }";
    insta::assert_snapshot!(scale(lines).unwrap_err(), @r#"
    line 8: waveform.preamble: found ["P?", 3]: expected a list of texts in quotes
    line 9: waveform.interval.asks: unknown key: did you mean ask?
    line 9: waveform.interval: it is not clear where the number stands: ask (and position), or position in the preamble, or offset and form in the block
    line 10: waveform.volts_per_code.position: found 0: expected a whole number from 1 to 1000
    "#);
    let lines = "preamble = \"P?\"\ninterval = \"20 ns\"\nvolts_per_code = \"4 mV\"";
    insta::assert_snapshot!(scale(lines).unwrap_err(), @"line 5: waveform: no value is taken from the preamble: leave preamble out, or say where a value stands in it");
}

#[test]
fn one_question_for_two_numbers_is_asked_once() {
    let lines = r#"preamble = ["P?", "Q?"]
interval = { position = 3, factor = 0.02 }
volts_per_code = { ask = "V?" }
added_volts = { ask = "V?", position = 2 }
zero_code = "127.5""#;
    let rule = scale(lines).unwrap().waveform.unwrap();
    let questions: Vec<&str> = rule.scale.questions().collect();
    assert_eq!(questions, ["P?", "Q?", "V?"]);
}

#[test]
fn samples_in_text_need_no_line_for_bytes() {
    let text = |codes: &str, keys: &str| {
        format!(
            "schema = 1\nname = \"m\"\nabout = \"a scope\"\nmanner = \"asked\"\n[port]\ndata_bits = 7\nhandshake = \"software\"\n[waveform]\nask = \"W?\"\ncodes = \"{codes}\"\ninterval = \"20 ns\"\n{keys}\n[[value]]\nchannel = \"frequency_hz\"\nwaveform = \"frequency\"\n"
        )
    };
    let rule = Profile::parse("m", &text("ascii", "highest_code = 5.1")).unwrap();
    let rule = rule.waveform.unwrap();
    assert_eq!(
        (rule.lowest_code, rule.highest_code),
        (f64::NEG_INFINITY, 5.1)
    );
    assert!(Profile::parse("m", &text("real-32-low-first", "")).is_err());
    insta::assert_snapshot!(Profile::parse("m", &text("ascii", "skip = 4")).unwrap_err(), @r#"line 8: waveform: skip with codes = "ascii": only bytes of a block can be skipped"#);
}

#[test]
fn a_value_in_a_small_block_has_a_question_and_a_form() {
    let parse = |keys: &str| {
        let text = format!(
            "schema = 1\nname = \"m\"\nabout = \"a meter\"\nmanner = \"asked\"\n[[value]]\nchannel = \"battery_v\"\nunit = \"V\"\n{keys}\n"
        );
        Profile::parse("m", &text)
    };
    let profile = parse("ask = \"R? 1\"\ncodes = \"real-64-high-first\"\nof = 2").unwrap();
    assert!(profile.questions().is_empty());
    assert_eq!(
        profile.block_questions(),
        [("R? 1", Codes::Real64HighFirst)]
    );
    insta::assert_snapshot!(parse("codes = \"int8\"").unwrap_err(), @r#"line 8: value[1].codes: found "int8": expected its question beside it: ask"#);
    assert!(parse("ask = \"R? 1\"\ncodes = \"ascii\"").is_err());
    assert!(parse("ask = \"R? 1\"\ncodes = \"int8\"\n[port]\ndata_bits = 7").is_err());
}

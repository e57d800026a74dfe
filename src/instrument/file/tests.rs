use super::*;
use crate::units::Scale;

#[test]
fn every_fault_of_a_profile_is_told_at_once() {
    let text = r#"
schema = 2
name = "meter"
manner = "asked"
[port]
baud = "fast"
speed = 9600
[timing]
timeout = "2"
[resync]
ask = "*OPC?"
[[value]]
channel = "frequency"
ask = "F?"
unit = "Hz"
[[value]]
channel = "battery_v"
unit = "kHz"
[lines]
layout = "fields"
"#;
    insta::assert_snapshot!(Profile::parse("bench-meter", text).unwrap_err(), @r#"
        line 1: about: missing: expected one line that describes it
        line 2: schema: found 2: expected 1
        line 3: name: found "meter": expected the name of its file, "bench-meter"
        line 6: port.baud: found "fast": expected a whole number from 50 to 12000000
        line 7: port.speed: unknown key: expected one of baud, data_bits, parity, stop_bits, handshake, dtr, rts, sent_end, received_end, longest_line, prompt, skip
        line 9: timing.timeout: found "2": write 2 s, 2 min or 2 h
        line 10: resync.answer: missing: expected a text in quotes
        line 13: value[1].channel: found "frequency": expected one of "frequency_hz", "battery_v", "current_a", "amplitude_v", "temperature_c"
        line 18: value[2].unit: found "kHz": expected a unit of battery_v, such as "V"
        line 19: lines: [lines] in an asked profile: expected none: each [[value]] has its own question
        "#);
}

#[test]
fn a_profile_says_what_is_believed_of_a_value() {
    let with = |keys: &str| {
        let text = format!(
            r#"
schema = 1
name = "m"
about = "one value"
manner = "asked"
[[value]]
channel = "battery_v"
ask = "V?"
unit = "V"
{keys}
"#
        );
        Profile::parse("m", &text)
    };
    let belief = |keys: &str| with(keys).unwrap().values[0].belief;
    assert_eq!(belief(""), Belief::default());
    let keys = "at_least = \"500 mV\"\nat_most = \"20 V\"\nstale_after = 30";
    let told = Belief {
        at_least: Some(0.5),
        at_most: Some(20.0),
        stale_after: Some(30),
    };
    assert_eq!(belief(keys), told);
    let fault = |keys: &str| with(keys).unwrap_err().to_string();
    assert!(
        fault("at_least = \"20 V\"\nat_most = \"20 V\"").contains("at_least is not below at_most")
    );
    assert!(fault("at_most = \"20 kHz\"").contains("value[1].at_most"));
    assert!(fault("stale_after = -1").contains("value[1].stale_after"));
}

#[test]
fn a_channel_stands_once() {
    let text = r#"
schema = 1
name = "m"
about = "two times the same"
manner = "asked"
[[value]]
channel = "battery_v"
ask = "V?"
unit = "V"
[[value]]
channel = "battery_v"
ask = "W?"
unit = "mV"
"#;
    insta::assert_snapshot!(Profile::parse("m", text).unwrap_err(), @"line 10: value[2]: channel battery_v a second time: expected each channel once");
}

#[test]
fn a_period_has_a_unit_of_time_and_is_a_frequencys() {
    let with = |channel: &str, keys: &str| {
        let text = format!(
            "schema = 1\nname = \"m\"\nabout = \"a counter\"\nmanner = \"asked\"\n[[value]]\nchannel = \"{channel}\"\nask = \"PA\"\n{keys}\n"
        );
        Profile::parse("m", &text)
    };
    let profile = with(
        "frequency_hz",
        "quantity = \"period\"\nunit = \"ns\"\nat_least = \"1 MHz\"",
    )
    .unwrap();
    let rule = &profile.values[0];
    assert!(rule.number.is_period);
    assert_eq!(
        (rule.number.unit, rule.number.scale),
        (Unit::Second, Some(Scale::Exponent(-9)))
    );
    // Bounds stay those of the frequency.
    assert_eq!(rule.belief.at_least, Some(1e6));
    let fault = |channel, keys| with(channel, keys).unwrap_err().to_string();
    insta::assert_snapshot!(fault("frequency_hz", "quantity = \"period\"\nunit = \"MHz\""), @r#"line 9: value[1].unit: found "MHz": expected a unit of a period, such as "ns""#);
    insta::assert_snapshot!(fault("frequency_hz", "quantity = \"time\"\nunit = \"s\""), @r#"line 8: value[1].quantity: found "time": expected one of "period", "frequency""#);
    insta::assert_snapshot!(fault("battery_v", "quantity = \"period\"\nunit = \"V\""), @r#"line 8: value[1].quantity: found "period": only a frequency_hz has a quantity"#);
}

/// It was taken and had no effect.
#[test]
fn a_board_that_speaks_by_itself_is_not_asked_for_its_name() {
    let shipped = include_str!("../../../devices/plain-lines.toml");
    let text = format!("{shipped}\n[start]\nidentity = \"*IDN?\"\n");
    let error = Profile::parse("plain-lines", &text)
        .unwrap_err()
        .to_string();
    let want = "start.identity: found \"*IDN?\": a question for the name is for asked profiles";
    assert!(error.contains(want), "{error}");
}

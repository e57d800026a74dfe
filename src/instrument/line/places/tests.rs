use super::*;
use crate::instrument::{Line, LineReader, Profile};
use crate::reading::Channel;

/// A profile of the page for makers.
fn profile(name: &str) -> Profile {
    let page = include_str!("../../../../devices/README.md");
    let blocks = page.split("```toml\n").skip(1);
    let blocks = blocks.filter_map(|block| block.split("```").next());
    let text = blocks
        .filter(|text| text.contains(&format!("name = \"{name}\"")))
        .collect::<String>();
    Profile::parse(name, &text).unwrap()
}

fn read(profile: &Profile, bytes: &[u8]) -> Reading {
    match LineReader::new(profile).hear(profile, bytes, 0.0).line {
        Line::Row(reading) => reading,
        other => panic!("{other:?}"),
    }
}

fn both(reading: &Reading) -> [Option<f64>; 2] {
    [Channel::FrequencyHz, Channel::BatteryV].map(|channel| reading.readings.get(channel))
}

/// The form is from memory of a handheld meter's public data sheet: range digit, five digits, function letter, flags. The values
/// are invented.
#[test]
fn a_range_digit_five_digits_and_a_function_letter_are_read() {
    let meter = profile("place-meter");
    for (frame, want) in [
        (b"108912;00080", [None, Some(8.912)]),
        (b"012345;00080", [None, Some(1.2345)]),
        (b"108912;40080", [None, Some(-8.912)]),
        (b"606231200000", [Some(6_231_000.0), None]),
    ] {
        let reading = read(&meter, frame);
        assert_eq!(both(&reading), want, "{reading:?}");
        assert_eq!(reading.status, Status::Ok);
    }
    let status = |frame: &[u8]| {
        let reading = read(&meter, frame);
        (reading.status, reading.note.to_string())
    };
    let garbled = |note: &str| (Status::Garbled, note.to_owned());
    assert_eq!(status(b"108912;10080").0, Status::Overload);
    let low = "battery_v: the instrument's own battery is low";
    assert_eq!(status(b"108912;20080"), (Status::Suspect, low.to_owned()));
    // Alternating, a function of the meter's that is not the profile's, a range that it does not have.
    let ac = "the display shows 08912 and no value of the profile; flags set: AC range_1 volts";
    assert_eq!(status(b"108912;00040"), garbled(ac));
    let ohms = "the display shows 08912 and no value of the profile; flags set: range_1";
    assert_eq!(status(b"108912300000"), garbled(ohms));
    let size = "battery_v: no size of its number that the profile knows";
    assert_eq!(status(b"208912;00080"), garbled(size));
    assert_eq!(
        status(b"08912;00080"),
        garbled("a frame of 11 bytes where 12 are expected")
    );
    assert_eq!(status(b"1089x2;00080").0, Status::Garbled);
    assert!(LineReader::is_whole(&meter, b"108912;00080"));
    assert!(!LineReader::is_whole(&meter, b"912;00080"));
}

/// The form is from memory of a handheld meter's public data sheet, with the bytes put together by hand. The values are invented.
#[test]
fn segments_are_read_as_digits() {
    let meter = profile("segment-meter");
    let volts = *b"\x15\x27\x3f\x4b\x5f\x60\x75\x85\x9b\xa0\xb0\xc0\xd4\xe0";
    let hertz = *b"\x11\x27\x3e\x4d\x5b\x61\x7f\x80\x95\xa0\xb2\xc0\xd2\xe0";
    let over = *b"\x15\x20\x30\x47\x5d\x6e\x78\x80\x90\xa0\xb0\xc0\xd4\xe0";
    assert_eq!(both(&read(&meter, &volts)), [None, Some(8.912)]);
    assert_eq!(both(&read(&meter, &hertz)), [Some(6_231_000.0), None]);
    assert_eq!(read(&meter, &over).status, Status::Overload);
    let with = |place: usize, nibble: u8| {
        let mut frame = volts;
        frame[place - 1] = frame[place - 1] & 0xf0 | nibble;
        read(&meter, &frame)
    };
    assert_eq!(both(&with(2, 0xf)), [None, Some(-8.912)]);
    assert_eq!(both(&with(11, 8)), [None, Some(0.008912)]);
    assert_eq!(
        with(12, 1).note.to_string(),
        "battery_v: the display is held"
    );
    assert_eq!(with(3, 0xe).readings.get(Channel::BatteryV), Some(6.912));
    assert_eq!(with(3, 1).note.to_string(), "segments that are no digit");
    assert_eq!(with(1, 0xd).status, Status::Garbled, "alternating");
    let mut swapped = volts;
    swapped.swap(3, 4);
    assert_eq!(
        read(&meter, &swapped).note.to_string(),
        "a frame whose bytes are not in their places"
    );
}

/// Invented: seven digits in tens of hertz, five in millivolts, and a state.
#[test]
fn a_frame_may_hold_two_numbers() {
    let text = r#"
schema = 1
name = "two"
about = "a frame with two numbers"
manner = "unasked"
[lines]
layout = "places"
length = 15
[lines.flags]
overload = "15=O"
[[value]]
channel = "frequency_hz"
digits = "2-8"
unit = "Hz"
factor = 10
[[value]]
channel = "battery_v"
digits = "10-14"
unit = "mV"
"#;
    let two = Profile::parse("two", text).unwrap();
    let reading = read(&two, b"F0623123B08912K");
    assert_eq!(both(&reading), [Some(6_231_230.0), Some(8.912)]);
    assert_eq!(read(&two, b"F0623123B08912O").status, Status::Overload);
    let none = text.replace("digits = \"10-14\"\n", "");
    insta::assert_snapshot!(Profile::parse("two", &none).unwrap_err(), @r#"line 16: value[2]: no digits: expected the places of its digits, here or under [lines], such as "2-6""#);
}

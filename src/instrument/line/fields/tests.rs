use super::*;
use crate::instrument::{Catalogue, Checksum, Profile, Seal, Sum};
use crate::reading::{Channel, Status};

fn fields(line: &str, rules: &[ChannelRule], seal: impl Into<Seal>) -> Reading {
    let read = seal.into().open(line).and_then(|body| {
        let fields = split_any(body, rules)?;
        let found = places(&fields, rules)?;
        Ok(read(&fields, &found, rules))
    });
    read.unwrap_or_else(|why| Reading::failed(Status::Garbled, &why))
}

fn named() -> Vec<ChannelRule> {
    let (profile, _) = Catalogue::default().get("plain-lines").unwrap();
    profile.values
}

fn plain(line: &str) -> Reading {
    fields(line, &named(), Checksum::Optional)
}

/// Frequency and battery voltage of a line.
fn both(reading: &Reading) -> [Option<f64>; 2] {
    [Channel::FrequencyHz, Channel::BatteryV].map(|channel| reading.readings.get(channel))
}

#[test]
fn named_fields_are_read_in_any_order() {
    let reading = plain("v=8.912V f=6.2312345MHz note=x");
    assert_eq!(reading.status, Status::Ok, "{reading:?}");
    assert_eq!(both(&reading), [Some(6231234.5), Some(8.912)]);
}

/// Forms made up after meters and boards that print for people; the values are counted by hand.
#[test]
fn lines_for_people_are_read_too() {
    for (line, want) in [
        ("F=4006171 Hz V=8.58 V", [Some(4006171.0), Some(8.58)]),
        ("F = 4014464 Hz, V = 9.29 V", [Some(4014464.0), Some(9.29)]),
        ("F: 4014464 Hz; V: 9.29 V;", [Some(4014464.0), Some(9.29)]),
        ("Freq=6.231234MHz", [Some(6231234.0), None]),
        ("f: 6231234 Hz | v: 8.91 V", [Some(6231234.0), Some(8.91)]),
        ("FREQ 6231234 Hz", [Some(6231234.0), None]),
        ("V 8.91 V F 6231234 Hz", [Some(6231234.0), Some(8.91)]),
        ("F= 6231234 Hz", [Some(6231234.0), None]),
        ("F:6231234Hz", [Some(6231234.0), None]),
        (
            "FREQ = 6231.2345k , Vbat=8912mv",
            [Some(6231234.5), Some(8.912)],
        ),
        (
            "t=22.5C f=6.2MHz time=12:34:56 v=8.9VDC",
            [Some(6.2e6), Some(8.9)],
        ),
    ] {
        let reading = plain(line);
        assert_eq!(reading.status, Status::Ok, "{line}: {reading:?}");
        assert_eq!(both(&reading), want, "{line}");
    }
}

/// Forms made up after boards that print JSON (RFC 8259, flat objects): the values are those that stand there.
#[test]
fn a_flat_object_of_json_is_a_line_of_fields() {
    let mut rules = named();
    for rule in &mut rules {
        rule.number.scale = Some(crate::units::Scale::Exponent(0));
    }
    for line in [
        r#"{"f":6231234.5,"v":8.912}"#,
        r#"{ "v" : 8.912, "f" : 6.2312345e6, "note": "warm" }"#,
        r#"{"f": "6231.2345 kHz", "v": "8912 mV", "n":17}"#,
    ] {
        let reading = fields(line, &rules, Checksum::Optional);
        assert_eq!(reading.status, Status::Ok, "{line}: {reading:?}");
        assert_eq!(both(&reading), [Some(6231234.5), Some(8.912)], "{line}");
    }
    for line in [
        r#"{"f":6231234.5,"v":8.9"#,
        r#"{"f":623123{"f":6231234.5,"v":8.912}"#,
        r#"{"f":null,"v":[8.9]}"#,
        r#""f":6231234.5,"v":8.912}"#,
    ] {
        let reading = fields(line, &rules, Checksum::Optional);
        assert_eq!(reading.status, Status::Garbled, "{line}: {reading:?}");
    }
}

#[test]
fn without_a_sign_behind_it_a_name_must_be_the_profiles_and_have_a_number() {
    for line in [
        "FREQ Hz 6231234",
        "COUNT 6231234 Hz",
        "warm f 6231234 Hz",
        "f 6231234 Hz f 6231235 Hz",
    ] {
        assert_eq!(plain(line).status, Status::Garbled, "{line}");
    }
    let silent = plain("f none v 8.91V");
    assert_eq!(
        (silent.status, both(&silent)[1]),
        (Status::NoSignal, Some(8.91))
    );
}

#[test]
fn a_name_is_matched_without_its_capitals_only_if_one_value_can_be_meant() {
    // The exact name is the value's, the other is another field.
    assert_eq!(both(&plain("F=1MHz f=6MHz")), [Some(6e6), None]);
    for line in ["f=6MHz freq=6.1MHz", "F=6MHz FREQ=6.1MHz"] {
        let reading = plain(line);
        assert_eq!(
            reading.note.to_string(),
            "two fields of one value",
            "{line}"
        );
        assert!(reading.readings.is_empty(), "{line}");
    }
}

#[test]
fn a_checksum_is_checked_where_it_stands() {
    // XOR of the bytes of "f=4MHz": 66 3d 34 4d 48 7a (hex) = 10, summed by hand.
    assert_eq!(plain("f=4MHz *10").status, Status::Ok);
    assert_eq!(
        plain("f=5MHz *10").note.to_string(),
        "the checksum is wrong"
    );
    assert_eq!(plain("f=4MHz *1").note.to_string(), "the checksum is wrong");
    assert_eq!(
        fields("f=4MHz", &named(), Checksum::Required)
            .note
            .to_string(),
        "the checksum is missing"
    );
    // CRC-8/SMBUS of the same bytes, Crc8Smbus of the Python library crccheck 1.3.1: 6d.
    let seal = Seal {
        after: None,
        need: Checksum::Required,
        sum: Sum::Crc8,
    };
    assert_eq!(fields("f=4MHz *6D", &named(), seal).status, Status::Ok);
    assert_eq!(
        fields("f=4MHz *10", &named(), seal).note.to_string(),
        "the checksum is wrong"
    );
}

#[test]
fn a_silent_coil_keeps_its_battery_voltage() {
    let reading = plain("f=none v=6.1V");
    assert_eq!(
        (reading.status, reading.readings.get(Channel::BatteryV)),
        (Status::NoSignal, Some(6.1))
    );
}

#[test]
fn a_signal_without_one_frequency_is_suspect_and_keeps_its_battery_voltage() {
    let text = include_str!("../../../../devices/plain-lines.toml");
    let profile = Profile::parse("plain-lines", text).unwrap();
    let reading = fields("f=unsteady v=6.1V", &profile.values, Checksum::Optional);
    assert_eq!(reading.status, Status::Suspect);
    assert_eq!(
        reading.note.to_string(),
        "frequency_hz: a signal without one steady value"
    );
    assert_eq!(both(&reading), [None, Some(6.1)]);
}

#[test]
fn two_lines_glued_together_and_damaged_ones_give_no_number() {
    for line in [
        "f=6231234.f=6231234.5Hz v=8.9V",
        "f=62312f=6231234.5Hz",
        "f=6MHz v=8.9V f=6MHz v=8.9V",
        "f 6231234.5Hz v=8.9V",
        "f=62312 4.5Hz v=8.9V",
        "f=62,1234.5Hz v=8.9V",
        "f=6231234\u{b}Hz v=8.9V",
        "f=6.231E\u{b}06Hz v=8.9V",
        "f=6231234.5Hz=8.9V",
        "loader f=6231234.5Hz",
    ] {
        assert_eq!(plain(line).status, Status::Garbled, "{line}");
        assert!(
            plain(line).readings.get(Channel::FrequencyHz).is_none(),
            "{line}"
        );
    }
    // A field that nobody knows must be one field all the same.
    assert_eq!(
        plain("x=1 f 6MHz v=8.9V").note.to_string(),
        Refusal::NameMissing.to_string()
    );
    assert_eq!(plain("x=1 Hz v=8.9V").status, Status::Ok);
}

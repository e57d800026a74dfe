use super::*;
use crate::instrument::{Line, LineReader, Profile, Reading};
use crate::reading::{Channel, Status};

/// A profile of columns whose units are those given, with further keys for the first value.
fn profile(lines: &str, first: &str, second: &str) -> Profile {
    let text = format!(
        "schema = 1\nname = \"m\"\nabout = \"a meter\"\nmanner = \"unasked\"\n[marks]\noverload = [\"0.L\"]\n[lines]\nlayout = \"columns\"\n{lines}\n[[value]]\nchannel = \"frequency_hz\"\n{first}\n{second}"
    );
    Profile::parse("m", &text).unwrap()
}

fn read(profile: &Profile, line: &str) -> Reading {
    match LineReader::new(profile)
        .hear(profile, line.as_bytes(), 0.0)
        .line
    {
        Line::Row(reading) => reading,
        other => panic!("{other:?}"),
    }
}

/// Handheld meters that choose their range print the unit behind a blank or a comma: forms D and from memory.
#[test]
fn a_unit_in_the_next_cell_is_the_numbers() {
    let blanks = "delimiter = \"blank\"\ncolumns = 2";
    let mega = profile(blanks, "position = 1\nunit = \"MHz\"", "");
    for (line, want) in [
        ("62.3 kHz", 62_300.0),
        ("6.2312345 MHz", 6_231_234.5),
        ("6231234 HZ", 6_231_234.0),
        // A number may have its own, and a word that is no unit says nothing.
        ("62.3kHz auto", 62_300.0),
        ("6.23 auto", 6_230_000.0),
    ] {
        let reading = read(&mega, line);
        assert_eq!(
            reading.readings.get(Channel::FrequencyHz),
            Some(want),
            "{line}: {reading:?}"
        );
    }
    for line in ["6.23 mHz", "6.23 mhz", "6.23 M", "6.23 k"] {
        let reading = read(&mega, line);
        assert_eq!(reading.status, Status::Garbled, "{line}: {reading:?}");
        assert!(reading.readings.is_empty(), "{line}: {reading:?}");
    }
}

fn battery(keys: &str) -> Profile {
    let text = format!(
        "schema = 1\nname = \"m\"\nabout = \"a meter\"\nmanner = \"unasked\"\n[marks]\noverload = [\"0.L\"]\n[lines]\nlayout = \"columns\"\n{keys}"
    );
    Profile::parse("m", &text).unwrap()
}

#[test]
fn a_battery_in_millivolts_is_not_a_thousand_times_its_voltage() {
    let value = "columns = 3\n[[value]]\nchannel = \"battery_v\"\nposition = 2\nunit = \"V\"";
    let meter = battery(value);
    for (line, want) in [
        ("1,8912,mV", 8.912),
        ("1,8912,mv", 8.912),
        ("1,8.912,V", 8.912),
        ("1,8.912,VDC", 8.912),
        ("1,8.912,V DC", 8.912),
        ("1,8.912,auto", 8.912),
    ] {
        assert_eq!(
            read(&meter, line).readings.get(Channel::BatteryV),
            Some(want),
            "{line}"
        );
    }
    for (line, why) in [
        ("1,8912,MV", Refusal::TwoMeanings),
        ("1,22.6,C", Refusal::OtherQuantity),
        ("1,6231235,Hz", Refusal::OtherQuantity),
        ("1,8.912,VAC", Refusal::TwoMeanings),
        ("1,8.912,mVpp", Refusal::TwoMeanings),
        ("1,8.912,kV", Refusal::NoBatteryUnit("kV")),
        ("1,8912,m", Refusal::LonePrefix),
    ] {
        let reading = read(&meter, line);
        assert!(reading.readings.is_empty(), "{line}");
        assert_eq!(
            reading.note.to_string(),
            format!("battery_v: {why}"),
            "{line}"
        );
    }
    assert_eq!(read(&meter, "1,0.L,mV").status, Status::Overload);
}

#[test]
fn units_before_their_numbers_and_units_of_others_are_told_apart() {
    let two = |unit: &str| {
        format!(
            "[[value]]\nchannel = \"battery_v\"\nposition = 2\nunit = \"V\"\n[[value]]\nchannel = \"amplitude_v\"\nposition = 4\nunit = \"{unit}\""
        )
    };
    let both = |reading: &Reading| {
        [Channel::BatteryV, Channel::AmplitudeV].map(|channel| reading.readings.get(channel))
    };
    let first = battery(&format!("columns = 4\n{}", two("V")));
    assert_eq!(both(&read(&first, "V,8.9,mV,3200")), [Some(8.9), Some(3.2)]);
    // The unit before the second number is that of the first.
    let unread =
        battery("columns = 3\n[[value]]\nchannel = \"amplitude_v\"\nposition = 3\nunit = \"V\"");
    assert_eq!(
        read(&unread, "8.9,V,3.2").readings.get(Channel::AmplitudeV),
        Some(3.2)
    );
    assert_eq!(
        read(&unread, "8900,mV,3.2").note.to_string(),
        format!("amplitude_v: {}", Refusal::WhoseUnit)
    );
    let said = battery(
        "columns = 3\n[[value]]\nchannel = \"amplitude_v\"\nposition = 3\nunit = \"V\"\nunit_position = 0",
    );
    assert_eq!(
        read(&said, "8900,mV,3.2").readings.get(Channel::AmplitudeV),
        Some(3.2)
    );
}

#[test]
fn a_profile_may_say_which_cell_is_the_unit() {
    let at = battery("[[value]]\nchannel = \"battery_v\"\nposition = 1\nunit_position = 3");
    assert_eq!(
        read(&at, "8912,DC,mV").readings.get(Channel::BatteryV),
        Some(8.912)
    );
    assert_eq!(
        read(&at, "8912,DC,x").note.to_string(),
        format!("battery_v: {}", Refusal::NoUnitInCell)
    );
    let named = battery(
        "header = true\n[[value]]\nchannel = \"battery_v\"\nname = \"batt\"\nunit_name = \"range\"",
    );
    let mut reader = LineReader::new(&named);
    let mut hear = |line: &str| reader.hear(&named, line.as_bytes(), 0.0).line;
    assert_eq!(hear("time,range,batt"), Line::Names);
    let Line::Row(reading) = hear("17,mV,8912") else {
        panic!("no row")
    };
    assert_eq!(reading.readings.get(Channel::BatteryV), Some(8.912));
    let Line::Row(reading) = hear("time,batt") else {
        panic!("no row")
    };
    assert_eq!(
        reading.note.to_string(),
        "no column range: the line of names has time, batt"
    );
}

#[test]
fn units_in_capitals_and_small_letters_are_read_where_they_mean_one_thing() {
    let read = |text: &str, unit| unit_scale(text, unit);
    let exponent = |exponent| Some(Scale::Exponent(exponent));
    for (text, unit, want) in [
        ("hz", Unit::Hertz, exponent(0)),
        ("khz", Unit::Hertz, exponent(3)),
        ("KHz", Unit::Hertz, exponent(3)),
        ("Mhz", Unit::Hertz, exponent(6)),
        ("MHZ", Unit::Hertz, exponent(6)),
        ("k", Unit::Hertz, exponent(3)),
        ("mhz", Unit::Hertz, None),
        ("mHz", Unit::Hertz, None),
        ("m", Unit::Hertz, None),
        ("v", Unit::Volt, exponent(0)),
        ("mv", Unit::Volt, exponent(-3)),
        ("mVDC", Unit::Volt, exponent(-3)),
        ("MV", Unit::Volt, None),
        ("Mv", Unit::Volt, None),
        ("VAC", Unit::Volt, None),
        ("DC", Unit::Volt, None),
        ("mADC", Unit::Ampere, exponent(-3)),
        ("MA", Unit::Ampere, None),
        ("A", Unit::Volt, None),
        ("\u{e9}V", Unit::Volt, None),
        ("C", Unit::Celsius, exponent(0)),
    ] {
        assert_eq!(read(text, unit), want, "{text}");
    }
}

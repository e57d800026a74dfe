use super::*;
use crate::instrument::Multiplier;
use crate::units::Unit;
use proptest::prelude::*;

fn rule() -> NumberRule {
    let words = |list: &[&str]| list.iter().map(|word| (*word).to_owned()).collect();
    NumberRule {
        unit: Unit::Hertz,
        scale: Some(Scale::Exponent(0)),
        multiplier: Multiplier::ONE,
        decimal_sign: '.',
        thousands: None,
        marks: Marks {
            no_signal: words(&["9.91E37", "nan", "----"]),
            overload: words(&["9.9E37", "-9.9E37", "OL", "0.L"]),
            unsteady: words(&["unsteady"]),
        },
        is_period: false,
    }
}

fn read(text: &str) -> Value {
    read_number(text, &rule(), Channel::FrequencyHz)
}

/// IEEE 488.2 numeric forms (NR1 `273`, NR2 `0.273`, NR3 `2.73E+2` as an instrument programming guide prints them) and the forms
/// that occur beside them.
#[test]
fn every_number_form_of_ieee_488_2_is_read() {
    for (text, want) in [
        ("273", 273.0),
        ("0.273", 0.273),
        ("2.73E+2", 273.0),
        ("+4.012345E+06", 4012345.0),
        ("4012345.0", 4012345.0),
        ("4.01e6", 4.01e6),
        (".5", 0.5),
        ("5.", 5.0),
        (" +5 ", 5.0),
        ("4.0157 MHz", 4015700.0),
        ("4015.7kHz", 4015700.0),
    ] {
        assert_eq!(read(text), Value::Number(want), "{text}");
    }
    let long = format!("{}.{}", "4012345", "3".repeat(293));
    assert_eq!(read(&long), Value::Number(long.parse().unwrap()));
}

/// IEEE 488.2-1987, 7.7.2.4.1 as instruments' error tables quote it (-124 and -123): mantissas up to 255 digits, exponents
/// up to 32000. The digits of the first are those of the value; the expected values are by powers of ten alone.
#[test]
fn mantissas_of_255_digits_and_exponents_of_32000_are_read() {
    let long = format!("4012345{}", "0".repeat(248));
    assert_eq!(long.len(), 255);
    assert_eq!(read(&format!("{long}E-248")), Value::Number(4012345.0));
    let fraction = format!("0.{}4012345", "0".repeat(247));
    assert_eq!(read(&format!("{fraction}E+254")), Value::Number(4012345.0));
    assert_eq!(read("4E+32000"), Value::Garbled(Refusal::TooLarge));
    assert_eq!(read("4E-32000"), Value::Garbled(Refusal::TooSmall));
    assert_eq!(read("0E-32000"), Value::NoSignal);
    assert_eq!(read("4E+99999999999"), Value::Garbled(Refusal::TooLarge));
}

/// The form as a public SCPI parser's own page prints it; the values by counting.
#[test]
fn hexadecimal_numbers_are_read_and_a_block_is_not_taken_for_one() {
    for (text, want) in [("#H1F", 31.0), ("#hff", 255.0)] {
        assert_eq!(read(text), Value::Number(want), "{text}");
    }
    for text in [
        "#", "#H", "#H1G", "#Q77", "#B101", "#0abc", "#3512", "#H-1", "#\u{e9}1",
    ] {
        assert!(matches!(read(text), Value::Garbled(_)), "{text}");
    }
}

#[test]
fn blanks_around_the_exponents_letter_are_allowed() {
    for text in ["4.0157 E +06", "4.0157E +06", "4.0157 e6", "4015.7 E3 Hz"] {
        assert_eq!(read(text), Value::Number(4015700.0), "{text}");
    }
    for text in ["4.0157 E", "4.0157 E+", "4.0157 E 6.5", "4.0157 E+ -6"] {
        assert!(matches!(read(text), Value::Garbled(_)), "{text}");
    }
}

#[test]
fn a_unit_that_could_be_milli_or_mega_is_refused() {
    for text in ["4.0157 MHZ", "4015.7 KHZ", "4015700 HZ"] {
        assert_eq!(read(text), Value::Number(4015700.0), "{text}");
    }
    let volts = NumberRule {
        unit: Unit::Volt,
        ..rule()
    };
    let read_volts = |text| read_number(text, &volts, Channel::BatteryV);
    assert_eq!(read_volts("8912 mV"), Value::Number(8.912));
    for value in [
        read_volts("8912 MV"),
        read_volts("8.9 A"),
        read_volts("9.992VV"),
        read_volts("8912 mVV"),
        read("4.0 mHz"),
        read("4.0 mhz"),
    ] {
        assert!(matches!(value, Value::Garbled(_)), "{value:?}");
    }
}

/// SCPI-1999, 7.2.1.4 and 7.2.1.5.
#[test]
fn infinity_and_not_a_number_are_words_and_not_numbers() {
    for text in [
        "9.91E37",
        "+9.91000000E+37",
        "9.9100003E37",
        "nan",
        "NAN",
        "----",
        "0",
        "0.000E+00",
    ] {
        assert_eq!(read(text), Value::NoSignal, "{text}");
    }
    for text in [
        "9.9E37",
        "-9.9E37",
        "9.90E+37",
        "9.8999999E37",
        "1e38",
        "OL",
        "ol",
    ] {
        assert_eq!(read(text), Value::Overload, "{text}");
    }
}

/// `0.L    V`: from memory of a handheld meter.
#[test]
fn a_mark_is_one_with_blanks_and_its_unit_behind_it() {
    for text in ["0.L", "0.L    kHz", "ol  Hz", "OL HZ"] {
        assert_eq!(read(text), Value::Overload, "{text}");
    }
    assert_eq!(read("unsteady"), Value::Unsteady);
    assert!(matches!(read("OL 5"), Value::Garbled(_)));
    assert!(matches!(read("OL V"), Value::Garbled(_)));
}

#[test]
fn only_blanks_and_tabs_are_blanks() {
    assert_eq!(read("4.0157 E\t06"), Value::Number(4015700.0));
    for text in [
        "4.0157E\u{b}06",
        "4.0157\u{c}MHz",
        "4015700\u{b}",
        "4015700 \u{a0}Hz",
    ] {
        assert!(matches!(read(text), Value::Garbled(_)), "{text:?}");
    }
}

#[test]
fn thousands_are_read_where_the_profile_says_so_and_they_are_grouped_by_threes() {
    let with = |sign: char, text: &str| {
        let decimal_sign = if sign == '.' { ',' } else { '.' };
        let rule = NumberRule {
            thousands: Some(sign),
            decimal_sign,
            ..rule()
        };
        read_number(text, &rule, Channel::FrequencyHz)
    };
    for (sign, text, want) in [
        (',', "6,231,234 Hz", 6231234.0),
        (',', "+6,231.5kHz", 6231500.0),
        (',', "6231234 Hz", 6231234.0),
        ('.', "6.231.234,5", 6231234.5),
        (' ', "6 231 234 Hz", 6231234.0),
        ('\'', "6'231'234", 6231234.0),
    ] {
        assert_eq!(with(sign, text), Value::Number(want), "{text}");
    }
    for (sign, text) in [
        (',', "6,23,234"),
        (',', "6231,234"),
        (',', ",231"),
        (',', "6,231,23"),
        (',', "6,231.234,5"),
        ('.', "6.23,5"),
        (' ', "62 31234 Hz"),
    ] {
        assert!(matches!(with(sign, text), Value::Garbled(_)), "{text}");
    }
    assert!(matches!(read("6,231,234 Hz"), Value::Garbled(_)));
}

#[test]
fn no_battery_has_picovolts_or_kilovolts() {
    let volts = NumberRule {
        unit: Unit::Volt,
        ..rule()
    };
    for (text, why) in [
        ("8.9pV", Refusal::NoBatteryUnit("pV")),
        ("8.9 nV", Refusal::NoBatteryUnit("nV")),
        ("8.9kV", Refusal::NoBatteryUnit("kV")),
    ] {
        let value = |channel| read_number(text, &volts, channel);
        assert_eq!(value(Channel::BatteryV), Value::Garbled(why), "{text}");
        assert!(matches!(value(Channel::AmplitudeV), Value::Number(_)));
    }
}

#[test]
fn what_is_no_number_is_refused_and_never_scaled() {
    for text in [
        "",
        "4,012",
        "4.01 4.02",
        "4012345abc",
        "1e400",
        "--5",
        "+",
        "4.0 V",
        "0x1F",
        "-3",
        "40\u{fffd}12",
    ] {
        assert!(
            matches!(read(text), Value::Garbled(_)),
            "{text}: {:?}",
            read(text)
        );
    }
}

#[test]
fn a_divider_of_ten_moves_the_point_and_no_digit() {
    let rule = NumberRule {
        multiplier: Multiplier::new(10.0),
        unit: Unit::Volt,
        ..rule()
    };
    for (text, want) in [("0.8912", 8.912), ("0.93", 9.3), ("8.401E-01", 8.401)] {
        assert_eq!(
            read_number(text, &rule, Channel::BatteryV),
            Value::Number(want),
            "{text}"
        );
    }
    let eleven = NumberRule {
        multiplier: Multiplier::new(11.0),
        ..rule
    };
    assert_eq!(
        read_number("0.8912", &eleven, Channel::BatteryV),
        Value::Number(9.8032)
    );
}

#[test]
fn a_decimal_comma_is_read_where_the_profile_says_so() {
    let rule = NumberRule {
        decimal_sign: ',',
        ..rule()
    };
    assert_eq!(
        read_number("4012,5", &rule, Channel::FrequencyHz),
        Value::Number(4012.5)
    );
    assert!(matches!(
        read_number("4012.5", &rule, Channel::FrequencyHz),
        Value::Garbled(_)
    ));
}

proptest! {
    #[test]
    fn any_text_gives_a_finite_number_or_a_word(text in "\\PC{0,30}") {
        if let Value::Number(value) = read(&text) {
            prop_assert!(value.is_finite() && value > 0.0);
        }
    }

    /// The instrument's own number can be had back from the file: the value over the factor, to twelve digits.
    #[test]
    fn a_raw_value_is_recoverable(raw in 1_u32..100_000_000, factor in prop_oneof![Just(10.0), Just(11.0), Just(0.1), 0.001_f64..1000.0]) {
        let raw_text = format!("{raw}e-6");
        let rule = NumberRule { multiplier: Multiplier::new(factor), unit: Unit::Volt, ..rule() };
        let Value::Number(value) = read_number(&raw_text, &rule, Channel::BatteryV) else { panic!("{raw_text}") };
        prop_assert_eq!(format!("{:.11e}", value / factor), format!("{:.11e}", f64::from(raw) / 1e6));
    }

    #[test]
    fn digits_survive_a_prefix(value in 1_u64..10_000_000_000) {
        let text = format!("{}.{:03} kHz", value / 1000, value % 1000);
        prop_assert_eq!(read(&text), Value::Number(value as f64));
    }
}

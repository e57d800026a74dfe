use super::*;
use crate::diagnosis::quantity::Seen;

#[test]
fn readings_are_taken_as_a_number_a_word_or_as_unknown() {
    assert_eq!(
        reading(Quantity::Current, "50 mA +- 2 mA"),
        Ok(Some(Reading::Value {
            value: 0.05,
            tolerance: Some(0.002)
        }))
    );
    assert_eq!(
        reading(Quantity::FootToTop, "open"),
        Ok(Some(Reading::Seen(Seen::Open)))
    );
    assert_eq!(reading(Quantity::Led, "?"), Ok(None));
    let Ok(Some(Reading::Value { value, .. })) = reading(Quantity::FrequencyRatio, "+0.3 %") else {
        panic!("a change is a number");
    };
    assert!((value - 1.003).abs() < 1e-12);
    insta::assert_snapshot!(reading(Quantity::Led, "bright").unwrap_err(),
        @r#"expected "dark", "faint", "lit", "blinking" ("blinking every 2 s") or "unknown""#);
    insta::assert_snapshot!(reading(Quantity::Current, "9 V").unwrap_err(),
        @r#"expected a value like "300 mA" from -20 A to 20 A or "unknown""#);
    insta::assert_snapshot!(reading(Quantity::Current, "50").unwrap_err(),
        @r#"its unit is missing: expected a value like "300 mA" from -20 A to 20 A or "unknown""#);
    assert!(
        reading(Quantity::FootToTop, "12,6 ohm")
            .unwrap_err()
            .to_string()
            .starts_with("decimals stand behind a point, not a comma: ")
    );
    for asked_for in ["\"dark\"", "Dark", " DARK "] {
        let dark = Ok(Some(Reading::Seen(Seen::Dark)));
        assert_eq!(reading(Quantity::Led, asked_for), dark, "{asked_for}");
    }
}

#[test]
fn volts_need_no_letter_and_a_word_may_be_another_that_means_the_same() {
    let volt = |quantity, text| match reading(quantity, text) {
        Ok(Some(Reading::Value { value, tolerance })) => (value, tolerance),
        other => panic!("{text}: {other:?}"),
    };
    assert_eq!(volt(Quantity::Base, "0.62"), (0.62, None));
    assert_eq!(volt(Quantity::Battery, "9.1 +- 0.1"), (9.1, Some(0.1)));
    assert_eq!(volt(Quantity::BaseTest, "650 mV"), (0.65, None));
    insta::assert_snapshot!(reading(Quantity::BaseTest, "650").unwrap_err(),
        @r#"a number without a unit is in volts, so write mV behind millivolts: expected a value like "0.65 V" from 0 V to 4 V, "open" or "unknown""#);
    for (quantity, words, seen) in [
        (
            Quantity::Primary,
            &["OL", "o.l.", "open", "0L"][..],
            Seen::Open,
        ),
        (Quantity::BaseTest, &["OL", "Open"], Seen::Open),
        (Quantity::Led, &["on", "Yes", "LIT"], Seen::Lit),
        (Quantity::Led, &["off", "no"], Seen::Dark),
        (Quantity::Led, &["blinks", "Flashing"], Seen::Blinking),
        (Quantity::Lamp, &["yes", "on"], Seen::Near),
        (Quantity::Lamp, &["no", "OFF"], Seen::Dark),
        (Quantity::Bursts, &["Yes"], Seen::Yes),
    ] {
        for word in words {
            let read = Ok(Some(Reading::Seen(seen)));
            assert_eq!(reading(quantity, word), read, "{quantity:?} {word}");
        }
    }
    // One ohm, or a meter's sign: nobody knows, and it has no unit.
    assert!(reading(Quantity::Primary, "1").is_err());
    assert!(reading(Quantity::Current, "OL").is_err());
    assert!(reading(Quantity::Heat, "yes").is_err());
}

#[test]
fn an_led_may_blink_with_its_period_and_each_battery_has_its_own_voltage() {
    let found = Situation::AsFound;
    for (text, period_s) in [
        ("led=blinking every 2 s", Some(2.0)),
        ("led=Blinking 0.5 s", Some(0.5)),
        ("led=blinking every 500 ms", Some(0.5)),
        ("led=blinking", None),
        ("blinking=2s", Some(2.0)),
    ] {
        let mut evidence = Evidence::default();
        typed(text, &mut evidence).unwrap();
        let led = evidence.reading(found, Quantity::Led);
        assert_eq!(led, Some(Reading::Seen(Seen::Blinking)), "{text}");
        let period = evidence.reading(found, Quantity::Blinking);
        assert_eq!(period, period_s.map(Reading::value), "{text}");
        // A later look takes the place of both.
        typed("led=lit", &mut evidence).unwrap();
        assert_eq!(evidence.observations.len(), 1, "{text}");
    }
    for list in [
        "9.4 V, 9.3 V, -9.1 V",
        "9.4, 9.3, -9.1",
        "9.4;9.3;-9.1",
        "9.4,9.3,-9.1",
    ] {
        let mut evidence = Evidence::default();
        typed(&format!("battery_each={list}"), &mut evidence).unwrap();
        let weakest = evidence.reading(found, Quantity::WeakestBattery);
        assert_eq!(weakest, Some(Reading::value(-9.1)), "{list}");
        assert_eq!(evidence.battery_each_v, [9.4, 9.3, -9.1], "{list}");
    }
    let mut evidence = Evidence::default();
    for wrong in [
        "led=blinking every 2 m",
        "battery_each=9,4 V",
        "led=blinking every hour",
    ] {
        assert!(typed(wrong, &mut evidence).is_err(), "{wrong}");
    }
    assert_eq!(evidence, Evidence::default());
}

#[test]
fn a_file_may_have_volts_as_bare_numbers_and_lists_and_where_it_was_touched() {
    let evidence = parse(
        "[found]\nbase = 0.62\nbattery_each = [9.4, -9.1]\n[touched]\nled = \"on\"\nnear = \"wire\"\n",
    )
    .unwrap();
    let reading = |situation, quantity| evidence.reading(situation, quantity);
    assert_eq!(
        reading(Situation::AsFound, Quantity::Base),
        Some(Reading::value(0.62))
    );
    assert_eq!(evidence.battery_each_v, [9.4, -9.1]);
    let lit = Some(Reading::Seen(Seen::Lit));
    assert_eq!(reading(Situation::Touched, Quantity::Led), lit);
    let wire = Some(Reading::Seen(Seen::OnWire));
    assert_eq!(reading(Situation::Touched, Quantity::Near), wire);
    let told = parse("[found]\ncurrent = 0.05\n").unwrap_err().to_string();
    assert!(told.contains("line 2: found.current"), "{told}");
}

#[test]
fn a_file_of_answers_is_read_and_every_fault_is_told_with_its_line() {
    let evidence = parse(
        "ran_before = \"never\"\n[found]\nled = \"dark\"\nring_q = 96\n[swapped]\ncurrent = \"365 mA\"\n",
    )
    .unwrap();
    assert_eq!(evidence.observations.len(), 3);
    assert_eq!(evidence.history, History::Never);
    let told = parse("[found]\nled = \"9 V\"\ncolour = \"red\"\n[perhaps]\n").unwrap_err();
    let text = told.to_string();
    assert!(text.contains("line 2: found.led: found \"9 V\""), "{text}");
    assert!(text.contains("line 3: found.colour: unknown key"), "{text}");
    assert!(text.contains("line 4: perhaps: unknown key"), "{text}");
}

#[test]
fn what_is_typed_wrongly_is_told_with_what_is_known() {
    let mut evidence = Evidence::default();
    typed("swapped.led=lit", &mut evidence).unwrap();
    assert_eq!(
        evidence.reading(Situation::LeadsSwapped, Quantity::Led),
        Some(Reading::Seen(Seen::Lit))
    );
    assert!(
        typed("led", &mut evidence)
            .unwrap_err()
            .to_string()
            .contains("led=dark")
    );
    assert!(
        typed("tomorrow.led=lit", &mut evidence)
            .unwrap_err()
            .to_string()
            .contains("swapped")
    );
    assert!(
        typed("smell=burnt", &mut evidence)
            .unwrap_err()
            .to_string()
            .contains("foot_to_top")
    );
}

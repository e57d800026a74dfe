use super::*;

#[test]
fn a_virtual_instrument_says_how_fast_its_time_runs() {
    for (identity, want) in [
        ("sagtrace,virtual counter,0,0.1.0", Some(1.0)),
        ("sagtrace,virtual board,x20,0.1.0", Some(20.0)),
        ("somebody,counter,x20,1", None),
    ] {
        assert_eq!(virtual_time_scale(identity), want, "{identity}");
    }
}

#[test]
fn words_and_columns_read_back() {
    for status in Status::ALL {
        assert_eq!(Status::from_word(status.word()), Some(status));
    }
    for (index, channel) in Channel::ALL.into_iter().enumerate() {
        assert_eq!(Channel::from_column(channel.column()), Some(channel));
        assert_eq!(
            channel as usize, index,
            "the columns stand in the order of the list"
        );
    }
}

#[test]
fn the_more_serious_status_stands() {
    assert_eq!(Status::Ok.worst(Status::Overload), Status::Overload);
    assert_eq!(Status::NoSignal.worst(Status::Silent), Status::Silent);
    assert_eq!(Status::ClockStep.worst(Status::Ok), Status::ClockStep);
}

fn noted(status: Status, note: &str) -> Row {
    let mut readings = Readings::default();
    readings.set(Channel::FrequencyHz, 6e6);
    readings.set(Channel::BatteryV, 0.91);
    Row {
        stamp: Stamp {
            elapsed_us: 0,
            wall_ms: 0,
        },
        source: "scope".into(),
        readings,
        status,
        note: Note::read(note),
    }
}

#[test]
fn a_doubted_channel_is_not_used_and_the_others_are() {
    for status in [Status::Suspect, Status::Stale] {
        let row = noted(status, "battery_v: 0.91 V after 8.00 V");
        assert_eq!(row.good(Channel::FrequencyHz), Some(6e6));
        assert_eq!((row.good(Channel::BatteryV), row.battery_v()), (None, None));
        let row = noted(status, "battery_v: one; frequency_hz: two");
        assert_eq!(row.good(Channel::FrequencyHz), None);
        // Somebody else's word for it, or none.
        for note in ["", "looks odd", "sensor: loose"] {
            assert_eq!(noted(status, note).good(Channel::FrequencyHz), None);
            assert_eq!(noted(status, note).battery_v(), None);
        }
    }
}

#[test]
fn a_battery_that_was_read_counts_whatever_befell_the_frequency_unless_it_is_doubted() {
    for (status, note) in [
        (Status::NoSignal, "frequency_hz: no signal"),
        (
            Status::NoSignal,
            "masked: 2.079 MHz to 2.121 MHz is not the coil's",
        ),
        (Status::Silent, "no answer to MEAS:FREQ? in 3 s"),
        (Status::Refused, "MEAS:FREQ?: -113, Undefined header"),
        (Status::Garbled, "frequency_hz: not a number"),
        (Status::Overload, "frequency_hz: beyond the range"),
    ] {
        let row = noted(status, note);
        assert_eq!(row.battery_v(), Some(0.91), "{status}");
        assert_eq!(row.good(Channel::FrequencyHz), None, "{status}");
        assert_eq!(row.good(Channel::BatteryV), None, "{status}");
        let doubted = format!("{note}; battery_v: 0.91 V after 8.00 V");
        assert_eq!(noted(status, &doubted).battery_v(), None, "{status}");
    }
    assert_eq!(noted(Status::ClockStep, "moved").battery_v(), None);
}

#[test]
fn a_value_that_is_not_finite_is_not_a_reading() {
    let mut readings = Readings::default();
    readings.set(Channel::FrequencyHz, f64::NAN);
    readings.set(Channel::BatteryV, f64::INFINITY);
    assert!(readings.is_empty());
}

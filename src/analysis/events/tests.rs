use super::super::testing::row;
use super::*;
use crate::reading::Note;

fn good(at_s: f64, volts: f64) -> Row {
    row("scope", at_s, Some(6e6), Some(volts), Status::Ok)
}

fn fault(at_s: f64, status: Status, note: &str) -> Row {
    Row {
        note: Note::read(note),
        ..row("scope", at_s, None, None, status)
    }
}

fn events(rows: &Chunk) -> Events {
    let mut events = Events::default();
    for one in rows.chunks(1) {
        events.push(one);
    }
    events
}

#[test]
fn a_stop_has_its_times_and_the_battery_at_both_ends() {
    let events = events(&[
        good(0.0, 7.0),
        row("scope", 1.0, None, Some(6.4), Status::NoSignal),
        row("scope", 2.0, None, Some(6.6), Status::NoSignal),
        row("scope", 3.0, Some(6e6), Some(6.5), Status::Ok),
    ]);
    let wanted = Stop {
        source: "scope".into(),
        from_s: 1.0,
        to_s: Some(3.0),
        rows: (2, 3),
        restart_row: Some(4),
        flickers: 0,
        battery_from_v: Some(7.0),
        battery_to_v: Some(6.5),
    };
    assert_eq!(events.stops().entries, [wanted]);
    assert_eq!((events.restarts(), events.outages().count()), (1, 0));
}

#[test]
fn a_coil_that_was_not_yet_switched_on_has_not_stopped() {
    let events = events(&[fault(0.0, Status::NoSignal, ""), good(1.0, 9.0)]);
    assert_eq!((events.stops().count(), events.restarts()), (0, 0));
}

#[test]
fn a_stop_at_the_end_of_the_record_stays_open() {
    let events = events(&[good(0.0, 9.0), fault(1.0, Status::NoSignal, "")]);
    assert_eq!(events.stops().entries[0].to_s, None);
    assert_eq!(events.restarts(), 0);
}

#[test]
fn missing_rows_in_a_run_are_one_outage_with_the_gravest_reason() {
    let events = events(&[
        good(0.0, 9.0),
        fault(1.0, Status::Silent, "no answer within 500 ms"),
        fault(2.0, Status::Gap, "unplugged"),
        fault(5.0, Status::Silent, ""),
        good(7.5, 8.9),
        fault(8.0, Status::Garbled, ""),
    ]);
    let [first, second] = events.outages().entries.as_slice() else {
        panic!("{events:?}");
    };
    assert_eq!(
        (first.status, first.reason.as_str()),
        (Status::Gap, "unplugged")
    );
    assert_eq!((first.from_s, first.to_s), (1.0, Some(7.5)));
    assert_eq!((first.rows, second.rows), ((2, 4), (6, 6)));
    assert_eq!((second.from_s, second.to_s), (8.0, None));
    assert_eq!(events.stops().count(), 0);
}

#[test]
fn another_instrument_going_on_does_not_end_an_outage() {
    let meter = row("meter", 2.0, None, Some(9.0), Status::Ok);
    let events = events(&[fault(1.0, Status::Gap, ""), meter, good(3.0, 9.0)]);
    assert_eq!(events.outages().entries[0].to_s, Some(3.0));
}

#[test]
fn a_coil_that_flickers_at_the_end_of_its_battery_is_in_one_stop() {
    let silent = |at_s| row("scope", at_s, None, Some(6.6), Status::NoSignal);
    let mut rows = vec![good(0.0, 7.0), good(1.0, 6.5), silent(2.0)];
    for at_s in [3.0, 5.0, 7.0] {
        rows.extend([good(at_s, 6.2), silent(at_s + 1.0)]);
    }
    let flickering = events(&rows);
    let [stop] = flickering.stops().entries.as_slice() else {
        panic!("{flickering:?}");
    };
    assert_eq!((stop.from_s, stop.to_s, stop.flickers), (2.0, None, 3));
    assert_eq!((stop.rows, stop.restart_row), ((3, 9), None));
    assert_eq!((stop.battery_from_v, flickering.restarts()), (Some(6.5), 0));
    // It has started again with the first reading of a run that lasts, and the next one is another stop.
    rows.extend([
        good(10.0, 6.9),
        good(11.0, 6.9),
        good(12.0, 6.9),
        silent(13.0),
    ]);
    let again = events(&rows);
    let stops = &again.stops().entries;
    assert_eq!(
        (stops[0].to_s, stops[0].restart_row),
        (Some(10.0), Some(10))
    );
    assert_eq!(
        (stops[1].from_s, stops[1].battery_from_v),
        (13.0, Some(6.9))
    );
    assert_eq!((stops.len(), again.restarts()), (2, 1));
}

#[test]
fn a_fast_flicker_is_no_restart_however_many_readings_it_has() {
    let mut rows = vec![good(0.0, 7.0), fault(1.0, Status::NoSignal, "")];
    rows.extend((0..150).map(|i| good(2.0 + 0.01 * f64::from(i), 7.0)));
    rows.push(fault(3.6, Status::NoSignal, ""));
    assert_eq!(events(&rows).stops().count(), 1);
    rows.truncate(152);
    rows.extend([good(4.1, 7.0), fault(4.2, Status::NoSignal, "")]);
    assert_eq!(events(&rows).stops().count(), 2);
}

#[test]
fn doubts_of_row_after_row_are_one_and_each_channel_has_its_own() {
    let doubted = |at_s, status, note: &str| Row {
        note: Note::read(note),
        ..row("scope", at_s, Some(6e6), Some(9.0), status)
    };
    let hung = "frequency_hz: the same 10 times in a row";
    let events = events(&[
        good(0.0, 9.0),
        doubted(1.0, Status::Stale, hung),
        doubted(2.0, Status::Stale, hung),
        good(3.0, 9.0),
        doubted(4.0, Status::Suspect, "battery_v: 0.91 V after 9.00 V"),
        doubted(5.0, Status::Stale, hung),
    ]);
    let found: Vec<_> = events
        .doubts()
        .entries
        .iter()
        .map(|doubt| (doubt.channel, doubt.status, doubt.rows, doubt.readings))
        .collect();
    assert_eq!(
        found,
        [
            (Channel::FrequencyHz, Status::Stale, (2, 3), 2),
            (Channel::BatteryV, Status::Suspect, (5, 5), 1),
            (Channel::FrequencyHz, Status::Stale, (6, 6), 1),
        ]
    );
    assert_eq!(events.doubts().entries[0].why, "the same 10 times in a row");
    assert_eq!((events.outages().count(), events.stops().count()), (0, 0));
}

#[test]
fn a_loose_lead_fills_no_memory_and_is_counted_whole() {
    let mut events = Events::default();
    for i in 0..5000 {
        let at_s = f64::from(i) * 10.0;
        let runs = [1.0, 2.0, 3.0].map(|later_s| good(at_s + later_s, 9.0));
        events.push(&runs);
        events.push(&[fault(at_s + 4.0, Status::NoSignal, "")]);
    }
    assert_eq!(events.stops().entries.len(), KEPT);
    assert_eq!((events.stops().count(), events.restarts()), (5000, 4999));
}

#[test]
fn a_full_list_gives_up_its_lightest_for_what_weighs_more() {
    let mut kept = Kept::<f64>::default();
    for size in (0..KEPT + 100).map(|index| 1.0 + (index % 7) as f64) {
        kept.add_heaviest(size, |size| *size);
    }
    kept.add_heaviest(56e3, |size| *size);
    kept.add_heaviest(0.5, |size| *size);
    assert_eq!((kept.entries.len(), kept.count()), (KEPT, KEPT + 102));
    assert_eq!(kept.entries.last(), Some(&56e3));
    assert!(kept.entries.iter().all(|size| *size >= 1.0));
}

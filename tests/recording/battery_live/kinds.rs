//! Own runs, converters and batteries in series.

use super::*;

#[test]
fn its_own_runs_foretell_it_and_the_session_at_hand_is_none_of_them() {
    let desk = Desk::new();
    li_ion(&desk);
    let battery = [
        "--battery",
        "N2",
        "--battery-kind",
        "nimh-7",
        "--battery-start",
        "full",
    ];
    let first = record(
        &desk,
        "li.log",
        &[&battery[..], &["--battery-end", "6.2V"]].concat(),
    )
    .well();
    assert_eq!(
        times(&first.stderr, "no whole curve of this kind is known"),
        1,
        "{}",
        first.stderr
    );
    fs::rename(
        desk.path().join("sessions/now"),
        desk.path().join("sessions/first"),
    )
    .unwrap();
    let end = [&battery[..], &["--battery-end", "6.2V"]].concat();
    // The same evening played again is the same session: it does not predict itself, and counts once.
    record(&desk, "li.log", &end).well();
    let rows = forecasts(&desk.path().join("sessions/now"));
    assert!(rows.iter().all(|row| &row[BASIS] != "own runs"));
    fs::rename(
        desk.path().join("sessions/now"),
        desk.path().join("sessions/again"),
    )
    .unwrap();
    let other_evening = fs::read_to_string(desk.path().join("li.log")).unwrap();
    desk.file(
        "next.log",
        &other_evening.replace("2026-01-31T", "2026-02-07T"),
    );
    let second = record(&desk, "next.log", &end).well();
    let rows = forecasts(&desk.path().join("sessions/now"));
    let said = rows.iter().find(|row| &row[SAID] == "forecast").unwrap();
    assert_eq!(&said[BASIS], "own runs");
    assert!(
        second
            .stderr
            .contains("battery: below its end of 6.20 V: stop now"),
        "{}",
        second.stderr
    );
    // What the session says of its battery stands in it: the logbook needs no options.
    let list = desk.run(&["battery", "--sessions", "sessions"]);
    assert!(
        list.stdout.contains("N2") && list.stdout.contains("nimh-7"),
        "{}",
        list.stdout
    );
    let page = desk.run(&[
        "battery",
        "N2",
        "--sessions",
        "sessions",
        "--no-plots",
        "--detail",
    ]);
    assert_eq!(times(&page.stdout, "to the end"), 2, "{}", page.stdout);
}

/// The simulated evening's converter holds 9.02 V to its step; both are of the bench's own world.
#[test]
fn a_converter_is_refused_until_it_steps_down_and_then_warned_of_within_thirty_seconds() {
    let desk = Desk::new();
    let args = [
        "simulate",
        "--battery",
        "usb-rechargeable",
        "--for",
        "6min",
        "--time-scale",
        "60",
        "--out",
        "now",
    ];
    let ended = desk.run(&args).well();
    let session = desk.path().join("now");
    let rows = forecasts(&session);
    assert!(
        rows.iter().all(|row| &row[SAID] == "holds-voltage"),
        "{rows:?}"
    );
    assert_eq!(
        times(
            &ended.stderr,
            "this battery holds its voltage until it stops"
        ),
        1
    );
    assert_eq!(times(&ended.stderr, "its output stepped down"), 1);
    let mut stepped_s = None;
    for row in rows_of(&Session::open(&session).unwrap()) {
        let low = row
            .good(Channel::BatteryV)
            .is_some_and(|volts_v| volts_v < 7.0);
        stepped_s = stepped_s.or_else(|| low.then(|| row.stamp.elapsed_s()));
    }
    let stepped_s = stepped_s.unwrap();
    let warned = rows
        .iter()
        .find(|row| &row[ALARM] == "stepped-down")
        .unwrap();
    let late_s = number(warned, ELAPSED) - stepped_s;
    assert!((0.0..=30.0).contains(&late_s), "{late_s} s");
    let before = rows.iter().filter(|row| number(row, ELAPSED) < stepped_s);
    assert!(before.into_iter().all(|row| row[ALARM].is_empty()));
    assert_eq!(check(&session).unwrap().findings, []);
}

#[test]
fn batteries_in_series_end_where_the_weakest_does_and_that_is_said() {
    let desk = Desk::new();
    log(&desk, "two.log", |at_s| {
        (at_s < 20.0).then_some((6.231, 18.4, None))
    });
    let two = [
        "--battery",
        "A1+A2",
        "--battery-kind",
        "alkaline",
        "--battery-each",
        "9.42V 9.10V",
    ];
    let ended = record(&desk, "two.log", &two).well();
    assert!(
        ended.stderr.contains("battery 2 is 320 mV behind: it is empty first, and the others would reverse it; stop at 11.12 V together"),
        "{}",
        ended.stderr
    );
    let page = desk.run(&[
        "battery",
        "A1+A2",
        "--sessions",
        "sessions",
        "--no-plots",
        "--detail",
    ]);
    assert!(
        page.stdout.contains("11.1 V for 2 in series"),
        "{}",
        page.stdout
    );
}

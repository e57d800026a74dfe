//! Answers that are garbage, late, echoes, or words for no reading.

use super::*;

#[test]
fn garbage_is_refused_kept_and_told() {
    let (desk, counter) = (
        Desk::new(),
        counter(vec![Fault::always(FaultKind::Garbage)]),
    );
    let mut running = desk.start(&["-i", &at(&counter), "--every", "50ms"]);
    for _ in 0..2 {
        running.wait_for("a garbled row", |line| line.contains(",garbled,"));
    }
    let ended = running.interrupt();
    assert_eq!(ended.code, INSTRUMENT);
    assert!(
        ended.stderr.contains("gave nothing that could be read"),
        "{}",
        ended.stderr
    );
    assert!(
        ended
            .stderr
            .contains("hint: is it the right profile and speed?")
    );
    assert!(desk.read("out/rejected.log").lines().count() >= 2);
    assert_eq!(count(&desk, Status::Ok), 0);
}

#[test]
fn a_recording_finds_its_way_out_of_garbage() {
    let counter = counter(vec![Fault::first(12, FaultKind::Garbage)]);
    let desk = Desk::new();
    let mut running = desk.start(&["-i", &at(&counter), "--every", "50ms"]);
    running.wait_for_rows(5);
    assert_eq!(running.interrupt().code, DONE);
    assert_rows_are_answers(&desk, &counter);
}

/// Each good row's two values are neighbours in what the device sent, and were sent when the row says.
fn assert_rows_are_answers(desk: &Desk, device: &Device) {
    let sent: Vec<(f64, f64)> = device
        .sent()
        .into_iter()
        .filter_map(|sent| {
            let text = String::from_utf8(sent.bytes).ok()?;
            Some((sent.elapsed_s, text.trim().parse().ok()?))
        })
        .collect();
    let mut delays_s = Vec::new();
    for row in desk.rows().iter().filter(|row| row.status == Status::Ok) {
        let frequency_hz = row.readings.get(Channel::FrequencyHz).unwrap();
        let battery_v = row.readings.get(Channel::BatteryV).unwrap();
        let pair = sent
            .windows(2)
            .find(|pair| is_same(pair[0].1, frequency_hz) && is_same(pair[1].1, battery_v));
        let pair = pair.unwrap_or_else(|| panic!("{frequency_hz} Hz, {battery_v} V: {sent:?}"));
        delays_s.push(row.stamp.elapsed_s() - pair[0].0);
    }
    let earliest_s = delays_s.iter().copied().fold(f64::INFINITY, f64::min);
    // Clocks began at different moments; an answer of the question before would be late by more than the time-out.
    for delay_s in delays_s {
        assert!(
            delay_s - earliest_s < 0.9,
            "{delay_s} s, others {earliest_s} s"
        );
    }
}

fn is_same(one: f64, other: f64) -> bool {
    one.to_bits() == other.to_bits()
}

#[test]
fn a_late_answer_is_never_taken_for_the_next_one() {
    let late = |from_s: f64, wait_ms| Fault {
        from_s,
        to_s: f64::INFINITY,
        at_most: Some(1),
        kind: FaultKind::Late(Duration::from_millis(wait_ms)),
    };
    // Later than the time-out, and later than several synchronising questions.
    let counter = counter(vec![late(0.3, 900), late(2.0, 1800)]);
    let desk = Desk::new();
    let mut running = desk.start(&["-i", &at(&counter), "--every", "50ms"]);
    running.wait_for("the first miss", |line| {
        line.contains(",silent,no answer to")
    });
    running.wait_for_rows(2);
    running.wait_for("the second miss", |line| {
        line.contains(",silent,no answer to")
    });
    running.wait_for_rows(5);
    assert_eq!(running.interrupt().code, DONE);
    assert_rows_are_answers(&desk, &counter);
    let rejected = desk.read("out/rejected.log");
    assert!(rejected.contains("it belongs to no question"), "{rejected}");
    assert_eq!(
        count(&desk, Status::Garbled) + count(&desk, Status::Refused),
        0
    );
}

#[test]
fn an_echo_is_not_taken_for_an_answer() {
    let (desk, counter) = (Desk::new(), counter(vec![Fault::always(FaultKind::Echo)]));
    let mut running = desk.start(&["-i", &at(&counter), "--every", "50ms"]);
    running.wait_for_rows(5);
    assert_eq!(running.interrupt().code, DONE);
    assert_eq!(count(&desk, Status::Garbled), 0);
}

#[test]
fn words_for_no_reading_are_statuses_and_never_numbers() {
    for (word, status) in [
        ("9.9E37", Status::Overload),
        ("-9.9E37", Status::Overload),
        ("9.91E37", Status::NoSignal),
        ("nan", Status::NoSignal),
    ] {
        let counter = counter(vec![Fault::always(FaultKind::Says(word.to_owned()))]);
        let desk = Desk::new();
        let mut running = desk.start(&["-i", &at(&counter), "--every", "50ms"]);
        running.wait_for(word, |line| line.contains(&format!(",,,{status},")));
        assert_eq!(running.interrupt().code, DONE, "{word}");
        assert!(
            desk.rows().iter().all(|row| row.readings.is_empty()),
            "{word}"
        );
        assert!(
            !desk
                .read("out/samples.csv")
                .to_ascii_lowercase()
                .contains("e37")
        );
    }
}

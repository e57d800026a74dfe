//! Instruments that follow a script: time-outs, halves and copies of answers, prompts, a way into step.

use super::*;

/// With the shipped counter, whose time-out is 3 s: three of them passed before a row showed it.
#[test]
fn an_answer_cut_off_without_its_end_is_told_after_its_time_out() {
    // The last answer of a row, and one with a question behind it.
    let last: Script = |question, count| match (question, count) {
        ("MEAS:VOLT:DC?", 5) => vec![(1, "9.~")],
        _ => plain_answer(question),
    };
    let first: Script = |question, count| match (question, count) {
        ("MEAS:FREQ?", 5) => vec![(1, "6.~")],
        _ => plain_answer(question),
    };
    for script in [last, first] {
        assert_told_after_its_time_out(script);
    }
}

fn assert_told_after_its_time_out(script: Script) {
    let shipped = Catalogue::default().get("scpi-counter").unwrap().0;
    let timeout_us = 3_000_000;
    assert_eq!(shipped.timing.timeout.as_micros(), 3_000_000);
    let told = scripted_for(Duration::from_secs(30), shipped, [script]);
    let times = times(&told);
    for pair in times.windows(2) {
        let wait_us = pair[1].0 - pair[0].0;
        assert!(
            wait_us < timeout_us + 1_500_000,
            "{wait_us} us without a row: {times:?}"
        );
    }
    let silent = told.iter().find_map(|(told_us, event)| match event {
        Event::Rows(rows, _) => {
            let row = rows.iter().find(|row| row.status == Status::Silent)?;
            Some((*told_us, row.stamp.elapsed_us))
        }
        _ => None,
    });
    let (told_us, at_us) = silent.expect("the silence is a row");
    assert!(
        (0..=500_000).contains(&(told_us - at_us)),
        "{told_us} {at_us}"
    );
    // The 5th row is asked for 4 s after the first.
    assert!((7_000_000..7_100_000).contains(&at_us), "{at_us}");
    assert!(times.len() > 20, "{times:?}");
}

#[test]
fn the_second_row_comes_a_full_interval_behind_the_first() {
    let mut slow = without_resync();
    slow.timing.every = Duration::from_secs(1);
    slow.timing.timeout = Duration::from_millis(990);
    let told = scripted_for(
        Duration::from_secs(6),
        slow,
        [|question, _| plain_answer(question)],
    );
    let times = times(&told);
    assert!(times.len() >= 4, "{times:?}");
    for pair in times.windows(2) {
        let every_us = pair[1].1 - pair[0].1;
        assert!((990_000..1_010_000).contains(&every_us), "{times:?}");
    }
}

#[test]
fn a_synchronising_answer_later_than_quiet_is_no_reading() {
    let script: Script = |question, count| match (question, count) {
        ("*OPC?", 1 | 2) => vec![(900, "1")],
        _ => plain_answer(question),
    };
    assert_in_step(&scripted(profile("scpi-counter"), script));
    let mut nameless = profile("scpi-counter");
    nameless.identity = None;
    assert_in_step(&scripted(nameless, script));
}

#[test]
fn the_rest_of_half_an_answer_is_none_to_the_next_question() {
    let told = scripted(profile("scpi-counter"), |question, count| {
        match (question, count) {
            ("MEAS:FREQ?", 3) => vec![(1, "6.2E+06"), (0, "8.9~")],
            ("MEAS:VOLT:DC?", 3) => vec![(1, "99989"), (1, "9.0")],
            _ => plain_answer(question),
        }
    });
    assert_in_step(&told);
}

/// A copy behind each answer, the packet with its beginning before the next question and the rest 10 ms later.
#[test]
fn the_copy_of_an_answer_that_began_before_the_question_is_no_reading_and_no_name() {
    let script: Script = |question, _| match question {
        "*IDN?" => vec![
            (1, "glow pillar,counter,0,1\nglow pil~"),
            (10, "lar,counter,0,1"),
        ],
        "*OPC?" => vec![(1, "1\n~"), (10, "")],
        "MEAS:FREQ?" => vec![(1, "6.2E+06\n6.2E~"), (10, "+06")],
        "MEAS:VOLT:DC?" => vec![(1, "9.0\n+~"), (10, "3.1")],
        _ => plain_answer(question),
    };
    for profile in [profile("scpi-counter"), without_resync()] {
        let told = scripted(profile, script);
        assert_in_step(&told);
        let silent = told.iter().filter(|event| {
            matches!(event, Event::Rows(rows, _) if rows.iter().any(|row| row.status != Status::Ok))
        });
        assert_eq!(silent.count(), 0, "{told:?}");
        let refused = told.iter().filter(
            |event| matches!(event, Event::Rejected(refused) if refused.bytes == b"6.2E+06"),
        );
        assert!(refused.count() >= 10, "copies are kept");
    }
}

#[test]
fn a_copy_of_a_complaint_is_no_reading() {
    let told = scripted(profile("scpi-counter"), |question, count| {
        match (question, count) {
            ("MEAS:VOLT:DC?", 3) => vec![],
            ("SYST:ERR?", _) => vec![(1, "0,\"No error\"\n0,\"No ~"), (10, "error\"")],
            _ => plain_answer(question),
        }
    });
    assert_in_step(&told);
}

/// The rows that are not whole.
fn lacking(told: &[Event]) -> usize {
    let rows = told.iter().filter_map(|event| match event {
        Event::Rows(rows, _) => Some(rows),
        _ => None,
    });
    rows.flatten()
        .filter(|row| row.status != Status::Ok)
        .count()
}

#[test]
fn a_prompt_behind_each_answer_is_learnt_and_costs_no_row() {
    for profile in [profile("scpi-counter"), without_resync()] {
        let told = scripted(profile, |question, _| {
            let mut texts = plain_answer(question);
            texts.push((0, "OK> ~"));
            texts
        });
        assert_in_step(&told);
        assert_eq!(lacking(&told), 0, "{told:?}");
    }
}

/// What could begin a number is never learnt as a prompt: the answer behind it is refused.
#[test]
fn a_sign_behind_each_answer_is_no_prompt() {
    let told = scripted(without_resync(), |question, _| {
        let mut texts = plain_answer(question);
        texts.push((0, "-~"));
        texts
    });
    let is_value = |event: &Event| matches!(event, Event::Rows(rows, _) if rows.iter().any(|row| row.readings.get(Channel::BatteryV).is_some()));
    assert!(!told.iter().any(is_value), "{told:?}");
}

#[test]
fn a_prompt_that_the_profile_names_is_cut_off_before_and_behind_answers() {
    let mut named = without_resync();
    named.port.prompt = Some("CH1: ".to_owned());
    named.port.skip = vec!["CR:Ack".to_owned()];
    let told = scripted(named, |question, _| match question {
        "*CLS" => vec![],
        "*IDN?" => vec![(1, "CH1: glow pillar,counter,0,1")],
        "MEAS:FREQ?" => vec![(1, "CR:Ack"), (0, "CH1: 6.2E+06\nCH1: ~")],
        _ => vec![(0, "CR:Ack"), (1, "9.0\nCH~"), (2, "1: ~")],
    });
    assert_in_step(&told);
    assert_eq!(lacking(&told), 0, "{told:?}");
}

/// The recording takes nothing while the line comes back, as when the disk is slow.
#[test]
fn a_set_up_that_a_loss_cut_short_begins_anew() {
    // Enough that the loss comes in the midst of them.
    let texts: Vec<String> = (0..100).map(|number| format!("SET {number}")).collect();
    let length = texts.join(" ").len() + 1;
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .start_paused(true)
        .build()
        .unwrap();
    let heard = LocalSet::new().block_on(&runtime, async {
        let (clock, mut wire) = (Clock::of_runtime(), MemoryWire::new());
        let (events, mut inbox) = mpsc::channel(1);
        let (_stop, stopped) = watch::channel(false);
        let mut profile = profile("scpi-counter");
        profile.start.clone_from(&texts);
        let source = source("counter", profile, &wire, &clock);
        tokio::spawn(acquire::run(source, events, stopped));
        wire.heard(Duration::from_secs(1)).await.unwrap();
        wire.unplug().await;
        wire.plug().await;
        tokio::task::spawn_local(async move { while inbox.recv().await.is_some() {} });
        let mut heard = Vec::new();
        while heard.len() < length {
            heard.extend(wire.heard(Duration::from_secs(1)).await.unwrap());
        }
        heard
    });
    let heard = String::from_utf8_lossy(&heard[..length]);
    assert_eq!(heard, texts.join("\n") + "\n");
}

#[test]
fn without_a_synchronising_question_an_answer_behind_a_banner_has_its_time_out() {
    let told = scripted(without_resync(), |question, count| {
        match (question, count) {
            ("MEAS:FREQ?", 3) => vec![(1, "ready"), (1, "6.2E+06")],
            ("MEAS:VOLT:DC?", 3) => vec![(750, "9.0")],
            _ => plain_answer(question),
        }
    });
    assert_in_step(&told);
    let is_banner =
        |event: &Event| matches!(event, Event::Rejected(refused) if refused.bytes == b"ready");
    assert!(told.iter().any(is_banner), "what was refused is kept");
}

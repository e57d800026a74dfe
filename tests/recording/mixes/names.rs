//! Who an instrument says it is, through losses and flipped bits.

use super::*;

/// The rows with a frequency behind the first gap, and the reasons for which the line was lost.
fn behind_gap(told: &[Event]) -> (usize, Vec<&str>) {
    let rows = told.iter().filter_map(|event| match event {
        Event::Rows(rows, _) => Some(rows),
        _ => None,
    });
    let behind = rows
        .flatten()
        .skip_while(|row| row.status != Status::Gap)
        .filter(|row| row.readings.get(Channel::FrequencyHz).is_some());
    let reasons = told.iter().filter_map(|event| match event {
        Event::Lost { reason, .. } => Some(reason.as_str()),
        _ => None,
    });
    (behind.count(), reasons.collect())
}

#[test]
fn a_flipped_bit_in_its_name_makes_no_other_instrument() {
    let told = scripted_runs(
        profile("scpi-counter"),
        [
            |question, _| plain_answer(question),
            |question, count| match (question, count) {
                ("*IDN?", 1) => vec![(1, "glow pillar,countes,0,1")],
                ("*IDN?", 2) => vec![(1, "glow pillar,counter,0,3")],
                _ => plain_answer(question),
            },
        ],
    );
    assert_in_step(&told);
    let (rows, reasons) = behind_gap(&told);
    assert!(rows >= 10, "{rows} rows");
    assert_eq!(reasons, ["the port went away"]);
}

#[test]
fn an_instrument_that_says_another_name_twice_is_another() {
    let told = scripted_runs(
        profile("scpi-counter"),
        [
            |question, _| plain_answer(question),
            |question, _| match question {
                "*IDN?" => vec![(1, "glow pillar,counter,0,2")],
                _ => plain_answer(question),
            },
        ],
    );
    let (rows, reasons) = behind_gap(&told);
    assert_eq!(rows, 0);
    let other = "glow pillar,counter,0,2 answers there instead of glow pillar,counter,0,1";
    assert_eq!(reasons, ["the port went away", other]);
}

#[test]
fn a_flipped_bit_in_its_first_name_makes_it_no_stranger_later() {
    let told = scripted_runs(
        profile("scpi-counter"),
        [
            |question, count| match (question, count) {
                ("*IDN?", 1) => vec![(1, "glow pillar,countes,0,1")],
                _ => plain_answer(question),
            },
            |question, _| plain_answer(question),
        ],
    );
    assert_in_step(&told);
    let (rows, reasons) = behind_gap(&told);
    assert!(rows >= 10, "{rows} rows");
    assert_eq!(reasons, ["the port went away"]);
}

#[test]
fn what_comes_back_without_a_name_is_not_read_until_it_says_it() {
    let told = scripted_runs(
        profile("scpi-counter"),
        [
            |question, _| plain_answer(question),
            |question, _| match question {
                "*IDN?" => vec![],
                _ => plain_answer(question),
            },
            |question, count| match (question, count) {
                ("*IDN?", 1) => vec![],
                _ => plain_answer(question),
            },
        ],
    );
    let mut values = vec![0];
    for event in &told {
        match event {
            Event::Back { .. } => values.push(0),
            Event::Rows(rows, _) => {
                let read = rows.iter().filter(|row| !row.readings.is_empty());
                *values.last_mut().unwrap() += read.count();
            }
            _ => {}
        }
    }
    let [before, 0, after] = values[..] else {
        panic!("{values:?}");
    };
    assert!(before >= 10 && after >= 10, "{values:?}");
}

#[test]
fn a_name_that_changes_with_each_answer_is_as_good_as_none() {
    let told = scripted_runs(
        profile("scpi-counter"),
        [|question: &str, count: usize| match question {
            "*IDN?" => vec![(1, ["up 1 s", "up 2 s", "up 3 s", "up 4 s"][count % 4])],
            _ => plain_answer(question),
        }],
    );
    let read = |event: &Event| match event {
        Event::Rows(rows, _) => rows.iter().filter(|row| !row.readings.is_empty()).count(),
        _ => 0,
    };
    assert!(told.iter().map(read).sum::<usize>() >= 10, "{told:?}");
}

#[test]
fn without_a_synchronising_question_an_echo_is_not_who_it_is() {
    let told = scripted(without_resync(), |question, _| match question {
        "*CLS" => vec![(2, "*CLS")],
        _ => plain_answer(question),
    });
    assert_in_step(&told);
}

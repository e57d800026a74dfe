use super::*;
use crate::reading::Channel;

fn profile(lines: &str, values: &str) -> Profile {
    let text = format!(
        "schema = 1\nname = \"m\"\nabout = \"a board\"\nmanner = \"unasked\"\n[lines]\n{lines}\n{values}"
    );
    Profile::parse("m", &text).unwrap()
}

const F_AND_V: &str = "[[value]]\nchannel = \"frequency_hz\"\nname = \"f\"\n[[value]]\nchannel = \"battery_v\"\nname = \"v\"\n";

fn hear_all(profile: &Profile, lines: &[&str]) -> Vec<Heard> {
    let mut reader = LineReader::new(profile);
    let lines = lines.iter().enumerate();
    lines
        .map(|(second, line)| reader.hear(profile, line.as_bytes(), second as f64))
        .collect()
}

fn row(heard: &Heard) -> &Reading {
    match &heard.line {
        Line::Row(reading) => reading,
        other => panic!("{other:?}"),
    }
}

/// Returns the line with its checksum by XOR, made here from the bytes before the blank as the page says.
fn sealed(body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("{body} *{sum:02X}")
}

#[test]
fn a_damaged_name_makes_its_row_suspect() {
    let profile = profile("layout = \"fields\"", F_AND_V);
    let good = "f=6231234Hz v=8.9V";
    let heard = hear_all(&profile, &[good, good, "q=6231234Hz v=8.9V", good]);
    let reading = row(&heard[2]);
    assert_eq!(reading.status, Status::Suspect);
    assert_eq!(
        reading.note.to_string(),
        "frequency_hz: not in the line, and q is new in it"
    );
    assert_eq!(reading.readings.get(Channel::BatteryV), Some(8.9));
    assert_eq!(row(&heard[3]).status, Status::Ok);
    // The same text with a right checksum is the board's own.
    let meant = sealed("q=6231234Hz v=8.9V");
    assert_eq!(
        row(&hear_all(&profile, &[good, good, &meant])[2]).status,
        Status::Ok
    );
}

#[test]
fn a_makers_own_fields_and_a_field_left_out_are_no_doubt() {
    let profile = profile("layout = \"fields\"", F_AND_V);
    let lines = [
        "f=6231234Hz v=8.9V q=3",
        "f=6231234Hz v=8.9V",
        "f=6231234Hz q=4",
        "v=8.9V",
        "f=6231234Hz v=8.9V new=5",
        "f=6231234Hz new=6",
    ];
    for heard in hear_all(&profile, &lines) {
        assert_eq!(row(&heard).status, Status::Ok, "{heard:?}");
    }
}

/// One damaged byte makes a digit a blank: the board did not send 623123 Hz.
#[test]
fn a_digit_that_became_a_blank_is_suspect() {
    let profile = profile("layout = \"fields\"", F_AND_V);
    let good = "f=6231234Hz v=8.9V";
    let heard = hear_all(&profile, &[good, good, "f=623123 Hz v=8.9V", good]);
    let statuses: Vec<Status> = heard.iter().map(|heard| row(heard).status).collect();
    let ok = Status::Ok;
    assert_eq!(statuses, [ok, ok, Status::Suspect, ok]);
    assert!(
        row(&heard[2])
            .note
            .to_string()
            .starts_with("frequency_hz: other blanks")
    );
    // A meter that chooses its range pads to one width.
    let padded = ["v=8.912   V", "v=8.912   V", "v=891.2  mV", "v=891.2  mV"];
    for heard in hear_all(&profile, &padded) {
        assert_eq!(row(&heard).status, ok, "{heard:?}");
    }
}

#[test]
fn a_line_that_begins_otherwise_is_not_ours() {
    let profile = profile("layout = \"fields\"\nfirst = \"$FV\"", F_AND_V);
    let heard = hear_all(
        &profile,
        &[
            "$FV,f=6231234Hz,v=8.9V",
            "f=6231234Hz v=8.9V",
            "$FVX f=1MHz",
            "$GP 12 13",
        ],
    );
    assert_eq!(
        row(&heard[0]).readings.get(Channel::FrequencyHz),
        Some(6231234.0)
    );
    assert!(
        heard[1..].iter().all(|heard| heard.line == Line::NotOurs),
        "{heard:?}"
    );
    assert!(LineReader::is_whole(&profile, b"$FV f=1MHz"));
    assert!(!LineReader::is_whole(&profile, b"V f=1MHz"));
    let columns = self::profile(
        "layout = \"columns\"\nfirst = \"$FV\"",
        "[[value]]\nchannel = \"frequency_hz\"\nposition = 2\nunit = \"Hz\"",
    );
    let heard = hear_all(&columns, &["$FV,6231234", "$GP,6231234"]);
    assert_eq!(
        row(&heard[0]).readings.get(Channel::FrequencyHz),
        Some(6231234.0)
    );
    assert_eq!(heard[1].line, Line::NotOurs);
}

#[test]
fn a_counter_in_columns_or_fields_counts_what_is_missing() {
    let fields = profile("layout = \"fields\"\ncounter = \"n\"", F_AND_V);
    let lines: Vec<String> = [11, 12, 17, 18].map(|n| format!("n={n} f=6MHz")).to_vec();
    let said = |profile: &Profile, lines: &[String]| -> Vec<Option<String>> {
        let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
        hear_all(profile, &lines)
            .into_iter()
            .map(|heard| heard.missing)
            .collect()
    };
    let missing = "4 lines missing: the line counter went from 12 to 17".to_owned();
    // Without a checksum, the next line must bear it out.
    assert_eq!(
        said(&fields, &lines),
        [None, None, None, Some(missing.clone())]
    );
    let lines: Vec<String> = lines.iter().map(|line| sealed(line)).collect();
    assert_eq!(
        said(&fields, &lines),
        [None, None, Some(missing.clone()), None]
    );
    let value = "[[value]]\nchannel = \"frequency_hz\"\nunit = \"Hz\"\n";
    let by_number = profile(
        "layout = \"columns\"\ncounter = 1",
        &format!("{value}position = 2"),
    );
    let lines = [11, 12, 17, 18].map(|n| format!("{n},6231234"));
    assert_eq!(said(&by_number, &lines)[3], Some(missing.clone()));
    let by_name = profile(
        "layout = \"columns\"\nheader = true\ncounter = \"n\"",
        &format!("{value}name = \"f\""),
    );
    let lines = [
        vec!["f,n".to_owned()],
        [11, 12, 17, 18].map(|n| format!("6231234,{n}")).to_vec(),
    ];
    assert_eq!(said(&by_name, &lines.concat())[4], Some(missing));
    let heard = hear_all(&by_name, &["f,count", "6231234,5"]);
    assert_eq!(
        row(&heard[1]).note.to_string(),
        "no column n: the line of names has f, count"
    );
}

#[test]
fn a_proven_line_without_a_value_is_a_notice() {
    let profile = profile("layout = \"fields\"\ncounter = \"n\"", F_AND_V);
    let lines = [
        "n=900 f=6MHz",
        "reset=watchdog name=coil-board fw=1.4",
        "n=0 f=6MHz",
        "heap=1200 n=1",
        "heap=1100 n=2",
    ]
    .map(sealed);
    let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
    let heard = hear_all(&profile, &lines);
    let Line::Notice(notice) = &heard[1].line else {
        panic!("{heard:?}")
    };
    assert_eq!(
        notice.restart.as_deref(),
        Some("the board restarted: reset=watchdog")
    );
    assert_eq!(notice.identity.as_deref(), Some("coil-board 1.4"));
    assert_eq!(notice.other, None);
    // Its counter began anew, which was said.
    assert_eq!(heard[2].missing, None);
    let others: Vec<Option<&str>> = heard[3..]
        .iter()
        .map(|heard| match &heard.line {
            Line::Notice(notice) => notice.other.as_deref(),
            other => panic!("{other:?}"),
        })
        .collect();
    assert_eq!(others, [Some("heap=1200 n=1"), None]);
    // Without a checksum it is nothing.
    let bare = hear_all(&profile, &["reset=watchdog"]);
    assert_eq!(row(&bare[0]).note.to_string(), "no known value in the line");
}

#[test]
fn a_boards_clock_is_read_beside_the_lines() {
    let profile = profile(
        "layout = \"fields\"\nclock = \"ms\"\nclock_tick = \"1 ms\"",
        F_AND_V,
    );
    let lines: Vec<String> = (0..5)
        .map(|n| format!("ms={} f=6MHz", 7000 + 1003 * n))
        .collect();
    let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
    let last = hear_all(&profile, &lines)[4].board.unwrap();
    assert!((last.board_s - 4.012).abs() < 1e-9 && !last.is_first);
}

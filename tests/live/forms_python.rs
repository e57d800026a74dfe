//! What instruments and boards send unasked, played by a Python program on its own pseudo-terminal and recorded by the program.

use std::path::Path;

use sagtrace::reading::{Channel, Row, Status};

use crate::common::{Desk, Ended};
use crate::player::play;

const OK: Status = Status::Ok;

/// A profile of a few lines, as a maker would write it.
fn short(name: &str, head: &str, lines: &str, values: &str) -> String {
    format!(
        "schema = 1\nname = \"{name}\"\nabout = \"a test\"\nmanner = \"unasked\"\n{head}\n[lines]\n{lines}\n{values}"
    )
}

/// A profile of the page for makers.
fn from_page(name: &str) -> String {
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("devices/README.md");
    let page = std::fs::read_to_string(page).unwrap();
    let blocks = page.split("```toml\n").skip(1);
    let mut blocks = blocks.filter_map(|block| block.split("```").next());
    let text = blocks.find(|text| text.contains(&format!("name = \"{name}\"")));
    text.expect("the page has it").to_owned()
}

/// Records some rows of a form by a profile; rows, and how it ended.
fn record(form: &str, profile: &str, text: Option<&str>, rows: usize) -> (Desk, Vec<Row>, Ended) {
    let desk = Desk::new();
    if let Some(text) = text {
        // A pseudo-terminal has neither 7 bits nor a parity.
        let text = text
            .replace("data_bits = 7\n", "")
            .replace("parity = \"odd\"\n", "");
        desk.file(&format!("sagtrace/devices/{profile}.toml"), &text);
    }
    let (_player, path) = play("forms.py", form);
    let mut running = desk.start(&["-i", &format!("{profile}@serial:{path}")]);
    for _ in 0..=rows {
        running.wait_for("a row", |line| line.contains(&format!(",{profile},")));
    }
    let ended = running.interrupt().well();
    let rows = desk.rows();
    (desk, rows, ended)
}

/// The first rows: frequency, battery voltage, status.
fn values(rows: &[Row], count: usize) -> Vec<(Option<f64>, Option<f64>, Status)> {
    let value = |row: &Row, channel| row.readings.get(channel);
    rows.iter()
        .take(count)
        .map(|row| {
            let (hertz, volts) = (Channel::FrequencyHz, Channel::BatteryV);
            (value(row, hertz), value(row, volts), row.status)
        })
        .collect()
}

#[test]
fn boards_that_print_for_people_are_read_by_the_shipped_profile() {
    for (form, want) in [
        ("blanks", [(4006171.0, Some(8.58)), (4006170.0, Some(8.57))]),
        ("commas", [(4014464.0, Some(9.29)), (4014463.0, Some(9.28))]),
        ("freq", [(6231234.0, None), (6231233.0, None)]),
        ("colon", [(6231234.0, None), (6231233.0, None)]),
    ] {
        let (_desk, rows, _) = record(form, "quick-plain-lines", None, 2);
        let want = want.map(|(hertz, volts)| (Some(hertz), volts, OK));
        assert_eq!(values(&rows, 2), want, "{form}");
    }
}

const F: &str = "[[value]]\nchannel = \"frequency_hz\"\nname = \"F\"\n";

#[test]
fn numbers_with_thousands_or_without_names_are_read_by_ten_lines() {
    let column = "[[value]]\nchannel = \"frequency_hz\"\nposition = 1\n";
    let blank = "layout = \"columns\"\ndelimiter = \"blank\"\ncolumns = 2";
    for (form, text, want) in [
        (
            "thousands",
            short("ten", "thousands = \",\"", "layout = \"fields\"", F),
            [6231234.0, 6231233.0],
        ),
        (
            "unitless",
            short(
                "ten",
                "",
                "layout = \"fields\"",
                &format!("{F}unit = \"Hz\""),
            ),
            [6231234.0, 6231233.0],
        ),
        (
            "bare",
            short("ten", "", blank, &format!("{column}unit = \"MHz\"")),
            [6231234.5, 6231233.5],
        ),
        (
            "prefix",
            short(
                "ten",
                "",
                "layout = \"columns\"\ncolumns = 1",
                &format!("{column}unit = \"kHz\""),
            ),
            [6231234.5, 6231233.5],
        ),
        (
            "cells",
            short(
                "ten",
                "",
                "layout = \"columns\"\ncolumns = 2",
                &format!("{column}unit = \"MHz\"\nat_least = \"1 kHz\""),
            ),
            [6_231_000.0, 62_310.0],
        ),
    ] {
        let (_desk, rows, _) = record(form, "ten", Some(&text), 2);
        let found: Vec<_> = rows
            .iter()
            .take(2)
            .map(|row| row.readings.get(Channel::FrequencyHz))
            .collect();
        assert_eq!(found, want.map(Some), "{form}: {rows:?}");
    }
}

#[test]
fn a_meter_that_chooses_its_range_keeps_its_volts() {
    let text = short(
        "ten",
        "[port]\nbaud = 1200\nreceived_end = \"cr\"\n[marks]\noverload = [\"0.L\"]",
        "layout = \"columns\"\ndelimiter = \"blank\"\ncolumns = 3\nfirst = \"DC\"",
        "[[value]]\nchannel = \"battery_v\"\nposition = 2\nunit = \"V\"\n",
    );
    let (_desk, rows, _) = record("ranges", "ten", Some(&text), 3);
    let found = values(&rows, 3);
    assert_eq!(found[0], (None, Some(8.912), OK));
    // A tenth all at once is doubted, as it should be; its value is the meter's.
    assert_eq!(found[1].1, Some(0.8912));
    assert_eq!(found[2], (None, None, Status::Overload));
}

#[test]
fn a_display_with_fixed_places_is_read() {
    let text = from_page("place-meter");
    let (_desk, rows, _) = record("places", "place-meter", Some(&text), 3);
    let want = [
        (None, Some(8.912), OK),
        (Some(6_231_000.0), None, OK),
        (None, None, Status::Overload),
    ];
    assert_eq!(values(&rows, 3), want, "{rows:?}");
}

#[test]
fn a_display_of_segments_is_found_again_after_a_lost_byte() {
    let text = from_page("segment-meter");
    let (desk, rows, _) = record("segments", "segment-meter", Some(&text), 7);
    let found = values(&rows, 6);
    assert_eq!(found[0], (None, Some(8.912), OK));
    assert_eq!(found[1], (Some(6_231_000.0), None, OK));
    assert_eq!(found[2].1, Some(0.8912));
    assert_eq!(found[3], (None, None, Status::Overload));
    assert_eq!(found[4], (None, None, Status::Garbled));
    assert_eq!((found[5].1, found[5].2), (Some(8.912), OK), "{rows:?}");
    let rejected = desk.read("out/rejected.log");
    assert!(rejected.contains("may be a fragment"), "{rejected}");
}

#[test]
fn a_board_with_bookkeeping_says_what_is_missing() {
    let text = short(
        "ten",
        "",
        "layout = \"fields\"\nchecksum = \"required\"\nsum = \"add-8\"\nfirst = \"$FV\"\ncounter = \"n\"",
        &format!("{F}[[value]]\nchannel = \"battery_v\"\nname = \"v\"\n").replace("\"F\"", "\"f\""),
    );
    let (desk, rows, _) = record("board", "ten", Some(&text), 6);
    let gaps: Vec<String> = rows
        .iter()
        .filter(|row| row.status == Status::Gap)
        .map(|row| row.note.to_string())
        .collect();
    assert!(
        gaps.contains(&"4 lines missing: the line counter went from 12 to 17".to_owned()),
        "{rows:?}"
    );
    assert!(
        rows.iter().filter(|row| row.status == OK).count() >= 4,
        "{rows:?}"
    );
    assert!(
        gaps.contains(&"the board restarted: reset=power-on".to_owned()),
        "{rows:?}"
    );
    let session = desk.read("out/session.toml");
    assert!(
        session.contains("identity = \"coil-board 1.4\""),
        "{session}"
    );
    let rejected = desk.read("out/rejected.log");
    assert!(!rejected.contains("could not be read): $FV"), "{rejected}");
}

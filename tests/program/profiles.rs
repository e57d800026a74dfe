//! The page for makers, `devices/README.md`, held against the program: its example lines, its keys, its C code.

use std::process::Command;

use proptest::prelude::*;
use sagtrace::instrument::{
    Catalogue, Checksum, Codes, Form, Profile, Reading, Seal, read_answer, shipped,
};
use sagtrace::reading::{Channel, Status};

use crate::page::{block, page, row};

#[test]
fn the_example_line_is_read_as_the_page_says() {
    let line = block(&page(), "");
    let line = line.trim();
    let (profile, _) = Catalogue::default()
        .get("plain-lines")
        .expect("the profile is sound");
    let reading = row(&profile, line);
    assert_eq!(
        (reading.status, reading.note.is_empty()),
        (Status::Ok, true)
    );
    let want = [6231234.5, 8.912, 0.301, 3.2, 22.5];
    for (channel, want) in Channel::ALL.into_iter().zip(want) {
        assert_eq!(reading.readings.get(channel), Some(want), "{channel:?}");
    }
}

#[test]
fn every_key_of_a_shipped_profile_is_described() {
    fn keys(table: &toml::Table, into: &mut Vec<String>) {
        for (key, value) in table {
            into.push(key.clone());
            match value {
                toml::Value::Table(table) => keys(table, into),
                toml::Value::Array(items) => items
                    .iter()
                    .filter_map(toml::Value::as_table)
                    .for_each(|table| keys(table, into)),
                _ => {}
            }
        }
    }
    let page = page();
    for (name, text) in shipped() {
        let mut found = Vec::new();
        keys(&text.parse().expect("it is TOML"), &mut found);
        assert!(found.len() > 10);
        for key in found {
            let is_there = [
                format!("`{key}`"),
                format!("`[{key}]`"),
                format!("`[[{key}]]`"),
            ]
            .iter()
            .any(|form| page.contains(form));
            assert!(is_there, "{name}: the page does not describe {key}");
        }
        assert!(
            page.contains(&format!("| `{name}` |")),
            "the page does not list {name}"
        );
    }
}

/// The page's example profile of this name.
fn example(page: &str, name: &str) -> Profile {
    let blocks = page.split("```toml\n").skip(1);
    let mut blocks = blocks.filter_map(|block| block.split("```").next());
    let text = blocks.find(|text| text.contains(&format!("name = \"{name}\"")));
    Profile::parse(name, text.expect("the example is there")).expect("the example is sound")
}

#[test]
fn the_examples_of_frames_with_fixed_places_are_sound_profiles() {
    for (name, length, is_counted) in [("place-meter", 12, false), ("segment-meter", 14, true)] {
        let form = example(&page(), name).form;
        let Form::Places(layout) = form else {
            panic!("{form:?}")
        };
        assert_eq!((layout.length, layout.is_counted), (length, is_counted));
    }
}

/// Each row of the table "your instrument sends" is a profile's part as it stands.
#[test]
fn the_rows_of_unasked_forms_are_sound_profiles() {
    let page = page();
    let mut count = 0;
    for keys in rows_of_keys(&page, "| your instrument sends | write this |") {
        // Rows that say all of it; the others are keys beside those of another row.
        if !keys.contains("layout = ") || keys.contains("\"places\"") {
            continue;
        }
        let has = |line: &&str, keys: &[&str]| keys.iter().any(|key| line.starts_with(key));
        let part = |keys_of: &[&str]| -> String {
            let lines = keys.lines().filter(|line| has(line, keys_of));
            lines.flat_map(|line| [line, "\n"]).collect()
        };
        let (top, marks) = (part(&["thousands"]), part(&["overload"]));
        let lines = part(&["layout", "delimiter", "columns", "first", "header"]);
        let mut value = part(&["name", "position", "unit"]);
        if !value.contains("name") && !value.contains("position") {
            value.push_str(
                if lines.contains("\"fields\"") || lines.contains("header") {
                    "name = \"F\"\n"
                } else {
                    "position = 1\n"
                },
            );
        }
        if !value.contains("unit") {
            value.push_str("unit = \"V\"\n");
        }
        let channel = if value.contains("Hz") {
            "frequency_hz"
        } else {
            "battery_v"
        };
        let text = format!(
            "schema = 1\nname = \"m\"\nabout = \"a row\"\nmanner = \"unasked\"\n{top}[marks]\n{marks}[lines]\n{lines}[[value]]\nchannel = \"{channel}\"\n{value}"
        );
        Profile::parse("m", &text).unwrap_or_else(|faults| panic!("{text}\n{faults}"));
        count += 1;
    }
    assert_eq!(count, 10);
}

#[test]
fn the_example_of_a_waveform_is_a_sound_profile() {
    let profile = example(&page(), "my-scope");
    let rule = profile.waveform.expect("it has a waveform");
    assert_eq!(rule.codes, Codes::Int16LowFirst);
    // 8N1 at 115 200 Bd: 8.7 s for 100 000 bytes, as the page says.
    let seconds = profile.port.byte_time().as_secs_f64() * 1e5;
    assert!((seconds - 8.7).abs() < 0.05, "{seconds} s");
}

/// The keys in backticks in the last cell of each row of the page's table with this head.
fn rows_of_keys(page: &str, head: &str) -> Vec<String> {
    let table = page.split_once(head).expect("the table is there").1;
    let rows = table
        .lines()
        .skip(2)
        .take_while(|line| line.starts_with('|'));
    rows.map(|row| {
        let cell = row.trim_end_matches(['|', ' ']).rsplit(" | ").next();
        let spans = cell.unwrap_or("").split('`').skip(1).step_by(2);
        spans
            .filter(|span| span.contains(" = "))
            .flat_map(|span| [span, "\n"])
            .collect()
    })
    .collect()
}

/// Each row of the tables "your instrument answers" and "your scope" is a profile's part as it stands.
#[test]
fn the_rows_of_asked_forms_are_sound_profiles() {
    let page = page();
    let head = "schema = 1\nname = \"m\"\nabout = \"a row\"\nmanner = \"asked\"\n";
    let mut count = 0;
    for keys in rows_of_keys(&page, "| you send | your instrument answers | write this |") {
        if !keys.contains("ask =") {
            continue;
        }
        let unit = if keys.contains("unit =") {
            ""
        } else {
            "unit = \"Hz\"\n"
        };
        let text = format!("{head}[[value]]\nchannel = \"frequency_hz\"\n{keys}{unit}");
        Profile::parse("m", &text).unwrap_or_else(|faults| panic!("{text}\n{faults}"));
        count += 1;
    }
    assert_eq!(count, 7);
    let mut count = 0;
    for keys in rows_of_keys(&page, "| your scope | write this under `[waveform]` |") {
        let mut keys = format!("ask = \"W?\"\n{keys}");
        if !keys.contains("codes =") {
            keys.push_str("codes = \"int8\"\n");
        }
        if keys.contains("points = ") && !keys.contains("preamble") {
            keys.push_str("preamble = \"P?\"\n");
        }
        if keys.contains("skip") {
            keys.push_str("interval = { offset = 176, form = \"real-32-low-first\" }\nvolts_per_code = { offset = 156, form = \"real-32-low-first\" }\n");
        }
        let value = "[[value]]\nchannel = \"frequency_hz\"\nwaveform = \"frequency\"\n";
        let text = format!("{head}[waveform]\n{keys}{value}");
        Profile::parse("m", &text).unwrap_or_else(|faults| panic!("{text}\n{faults}"));
        count += 1;
    }
    assert_eq!(count, 8);
}

/// The C compiler is there wherever Rust can link.
#[test]
fn the_c_example_prints_lines_that_are_read() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let source = dir.path().join("board.c");
    let main = "static void put_byte(int byte);\n";
    let tail = "static void put_byte(int byte) { putchar(byte); }\nint main(void) { send_reading(62312345UL, 8912); send_reading(0, 6100); return 0; }\n";
    std::fs::write(&source, format!("{main}{}{tail}", block(&page(), "c")))
        .expect("the source is written");
    let program = dir.path().join("board");
    let status = Command::new("cc")
        .arg("-Wall")
        .arg("-Werror")
        .arg("-o")
        .arg(&program)
        .arg(&source)
        .status();
    assert!(
        status.expect("cc runs").success(),
        "the example compiles without a warning"
    );
    let output = Command::new(&program).output().expect("the example runs");
    let text = String::from_utf8(output.stdout).expect("it prints text");
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(lines.len(), 2, "{text}");
    let (profile, _) = Catalogue::default()
        .get("plain-lines")
        .expect("the profile is sound");
    let read = |line: &str| row(&profile, line);
    assert!(
        lines
            .iter()
            .all(|line| Seal::from(Checksum::Required).proves(line))
    );
    assert_eq!(
        read(lines[0]).readings.get(Channel::FrequencyHz),
        Some(6231234.5)
    );
    assert_eq!(read(lines[0]).readings.get(Channel::BatteryV), Some(8.912));
    assert_eq!(
        (
            read(lines[1]).status,
            read(lines[1]).readings.get(Channel::BatteryV)
        ),
        (Status::NoSignal, Some(6.1))
    );
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_profile_with_any_line_broken_is_read_or_refused_without_panic(
        at in 0_usize..50,
        line in "\\[?[a-z_]{0,9}\\]? ?=? ?\"?.{0,12}",
    ) {
        for (name, text) in shipped() {
            let lines = text.lines().enumerate();
            let broken: String = lines
                .flat_map(|(index, old)| [if index == at { line.as_str() } else { old }, "\n"])
                .collect();
            match Profile::parse(name, &broken) {
                Ok(profile) => prop_assert!(!profile.values.is_empty()),
                Err(faults) => prop_assert!(!faults.to_string().is_empty()),
            }
        }
    }

    #[test]
    fn any_answer_gives_numbers_or_none_without_panic(
        answer in "([-+]?[0-9.]{0,12}([eE ]{1,2}[-+]?[0-9]{1,5})?[;, \"#]?[A-Za-z]{0,3}){0,4}|\\PC{0,40}",
    ) {
        for (name, text) in shipped() {
            let profile = Profile::parse(name, text).unwrap();
            let mut reading = Reading::default();
            for question in profile.questions() {
                read_answer(question, &answer, &profile.values, &mut reading).ok();
            }
            for channel in Channel::ALL {
                let value = reading.readings.get(channel);
                prop_assert!(value.is_none_or(f64::is_finite), "{:?}", reading);
            }
            let frequency_hz = reading.readings.get(Channel::FrequencyHz);
            prop_assert!(frequency_hz.is_none_or(|hertz| hertz > 0.0), "{:?}", reading);
        }
    }
}

//! What an instrument may say: any bytes as an answer, a complaint, a line of fields or of columns, by every shipped profile.
#![no_main]

use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use sagtrace::instrument::{
    Catalogue, ColumnMap, Form, Line, LineReader, Profile, Reading, columns, fields, missing_names, read_answer,
    read_complaint,
};
use sagtrace::reading::Channel;

static PROFILES: LazyLock<Vec<Profile>> = LazyLock::new(|| {
    let catalogue = Catalogue::default();
    let names = catalogue.names();
    names
        .iter()
        .map(|name| catalogue.get(name).expect("a shipped one is sound").0)
        .collect()
});

fuzz_target!(|data: &[u8]| {
    let Ok(text) = std::str::from_utf8(data) else {
        return;
    };
    // A line never holds its own end.
    let text: String = text.replace(['\n', '\r'], " ");
    for profile in PROFILES.iter() {
        let mut reading = Reading::default();
        for question in profile.questions() {
            read_answer(question, &text, &profile.values, &mut reading).ok();
        }
        if let Some(errors) = &profile.errors {
            read_complaint(&text, errors);
        }
        check(&reading);
        // Twice, since the second is judged by the first.
        let mut reader = LineReader::new(profile);
        for elapsed_s in [0.0, 1.0] {
            if let Line::Row(reading) = reader.hear(profile, text.as_bytes(), elapsed_s).line {
                check(&reading);
            }
        }
        match &profile.form {
            Form::Answers | Form::Places(_) => {}
            Form::Fields(seal) => check(&fields(&text, &profile.values, *seal)),
            Form::Columns(layout) => {
                // The first half names the columns that the second half is read by.
                let middle = text.len() / 2;
                let cut = (0..=middle).rev().find(|at| text.is_char_boundary(*at));
                let (names, line) = text.split_at(cut.unwrap_or(0));
                missing_names(names, &profile.values, layout);
                let known = "freq_khz,batt_v";
                for names in [names, known] {
                    if let Some(map) = ColumnMap::by_header(names, &profile.values, layout) {
                        check(&columns(line, &profile.values, layout, &map));
                    }
                }
            }
        }
    }
});

/// No reading is a mark for no reading, and no frequency is none.
fn check(reading: &Reading) {
    for channel in Channel::ALL {
        if let Some(value) = reading.readings.get(channel) {
            assert!(value.is_finite() && value.abs() < 1e300, "{reading:?}");
        }
    }
    let frequency_hz = reading.readings.get(Channel::FrequencyHz);
    assert!(frequency_hz.is_none_or(|hertz| hertz > 0.0), "{reading:?}");
}

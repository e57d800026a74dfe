//! The page for makers, `devices/README.md`, and the code in it.

use std::path::Path;

use sagtrace::instrument::{Line, LineReader, Profile, Reading};

/// The page's text.
pub(crate) fn page() -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("devices/README.md");
    std::fs::read_to_string(path).expect("the page is there")
}

/// Returns what stands between the fences of the page's first block in this language.
pub(crate) fn block(page: &str, language: &str) -> String {
    let start = format!("```{language}\n");
    let body = page.split_once(&start).expect("the block is there").1;
    body.split_once("```").expect("the block ends").0.to_owned()
}

/// The row of a line of named fields.
pub(crate) fn row(profile: &Profile, line: &str) -> Reading {
    match LineReader::new(profile)
        .hear(profile, line.as_bytes(), 0.0)
        .line
    {
        Line::Row(reading) => reading,
        other => panic!("{line}: {other:?}"),
    }
}

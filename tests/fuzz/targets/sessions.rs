//! Any bytes as the table of a session: every line is a row, is reported as skipped, or is the torn end.
#![no_main]

use std::io::{Seek as _, Write as _};
use std::path::PathBuf;
use std::sync::{LazyLock, Mutex};

use libfuzzer_sys::fuzz_target;
use sagtrace::session::RowReader;

/// A file in memory where the system has such a folder.
static PATH: LazyLock<PathBuf> = LazyLock::new(|| {
    let memory = PathBuf::from("/dev/shm");
    let dir = if memory.is_dir() { memory } else { std::env::temp_dir() };
    dir.join(format!("sagtrace-fuzz-{}.csv", std::process::id()))
});
static FILE: LazyLock<Mutex<std::fs::File>> =
    LazyLock::new(|| Mutex::new(std::fs::File::create(&*PATH).expect("a file for the table")));

const HEADER: &str = "timestamp,elapsed_s,source,frequency_hz,battery_v,status,note\n";

fuzz_target!(|data: &[u8]| {
    // Half of the tables begin as a table must.
    let (header, data) = match data.split_first() {
        Some((choice, rest)) if choice % 2 == 0 => (HEADER.as_bytes(), rest),
        _ => (&[][..], data),
    };
    {
        let mut file = FILE.lock().expect("one thread");
        file.set_len(0).expect("it is emptied");
        file.rewind().expect("its beginning");
        file.write_all(header).expect("it takes it");
        file.write_all(data).expect("it takes it");
    }
    let Ok(mut reader) = RowReader::open(&PATH) else {
        return;
    };
    let (mut rows, mut count) = (Vec::new(), 0);
    while reader.next_chunk(&mut rows).is_ok_and(|goes_on| goes_on) {
        count += rows.len();
        rows.clear();
    }
    let lines = header.iter().chain(data).filter(|byte| **byte == b'\n').count();
    assert!(count <= lines, "{count} rows of {lines} lines");
});

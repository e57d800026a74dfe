//! Any text as a build sheet: read, or refused with faults that say where.
#![no_main]

use libfuzzer_sys::fuzz_target;
use sagtrace::sheet;

fuzz_target!(|data: &[u8]| {
    let Ok(text) = std::str::from_utf8(data) else {
        return;
    };
    match sheet::parse(text) {
        Ok(sheet) => assert!(sheet.turns().is_finite() && sheet.mean_diameter_m() > 0.0),
        Err(faults) => assert!(!faults.to_string().is_empty()),
    }
});

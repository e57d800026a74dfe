//! Any text as a profile: read, or refused with faults that say where.
#![no_main]

use libfuzzer_sys::fuzz_target;
use sagtrace::instrument::Profile;

fuzz_target!(|data: &[u8]| {
    let Ok(text) = std::str::from_utf8(data) else {
        return;
    };
    match Profile::parse("fuzzed", text) {
        Ok(profile) => assert!(!profile.values.is_empty()),
        Err(faults) => assert!(!faults.to_string().is_empty()),
    }
});

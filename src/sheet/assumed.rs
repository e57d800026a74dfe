//! Assumptions that are met while a sheet is read, and the keys that may be missing.

use std::fmt;

use crate::faults::Entry;

/// The assumptions as they are met while reading.
#[derive(Debug, Default)]
pub(super) struct Assumed(pub(super) Vec<Assumption>);

impl Assumed {
    pub(super) fn note(&mut self, key: &'static str, taken: impl Into<String>) {
        let taken = taken.into();
        self.0.push(Assumption { key, taken });
    }
}

/// Reads a key that may be missing: `Some(None)` if it is, `None` if its value is at fault.
#[expect(
    clippy::option_option,
    reason = "missing and at fault are two things: the first has a default, the second has been reported"
)]
pub(super) fn optional<T>(
    entry: Option<Entry<'_>>,
    read: impl FnOnce(&Entry<'_>) -> Option<T>,
) -> Option<Option<T>> {
    match entry {
        Some(entry) => read(&entry).map(Some),
        None => Some(None),
    }
}

/// Something the sheet does not say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assumption {
    /// The key that would say it: `"coil.film"`.
    pub key: &'static str,
    /// The value that is assumed instead.
    pub taken: String,
}

impl fmt::Display for Assumption {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.key, self.taken)
    }
}

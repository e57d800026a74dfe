//! Keys that several tables of a profile have in common.

use crate::faults::{Entry, Table};
use crate::instrument::waveform::codes::Codes;

/// A key that may be missing, and then has a usual value.
pub(in crate::instrument) fn usual<'t, T>(
    table: Option<&Table<'t>>,
    key: &'static str,
    usual: T,
    read: impl FnOnce(&Entry<'t>) -> Option<T>,
) -> Option<T> {
    match table.and_then(|table| table.entry(key)) {
        Some(entry) => read(&entry),
        None => Some(usual),
    }
}

pub(in crate::instrument) fn whole<T: TryFrom<i64>>(
    entry: &Entry<'_>,
    low: i64,
    high: i64,
) -> Option<T> {
    entry
        .integer(low..=high)
        .and_then(|value| T::try_from(value).ok())
}

pub(in crate::instrument) const CODES: [(&str, Codes); 11] = [
    ("int8", Codes::Int8),
    ("uint8", Codes::Uint8),
    ("int16-high-first", Codes::Int16HighFirst),
    ("int16-low-first", Codes::Int16LowFirst),
    ("uint16-high-first", Codes::Uint16HighFirst),
    ("uint16-low-first", Codes::Uint16LowFirst),
    ("real-32-high-first", Codes::Real32HighFirst),
    ("real-32-low-first", Codes::Real32LowFirst),
    ("real-64-high-first", Codes::Real64HighFirst),
    ("real-64-low-first", Codes::Real64LowFirst),
    ("ascii", Codes::Ascii),
];

/// The forms that numbers in bytes have: all but text.
pub(in crate::instrument) fn byte_codes(entry: &Entry<'_>) -> Option<Codes> {
    let forms: Vec<(&str, Codes)> = CODES
        .into_iter()
        .filter(|(_, codes)| !codes.is_text())
        .collect();
    entry.choice(&forms)
}

/// How many values an answer has: the last one that is read, unless the profile says more.
pub(in crate::instrument) fn count_of(table: &Table<'_>, position: usize) -> Option<usize> {
    match table.entry("of") {
        Some(entry) => whole(&entry, i64::try_from(position).unwrap_or(1), 1000),
        None => Some(position),
    }
}

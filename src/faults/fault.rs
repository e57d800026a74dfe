//! A fault of a file, and its place.

use std::fmt;

/// One fault of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// The line, counted from 1.
    pub line: usize,
    /// The key with its tables, `coil.wire`; empty for a fault of the file's form.
    pub key: String,
    /// The text found there.
    pub found: String,
    /// The text expected there.
    pub allowed: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: ", self.line)?;
        if !self.key.is_empty() {
            write!(f, "{}: ", self.key)?;
        }
        write!(f, "{}: {}", self.found, self.allowed)
    }
}

/// The number of faults that are listed one by one. Chosen: a file that has more is of another kind.
const MOST_TOLD: usize = 100;

/// All faults of a file, in the order of their lines; those behind the hundredth are counted.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", self.words())]
pub struct Faults {
    /// The first of them.
    pub first: Vec<Fault>,
    /// How many more there are.
    pub more: usize,
}

impl Faults {
    pub(super) fn of(mut all: Vec<Fault>) -> Self {
        all.sort_by_key(|fault| fault.line);
        all.dedup();
        let more = all.len().saturating_sub(MOST_TOLD);
        all.truncate(MOST_TOLD);
        Self { first: all, more }
    }

    fn words(&self) -> String {
        let mut lines: Vec<String> = self.first.iter().map(ToString::to_string).collect();
        if self.more > 0 {
            lines.push(format!("and {} more", self.more));
        }
        lines.join("\n")
    }
}

/// Where the lines of a text begin.
#[derive(Debug)]
pub(super) struct Lines(Vec<usize>);

impl Lines {
    pub(super) fn of(text: &str) -> Self {
        let ends = text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n');
        Self(ends.map(|(at, _)| at + 1).collect())
    }

    /// The line of a byte, counted from 1.
    pub(super) fn at(&self, offset: usize) -> usize {
        self.0.partition_point(|start| *start <= offset) + 1
    }
}

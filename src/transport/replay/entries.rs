//! The entries of a byte log, read as they are needed and played at their time.

use std::collections::VecDeque;
use std::io;

use crate::clock::Deadline;
use crate::reading::Stamp;
use crate::transport::byte_log::{Entry, NoEntry, parse_entry};

/// Reads a line of the file; `None` for an empty one.
pub(super) fn parse_line(line: &[u8]) -> Result<Option<(Stamp, Entry)>, NoEntry> {
    let text = std::str::from_utf8(line).map_err(|_| NoEntry::NoText)?;
    let text = text.strip_suffix('\n').unwrap_or(text);
    let text = text.strip_suffix('\r').unwrap_or(text);
    if text.trim().is_empty() {
        return Ok(None);
    }
    parse_entry(text).map(Some)
}

/// The entries of a log, read as they are needed.
pub(super) struct Entries {
    pub(super) lines: Box<dyn Iterator<Item = io::Result<Vec<u8>>> + Send>,
    pub(super) ahead: VecDeque<(Stamp, Entry)>,
    pub(super) pace: Option<Pace>,
}

pub(super) struct Pace {
    pub(super) factor: f64,
    /// When the first entry was played, and its elapsed time.
    pub(super) begun: Option<(crate::clock::Clock, i64)>,
}

impl Entries {
    /// The next entry, at its time if the log is played at speed.
    pub(super) fn next(&mut self) -> Option<(Stamp, Entry)> {
        let entry = self.ahead.pop_front().or_else(|| self.read())?;
        if let Some(pace) = &mut self.pace {
            pace.wait(entry.0);
        }
        Some(entry)
    }

    /// Looks ahead for the first entry of which `pick` says something.
    pub(super) fn find_ahead<T>(&mut self, pick: impl Fn(&Entry) -> Option<T>) -> Option<T> {
        let mut at = 0;
        loop {
            if at == self.ahead.len() {
                let entry = self.read()?;
                self.ahead.push_back(entry);
            }
            if let Some(found) = self.ahead.get(at).and_then(|(_, entry)| pick(entry)) {
                return Some(found);
            }
            at += 1;
        }
    }

    /// Reads on. The log was read once already: a line that can't be read now ends it.
    fn read(&mut self) -> Option<(Stamp, Entry)> {
        loop {
            let line = self.lines.next()?.ok()?;
            if let Some(entry) = parse_line(&line).ok()? {
                return Some(entry);
            }
        }
    }
}

impl Pace {
    fn wait(&mut self, stamp: Stamp) {
        let (clock, first_us) = self
            .begun
            .get_or_insert_with(|| (crate::clock::Clock::real(), stamp.elapsed_us));
        let due_s = (stamp.elapsed_us - *first_us) as f64 / 1e6 / self.factor;
        let left_s = (due_s - clock.elapsed_s()).clamp(0.0, 1e9);
        let deadline = Deadline::after(std::time::Duration::from_secs_f64(left_s));
        while !deadline.is_over() {
            deadline.pause(deadline.left());
        }
    }
}

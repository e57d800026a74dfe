//! The byte log: the bytes sent and received, with their times, one line per entry.
//!
//! `elapsed_us time sign bytes`: elapsed microseconds, wall time in RFC 3339, a sign, and bytes with `\n`, `\r`, `\t`, `\\`
//! and `\xHH` escaped. Each [`Entry`] names its sign.

use std::fmt::Write as _;
use std::time::Duration;

use crate::clock::{parse_rfc3339_ms, rfc3339_ms};
use crate::reading::Stamp;

/// The content of an entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Entry {
    /// `>`: these bytes were sent.
    Sent(Vec<u8>),
    /// `<`: these came in one read.
    Received(Vec<u8>),
    /// `~`: a question stayed unanswered, or nothing came for as long as the profile allows.
    Unanswered,
    /// `=`: the line had been quiet long enough that questions and answers are in step.
    Quiet,
    /// `!`: the line was lost, and why.
    Lost(String),
    /// `+`: the line was opened, at the start and after each loss.
    Open,
    /// `*`: the recording was behind by a number of microseconds, and lines may be missing.
    Behind(Duration),
}

/// The fault of a line that is no entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoEntry {
    #[error("bytes that are no text")]
    NoText,
    #[error("the elapsed time is not a number")]
    Elapsed,
    #[error("the time is not in RFC 3339")]
    Time,
    #[error("the sign is missing")]
    SignMissing,
    #[error("the sign is not one of > < ~ = ! + *")]
    OtherSign,
    #[error("* wants whole microseconds")]
    Behind,
    #[error("\\x wants two hexadecimal digits")]
    Hexadecimal,
    #[error("a backslash wants n, r, t, x or another backslash behind it")]
    Backslash,
}

/// An entry as its line, with the line's end.
pub(super) fn format_entry(stamp: Stamp, entry: &Entry) -> String {
    let (sign, rest) = match entry {
        Entry::Sent(bytes) => ('>', escape(bytes)),
        Entry::Received(bytes) => ('<', escape(bytes)),
        Entry::Unanswered => ('~', String::new()),
        Entry::Quiet => ('=', String::new()),
        Entry::Lost(reason) => ('!', reason.replace(|c: char| c.is_control(), " ")),
        Entry::Open => ('+', String::new()),
        Entry::Behind(waited) => ('*', waited.as_micros().to_string()),
    };
    let blank = if rest.is_empty() { "" } else { " " };
    let time = rfc3339_ms(stamp.wall_ms);
    format!("{} {time} {sign}{blank}{rest}\n", stamp.elapsed_us)
}

/// Reads a line of a byte log.
pub(super) fn parse_entry(line: &str) -> Result<(Stamp, Entry), NoEntry> {
    let mut parts = line.splitn(4, ' ');
    let elapsed_us = parts
        .next()
        .and_then(|text| text.parse().ok())
        .ok_or(NoEntry::Elapsed)?;
    let wall_ms = parts
        .next()
        .and_then(parse_rfc3339_ms)
        .ok_or(NoEntry::Time)?;
    let sign = parts.next().ok_or(NoEntry::SignMissing)?;
    let rest = parts.next().unwrap_or("");
    let entry = match sign {
        ">" => Entry::Sent(unescape(rest)?),
        "<" => Entry::Received(unescape(rest)?),
        "~" => Entry::Unanswered,
        "=" => Entry::Quiet,
        "!" => Entry::Lost(rest.to_owned()),
        "+" => Entry::Open,
        "*" => Entry::Behind(Duration::from_micros(
            rest.parse().map_err(|_| NoEntry::Behind)?,
        )),
        _ => return Err(NoEntry::OtherSign),
    };
    Ok((
        Stamp {
            elapsed_us,
            wall_ms,
        },
        entry,
    ))
}

fn escape(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len());
    for &byte in bytes {
        match byte {
            b'\n' => text.push_str("\\n"),
            b'\r' => text.push_str("\\r"),
            b'\t' => text.push_str("\\t"),
            b'\\' => text.push_str("\\\\"),
            b' '..=b'~' => text.push(char::from(byte)),
            // Writing to a String cannot fail.
            _ => write!(text, "\\x{byte:02x}").unwrap_or(()),
        }
    }
    text
}

fn unescape(text: &str) -> Result<Vec<u8>, NoEntry> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.bytes();
    while let Some(byte) = rest.next() {
        if byte != b'\\' {
            bytes.push(byte);
            continue;
        }
        bytes.push(match rest.next() {
            Some(b'n') => b'\n',
            Some(b'r') => b'\r',
            Some(b't') => b'\t',
            Some(b'\\') => b'\\',
            Some(b'x') => {
                let digit = |byte: Option<u8>| byte.and_then(|byte| char::from(byte).to_digit(16));
                let value = digit(rest.next())
                    .zip(digit(rest.next()))
                    .map(|(high, low)| high * 16 + low);
                value
                    .and_then(|value| u8::try_from(value).ok())
                    .ok_or(NoEntry::Hexadecimal)?
            }
            _ => return Err(NoEntry::Backslash),
        });
    }
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn what_is_written_reads_back(
            bytes in prop::collection::vec(any::<u8>(), 0..40),
            elapsed_us in 0_i64..i64::MAX,
            wall_ms in 0_i64..4_000_000_000_000,
            waited_us in any::<u32>(),
            reason in "[ -~]{1,20}",
        ) {
            let stamp = Stamp { elapsed_us, wall_ms };
            for entry in [
                Entry::Sent(bytes.clone()),
                Entry::Received(bytes),
                Entry::Unanswered,
                Entry::Quiet,
                Entry::Lost(reason),
                Entry::Open,
                Entry::Behind(Duration::from_micros(waited_us.into())),
            ] {
                let line = format_entry(stamp, &entry);
                prop_assert_eq!(line.lines().count(), 1);
                prop_assert_eq!(parse_entry(line.trim_end_matches('\n')), Ok((stamp, entry)));
            }
        }

        #[test]
        fn any_line_is_read_or_refused_without_panic(line in "([0-9]{1,4} 2026-01-31T19:00:00.010Z [<>*!~] ?)?\\PC{0,30}") {
            parse_entry(&line).ok();
        }
    }
}

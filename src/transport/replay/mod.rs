//! An instrument that is a byte log: the bytes sent and received once, with their times, from the log and not the clock.
//!
//! Played to the same profile, a log that was kept while recording gives the same rows and the same refused lines.

mod entries;
mod player;

use std::collections::VecDeque;
use std::io::{self, BufRead as _, BufReader};
use std::path::Path;

use crate::input;
use crate::plain::Shown as _;
use crate::reading::Stamp;
use crate::transport::byte_log::{Entry, NoEntry, parse_entry};
use crate::transport::link::{Link, ends};
use crate::transport::request::{Cut, Manner};
use entries::{Entries, Pace, parse_line};
use player::Player;

/// Why a byte log cannot be replayed.
#[derive(Debug, thiserror::Error)]
pub enum ReplayError {
    /// The file cannot be read.
    #[error("cannot read the byte log {path}")]
    Unreadable {
        /// The file.
        path: String,
        /// The system's error.
        source: io::Error,
    },
    /// A line is not an entry.
    #[error("byte log {path}, line {line}: {found}, an entry is `elapsed_us time sign bytes`")]
    BadEntry {
        /// The file.
        path: String,
        /// Counted from 1.
        line: usize,
        /// The fault.
        found: NoEntry,
    },
}

/// How fast a byte log is played.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Speed {
    /// It is as fast as it can be read.
    AtOnce,
    /// This many times as fast as it was recorded.
    Times(f64),
}

/// A byte log as a link.
#[derive(Debug)]
pub struct Replay {
    /// The link.
    pub link: Link,
    /// Its last line is half a line, as after a power failure, and is left out.
    pub is_torn: bool,
}

/// Opens a byte log as a link.
///
/// # Errors
/// [`ReplayError`] when the file cannot be read or holds something else.
pub fn replay(manner: Manner, path: &Path, cut: Cut, speed: Speed) -> Result<Replay, ReplayError> {
    let shown = path.shown();
    let unreadable = |source| ReplayError::Unreadable {
        path: shown.clone(),
        source,
    };
    let (whole_lines, is_torn) = check(path, &shown)?;
    let file = input::open(path).map_err(unreadable)?;
    let entries = Entries {
        lines: Box::new(BufReader::new(file).split(b'\n').take(whole_lines)),
        ahead: VecDeque::new(),
        pace: match speed {
            Speed::AtOnce => None,
            Speed::Times(factor) => Some(Pace {
                factor,
                begun: None,
            }),
        },
    };
    let link = start(manner, entries, cut).map_err(unreadable)?;
    Ok(Replay { link, is_torn })
}

/// Plays entries that are in memory.
pub(super) fn play(
    manner: Manner,
    entries: VecDeque<(Stamp, Entry)>,
    cut: Cut,
) -> io::Result<Link> {
    let entries = Entries {
        lines: Box::new(std::iter::empty()),
        ahead: entries,
        pace: None,
    };
    start(manner, entries, cut)
}

fn start(manner: Manner, entries: Entries, cut: Cut) -> io::Result<Link> {
    let (near, far) = ends(true);
    let player = Player::new(entries, cut);
    std::thread::Builder::new()
        .name("replay".to_owned())
        .stack_size(256 * 1024)
        .spawn(move || match manner {
            Manner::Asked => player.answer(&far).err(),
            Manner::Unasked => player.speak(&far).err(),
        })?;
    Ok(near)
}

/// When a byte log began, in wall milliseconds; `None` where it has no entry that can be read.
pub fn began_ms(path: &Path) -> Option<i64> {
    let mut first = String::new();
    BufReader::new(input::open(path).ok()?)
        .read_line(&mut first)
        .ok()?;
    let (stamp, _) = parse_entry(first.trim_end()).ok()?;
    Some(stamp.wall_ms)
}

/// Reads the whole log once: how many of its lines are whole, and whether half a line stands at its end.
fn check(path: &Path, shown: &str) -> Result<(usize, bool), ReplayError> {
    let unreadable = |source| ReplayError::Unreadable {
        path: shown.to_owned(),
        source,
    };
    let mut file = BufReader::new(input::open(path).map_err(unreadable)?);
    let mut line = Vec::new();
    let mut count = 0;
    loop {
        line.clear();
        if file.read_until(b'\n', &mut line).map_err(unreadable)? == 0 {
            return Ok((count, false));
        }
        let is_ended = line.ends_with(b"\n");
        match parse_line(&line) {
            Ok(_) => count += 1,
            Err(_) if !is_ended && count > 0 => return Ok((count, true)),
            Err(found) => {
                return Err(ReplayError::BadEntry {
                    path: shown.to_owned(),
                    line: count + 1,
                    found,
                });
            }
        }
    }
}

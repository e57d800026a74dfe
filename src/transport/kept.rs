//! Keeps all bytes of a link, with their times, in a byte log that can be replayed.
//!
//! A thread of its own writes, so that a slow disk never holds up the recording. The log ends with whole entries when the disk is
//! full, or so slow that too much waits for it. The recording goes on.

use std::fs::{File, OpenOptions};
use std::io::{self, Write as _};
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use super::byte_log::{Entry, format_entry, parse_entry};
use crate::reading::Stamp;

/// Bytes that may wait for the disk: minutes of a fast board.
const MOST_WAITING: usize = 16 << 20;

/// How long the end of a recording waits for the entries that are still to be written.
const END_PATIENCE: Duration = Duration::from_secs(5);

#[derive(Debug, Default)]
struct Shared {
    waiting_bytes: AtomicUsize,
    /// Nothing more is taken.
    is_over: AtomicBool,
    /// Why it ended before the recording.
    trouble: Mutex<Option<String>>,
}

impl Shared {
    fn give_up(&self, why: String) {
        if !self.is_over.swap(true, Ordering::AcqRel) {
            *self.trouble.lock().unwrap_or_else(PoisonError::into_inner) = Some(why);
        }
    }
}

/// The link's end of a byte log; the usual one keeps nothing.
#[derive(Debug, Clone, Default)]
pub struct Keeper(Option<(Sender<String>, Arc<Shared>)>);

impl Keeper {
    pub(super) fn note(&self, stamp: Stamp, entry: &Entry) {
        let Some((lines, shared)) = &self.0 else {
            return;
        };
        if shared.is_over.load(Ordering::Acquire) {
            return;
        }
        let line = format_entry(stamp, entry);
        let length = line.len();
        if shared.waiting_bytes.fetch_add(length, Ordering::AcqRel) + length > MOST_WAITING {
            shared.give_up("the disk is too slow for it".to_owned());
            return;
        }
        // The writer has ended only after it gave up.
        lines.send(line).ok();
    }

    pub(super) fn received(&self, stamp: Stamp, bytes: &[u8]) {
        if self.0.is_some() && !bytes.is_empty() {
            self.note(stamp, &Entry::Received(bytes.to_vec()));
        }
    }

    pub(super) fn sent(&self, stamp: Stamp, bytes: &[u8]) {
        if self.0.is_some() {
            self.note(stamp, &Entry::Sent(bytes.to_vec()));
        }
    }
}

/// A byte log that has no file yet; its entries wait meanwhile.
#[derive(Debug)]
pub struct Unwritten {
    lines: Receiver<String>,
    shared: Arc<Shared>,
}

/// A byte log with its file.
#[derive(Debug)]
pub struct KeptBytes {
    shared: Arc<Shared>,
    ended: Receiver<()>,
}

/// A keeper for a link, and the log that it fills.
pub fn keep_bytes() -> (Keeper, Unwritten) {
    let (sender, lines) = channel();
    let shared = Arc::new(Shared::default());
    let keeper = Keeper(Some((sender, Arc::clone(&shared))));
    (keeper, Unwritten { lines, shared })
}

impl Unwritten {
    /// The entries that wait for a file, which then lacks them.
    pub(super) fn entries(&self) -> Vec<(Stamp, Entry)> {
        let lines = self.lines.try_iter().inspect(|line| {
            let waiting = &self.shared.waiting_bytes;
            waiting.fetch_sub(line.len(), Ordering::AcqRel);
        });
        lines
            .filter_map(|line| parse_entry(line.trim_end_matches('\n')).ok())
            .collect()
    }

    /// Makes the file and writes to it until the link has ended.
    ///
    /// # Errors
    /// An error when the file can't be made, or the system gives no thread.
    pub fn write_to(self, path: &Path) -> io::Result<KeptBytes> {
        let file = OpenOptions::new()
            .append(true)
            .create_new(true)
            .open(path)?;
        let (end, ended) = channel();
        let shared = Arc::clone(&self.shared);
        std::thread::Builder::new()
            .name("byte-log".to_owned())
            .stack_size(128 * 1024)
            .spawn(move || {
                write_all(&self.lines, file, &self.shared);
                // Nobody may wait for the end.
                end.send(()).ok();
            })?;
        Ok(KeptBytes { shared, ended })
    }
}

fn write_all(lines: &Receiver<String>, mut file: File, shared: &Shared) {
    let mut whole_len = 0_u64;
    while let Ok(mut text) = lines.recv() {
        text.extend(lines.try_iter().take(1000));
        let length = text.len();
        if let Err(error) = file.write_all(text.as_bytes()) {
            let written = file.metadata().map_or(whole_len, |meta| meta.len());
            let taken = usize::try_from(written - whole_len.min(written)).unwrap_or(0);
            let head = text.as_bytes().get(..taken).unwrap_or(&[]);
            let whole = head
                .iter()
                .rposition(|byte| *byte == b'\n')
                .map_or(0, |end| end + 1);
            // A half entry is cut off; where even that fails, the replay drops it.
            file.set_len(whole_len + whole as u64).ok();
            shared.give_up(error.to_string());
            return;
        }
        whole_len += length as u64;
        shared.waiting_bytes.fetch_sub(length, Ordering::AcqRel);
    }
    file.sync_data().ok();
}

impl KeptBytes {
    /// Returns why it ended before the recording; reported once.
    pub fn trouble(&self) -> Option<String> {
        self.shared
            .trouble
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take()
    }

    /// Waits until all is written; the links must have ended.
    pub fn finish(&self) {
        self.ended.recv_timeout(END_PATIENCE).ok();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stamp(elapsed_us: i64) -> Stamp {
        Stamp {
            elapsed_us,
            wall_ms: 0,
        }
    }

    #[test]
    fn what_was_kept_before_there_was_a_file_is_written_too() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("one.log");
        let (keeper, unwritten) = keep_bytes();
        keeper.note(stamp(1), &Entry::Open);
        let kept = unwritten.write_to(&path).unwrap();
        keeper.sent(stamp(2), b"*IDN?\n");
        keeper.received(stamp(3), b"a\xff\\");
        drop(keeper);
        kept.finish();
        assert_eq!(kept.trouble(), None);
        insta::assert_snapshot!(std::fs::read_to_string(path).unwrap(), @r"
        1 1970-01-01T00:00:00.000Z +
        2 1970-01-01T00:00:00.000Z > *IDN?\n
        3 1970-01-01T00:00:00.000Z < a\xff\\
        ");
    }

    #[test]
    #[cfg(target_os = "linux")]
    fn a_full_disk_ends_the_log_and_nothing_else() {
        let (keeper, unwritten) = keep_bytes();
        let full = OpenOptions::new().write(true).open("/dev/full").unwrap();
        keeper.note(stamp(1), &Entry::Open);
        write_all(&unwritten.lines, full, &unwritten.shared);
        assert!(unwritten.shared.is_over.load(Ordering::Acquire));
        keeper.sent(stamp(2), b"taken by nobody");
        assert!(unwritten.lines.try_recv().is_err());
    }

    #[test]
    fn a_disk_that_takes_nothing_ends_the_log_and_bounds_the_memory() {
        let (keeper, unwritten) = keep_bytes();
        for _ in 0..20 {
            keeper.received(stamp(1), &vec![b'x'; 1 << 20]);
        }
        let kept: usize = unwritten.lines.try_iter().map(|line| line.len()).sum();
        assert!(kept <= MOST_WAITING && kept > MOST_WAITING / 2, "{kept}");
        let trouble = unwritten.shared.trouble.lock().unwrap().clone();
        assert_eq!(trouble.as_deref(), Some("the disk is too slow for it"));
    }
}

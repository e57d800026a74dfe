//! Pushes the written rows down to the disk, once a second, without holding up the recording.

use std::fs::File;
use std::io;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;

/// The data that a power cut can take: rows written in the last second.
const PERIOD: Duration = Duration::from_secs(1);

/// The helper thread of one file.
#[derive(Debug)]
pub(super) struct DiskSync {
    /// Dropping it ends the thread.
    stop: Option<Sender<()>>,
    failures: Receiver<io::Error>,
    thread: Option<JoinHandle<()>>,
}

impl DiskSync {
    pub(super) fn start(file: File) -> io::Result<Self> {
        let (stop, stopped) = channel::<()>();
        let (report, failures) = channel();
        let thread = std::thread::Builder::new()
            .name("disk-sync".to_owned())
            .stack_size(64 * 1024)
            .spawn(move || {
                let mut synced_len = 0;
                while let Err(RecvTimeoutError::Timeout) = stopped.recv_timeout(PERIOD) {
                    let len = file.metadata().map_or(u64::MAX, |meta| meta.len());
                    if len == synced_len {
                        continue;
                    }
                    match file.sync_data() {
                        Ok(()) => synced_len = len,
                        // Nobody may be listening any more, and then nobody misses it.
                        Err(error) => drop(report.send(error)),
                    }
                }
            })?;
        Ok(Self {
            stop: Some(stop),
            failures,
            thread: Some(thread),
        })
    }

    /// The oldest failure that was not reported yet.
    pub(super) fn failure(&self) -> Option<io::Error> {
        self.failures.try_recv().ok()
    }
}

impl Drop for DiskSync {
    fn drop(&mut self) {
        self.stop.take();
        if let Some(thread) = self.thread.take() {
            // A panic there has been printed by its own thread.
            thread.join().ok();
        }
    }
}

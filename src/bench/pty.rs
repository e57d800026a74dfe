//! An instrument on a pseudo-terminal, served by a thread of its own until it is dropped.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::thread;
use std::thread::JoinHandle;

use crate::clock::Clock;

use super::Instrument;
use super::account::{Counts, PtyError, Sent};
use super::faults::Script;
use super::port;
use super::serve::{Server, Shared};
use super::world::World;

/// An instrument of the bench on its line. Dropping it closes the line, as pulling the plug would.
#[derive(Debug)]
pub struct Device {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
}

impl Device {
    /// Puts an instrument on a new pseudo-terminal, in raw mode, and serves it.
    ///
    /// # Errors
    /// [`PtyError::Unsupported`] where there are none, else the step that failed.
    pub fn open(
        instrument: Box<dyn Instrument>,
        world: Arc<World>,
        clock: Clock,
        script: Script,
    ) -> Result<Self, PtyError> {
        let shared = Arc::new(Shared::default());
        let server = Server::new(instrument, world, clock, script, Arc::clone(&shared))?;
        let thread = thread::Builder::new()
            .name("bench".to_owned())
            .spawn(move || server.serve())
            .map_err(PtyError::Thread)?;
        Ok(Self {
            shared,
            thread: Some(thread),
        })
    }

    /// Returns the path where a program opens its line. It is the link, if one was given; the link stays the same when the line
    /// vanishes and comes back as another.
    pub fn path(&self) -> PathBuf {
        let state = self.shared.state();
        state.link.as_ref().unwrap_or(&state.path).clone()
    }

    /// Makes a link at `path` that leads to the line as long as there is one, and is removed with the device.
    ///
    /// # Errors
    /// [`PtyError::Link`] when it can't be made, for instance because something is there already.
    pub fn link(&self, path: &Path) -> Result<(), PtyError> {
        let mut state = self.shared.state();
        if state.is_plugged {
            port::link(&state.path, path).map_err(|source| PtyError::Link {
                path: path.to_owned(),
                source,
            })?;
        }
        state.unlink();
        state.link = Some(path.to_owned());
        Ok(())
    }

    /// Takes the plug in the hand: the line is soon gone, until [`Device::put_back`].
    pub fn pull(&self) {
        self.shared.is_pulled.store(true, Ordering::Release);
    }

    /// Puts the plug back: a new line comes soon, under the same link.
    pub fn put_back(&self) {
        self.shared.is_pulled.store(false, Ordering::Release);
    }

    /// Returns the counts so far.
    pub fn counts(&self) -> Counts {
        self.shared.state().counts
    }

    /// Returns the messages really sent, oldest first; of a very long run the last ones.
    pub fn sent(&self) -> Vec<Sent> {
        self.shared.state().sent.iter().cloned().collect()
    }

    /// Returns the thread's error since this was last asked.
    pub fn trouble(&self) -> Option<PtyError> {
        self.shared.state().trouble.take()
    }

    /// Ends it and returns the messages sent.
    pub fn stop(mut self) -> Vec<Sent> {
        self.end();
        self.sent()
    }

    fn end(&mut self) {
        self.shared.ending.store(true, Ordering::Release);
        if let Some(thread) = self.thread.take() {
            // A panic in the thread has been reported there.
            thread.join().ok();
        }
        let mut state = self.shared.state();
        state.unlink();
        state.link = None;
    }
}

impl Drop for Device {
    fn drop(&mut self) {
        self.end();
    }
}

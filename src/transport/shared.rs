//! One open port that several links use one after the other: each opening may restart a board.

use std::fmt;
use std::io;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use super::pipe::{Opener, Pipe};

/// An open pipe that a link closes without closing the port. The next link waits until the one before it has ended.
#[derive(Clone)]
pub struct SharedPipe(Arc<Mutex<Box<dyn Pipe>>>);

impl fmt::Debug for SharedPipe {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("SharedPipe").finish_non_exhaustive()
    }
}

impl SharedPipe {
    /// Shares an open pipe.
    pub fn new(pipe: Box<dyn Pipe>) -> Self {
        Self(Arc::new(Mutex::new(pipe)))
    }

    /// The pipe for one link.
    pub fn pipe(&self) -> Box<dyn Pipe> {
        Box::new(self.clone())
    }

    /// An opener that has only this pipe: a port that is lost stays lost.
    pub fn opener(&self) -> Opener {
        let shared = self.clone();
        Box::new(move || Ok(shared.pipe()))
    }

    fn lock(&self) -> MutexGuard<'_, Box<dyn Pipe>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Pipe for SharedPipe {
    fn read(&mut self, into: &mut [u8], wait: Duration) -> io::Result<usize> {
        self.lock().read(into, wait)
    }

    fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.lock().write(bytes)
    }

    fn waiting(&mut self) -> io::Result<usize> {
        self.lock().waiting()
    }
}

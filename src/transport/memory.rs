//! A port in memory: the instrument is a task beside the recording, and both run on a clock that a test may pause.

use std::io;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use tokio::sync::mpsc::error::TryRecvError;
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};

use super::pipe::{Arrival, OpenError, Opener, Pipe};

/// Where an instrument in memory is plugged in.
#[derive(Debug, Clone, Default)]
pub struct MemorySocket(Arc<Mutex<Option<MemoryPipe>>>);

impl MemorySocket {
    /// Plugs an instrument in. Dropping the returned plug unplugs it: the bytes it sent are still read, then the line is lost.
    pub fn plug(&self) -> MemoryPlug {
        let (to_recorder, incoming) = unbounded_channel();
        let (outgoing, from_recorder) = unbounded_channel();
        let pipe = MemoryPipe {
            incoming,
            unread: Vec::new(),
            outgoing,
        };
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(pipe);
        MemoryPlug {
            to_recorder,
            from_recorder,
        }
    }

    /// Whether the recorder has open the pipe that was plugged in last.
    pub fn is_open(&self) -> bool {
        self.0
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .is_none()
    }

    /// Opens the port as often as something new is plugged in.
    pub(super) fn opener(&self) -> Opener {
        let socket = self.clone();
        Box::new(move || {
            let pipe = socket
                .0
                .lock()
                .unwrap_or_else(PoisonError::into_inner)
                .take();
            match pipe {
                Some(pipe) => Ok(Box::new(pipe)),
                None => Err(OpenError::NotFound {
                    path: "memory".to_owned(),
                    found: Vec::new(),
                }),
            }
        })
    }
}

/// The instrument's end of a line in memory.
#[derive(Debug)]
pub struct MemoryPlug {
    to_recorder: UnboundedSender<Vec<u8>>,
    from_recorder: UnboundedReceiver<Vec<u8>>,
}

impl MemoryPlug {
    /// Sends bytes, which reach the recorder as one read if they fit in one.
    pub fn send(&self, bytes: &[u8]) {
        // Nobody may be there any more, which an instrument does not notice.
        self.to_recorder.send(bytes.to_vec()).ok();
    }

    /// The bytes of one write of the recorder's; `None` once it has closed the port.
    pub async fn heard(&mut self) -> Option<Vec<u8>> {
        self.from_recorder.recv().await
    }
}

/// The recorder's end.
#[derive(Debug)]
struct MemoryPipe {
    incoming: UnboundedReceiver<Vec<u8>>,
    unread: Vec<u8>,
    outgoing: UnboundedSender<Vec<u8>>,
}

impl Pipe for MemoryPipe {
    fn read(&mut self, into: &mut [u8], _wait: Duration) -> io::Result<usize> {
        let count = self.waiting()?.min(into.len());
        for (to, from) in into.iter_mut().zip(self.unread.drain(..count)) {
            *to = from;
        }
        Ok(count)
    }

    fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        let gone = |_| io::Error::from(io::ErrorKind::BrokenPipe);
        self.outgoing.send(bytes.to_vec()).map_err(gone)
    }

    fn waiting(&mut self) -> io::Result<usize> {
        if self.unread.is_empty() {
            match self.incoming.try_recv() {
                Ok(bytes) => self.unread = bytes,
                Err(TryRecvError::Empty) => {}
                Err(TryRecvError::Disconnected) => return Err(io::ErrorKind::BrokenPipe.into()),
            }
        }
        Ok(self.unread.len())
    }

    fn arrival(&mut self, wait: Duration) -> Option<Arrival<'_>> {
        Some(Box::pin(async move {
            if self.unread.is_empty()
                && let Ok(Some(bytes)) = tokio::time::timeout(wait, self.incoming.recv()).await
            {
                self.unread = bytes;
            }
        }))
    }
}

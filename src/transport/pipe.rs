//! A two-way stream of bytes, and why one could not be opened.

use std::io;
use std::pin::Pin;
use std::time::Duration;

/// Why a port could not be opened.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// There is no such port.
    #[error("no port {path}: the machine has {}", list(.found))]
    NotFound {
        /// The path asked for.
        path: String,
        /// The ports that were found.
        found: Vec<String>,
    },
    /// This user may not open it.
    #[error("no permission to open {path}")]
    Permission {
        /// The path.
        path: String,
    },
    /// Another program has it open.
    #[error("{path} is in use by another program")]
    Busy {
        /// The path.
        path: String,
    },
    /// Its name is another device's now, and it is nowhere else.
    #[error("{path} is another now: {found}, waiting for {wanted}")]
    Another {
        /// The path.
        path: String,
        /// The device found there.
        found: String,
        /// The device that was there.
        wanted: String,
    },
    /// It is something else.
    #[error("{path} is not a serial port: it is {what}")]
    NotSerial {
        /// The path.
        path: String,
        /// Its kind.
        what: &'static str,
    },
    /// The port does not take the settings.
    #[error("{path} does not take its settings: {reason}")]
    Settings {
        /// The path.
        path: String,
        /// The system's words.
        reason: String,
    },
    /// No connection over the network.
    #[error("cannot connect to {address}")]
    Network {
        /// Host and port.
        address: String,
        /// The system's error.
        source: io::Error,
    },
}

fn list(found: &[String]) -> String {
    if found.is_empty() {
        "none".to_owned()
    } else {
        found.join(", ")
    }
}

/// A two-way stream of bytes whose reads end in time.
pub trait Pipe: Send {
    /// Reads the bytes that are there, waiting at most `wait` for the first one; 0 when nothing came.
    ///
    /// # Errors
    /// Any error means that the line is lost; silence is not an error.
    fn read(&mut self, into: &mut [u8], wait: Duration) -> io::Result<usize>;

    /// Writes all bytes.
    ///
    /// # Errors
    /// Any error means that the line is lost.
    fn write(&mut self, bytes: &[u8]) -> io::Result<()>;

    /// How many bytes wait to be read, at least; also finds out whether the line is still there.
    ///
    /// # Errors
    /// Any error means that the line is lost.
    fn waiting(&mut self) -> io::Result<usize>;

    /// Waits up to this time for bytes without holding up the thread. It is `None` where [`Pipe::read`] does the waiting, as it
    /// does on a thread of its own.
    fn arrival(&mut self, _wait: Duration) -> Option<Arrival<'_>> {
        None
    }

    /// The path it was opened at; `None` where it can't come back at another.
    fn place(&self) -> Option<&str> {
        None
    }
}

/// Ends when bytes have come, or the wait is over.
pub type Arrival<'a> = Pin<Box<dyn Future<Output = ()> + Send + 'a>>;

/// Opens the pipe, again after each loss.
pub type Opener = Box<dyn FnMut() -> Result<Box<dyn Pipe>, OpenError> + Send>;

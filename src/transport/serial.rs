//! A serial port, opened so that silence, loss and every reason not to open it are distinct.

use std::io::{self, Read as _, Write as _};
use std::path::Path;
use std::time::Duration;

use serialport::{DataBits, FlowControl, Parity, SerialPort, StopBits};

use super::finder::{Finder, Places};
use super::pipe::{OpenError, Opener, Pipe};
use super::plugged::port_names;

/// A write that takes longer has met a peer that reads nothing.
const WRITE_PATIENCE: Duration = Duration::from_secs(2);

/// How a serial port is set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SerialSettings {
    /// Bits per second.
    pub baud: u32,
    /// 7 or 8.
    pub data_bits: DataBits,
    /// Parity bit.
    pub parity: Parity,
    /// 1 or 2.
    pub stop_bits: StopBits,
    /// Handshake.
    pub flow: FlowControl,
    /// Whether to raise DTR at opening; some boards restart by it, others stay mute without it.
    pub dtr: bool,
    /// Whether RTS stays up as the system raises it at opening.
    ///
    /// Neither level can be proved on a pseudo-terminal, which has no such wires: the tests check the requests to the port.
    pub rts: bool,
}

struct Serial {
    port: Box<dyn SerialPort>,
    path: String,
}

impl Pipe for Serial {
    fn read(&mut self, into: &mut [u8], wait: Duration) -> io::Result<usize> {
        self.port.set_timeout(wait.max(Duration::from_millis(1)))?;
        match self.port.read(into) {
            Ok(0) => Err(io::ErrorKind::UnexpectedEof.into()),
            Err(error)
                if matches!(
                    error.kind(),
                    io::ErrorKind::TimedOut | io::ErrorKind::Interrupted
                ) =>
            {
                Ok(0)
            }
            other => other,
        }
    }

    fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        // Never flushed: draining can block on a deaf peer, and hides errors.
        self.port.set_timeout(WRITE_PATIENCE)?;
        self.port.write_all(bytes)
    }

    fn waiting(&mut self) -> io::Result<usize> {
        Ok(self.port.bytes_to_read()?.try_into().unwrap_or(usize::MAX))
    }

    fn place(&self) -> Option<&str> {
        Some(&self.path)
    }
}

/// Opens a serial port.
///
/// # Errors
/// [`OpenError`] naming the obstacle.
pub fn open_serial(path: &str, settings: &SerialSettings) -> Result<Box<dyn Pipe>, OpenError> {
    let builder = serialport::new(path, settings.baud)
        .data_bits(settings.data_bits)
        .parity(settings.parity)
        .stop_bits(settings.stop_bits)
        .flow_control(settings.flow)
        .timeout(Duration::from_millis(100))
        .dtr_on_open(settings.dtr);
    let mut port = builder.open().map_err(|error| why_not(path, &error))?;
    set_rts(port.as_mut(), settings).map_err(|error| OpenError::Settings {
        path: path.to_owned(),
        reason: format!("rts = false: {}", error.description),
    })?;
    Ok(Box::new(Serial {
        port,
        path: path.to_owned(),
    }))
}

/// Lowers RTS where it is to be down; the system has raised it at opening.
fn set_rts(port: &mut dyn SerialPort, settings: &SerialSettings) -> serialport::Result<()> {
    if settings.rts {
        Ok(())
    } else {
        port.write_request_to_send(false)
    }
}

/// Opens a serial port, and again under whatever name it comes back; never another device that has taken its name.
pub fn serial_opener(path: String, settings: SerialSettings, places: Places) -> Opener {
    let mut finder = Finder::new(path, places);
    Box::new(move || {
        let pipe = open_serial(&finder.find()?, &settings)?;
        finder.learn();
        Ok(pipe)
    })
}

/// Puts the library's error, whose kinds are few, into words that advise.
fn why_not(path: &str, error: &serialport::Error) -> OpenError {
    use serialport::ErrorKind;
    let owned = path.to_owned();
    let text = error.description.to_ascii_lowercase();
    match error.kind() {
        ErrorKind::Io(io::ErrorKind::PermissionDenied) => OpenError::Permission { path: owned },
        ErrorKind::Io(io::ErrorKind::NotFound) => OpenError::NotFound {
            path: owned,
            found: port_names(),
        },
        _ if text.contains("busy") || text.contains("lock") => OpenError::Busy { path: owned },
        _ => match what_else(Path::new(path)) {
            Some(what) => OpenError::NotSerial { path: owned, what },
            None if text.contains("typewriter") || text.contains("inappropriate ioctl") => {
                OpenError::NotSerial {
                    path: owned,
                    what: "a device of another kind",
                }
            }
            None if matches!(error.kind(), ErrorKind::NoDevice) => OpenError::NotFound {
                path: owned,
                found: port_names(),
            },
            None => OpenError::Settings {
                path: owned,
                reason: error.description.clone(),
            },
        },
    }
}

fn what_else(path: &Path) -> Option<&'static str> {
    let kind = std::fs::metadata(path).ok()?.file_type();
    if kind.is_dir() {
        Some("a folder")
    } else if kind.is_file() {
        Some("a plain file")
    } else {
        None
    }
}

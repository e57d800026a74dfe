//! An instrument on the network: a raw socket that carries the same lines.

use std::io::{self, Read as _, Write as _};
use std::net::{TcpStream, ToSocketAddrs as _};
use std::time::Duration;

use super::pipe::{OpenError, Pipe};

/// How long a connection may take to come about, and a write to be taken.
const PATIENCE: Duration = Duration::from_secs(5);

struct Tcp(TcpStream);

impl Pipe for Tcp {
    fn read(&mut self, into: &mut [u8], wait: Duration) -> io::Result<usize> {
        self.0
            .set_read_timeout(Some(wait.max(Duration::from_millis(1))))?;
        match self.0.read(into) {
            Ok(0) => Err(io::ErrorKind::UnexpectedEof.into()),
            Err(error) if is_silence(&error) => Ok(0),
            other => other,
        }
    }

    fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.0.write_all(bytes)
    }

    fn waiting(&mut self) -> io::Result<usize> {
        self.0.set_nonblocking(true)?;
        let peeked = self.0.peek(&mut [0; 64]);
        self.0.set_nonblocking(false)?;
        match peeked {
            Ok(0) => Err(io::ErrorKind::UnexpectedEof.into()),
            Err(error) if is_silence(&error) => Ok(0),
            other => other,
        }
    }
}

fn is_silence(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::WouldBlock | io::ErrorKind::TimedOut | io::ErrorKind::Interrupted
    )
}

/// Connects to `HOST:PORT`.
///
/// # Errors
/// [`OpenError::Network`] when no address of the host takes the connection.
pub fn open_tcp(address: &str) -> Result<Box<dyn Pipe>, OpenError> {
    let fail = |source| OpenError::Network {
        address: address.to_owned(),
        source,
    };
    let mut last = io::Error::from(io::ErrorKind::NotFound);
    for socket in address.to_socket_addrs().map_err(fail)? {
        match TcpStream::connect_timeout(&socket, PATIENCE) {
            Ok(stream) => {
                stream.set_nodelay(true).map_err(fail)?;
                stream.set_write_timeout(Some(PATIENCE)).map_err(fail)?;
                return Ok(Box::new(Tcp(stream)));
            }
            Err(error) => last = error,
        }
    }
    Err(fail(last))
}

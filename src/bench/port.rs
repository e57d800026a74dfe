//! The pseudo-terminal itself; where the system has none, a type that cannot be made.

pub(super) use system::{Port, link, pause};

/// The event that the line has for us.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Wake {
    /// Nothing came in the time given.
    Quiet,
    /// Bytes to read.
    Bytes,
    /// No program has the line open.
    Nobody,
}

#[cfg(unix)]
mod system {
    use std::os::fd::OwnedFd;
    use std::os::unix::ffi::OsStringExt as _;
    use std::path::{Path, PathBuf};
    use std::time::Duration;
    use std::{ffi, io};

    use rustix::event::{PollFd, PollFlags, Timespec, poll};
    use rustix::fs::{Mode, OFlags};
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    use rustix::termios::{OptionalActions, QueueSelector, tcflush, tcgetattr, tcsetattr};

    use super::super::account::PtyError;
    use super::Wake;

    /// A program that is started meanwhile must not inherit the instrument's end: the line would then never be seen to go.
    #[cfg(target_os = "linux")]
    const FLAGS: OpenptFlags = OpenptFlags::RDWR
        .union(OpenptFlags::NOCTTY)
        .union(OpenptFlags::CLOEXEC);

    #[cfg(not(target_os = "linux"))]
    const FLAGS: OpenptFlags = OpenptFlags::RDWR.union(OpenptFlags::NOCTTY);

    /// The instrument's end of a pseudo-terminal.
    #[derive(Debug)]
    pub(in super::super) struct Port {
        master: OwnedFd,
        path: PathBuf,
    }

    impl Port {
        /// Opens a new port in raw mode.
        ///
        /// The user's end is not kept open: so the line shows when a program opens and closes it, and nobody gets lines
        /// that were said before he came.
        pub(in super::super) fn open() -> Result<Self, PtyError> {
            let at = |step| {
                move |error: rustix::io::Errno| PtyError::Open {
                    step,
                    source: error.into(),
                }
            };
            let master = openpt(FLAGS).map_err(at("opening"))?;
            grantpt(&master).map_err(at("granting access to"))?;
            unlockpt(&master).map_err(at("unlocking"))?;
            rustix::io::ioctl_fionbio(&master, true).map_err(at("making ready"))?;
            let name = ptsname(&master, Vec::new()).map_err(at("naming"))?;
            let path = PathBuf::from(ffi::OsString::from_vec(name.into_bytes()));
            let port = Self { master, path };
            let slave = port.slave().map_err(at("setting up"))?;
            let mut modes = tcgetattr(&slave).map_err(at("setting up"))?;
            modes.make_raw();
            tcsetattr(&slave, OptionalActions::Now, &modes).map_err(at("setting up"))?;
            Ok(port)
        }

        /// Returns where a program opens it.
        pub(in super::super) fn path(&self) -> &Path {
            &self.path
        }

        /// Waits until something is to be read, at most for this time.
        pub(in super::super) fn wait(&self, longest: Duration) -> io::Result<Wake> {
            let mut fds = [PollFd::new(&self.master, PollFlags::IN)];
            match poll(&mut fds, Some(&timespec(longest))) {
                Ok(_) | Err(rustix::io::Errno::INTR) => {}
                Err(error) => return Err(error.into()),
            }
            let events = fds[0].revents();
            Ok(if events.contains(PollFlags::IN) {
                Wake::Bytes
            } else if events.intersects(PollFlags::HUP | PollFlags::ERR) {
                Wake::Nobody
            } else {
                Wake::Quiet
            })
        }

        /// Reads the waiting bytes.
        pub(in super::super) fn read(&self, buffer: &mut [u8]) -> io::Result<usize> {
            Ok(rustix::io::read(&self.master, buffer)?)
        }

        /// Writes the bytes that the line takes at once and returns their number; a full line loses the rest, as a wire does.
        pub(in super::super) fn write(&self, bytes: &[u8]) -> usize {
            let mut taken = 0;
            while let Some(rest) = bytes.get(taken..).filter(|rest| !rest.is_empty()) {
                match rustix::io::write(&self.master, rest) {
                    Ok(0) => break,
                    Ok(count) => taken += count,
                    Err(rustix::io::Errno::INTR) => {}
                    Err(_) => break,
                }
            }
            taken
        }

        /// Throws away all bytes that nobody has read, so that the next program does not get it.
        pub(in super::super) fn forget_unread(&self) -> io::Result<()> {
            Ok(tcflush(&self.slave()?, QueueSelector::IFlush)?)
        }

        fn slave(&self) -> rustix::io::Result<OwnedFd> {
            let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::NONBLOCK | OFlags::CLOEXEC;
            rustix::fs::open(&self.path, flags, Mode::empty())
        }
    }

    /// Waits with no line to watch.
    pub(in super::super) fn pause(time: Duration) -> io::Result<()> {
        match poll(&mut [], Some(&timespec(time))) {
            Ok(_) | Err(rustix::io::Errno::INTR) => Ok(()),
            Err(error) => Err(error.into()),
        }
    }

    /// Makes a link; anything already at `path` is an error.
    pub(in super::super) fn link(port: &Path, path: &Path) -> io::Result<()> {
        std::os::unix::fs::symlink(port, path)
    }

    fn timespec(time: Duration) -> Timespec {
        Timespec {
            tv_sec: i64::try_from(time.as_secs()).unwrap_or(i64::MAX),
            tv_nsec: time.subsec_nanos().into(),
        }
    }
}

#[cfg(not(unix))]
mod system {
    use std::io;
    use std::path::Path;
    use std::time::Duration;

    use super::super::account::PtyError;
    use super::Wake;

    /// There is no pseudo-terminal on this system, so no value of this type.
    #[derive(Debug)]
    pub(in super::super) enum Port {}

    impl Port {
        pub(in super::super) fn open() -> Result<Self, PtyError> {
            Err(PtyError::Unsupported)
        }

        pub(in super::super) fn path(&self) -> &Path {
            match *self {}
        }

        pub(in super::super) fn wait(&self, _longest: Duration) -> io::Result<Wake> {
            match *self {}
        }

        pub(in super::super) fn read(&self, _buffer: &mut [u8]) -> io::Result<usize> {
            match *self {}
        }

        pub(in super::super) fn write(&self, _bytes: &[u8]) -> usize {
            match *self {}
        }

        pub(in super::super) fn forget_unread(&self) -> io::Result<()> {
            match *self {}
        }
    }

    pub(in super::super) fn pause(_time: Duration) -> io::Result<()> {
        Err(io::ErrorKind::Unsupported.into())
    }

    pub(in super::super) fn link(_port: &Path, _path: &Path) -> io::Result<()> {
        Err(io::ErrorKind::Unsupported.into())
    }
}

//! The line between a device of the mixes and the recorder: in memory on a paused clock, or a real pseudo-terminal.

use std::os::fd::OwnedFd;
use std::os::unix::ffi::OsStringExt as _;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::{Mode, OFlags};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
use sagtrace::transport::{MemoryPlug, MemorySocket};
use tokio::time::{sleep, timeout};

/// The device's end.
pub(crate) trait Wire {
    /// Sends all bytes, in one piece if the line takes them so.
    async fn send(&mut self, bytes: &[u8]);
    /// What the recorder wrote; `None` when nothing came for the time given.
    async fn heard(&mut self, wait: Duration) -> Option<Vec<u8>>;
    /// Pulls the plug.
    async fn unplug(&mut self);
    /// Puts it in again, and waits until the recorder has the line open.
    async fn plug(&mut self);
}

/// A line in memory.
pub(crate) struct MemoryWire {
    pub(crate) socket: MemorySocket,
    plug: Option<MemoryPlug>,
}

impl MemoryWire {
    /// A line with its plug in.
    pub(crate) fn new() -> Self {
        let socket = MemorySocket::default();
        let plug = Some(socket.plug());
        Self { socket, plug }
    }
}

impl Wire for MemoryWire {
    async fn send(&mut self, bytes: &[u8]) {
        if let Some(plug) = &self.plug {
            plug.send(bytes);
        }
    }

    async fn heard(&mut self, wait: Duration) -> Option<Vec<u8>> {
        let plug = self.plug.as_mut().expect("it is plugged in");
        if let Ok(Some(bytes)) = timeout(wait, plug.heard()).await {
            return Some(bytes);
        }
        None
    }

    async fn unplug(&mut self) {
        self.plug = None;
    }

    async fn plug(&mut self) {
        self.plug = Some(self.socket.plug());
        while !self.socket.is_open() {
            sleep(Duration::from_millis(10)).await;
        }
    }
}

/// A real pseudo-terminal behind a path of its own.
pub(crate) struct PtyWire {
    path: PathBuf,
    master: Option<OwnedFd>,
}

impl PtyWire {
    /// A line with its plug in.
    pub(crate) fn new(path: PathBuf) -> Self {
        let mut wire = Self { path, master: None };
        wire.open();
        wire
    }

    /// Where the recorder finds it.
    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    fn open(&mut self) {
        let flags = OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC;
        let master = openpt(flags).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        rustix::io::ioctl_fionbio(&master, true).unwrap();
        let name = ptsname(&master, Vec::new()).unwrap().into_bytes();
        let port = PathBuf::from(std::ffi::OsString::from_vec(name));
        let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
        // Opened and closed once, it shows from then on whether somebody has it open.
        let slave = rustix::fs::open(&port, flags, Mode::empty()).unwrap();
        let mut modes = tcgetattr(&slave).unwrap();
        modes.make_raw();
        tcsetattr(&slave, OptionalActions::Now, &modes).unwrap();
        std::os::unix::fs::symlink(&port, &self.path).unwrap();
        self.master = Some(master);
    }

    /// Whether the recorder has it open.
    fn is_open(&self) -> bool {
        let master = self.master.as_ref().expect("it is plugged in");
        let mut fds = [PollFd::new(master, PollFlags::IN)];
        poll(
            &mut fds,
            Some(&Timespec {
                tv_sec: 0,
                tv_nsec: 0,
            }),
        )
        .unwrap();
        !fds[0].revents().intersects(PollFlags::HUP | PollFlags::ERR)
    }
}

/// How often a line is looked at.
const LOOK: Duration = Duration::from_millis(1);

impl Wire for PtyWire {
    async fn send(&mut self, mut bytes: &[u8]) {
        let master = self.master.as_ref().expect("it is plugged in");
        while !bytes.is_empty() {
            match rustix::io::write(master, bytes) {
                Ok(count) => bytes = &bytes[count..],
                Err(_) => sleep(LOOK).await,
            }
        }
    }

    async fn heard(&mut self, wait: Duration) -> Option<Vec<u8>> {
        let master = self.master.as_ref().expect("it is plugged in");
        let mut buffer = [0; 512];
        timeout(wait, async {
            loop {
                match rustix::io::read(master, &mut buffer) {
                    Ok(count @ 1..) => return buffer[..count].to_vec(),
                    _ => sleep(LOOK).await,
                }
            }
        })
        .await
        .ok()
    }

    async fn unplug(&mut self) {
        // A terminal that hangs up takes with it what was not read.
        sleep(Duration::from_millis(30)).await;
        std::fs::remove_file(&self.path).unwrap();
        self.master = None;
    }

    async fn plug(&mut self) {
        self.open();
        while !self.is_open() {
            sleep(LOOK).await;
        }
    }
}

impl Drop for PtyWire {
    fn drop(&mut self) {
        std::fs::remove_file(&self.path).ok();
    }
}

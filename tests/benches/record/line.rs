//! A pseudo-terminal, and short waits.

use std::os::unix::ffi::OsStringExt as _;
use std::time::Duration;

use rustix::fd::OwnedFd;

/// The instrument's side of a new line, and the path of the other.
pub(crate) fn pseudo_terminal() -> (OwnedFd, String) {
    let flags = rustix::pty::OpenptFlags::RDWR | rustix::pty::OpenptFlags::NOCTTY;
    let master = rustix::pty::openpt(flags).expect("a pseudo-terminal");
    rustix::io::fcntl_setfd(&master, rustix::io::FdFlags::CLOEXEC).expect("it is closed on exec");
    rustix::pty::grantpt(&master).expect("it is granted");
    rustix::pty::unlockpt(&master).expect("it is unlocked");
    let name = rustix::pty::ptsname(&master, Vec::new()).expect("it has a name");
    let port = std::ffi::OsString::from_vec(name.into_bytes())
        .into_string()
        .expect("a path of text");
    (master, port)
}

pub(crate) fn pause(time: Duration) {
    let time = rustix::event::Timespec::try_from(time).expect("a short time");
    rustix::event::poll(&mut [], Some(&time)).expect("time passes");
}

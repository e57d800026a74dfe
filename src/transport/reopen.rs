//! A port that may be lost and found again.

use std::io;
use std::sync::mpsc::RecvTimeoutError;
use std::time::Duration;

use super::{Answer, Closed, FarEnd, LinkEvent, Opener, Pipe, Request};
use crate::clock::Clock;

/// The first wait before a lost port is tried again, and the longest.
const BACK_OFF: (Duration, Duration) = (Duration::from_millis(250), Duration::from_secs(5));

/// An open pipe with the means to open it again.
pub(super) struct Port {
    pipe: Option<Box<dyn Pipe>>,
    opener: Opener,
    pub(super) clock: Clock,
}

impl Port {
    pub(super) const fn new(pipe: Box<dyn Pipe>, opener: Opener, clock: Clock) -> Self {
        Self {
            pipe: Some(pipe),
            opener,
            clock,
        }
    }

    /// The open pipe; an error when there is none, which [`Port::recover`] mends.
    pub(super) fn pipe(&mut self) -> io::Result<&mut Box<dyn Pipe>> {
        self.pipe
            .as_mut()
            .ok_or_else(|| io::Error::from(io::ErrorKind::NotConnected))
    }

    /// Reports the loss, then tries to open the port until it is back or nobody wants it any more.
    ///
    /// The old handle is closed first: while it is held, a port that comes back gets another name.
    pub(super) fn recover(&mut self, far: &FarEnd, error: &io::Error) -> Result<(), Closed> {
        self.pipe = None;
        far.report(LinkEvent::Lost(self.clock.now(), loss(error)))?;
        let mut wait = BACK_OFF.0;
        loop {
            // Half to one and a half times the wait, so that several lost ports do not knock together.
            pause(far, wait.mul_f64(0.5 + fastrand::f64()), &self.clock)?;
            if let Ok(pipe) = (self.opener)() {
                self.pipe = Some(pipe);
                return far.report(LinkEvent::Back(self.clock.now()));
            }
            wait = (wait * 2).min(BACK_OFF.1);
        }
    }
}

/// Waits, and answers each request meanwhile with the plain truth.
fn pause(far: &FarEnd, wait: Duration, clock: &Clock) -> Result<(), Closed> {
    let deadline = crate::clock::Deadline::after(wait);
    loop {
        match far.requests.recv_timeout(deadline.left()) {
            Ok(
                Request::Tell(_)
                | Request::Ask { .. }
                | Request::AskBlock(_)
                | Request::Resync { .. }
                | Request::Quiet { .. },
            ) => {
                far.report(LinkEvent::Answers(vec![(clock.now(), Answer::NoLine)]))?;
            }
            Err(RecvTimeoutError::Timeout) if far.events.is_closed() => return Err(Closed),
            Err(RecvTimeoutError::Timeout) => return Ok(()),
            Err(RecvTimeoutError::Disconnected) => return Err(Closed),
        }
    }
}

/// A loss in words for the row that marks it.
fn loss(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::BrokenPipe | io::ErrorKind::UnexpectedEof | io::ErrorKind::NotConnected => {
            "the port went away".to_owned()
        }
        io::ErrorKind::TimedOut => "the port takes no bytes".to_owned(),
        io::ErrorKind::ConnectionReset => "the connection was reset".to_owned(),
        _ => format!("the port failed: {error}"),
    }
}

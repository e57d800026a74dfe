//! A port that may be lost and found again.

use std::io;
use std::sync::mpsc::RecvTimeoutError;
use std::time::Duration;

use super::byte_log::Entry;
use super::{Answer, Closed, FarEnd, Keeper, LinkEvent, OpenError, Opener, Pipe, Request};
use crate::clock::{Clock, Deadline};
use crate::reading::Stamp;

/// The first wait before a lost port is tried again, and the longest.
const BACK_OFF: (Duration, Duration) = (Duration::from_millis(250), Duration::from_secs(5));

/// A port that has just been plugged in may be busy for so long while a modem manager looks at it, which is no news; and
/// how often it is tried meanwhile.
const BUSY: (Duration, Duration) = (Duration::from_secs(10), Duration::from_millis(500));

/// An open pipe with the means to open it again.
pub(super) struct Port {
    pipe: Option<Box<dyn Pipe>>,
    opener: Opener,
    pub(super) clock: Clock,
    pub(super) keeper: Keeper,
    /// Where it was open last.
    place: Option<String>,
    /// The next wait before it is tried again.
    wait: Duration,
    /// Until then a port that came back has not proved that it stays, and the waits go on growing.
    proven: Option<Deadline>,
}

impl Port {
    pub(super) fn new(pipe: Box<dyn Pipe>, opener: Opener, clock: Clock, keeper: Keeper) -> Self {
        Self {
            place: pipe.place().map(str::to_owned),
            pipe: Some(pipe),
            opener,
            clock,
            keeper,
            wait: BACK_OFF.0,
            proven: None,
        }
    }

    /// Notes that the line was opened, and when.
    pub(super) fn opened(&self) -> Stamp {
        let stamp = self.clock.now();
        self.keeper.note(stamp, &Entry::Open);
        stamp
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
        let (stamp, reason) = (self.clock.now(), loss(error));
        self.keeper.note(stamp, &Entry::Lost(reason.clone()));
        far.report(LinkEvent::Lost(stamp, reason))?;
        if self.proven.is_none_or(Deadline::is_over) {
            self.wait = BACK_OFF.0;
        }
        let mut wait = self.wait;
        let mut busy_until = None;
        let mut told = None;
        loop {
            // Half to one and a half times the wait, so that several lost ports do not knock together.
            pause(far, wait.mul_f64(0.5 + fastrand::f64()), &self.clock)?;
            self.wait = (self.wait * 2).min(BACK_OFF.1);
            wait = self.wait;
            let error = match (self.opener)() {
                Ok(pipe) => return self.take_back(pipe, far),
                Err(error) => error,
            };
            let is_news = match &error {
                // That it is not there was told when it was lost.
                OpenError::NotFound { .. } | OpenError::Network { .. } => false,
                OpenError::Busy { .. } => {
                    wait = BUSY.1;
                    busy_until
                        .get_or_insert_with(|| Deadline::after(BUSY.0))
                        .is_over()
                }
                _ => true,
            };
            let text = error.to_string();
            if is_news && told.as_ref() != Some(&text) {
                far.report(LinkEvent::Told(text.clone()))?;
                told = Some(text);
            }
        }
    }

    fn take_back(&mut self, pipe: Box<dyn Pipe>, far: &FarEnd) -> Result<(), Closed> {
        let place = pipe.place().map(str::to_owned);
        if place != self.place
            && let Some(name) = &place
        {
            far.report(LinkEvent::Told(format!("found again as {name}")))?;
        }
        self.place = place;
        self.pipe = Some(pipe);
        self.proven = Some(Deadline::after(BACK_OFF.1));
        far.report(LinkEvent::Back(self.opened()))
    }
}

/// Waits, and answers each request meanwhile with the plain truth.
fn pause(far: &FarEnd, wait: Duration, clock: &Clock) -> Result<(), Closed> {
    let deadline = Deadline::after(wait);
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
            Ok(Request::Watch { .. }) => {}
            Ok(Request::Finish) => return far.finish(),
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

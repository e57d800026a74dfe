//! A port that may be lost and found again.

use std::io;
use std::time::Duration;

use super::way::Way;
use super::{Answer, Closed, LinkEvent, Opener, Pipe};
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

    /// Reads what is there, waiting at most `wait` for the first byte; 0 when nothing came.
    pub(super) async fn read(&mut self, into: &mut [u8], wait: Duration) -> io::Result<usize> {
        let pipe = self.pipe()?;
        if let Some(arrival) = pipe.arrival(wait) {
            arrival.await;
        }
        pipe.read(into, wait)
    }

    /// Reports the loss, then tries to open the port until it is back or nobody wants it any more.
    ///
    /// The old handle is closed first: while it is held, a port that comes back gets another name.
    pub(super) async fn recover(&mut self, way: &mut Way, error: &io::Error) -> Result<(), Closed> {
        self.pipe = None;
        way.report(LinkEvent::Lost(self.clock.now(), loss(error)))
            .await?;
        let mut wait = BACK_OFF.0;
        loop {
            // Half to one and a half times the wait, so that several lost ports do not knock together.
            pause(way, wait.mul_f64(0.5 + fastrand::f64()), &self.clock).await?;
            if let Ok(pipe) = (self.opener)() {
                self.pipe = Some(pipe);
                return way.report(LinkEvent::Back(self.clock.now())).await;
            }
            wait = (wait * 2).min(BACK_OFF.1);
        }
    }
}

/// Waits, and answers each request meanwhile with the plain truth.
async fn pause(way: &mut Way, wait: Duration, clock: &Clock) -> Result<(), Closed> {
    let deadline = clock.deadline(wait);
    while way.request(deadline.left()).await?.is_some() {
        way.report(LinkEvent::Answers(vec![(clock.now(), Answer::NoLine)]))
            .await?;
    }
    if way.is_closed() { Err(Closed) } else { Ok(()) }
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

//! A port that may be lost and found again.

use std::io;
use std::time::Duration;

use super::byte_log::Entry;
use super::kept::Keeper;
use super::link::Closed;
use super::pipe::{OpenError, Opener, Pipe};
use super::request::{Answer, LinkEvent, Request};
use super::way::Way;
use crate::clock::{Clock, Deadline};
use crate::reading::Stamp;

/// The first wait before a lost port is tried again, and the longest.
const BACK_OFF: (Duration, Duration) = (Duration::from_millis(250), Duration::from_secs(5));

/// A port that has just been plugged in may be busy for this time while a modem manager looks at it, which is no news. The second
/// time is how often it is tried meanwhile.
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

    /// Reads the bytes that are there, waiting at most `wait` for the first one; 0 when nothing came.
    pub(super) async fn read(&mut self, into: &mut [u8], wait: Duration) -> io::Result<usize> {
        read(self.pipe()?.as_mut(), into, wait).await
    }

    /// Reports the loss, found at `stamp`, then tries to open the port until it is back or nobody wants it any more.
    ///
    /// The old handle is closed first: while it is held, a port that comes back gets another name.
    pub(super) async fn recover(
        &mut self,
        way: &mut Way,
        stamp: Stamp,
        error: &io::Error,
    ) -> Result<(), Closed> {
        self.pipe = None;
        let reason = loss(error);
        self.keeper.note(stamp, &Entry::Lost(reason.clone()));
        way.report(LinkEvent::Lost(stamp, reason)).await?;
        if self.proven.is_none_or(Deadline::is_over) {
            self.wait = BACK_OFF.0;
        }
        let mut wait = self.wait;
        let mut busy_until = None;
        let mut told = None;
        loop {
            // Half to one and a half times the wait, so that several lost ports do not knock together.
            pause(way, wait.mul_f64(0.5 + fastrand::f64()), &self.clock).await?;
            self.wait = (self.wait * 2).min(BACK_OFF.1);
            wait = self.wait;
            let error = match (self.opener)() {
                Ok(pipe) => return self.take_back(pipe, way).await,
                Err(error) => error,
            };
            let is_news = match &error {
                // That it is not there was reported when it was lost.
                OpenError::NotFound { .. } | OpenError::Network { .. } => false,
                OpenError::Busy { .. } => {
                    wait = BUSY.1;
                    busy_until
                        .get_or_insert_with(|| self.clock.deadline(BUSY.0))
                        .is_over()
                }
                _ => true,
            };
            let text = error.to_string();
            if is_news && told.as_ref() != Some(&text) {
                way.report(LinkEvent::Told(text.clone())).await?;
                told = Some(text);
            }
        }
    }

    async fn take_back(&mut self, pipe: Box<dyn Pipe>, way: &mut Way) -> Result<(), Closed> {
        let place = pipe.place().map(str::to_owned);
        if place != self.place
            && let Some(name) = &place
        {
            way.report(LinkEvent::Told(format!("found again as {name}")))
                .await?;
        }
        self.place = place;
        self.pipe = Some(pipe);
        self.proven = Some(self.clock.deadline(BACK_OFF.1));
        way.report(LinkEvent::Back(self.opened())).await
    }
}

/// Reads the bytes that are there, waiting at most `wait` for the first one; 0 when nothing came.
pub(super) async fn read(
    pipe: &mut dyn Pipe,
    into: &mut [u8],
    wait: Duration,
) -> io::Result<usize> {
    if let Some(arrival) = pipe.arrival(wait) {
        arrival.await;
    }
    pipe.read(into, wait)
}

/// Waits, and answers each request meanwhile with the plain truth.
async fn pause(way: &mut Way, wait: Duration, clock: &Clock) -> Result<(), Closed> {
    let deadline = clock.deadline(wait);
    while let Some(request) = way.request(deadline.left()).await? {
        match request {
            Request::Watch { .. } | Request::Pass(_) => {}
            Request::Finish => return way.finish().await,
            _ => {
                way.report(LinkEvent::Answers(vec![(clock.now(), Answer::NoLine)]))
                    .await?;
            }
        }
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

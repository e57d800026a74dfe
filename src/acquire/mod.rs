//! When to ask, and what silence means: one task an instrument turns what its link reports into rows.
//!
//! A recording goes on through silence, refusal, garbage, overload and a lost line; each has its own row.

use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{mpsc, watch};

use crate::clock::Clock;
use crate::frame::LineEnd;
use crate::instrument::{Manner, PortRule, Profile, Reading, WireEnd};
use crate::reading::{Event, Readings, Rejected, Row, Stamp, Status, Texts};
use crate::transport::{Link, Passing, Request};

mod listener;
mod merge;
mod poller;
mod step;
mod waveform;

pub use waveform::blocks;

pub use merge::merge;

/// One instrument of a recording, open and ready.
#[derive(Debug)]
pub struct Source {
    /// Its label, unique in the session.
    pub label: Arc<str>,
    /// Its profile, with the connection's factors in it.
    pub profile: Profile,
    /// The line to it.
    pub link: Link,
    /// From one row to the next, on the session's clock, for an instrument that is asked.
    pub every: Duration,
    /// The session's clock.
    pub clock: Clock,
}

/// Where a line from the instrument ends.
pub const fn line_end(port: &PortRule) -> LineEnd {
    match port.received_end {
        WireEnd::Lf => LineEnd::Lf,
        WireEnd::Cr => LineEnd::Cr,
        WireEnd::Any => LineEnd::Any,
        WireEnd::Byte(byte) => LineEnd::Byte(byte),
        WireEnd::Counted(length) => LineEnd::Counted(length),
    }
}

/// What an instrument says beside its answers, by its profile.
pub fn passing(port: &PortRule) -> Passing {
    Passing {
        prompt: port.prompt.clone().map(String::into_bytes),
        skip: port.skip.iter().cloned().map(String::into_bytes).collect(),
    }
}

/// Says when to stop: the exchange in hand is finished first.
pub type Stop = watch::Receiver<bool>;

/// Runs an instrument until it is told to stop or its link ends.
pub async fn run(source: Source, events: mpsc::Sender<Event>, stop: Stop) {
    let outlet = Outlet {
        label: Arc::clone(&source.label),
        events,
    };
    // The only error is that nobody listens any more, which ends the task as a stop does.
    match source.profile.manner {
        Manner::Asked => poller::Poller::new(source, outlet, stop).run().await.ok(),
        Manner::Unasked => listener::Listener::new(source, outlet).run(stop).await.ok(),
    };
}

/// Runs an instrument as [`run`] does; one that is asked is queried at the end for its complaints, which are reported.
pub async fn run_to_complaints(source: Source, events: mpsc::Sender<Event>, stop: Stop) {
    if source.profile.manner == Manner::Unasked {
        return run(source, events, stop).await;
    }
    let outlet = Outlet {
        label: Arc::clone(&source.label),
        events,
    };
    let poller = poller::Poller::new(source, outlet, stop).telling_complaints();
    poller.run().await.unwrap_or(());
}

/// The recording went away.
struct Gone;

/// The way to the recording.
struct Outlet {
    label: Arc<str>,
    events: mpsc::Sender<Event>,
}

impl Outlet {
    async fn send(&self, event: Event) -> Result<(), Gone> {
        self.events.send(event).await.map_err(|_| Gone)
    }

    fn row(&self, stamp: Stamp, reading: Reading) -> Row {
        let Reading {
            readings,
            status,
            note,
        } = reading;
        Row {
            stamp,
            source: Arc::clone(&self.label),
            readings,
            status,
            note,
        }
    }

    async fn status_row(&self, stamp: Stamp, status: Status, note: &str) -> Result<(), Gone> {
        let reading = Reading {
            readings: Readings::default(),
            status,
            note: note.to_owned(),
        };
        let rows = vec![self.row(stamp, reading)];
        self.send(Event::Rows(rows, Texts::default())).await
    }

    /// A row for the gap, and the news that the line is lost.
    async fn lost(&self, stamp: Stamp, reason: String) -> Result<(), Gone> {
        self.status_row(stamp, Status::Gap, &reason).await?;
        let source = Arc::clone(&self.label);
        self.send(Event::Lost { source, reason }).await
    }

    async fn reject(&self, stamp: Stamp, why: &'static str, bytes: Vec<u8>) -> Result<(), Gone> {
        let source = Arc::clone(&self.label);
        self.send(Event::Rejected(Rejected {
            stamp,
            source,
            why,
            bytes,
        }))
        .await
    }

    async fn told(&self, text: String) -> Result<(), Gone> {
        let source = Arc::clone(&self.label);
        self.send(Event::Told { source, text }).await
    }

    async fn ended(&self, fault: Option<String>) -> Result<(), Gone> {
        self.send(Event::Ended {
            source: Arc::clone(&self.label),
            fault,
        })
        .await
    }
}

/// Waits until the stop is given; for ever if it never can be.
async fn stopped(stop: &mut Stop) {
    if stop.wait_for(|stop| *stop).await.is_err() {
        std::future::pending::<()>().await;
    }
}

/// How long the end waits for what a link still has; a port that hangs must not hold it up.
const FINISH_PATIENCE: Duration = Duration::from_secs(1);

/// Asks a link to finish, and returns how long to wait for it. A log is simply left: it would play to its end.
fn finish_in_time(link: &Link) -> std::pin::Pin<Box<tokio::time::Sleep>> {
    link.send(Request::Finish);
    let patience = if link.is_replay {
        Duration::ZERO
    } else {
        FINISH_PATIENCE
    };
    Box::pin(tokio::time::sleep(patience))
}

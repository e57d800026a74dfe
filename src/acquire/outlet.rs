//! The way to the recording, and its end.

use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{mpsc, watch};

use crate::instrument::Reading;
use crate::reading::{Event, Readings, Rejected, Row, Stamp, Status, Texts};
use crate::transport::{Link, Request};

/// Says when to stop: the exchange in hand is finished first.
pub type Stop = watch::Receiver<bool>;

/// The recording went away.
pub(super) struct Gone;

/// The way to the recording.
pub(super) struct Outlet {
    pub(super) label: Arc<str>,
    pub(super) events: mpsc::Sender<Event>,
}

impl Outlet {
    pub(super) async fn send(&self, event: Event) -> Result<(), Gone> {
        self.events.send(event).await.map_err(|_| Gone)
    }

    pub(super) fn row(&self, stamp: Stamp, reading: Reading) -> Row {
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

    pub(super) async fn status_row(
        &self,
        stamp: Stamp,
        status: Status,
        note: &str,
    ) -> Result<(), Gone> {
        let reading = Reading {
            readings: Readings::default(),
            status,
            note: note.into(),
        };
        let rows = vec![self.row(stamp, reading)];
        self.send(Event::Rows(rows, Texts::default())).await
    }

    /// Sends a row for the gap, and the news that the line is lost.
    pub(super) async fn lost(&self, stamp: Stamp, reason: String) -> Result<(), Gone> {
        self.status_row(stamp, Status::Gap, &reason).await?;
        let source = Arc::clone(&self.label);
        self.send(Event::Lost { source, reason }).await
    }

    pub(super) async fn reject(
        &self,
        stamp: Stamp,
        why: impl ToString,
        bytes: Vec<u8>,
    ) -> Result<(), Gone> {
        let source = Arc::clone(&self.label);
        self.send(Event::Rejected(Rejected {
            stamp,
            source,
            why: why.to_string(),
            bytes,
        }))
        .await
    }

    pub(super) async fn told(&self, text: String) -> Result<(), Gone> {
        let source = Arc::clone(&self.label);
        self.send(Event::Told { source, text }).await
    }

    pub(super) async fn ended(&self, fault: Option<String>) -> Result<(), Gone> {
        self.send(Event::Ended {
            source: Arc::clone(&self.label),
            fault,
        })
        .await
    }
}

/// Waits until the stop is given; for ever if it never can be.
pub(super) async fn stopped(stop: &mut Stop) {
    if stop.wait_for(|stop| *stop).await.is_err() {
        std::future::pending::<()>().await;
    }
}

/// The longest wait at the end for data still in a link: a port that hangs must not hold it up.
const FINISH_PATIENCE: Duration = Duration::from_secs(1);

/// Asks a link to finish, and returns how long to wait for it. A log is simply left: it would play to its end.
pub(super) fn finish_in_time(link: &Link) -> std::pin::Pin<Box<tokio::time::Sleep>> {
    link.send(Request::Finish);
    let patience = if link.is_replay {
        Duration::ZERO
    } else {
        FINISH_PATIENCE
    };
    Box::pin(tokio::time::sleep(patience))
}

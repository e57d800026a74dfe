//! The two ends of a link: requests go one way, events come the other.

use std::fmt;

use super::request::{LinkEvent, Request};

/// The near end of a link. Dropping it ends the thread.
pub struct Link {
    pub(super) requests: Requests,
    pub(super) events: tokio::sync::mpsc::Receiver<LinkEvent>,
    /// Times come from a log: nobody need wait for the next question's turn.
    pub is_replay: bool,
}

/// How requests reach the far end.
pub(super) enum Requests {
    ToThread(std::sync::mpsc::Sender<Request>),
    ToTask(tokio::sync::mpsc::UnboundedSender<Request>),
}

impl fmt::Debug for Link {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Link")
            .field("is_replay", &self.is_replay)
            .finish_non_exhaustive()
    }
}

impl Link {
    /// Hands a request to the link's thread. A thread that has ended shows as the end of the events.
    pub fn send(&self, request: Request) {
        match &self.requests {
            Requests::ToThread(sender) => sender.send(request).ok(),
            Requests::ToTask(sender) => sender.send(request).ok(),
        };
    }

    /// The next event; `None` when the link has ended.
    pub async fn next(&mut self) -> Option<LinkEvent> {
        self.events.recv().await
    }
}

/// The far end of a link, owned by its thread.
pub(super) struct FarEnd {
    pub(super) requests: std::sync::mpsc::Receiver<Request>,
    pub(super) events: tokio::sync::mpsc::Sender<LinkEvent>,
}

/// The near end went away: the thread is to end.
pub(super) struct Closed;

impl FarEnd {
    /// Reports an event, waiting for room; bytes are never dropped here.
    pub(super) fn report(&self, event: LinkEvent) -> Result<(), Closed> {
        self.events.blocking_send(event).map_err(|_| Closed)
    }
}

/// Events that may wait for the recording: at 100 ms a read, several seconds.
pub(super) const EVENTS_WAITING: usize = 64;

pub(super) fn ends(is_replay: bool) -> (Link, FarEnd) {
    let (request_sender, requests) = std::sync::mpsc::channel();
    let (event_sender, events) = tokio::sync::mpsc::channel(EVENTS_WAITING);
    (
        Link {
            requests: Requests::ToThread(request_sender),
            events,
            is_replay,
        },
        FarEnd {
            requests,
            events: event_sender,
        },
    )
}

//! The way between a link's far end and the recording: blocking for a thread, awaiting for a task.
//!
//! The exchange itself is written once. On the thread that owns a real port nothing in it ever yields, so that a hand-over costs
//! no more than the channel. In memory it runs as a task, and a test can pause the clock under it.

use std::sync::mpsc::{RecvTimeoutError, TryRecvError};
use std::task::{Context, Poll, Waker};
use std::time::Duration;

use tokio::sync::mpsc;

use super::link::{Closed, FarEnd};
use super::request::{LinkEvent, Request};
use crate::clock::Deadline;

/// The far end's way to the recording and back.
pub(super) enum Way {
    /// It runs on a thread of its own.
    Thread(FarEnd),
    /// It runs on the runtime of the recording.
    Task {
        requests: mpsc::UnboundedReceiver<Request>,
        events: mpsc::Sender<LinkEvent>,
    },
}

impl Way {
    /// The next request; `None` when there was none for this time.
    pub(super) async fn request(&mut self, wait: Duration) -> Result<Option<Request>, Closed> {
        match self {
            Self::Thread(far) => match far.requests.recv_timeout(wait) {
                Ok(request) => Ok(Some(request)),
                Err(RecvTimeoutError::Timeout) => Ok(None),
                Err(RecvTimeoutError::Disconnected) => Err(Closed),
            },
            Self::Task { requests, .. } => {
                match tokio::time::timeout(wait, requests.recv()).await {
                    Ok(Some(request)) => Ok(Some(request)),
                    Ok(None) => Err(Closed),
                    Err(_) => Ok(None),
                }
            }
        }
    }

    /// The next request, if it is there.
    pub(super) fn request_at_hand(&mut self) -> Result<Option<Request>, Closed> {
        let (request, is_over) = match self {
            Self::Thread(far) => match far.requests.try_recv() {
                Ok(request) => (Some(request), false),
                Err(error) => (None, error == TryRecvError::Disconnected),
            },
            Self::Task { requests, .. } => match requests.try_recv() {
                Ok(request) => (Some(request), false),
                Err(error) => (None, error == mpsc::error::TryRecvError::Disconnected),
            },
        };
        if is_over { Err(Closed) } else { Ok(request) }
    }

    /// Reports an event, waiting for room; bytes are never dropped here.
    pub(super) async fn report(&mut self, event: LinkEvent) -> Result<(), Closed> {
        match self {
            Self::Thread(far) => far.report(event),
            Self::Task { events, .. } => events.send(event).await.map_err(|_| Closed),
        }
    }

    /// Reports that nothing more comes; the far end is to end.
    pub(super) async fn finish<T>(&mut self) -> Result<T, Closed> {
        self.report(LinkEvent::Ended).await?;
        Err(Closed)
    }

    /// Whether nobody listens any more.
    pub(super) fn is_closed(&self) -> bool {
        match self {
            Self::Thread(far) => far.events.is_closed(),
            Self::Task { events, .. } => events.is_closed(),
        }
    }

    /// Lets this time pass.
    pub(super) async fn rest(&mut self, wait: Duration) {
        match self {
            Self::Thread(_) => Deadline::after(wait).pause(wait),
            Self::Task { .. } => tokio::time::sleep(wait).await,
        }
    }
}

/// Runs a far end on its own thread, where it blocks instead of yielding.
pub(super) fn block_on<F: Future>(future: F) -> F::Output {
    let mut future = std::pin::pin!(future);
    let mut context = Context::from_waker(Waker::noop());
    loop {
        if let Poll::Ready(output) = future.as_mut().poll(&mut context) {
            return output;
        }
        std::thread::yield_now();
    }
}

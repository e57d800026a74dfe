//! When to ask, and how silence counts: one task per instrument turns the events of its link into rows.
//!
//! A recording goes on through silence, refusal, garbage, overload and a lost line; each has its own row.

use std::sync::Arc;

use tokio::sync::mpsc;

use crate::instrument::Manner;
use crate::reading::Event;

mod listener;
mod merge;
mod outlet;
mod poller;
mod source;
mod step;
mod waveform;

use outlet::Outlet;

pub use merge::merge;
pub use outlet::Stop;
pub use source::{Source, line_end, passing};
pub use waveform::blocks;

/// Runs an instrument until the recording stops or its link ends.
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

/// Runs an instrument as [`run`] does; one that is asked is queried at the end for its complaints, which stand
/// among the bytes that are kept.
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

//! An instrument heard for a while by the code that records, with all that was sent and received.

use std::time::Duration;

use tokio::runtime::{Builder, Runtime};
use tokio::sync::{mpsc, watch};
use tokio::time::{Instant, sleep_until};

use super::exit::{CANNOT_WRITE, Failure};
use crate::acquire::{self, Source};
use crate::reading::{Event, Row};
use crate::transport::{Exchange, Unwritten};

/// What a recording would have had of an instrument.
#[derive(Debug, Default)]
pub(super) struct Hearing {
    /// The rows, each with the text that it was read from.
    pub(super) rows: Vec<(Row, Vec<u8>)>,
    /// What was refused: why, and its bytes.
    pub(super) refused: Vec<(&'static str, Vec<u8>)>,
    pub(super) identity: Option<String>,
    /// What was told beside.
    pub(super) told: Vec<String>,
    /// Why the line was lost.
    pub(super) lost: Option<String>,
    pub(super) exchange: Exchange,
}

impl Hearing {
    fn take(&mut self, event: Event) {
        match event {
            Event::Rows(rows, texts) => {
                let rows = rows.into_iter().enumerate();
                self.rows
                    .extend(rows.map(|(index, row)| (row, texts.get(index).to_vec())));
            }
            Event::Rejected(rejected) => self.refused.push((rejected.why, rejected.bytes)),
            Event::Identity { text, .. } => self.identity = Some(text),
            Event::Lost { reason, .. } => self.lost = Some(reason),
            Event::Told { text, .. } => self.told.push(text),
            Event::Back { .. } | Event::Ended { .. } | Event::BoardTimes { .. } => {}
        }
    }
}

/// A runtime for hearings.
pub(super) fn runtime() -> Result<Runtime, Failure> {
    Builder::new_current_thread()
        .enable_time()
        .build()
        .map_err(|error| Failure::new(CANNOT_WRITE, format!("cannot start asking: {error}")))
}

/// Records an instrument into memory until enough was heard, for `limit` at the most.
pub(super) async fn hear(
    source: Source,
    kept: &Unwritten,
    limit: Duration,
    mut is_enough: impl FnMut(&Hearing) -> bool,
) -> Hearing {
    let (events, mut inbox) = mpsc::channel(256);
    let (stop, stopped) = watch::channel(false);
    let deadline = Instant::now() + limit;
    let mut hearing = Hearing::default();
    let running = tokio::spawn(acquire::run_to_complaints(source, events, stopped));
    loop {
        tokio::select! {
            biased;
            () = sleep_until(deadline) => break,
            event = inbox.recv() => match event {
                Some(event) => hearing.take(event),
                None => break,
            },
        }
        if is_enough(&hearing) {
            break;
        }
    }
    stop.send(true).ok();
    while let Some(event) = inbox.recv().await {
        hearing.take(event);
    }
    // It has ended: nobody else had the other end of the inbox.
    running.await.unwrap_or(());
    hearing.exchange.take(kept);
    hearing
}

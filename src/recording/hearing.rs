//! An instrument heard for a while by the code that records, with all that was sent and received.

use std::io;
use std::time::Duration;

use tokio::runtime::{Builder, Runtime};
use tokio::sync::{mpsc, watch};
use tokio::time::{Instant, sleep_until};

use crate::acquire::{self, Source};
use crate::reading::{Event, Failed, Row};
use crate::transport::{Exchange, Unwritten};

/// The data that a recording would have had of an instrument.
#[derive(Debug, Default)]
pub(super) struct Hearing {
    pub(super) rows: Vec<HeardRow>,
    /// The refused bytes, each with the reason.
    pub(super) refused: Vec<(String, Vec<u8>)>,
    pub(super) identity: Option<String>,
    /// Why the line was lost.
    pub(super) lost: Option<String>,
    pub(super) exchange: Exchange,
}

/// A row, with its text and the failure of its exchange, if any.
#[derive(Debug)]
pub(super) struct HeardRow {
    pub(super) row: Row,
    /// The text that it was read from.
    pub(super) text: Vec<u8>,
    /// Where the exchange went wrong.
    pub(super) failed: Option<Failed>,
}

impl Hearing {
    fn take(&mut self, event: Event) {
        match event {
            Event::Rows(rows, texts) => {
                let rows = rows.into_iter().enumerate();
                self.rows.extend(rows.map(|(index, row)| HeardRow {
                    row,
                    text: texts.get(index).to_vec(),
                    failed: texts.failed(index).cloned(),
                }));
            }
            Event::Rejected(rejected) => self.refused.push((rejected.why, rejected.bytes)),
            Event::Identity { text, .. } => self.identity = Some(text),
            Event::Lost { reason, .. } => self.lost = Some(reason),
            Event::Told { .. }
            | Event::Back { .. }
            | Event::Ended { .. }
            | Event::BoardTimes { .. } => {}
        }
    }
}

/// A runtime for hearings.
pub(super) fn runtime() -> io::Result<Runtime> {
    Builder::new_current_thread().enable_time().build()
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

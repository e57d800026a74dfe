//! Several byte logs as one stream, in the order of their logged times.

use tokio::sync::mpsc::{Receiver, Sender};

use crate::reading::Event;

/// Passes events on, always the earliest of those that the logs have next; events without a time keep their place.
pub async fn merge(mut logs: Vec<Receiver<Event>>, into: Sender<Event>) {
    let mut heads: Vec<Option<(i64, Event)>> = logs.iter().map(|_| None).collect();
    loop {
        for (log, head) in logs.iter_mut().zip(&mut heads) {
            while head.is_none() {
                // The earliest moment is known only when every log has given its next one.
                let Some(event) = log.recv().await else {
                    break;
                };
                match elapsed_us(&event) {
                    Some(moment_us) => *head = Some((moment_us, event)),
                    None if into.send(event).await.is_err() => return,
                    None => {}
                }
            }
        }
        let earliest = heads
            .iter_mut()
            .filter(|head| head.is_some())
            .min_by_key(|head| head.as_ref().map(|(moment_us, _)| *moment_us));
        let Some((_, event)) = earliest.and_then(Option::take) else {
            return;
        };
        if into.send(event).await.is_err() {
            return;
        }
    }
}

fn elapsed_us(event: &Event) -> Option<i64> {
    match event {
        Event::Rows(rows, _) => rows.first().map(|row| row.stamp.elapsed_us),
        Event::Rejected(rejected) => Some(rejected.stamp.elapsed_us),
        _ => None,
    }
}

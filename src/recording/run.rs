//! The recording itself: rows from the instruments to the folder, until something ends it.

use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{mpsc, watch};
use tokio::time::{Instant, MissedTickBehavior, interval, sleep_until};

use super::begin::Begun;
use super::belief::flag_rule;
use super::desk::Desk;
use super::end::{End, Recorded, StopSignal};
use super::error::RecordingError;
use super::forecast::Answers;
use super::marks::Marks;
use super::news::Listener;
use super::plan::Plan;
use crate::acquire::{self, Source};
use crate::analysis::flags::Flags;
use crate::reading::{Event, Texts};

/// Rows that may wait for the disk.
const EVENTS_WAITING: usize = 256;

/// How often the folder and the disk are looked at, also when no row comes.
const LOOK_EVERY: Duration = Duration::from_secs(1);

/// Records until something ends it; `stop` is when the person asks for the end.
///
/// # Errors
/// [`RecordingError`] when the recording cannot start, or the folder cannot be written to any more.
pub fn record(
    begun: Begun,
    marks: Marks,
    stop: impl Future<Output = StopSignal> + Send + 'static,
    plan: Plan,
    hear: Listener,
) -> Result<Recorded, RecordingError> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(RecordingError::Runtime)?;
    // As a task: wakers of the future that is blocked on go through the system each time, a task's neighbour does not.
    let recording = runtime.spawn(run(begun, marks, stop, plan, hear));
    let recorded = runtime
        .block_on(recording)
        .unwrap_or_else(|error| std::panic::resume_unwind(error.into_panic()));
    // Threads that wait for a terminal or a dead port are left to the end of the program.
    runtime.shutdown_background();
    recorded
}

async fn run(
    begun: Begun,
    mut marks: Marks,
    stop: impl Future<Output = StopSignal>,
    plan: Plan,
    hear: Listener,
) -> Result<Recorded, RecordingError> {
    let Begun {
        sources,
        writer,
        kept,
    } = begun;
    let is_replay = sources.iter().all(|source| source.link.is_replay);
    let labels = sources.iter().map(|source| Arc::clone(&source.label));
    let labels: Vec<Arc<str>> = labels.collect();
    let mut flags = Flags::default();
    for source in &sources {
        let rules = source.profile.values.iter().map(flag_rule);
        flags.add(Arc::clone(&source.label), rules);
    }
    let (finish, finished) = watch::channel(false);
    let mut inbox = start(sources, &finished);
    drop(finished);
    let mut stop = std::pin::pin!(stop);
    let deadline = plan
        .duration
        .map(|duration| Instant::now() + plan.clock.real_duration(duration));
    let (mut desk, mut answers) = Desk::new(writer, plan, is_replay, labels, flags, hear)?;
    desk.start(kept);
    let mut looks = interval(LOOK_EVERY);
    looks.set_missed_tick_behavior(MissedTickBehavior::Delay);
    let end = loop {
        if let Some(end) = desk.end.take() {
            break end;
        }
        tokio::select! {
            biased;
            signal = &mut stop => break End::Stopped(signal),
            () = until(deadline) => break End::Duration,
            Some((stamp, text)) = marks.recv() => desk.mark(stamp, text)?,
            () = until(desk.gives_up_at()) => desk.give_up(),
            Some(answer) = answers.recv() => desk.foretold(&answer),
            _ = looks.tick() => desk.look()?,
            event = inbox.recv() => match event {
                Some(event) if is_replay => play(&mut desk, &mut answers, event).await?,
                Some(event) => desk.take(event)?,
                None => break End::LogsEnded,
            },
        }
    };
    // Each instrument finishes the exchange in hand; its last data is recorded too. A log has the rest itself, and how far it was
    // read ahead is no matter of the recording.
    finish.send(true).ok();
    while let Some(event) = inbox.recv().await {
        if !is_replay {
            desk.take(event)?;
        }
    }
    // A mark typed just before the end counts.
    while let Ok((stamp, text)) = marks.try_recv() {
        desk.mark(stamp, text)?;
    }
    desk.close(end)
}

/// Starts the instruments; several logs are played in the order of their time.
fn start(sources: Vec<Source>, stop: &watch::Receiver<bool>) -> mpsc::Receiver<Event> {
    let (events, inbox) = mpsc::channel(EVENTS_WAITING);
    let are_logs = sources.iter().all(|source| source.link.is_replay) && sources.len() > 1;
    let mut logs = Vec::new();
    for source in sources {
        let events = if are_logs {
            let (own, log) = mpsc::channel(EVENTS_WAITING);
            logs.push(log);
            own
        } else {
            events.clone()
        };
        tokio::spawn(acquire::run(source, events, stop.clone()));
    }
    if are_logs {
        tokio::spawn(acquire::merge(logs, events));
    }
    inbox
}

/// Takes the rows of a log, one by one, each with its forecast, up to the one that ends the recording.
async fn play(desk: &mut Desk, answers: &mut Answers, event: Event) -> Result<(), RecordingError> {
    for event in one_by_one(event) {
        desk.take(event)?;
        if desk.waits_for_forecast()
            && let Some(answer) = answers.recv().await
        {
            desk.foretold(&answer);
        }
        if desk.end.is_some() {
            break;
        }
    }
    Ok(())
}

/// The rows of an event each in an event of its own: a log ends with the row that ends it.
fn one_by_one(event: Event) -> Vec<Event> {
    let Event::Rows(rows, texts) = event else {
        return vec![event];
    };
    let rows = rows.into_iter().enumerate();
    rows.map(|(index, row)| {
        let mut own = Texts::default();
        own.push(texts.get(index));
        Event::Rows(vec![row], own)
    })
    .collect()
}

async fn until(moment: Option<Instant>) {
    match moment {
        Some(moment) => sleep_until(moment).await,
        None => std::future::pending().await,
    }
}

//! The recording itself: rows from the instruments to the folder, until something ends it.

use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::mpsc;
use tokio::time::{Instant, MissedTickBehavior, interval, sleep_until};

use super::args::Show;
use super::desk::Desk;
use super::exit::{CANNOT_WRITE, Failure};
use super::forecast::{Answers, Battery};
use super::record::KeptLogs;
use super::signal::{self, Signal};
use crate::acquire::{self, Source};
use crate::analysis::flags::{Flags, Rule, StaleRule};
use crate::clock::Clock;
use crate::instrument::{ChannelRule, Mask};
use crate::reading::{Event, Stamp, Texts};
use crate::session::{Meta, Summary, Writer};

/// Rows that may wait for the disk.
const EVENTS_WAITING: usize = 256;

/// How often the folder and the disk are looked at, also when no row comes.
const LOOK_EVERY: Duration = Duration::from_secs(1);

/// When a recording ends, and what is shown of it.
#[derive(Debug)]
pub(super) struct Plan {
    pub(super) clock: Clock,
    /// On the session's clock.
    pub(super) duration: Option<Duration>,
    pub(super) until_below_v: Option<f64>,
    pub(super) give_up_after: Option<Duration>,
    pub(super) masks: Vec<Mask>,
    /// The battery whose time left is to be foretold.
    pub(super) battery: Option<Battery>,
    /// Whether every instrument is a log: nothing is lost while a forecast is waited for.
    pub(super) is_replay: bool,
    /// A full disk is waited out.
    pub(super) wait_for_room: bool,
    pub(super) show: Show,
    pub(super) quiet: bool,
    /// The byte logs that are written beside it.
    pub(super) kept: KeptLogs,
}

/// Why a recording ended.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum End {
    Duration,
    BatteryBelow(String),
    Foretold(String),
    Signal(Signal),
    LogsEnded,
    GivenUp(Arc<str>),
    /// A virtual instrument whose time runs faster than real by this factor, which is not the recording's.
    OtherTime(Arc<str>, f64),
}

impl End {
    pub(super) fn words(&self) -> String {
        match self {
            Self::Duration => "the duration was reached".to_owned(),
            Self::BatteryBelow(limit) => format!("the battery was below {limit}"),
            Self::Foretold(why) => why.clone(),
            Self::Signal(signal) => signal.words().to_owned(),
            Self::LogsEnded => "the logs are at their end".to_owned(),
            Self::GivenUp(label) => format!("{label} did not come back"),
            Self::OtherTime(label, scale) => {
                format!("the time of {label} runs {scale} times as fast as the recording's")
            }
        }
    }
}

/// What a recording came to.
#[derive(Debug)]
pub(super) struct Recorded {
    pub(super) dir: PathBuf,
    pub(super) end: End,
    pub(super) reason: String,
    pub(super) summary: Summary,
    /// Instruments that never gave a value or a "no signal".
    pub(super) mute: Vec<Arc<str>>,
    /// Why rows could not be shown, when that is a fault.
    pub(super) not_shown: Option<String>,
    /// Instruments whose line was lost at the end.
    pub(super) lost: Vec<Arc<str>>,
    /// Instruments on serial ports.
    pub(super) on_ports: Vec<String>,
}

impl Recorded {
    /// Whether one of these instruments is on a serial port.
    pub(super) fn is_on_port(&self, labels: &[Arc<str>]) -> bool {
        labels
            .iter()
            .any(|label| self.on_ports.iter().any(|other| **other == **label))
    }
}

/// The labels of the instruments on serial ports.
pub(super) fn on_ports(meta: &Meta) -> Vec<String> {
    let instruments = meta.instruments.iter();
    let on_ports = instruments.filter(|one| one.address.starts_with("serial:"));
    on_ports.map(|one| one.label.clone()).collect()
}

/// What the person notes meanwhile, each with its moment.
pub(super) type Marks = mpsc::Receiver<(Stamp, String)>;

/// Records until something ends it.
pub(super) fn record(
    sources: Vec<Source>,
    writer: Writer,
    marks: Marks,
    plan: Plan,
) -> Result<Recorded, Failure> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|error| Failure::new(CANNOT_WRITE, format!("cannot start recording: {error}")))?;
    // As a task: what wakes the future that is blocked on goes through the system each time, a task's neighbour does not.
    let recording = runtime.spawn(run(sources, writer, marks, plan));
    let recorded = runtime
        .block_on(recording)
        .unwrap_or_else(|error| std::panic::resume_unwind(error.into_panic()));
    // Threads that wait for a terminal or a dead port are left to the end of the program.
    runtime.shutdown_background();
    recorded
}

async fn run(
    sources: Vec<Source>,
    writer: Writer,
    mut marks: Marks,
    plan: Plan,
) -> Result<Recorded, Failure> {
    let (events, mut inbox) = mpsc::channel(EVENTS_WAITING);
    let (stop, stopped) = signal::stop();
    let labels: Vec<Arc<str>> = sources
        .iter()
        .map(|source| Arc::clone(&source.label))
        .collect();
    let are_logs = sources.iter().all(|source| source.link.is_replay) && sources.len() > 1;
    let mut logs = Vec::new();
    let mut flags = Flags::default();
    for source in sources {
        flags.add(
            Arc::clone(&source.label),
            source.profile.values.iter().map(flag_rule),
        );
        let events = if are_logs {
            let (own, log) = mpsc::channel(EVENTS_WAITING);
            logs.push(log);
            own
        } else {
            events.clone()
        };
        tokio::spawn(acquire::run(source, events, stopped.clone()));
    }
    if are_logs {
        tokio::spawn(acquire::merge(logs, events));
    } else {
        drop(events);
    }
    drop(stopped);
    let (signals, mut signalled) = mpsc::channel(1);
    tokio::spawn(signal::watch(signals));
    let deadline = plan
        .duration
        .map(|duration| Instant::now() + plan.clock.real_duration(duration));
    let is_replay = plan.is_replay;
    let (mut desk, mut answers) = Desk::new(writer, plan, labels, flags)?;
    desk.start();
    let mut looks = interval(LOOK_EVERY);
    looks.set_missed_tick_behavior(MissedTickBehavior::Delay);
    let end = loop {
        if let Some(end) = desk.end.take() {
            break end;
        }
        tokio::select! {
            biased;
            Some(signal) = signalled.recv() => break End::Signal(signal),
            () = until(deadline) => break End::Duration,
            Some((stamp, text)) = marks.recv() => desk.mark(stamp, &text)?,
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
    // Each instrument finishes the exchange in hand; what it still gives is recorded too. A log has the rest itself, and how
    // far it was read ahead is no matter of the recording.
    stop.send(true).ok();
    while let Some(event) = inbox.recv().await {
        if !is_replay {
            desk.take(event)?;
        }
    }
    // What was typed just before the end counts.
    while let Ok((stamp, text)) = marks.try_recv() {
        desk.mark(stamp, &text)?;
    }
    desk.close(end)
}

/// Takes what a log has, row by row, each with its forecast, up to the one that ends the recording.
async fn play(desk: &mut Desk, answers: &mut Answers, event: Event) -> Result<(), Failure> {
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

/// The rule for a channel: the usual one, and what the profile says over it.
pub(super) fn flag_rule(rule: &ChannelRule) -> Rule {
    let usual = Rule::usual(rule.channel);
    Rule {
        at_least: rule.belief.at_least.unwrap_or(usual.at_least),
        at_most: rule.belief.at_most.unwrap_or(usual.at_most),
        stale: match rule.belief.stale_after {
            None => usual.stale,
            Some(0) => StaleRule::Never,
            Some(count) => StaleRule::After(count),
        },
        ..usual
    }
}

async fn until(moment: Option<Instant>) {
    match moment {
        Some(moment) => sleep_until(moment).await,
        None => std::future::pending().await,
    }
}

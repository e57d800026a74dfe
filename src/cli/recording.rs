//! The recording itself: rows from the instruments to the folder, until something ends it.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::mpsc;
use tokio::time::{Instant, MissedTickBehavior, interval, sleep_until};

use super::args::Show;
use super::exit::{CANNOT_WRITE, Failure};
use super::forecast::{Answer, Answers, Battery, Lookout};
use super::output::{self, Printed};
use super::progress::Progress;
use super::room::{Again, Room};
use super::signal::{self, Signal};
use crate::acquire::{self, Source};
use crate::analysis::flags::{Flags, Rule, StaleRule};
use crate::clock::Clock;
use crate::instrument::{ChannelRule, Mask, mask};
use crate::reading::{Event, Row, Stamp, Status};
use crate::session::{SessionError, Summary, Writer};

/// Rows that may wait for the disk.
const EVENTS_WAITING: usize = 256;

/// How often the folder and the disk are looked at, also when no row comes.
const LOOK_EVERY: Duration = Duration::from_secs(1);

/// `--until-below` wants so many good readings in a row.
const BELOW_IN_A_ROW: u32 = 3;

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
}

/// Why a recording ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum End {
    Duration,
    BatteryBelow(String),
    Foretold(String),
    Signal(Signal),
    LogsEnded,
    GivenUp(Arc<str>),
}

impl End {
    fn words(&self) -> String {
        match self {
            Self::Duration => "the duration was reached".to_owned(),
            Self::BatteryBelow(limit) => format!("the battery was below {limit}"),
            Self::Foretold(why) => why.clone(),
            Self::Signal(signal) => signal.words().to_owned(),
            Self::LogsEnded => "the logs are at their end".to_owned(),
            Self::GivenUp(label) => format!("{label} did not come back"),
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
    /// Instruments that never gave a reading or a "no signal".
    pub(super) mute: Vec<Arc<str>>,
    /// Why rows could not be shown, when that is a fault.
    pub(super) not_shown: Option<String>,
    /// Instruments whose line was lost at the end.
    pub(super) lost: Vec<Arc<str>>,
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
    let recorded = runtime.block_on(run(sources, writer, marks, plan));
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
    let mut flags = Flags::default();
    for source in sources {
        flags.add(
            Arc::clone(&source.label),
            source.profile.values.iter().map(flag_rule),
        );
        tokio::spawn(acquire::run(source, events.clone(), stopped.clone()));
    }
    drop((events, stopped));
    let (signals, mut signalled) = mpsc::channel(1);
    tokio::spawn(signal::watch(signals));
    let deadline = plan
        .duration
        .map(|duration| Instant::now() + plan.clock.real_duration(duration));
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
                Some(event) => desk.take(event)?,
                None => break End::LogsEnded,
            },
        }
        if desk.waits_for_forecast()
            && let Some(answer) = answers.recv().await
        {
            desk.foretold(&answer);
        }
    };
    // Each instrument finishes the exchange in hand; what it still gives is recorded too.
    stop.send(true).ok();
    while let Some(event) = inbox.recv().await {
        desk.take(event)?;
    }
    // What was typed just before the end counts.
    while let Ok((stamp, text)) = marks.try_recv() {
        desk.mark(stamp, &text)?;
    }
    desk.close(end)
}

/// The rule for a channel: the usual one, and what the profile says over it.
fn flag_rule(rule: &ChannelRule) -> Rule {
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

/// Where rows are written, counted and shown.
struct Desk {
    writer: Writer,
    lookout: Option<Lookout>,
    room: Room,
    plan: Plan,
    flags: Flags,
    progress: Progress,
    /// Instruments that never gave anything that could be read.
    mute: BTreeSet<Arc<str>>,
    warned: BTreeSet<Arc<str>>,
    /// Instruments that fell silent or hang, which was said.
    odd: BTreeMap<Arc<str>, Status>,
    lost: Vec<(Arc<str>, Instant)>,
    below: u32,
    stdout_open: bool,
    /// Why rows could not be shown, when that is a fault.
    not_shown: Option<String>,
    end: Option<End>,
}

impl Desk {
    fn new(
        writer: Writer,
        mut plan: Plan,
        labels: Vec<Arc<str>>,
        flags: Flags,
    ) -> Result<(Self, Answers), Failure> {
        let (lookout, answers) = match plan.battery.take() {
            Some(battery) => {
                let (lookout, answers) = Lookout::start(battery, &writer)?;
                (Some(lookout), answers)
            }
            None => (None, mpsc::channel(1).1),
        };
        let desk = Self {
            writer,
            flags,
            lookout,
            room: Room::new(plan.wait_for_room),
            progress: Progress::new(plan.quiet),
            plan,
            mute: labels.into_iter().collect(),
            warned: BTreeSet::new(),
            odd: BTreeMap::new(),
            lost: Vec::new(),
            below: 0,
            stdout_open: true,
            not_shown: None,
            end: None,
        };
        Ok((desk, answers))
    }

    fn start(&mut self) {
        self.progress
            .say(&format!("recording to {}", self.writer.dir().display()));
        for caution in self.lookout.iter().flat_map(Lookout::cautions) {
            self.progress.say(&caution);
        }
        let header = format!("{}\n", self.writer.header());
        self.show(&header);
    }

    /// Shows what was written. A stdout that is closed or full does not end the recording.
    fn show(&mut self, lines: &str) {
        if self.plan.show == Show::Rows && self.stdout_open {
            let printed = output::result(lines);
            self.stdout_open = matches!(printed, Ok(Printed::Taken));
            if let Err(failure) = printed {
                self.progress
                    .say(&format!("{}; recording goes on", failure.message));
                self.not_shown = Some(failure.message);
            }
        }
    }

    fn take(&mut self, event: Event) -> Result<(), Failure> {
        match event {
            Event::Rows(rows) => self.rows(rows),
            Event::Rejected(rejected) => {
                let written = self.writer.reject(&rejected);
                self.unless_full(written)
            }
            Event::Identity { source, text } => {
                self.progress.say(&format!("{source} is {text}"));
                let written = self.writer.identify(&source, &text);
                self.unless_full(written)
            }
            Event::Lost { source, reason } => {
                self.progress
                    .say(&format!("{source} is lost: {reason}; waiting for it"));
                // One that was found to be another is lost once more when that is unplugged.
                if self.lost.iter().all(|(label, _)| *label != source) {
                    self.lost.push((source, Instant::now()));
                }
                Ok(())
            }
            Event::Back { source } => {
                self.lost.retain(|(label, _)| *label != source);
                self.progress.say(&format!("{source} is back"));
                Ok(())
            }
            Event::Told { source, text } => {
                self.progress.say(&format!("{source}: {text}"));
                Ok(())
            }
            Event::Ended { source, fault } => {
                if let Some(fault) = fault {
                    self.progress.say(&format!("{source} ended: {fault}"));
                }
                Ok(())
            }
        }
    }

    fn rows(&mut self, mut rows: Vec<Row>) -> Result<(), Failure> {
        for row in &mut rows {
            mask(&self.plan.masks, row);
            self.flags.judge(row);
        }
        for row in &rows {
            self.judge(row);
        }
        if self.room.is_full() {
            self.try_again()?;
        }
        if self.room.is_full() {
            self.room.miss(&rows);
            return Ok(());
        }
        match self.writer.append(rows.clone()) {
            Ok(lines) => {
                self.show(&lines);
                if let Some(lookout) = &mut self.lookout {
                    lookout.push(&rows);
                }
                self.progress.push(&rows);
            }
            Err(error) if self.room.waits_for(&error) => {
                self.say_full();
                self.room.miss(self.writer.missed());
            }
            Err(error) => return Err(self.broken(&error)),
        }
        Ok(())
    }

    /// What is not a row can be done without while a full disk is waited out.
    fn unless_full(&mut self, written: Result<(), SessionError>) -> Result<(), Failure> {
        match written {
            Err(error) if !self.room.waits_for(&error) => Err(self.broken(&error)),
            _ => Ok(()),
        }
    }

    fn say_full(&self) {
        self.progress
            .say("the disk is full: nothing is written until there is room again");
    }

    /// Goes on writing if there is room again.
    fn try_again(&mut self) -> Result<(), Failure> {
        match self.room.try_again(&mut self.writer) {
            Ok(Some(Again { rows, lines, words })) => {
                self.show(&lines);
                self.progress.push(&rows);
                self.progress.say(&words);
                Ok(())
            }
            Ok(None) => Ok(()),
            Err(error) => Err(self.broken(&error)),
        }
    }

    /// Looks after the folder and the disk.
    fn look(&mut self) -> Result<(), Failure> {
        let seen = self.writer.look();
        self.unless_full(seen)?;
        if self.room.is_full() {
            self.try_again()?;
        }
        Ok(())
    }

    /// Says once that an instrument that was heard fell silent, hangs, or gave what is hard to believe.
    fn warn(&mut self, row: &Row) {
        let was = match row.status {
            Status::Ok => {
                self.odd.remove(&row.source);
                return;
            }
            Status::Silent | Status::Stale | Status::Suspect => {
                self.odd.insert(Arc::clone(&row.source), row.status)
            }
            _ => return,
        };
        if was != Some(row.status) && !self.mute.contains(&row.source) {
            self.progress
                .say(&format!("{} is {}: {}", row.source, row.status, row.note));
        }
    }

    /// Whether a forecast was asked for that the log can wait for.
    fn waits_for_forecast(&self) -> bool {
        self.plan.is_replay && self.lookout.as_ref().is_some_and(Lookout::is_busy)
    }

    /// A forecast has come.
    fn foretold(&mut self, answer: &Answer) {
        let Some(lookout) = &mut self.lookout else {
            return;
        };
        let told = lookout.take(answer);
        self.progress.left(told.left);
        for line in told.lines {
            self.progress.say(&line);
        }
        self.end = self.end.take().or_else(|| told.ends.map(End::Foretold));
    }

    fn judge(&mut self, row: &Row) {
        self.warn(row);
        match row.status {
            Status::Silent | Status::Refused | Status::Garbled => {
                if self.mute.contains(&row.source) && self.warned.insert(Arc::clone(&row.source)) {
                    self.progress.say(&format!(
                        "{} gives nothing that can be read yet: {}",
                        row.source, row.note
                    ));
                }
            }
            Status::Ok | Status::NoSignal | Status::Overload | Status::Stale | Status::Suspect => {
                self.mute.remove(&row.source);
            }
            Status::Gap | Status::ClockStep => {}
        }
        let Some(limit_v) = self.plan.until_below_v else {
            return;
        };
        // A coil that stopped does not stop its battery from emptying; a doubted reading neither counts nor begins anew.
        if let Some(battery_v) = row.battery_v() {
            self.below = if battery_v < limit_v {
                self.below + 1
            } else {
                0
            };
            if self.below >= BELOW_IN_A_ROW {
                self.end = Some(End::BatteryBelow(crate::units::exact(
                    limit_v,
                    crate::units::Unit::Volt,
                )));
            }
        }
    }

    fn gives_up_at(&self) -> Option<Instant> {
        let patience = self.plan.give_up_after?;
        self.lost.iter().map(|(_, since)| *since + patience).min()
    }

    fn give_up(&mut self) {
        if let Some((label, _)) = self.lost.first() {
            self.end = Some(End::GivenUp(Arc::clone(label)));
        }
    }

    fn mark(&mut self, stamp: Stamp, text: &str) -> Result<(), Failure> {
        match self.writer.mark(stamp, text) {
            Ok(()) => {}
            Err(error) if self.room.waits_for(&error) => {
                if !self.room.is_full() {
                    self.say_full();
                }
                self.room.keep(stamp, text);
            }
            Err(error) => return Err(self.broken(&error)),
        }
        self.progress.say(&format!("marked: {text}"));
        Ok(())
    }

    /// Nothing more can be written; what was written stands.
    fn broken(&mut self, error: &SessionError) -> Failure {
        self.progress.finish();
        // Whatever could not be written, a folder that is gone is the reason.
        let gone = self
            .writer
            .look()
            .err()
            .filter(|seen| seen.fate().is_some());
        let error = gone.as_ref().unwrap_or(error);
        let failure = Failure::from_error(CANNOT_WRITE, error);
        let wall_ms = self.plan.clock.now().wall_ms;
        let rows = self.writer.summary().rows;
        if let Some(fate) = error.fate() {
            return failure.hint(match self.writer.rescue(fate, wall_ms) {
                Ok(dir) => format!("{rows} rows are safe in {}", dir.display()),
                Err(error) => {
                    let why = Failure::from_error(CANNOT_WRITE, &error).message;
                    format!("its {rows} rows could not be saved: {why}")
                }
            });
        }
        // The folder says so itself, where that can still be written.
        self.writer.end(wall_ms, &failure.message).ok();
        let kept = format!("{rows} rows are safe in {}", self.writer.dir().display());
        failure.hint(if error.is_full_disk() {
            format!("the disk is full; {kept}; to wait for room: --wait-for-room")
        } else {
            kept
        })
    }

    fn close(mut self, end: End) -> Result<Recorded, Failure> {
        self.look()?;
        self.progress.finish();
        if self.room.is_full() {
            let failure = Failure::new(
                CANNOT_WRITE,
                format!("the disk is still full: {}", self.room.words()),
            );
            let wall_ms = self.plan.clock.now().wall_ms;
            self.writer.end(wall_ms, &failure.message).ok();
            let rows = self.writer.summary().rows;
            let dir = self.writer.dir().display();
            return Err(failure.hint(format!("{rows} rows are safe in {dir}")));
        }
        let dir = self.writer.dir().to_owned();
        let reason = end.words();
        let now = self.plan.clock.now();
        let kept = format!("all rows are safe in {}", dir.display());
        let summary = self
            .writer
            .close(now.wall_ms, &reason)
            .map_err(|error| Failure::from_error(CANNOT_WRITE, &error).hint(kept))?;
        let lost = self.lost.into_iter().map(|(label, _)| label).collect();
        Ok(Recorded {
            dir,
            end,
            reason,
            summary,
            mute: self.mute.into_iter().collect(),
            lost,
            not_shown: self.not_shown,
        })
    }
}

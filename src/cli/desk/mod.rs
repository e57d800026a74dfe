//! Where what comes in is written, counted and shown while it is recorded.

mod broken;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use tokio::sync::mpsc;
use tokio::time::Instant;

use super::args::Show;
use super::board_clock::{self, BoardClocks};
use super::exit::{CANNOT_WRITE, Failure};
use super::forecast::{Answer, Answers, Lookout};
use super::output::{self, Printed};
use super::progress::Progress;
use super::recording::{self, End, Plan, Recorded};
use super::room::{Again, Room};
use super::wrong_speed::WrongSpeed;
use crate::analysis::flags::Flags;
use crate::instrument::mask;
use crate::plain::Shown as _;
use crate::reading::{Event, Rejected, Row, Stamp, Status, Texts, virtual_time_scale};
use crate::session::{SessionError, Writer, Written};

/// `--until-below` wants so many good readings in a row.
const BELOW_IN_A_ROW: u32 = 3;

/// Where rows are written, counted and shown.
pub(super) struct Desk {
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
    /// When the last row was, in wall milliseconds.
    last_ms: Option<i64>,
    speed: WrongSpeed,
    clocks: BoardClocks,
    stdout_open: bool,
    /// Why rows could not be shown, when that is a fault.
    not_shown: Option<String>,
    pub(super) end: Option<End>,
}

impl Desk {
    pub(super) fn new(
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
            last_ms: None,
            speed: WrongSpeed::default(),
            clocks: BoardClocks::default(),
            stdout_open: true,
            not_shown: None,
            end: None,
        };
        Ok((desk, answers))
    }

    pub(super) fn start(&mut self) {
        self.progress
            .say(&format!("recording to {}", self.writer.dir().shown()));
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

    pub(super) fn take(&mut self, event: Event) -> Result<(), Failure> {
        match event {
            Event::Rows(rows, texts) => self.rows(rows, &texts),
            Event::Rejected(rejected) => {
                if self.speed.is_doubtful(&rejected) {
                    self.progress.say(&format!(
                        "{} sends mostly bytes that are no text: is the speed right? set another with ,baud=N",
                        rejected.source
                    ));
                }
                self.reject(rejected)
            }
            Event::Identity { source, text } => {
                self.progress.say(&format!("{source} is {text}"));
                let written = self.writer.identify(&source, &text);
                if let Some(scale) = virtual_time_scale(&text)
                    && scale.to_bits() != self.plan.clock.scale().to_bits()
                    && !self.plan.is_replay
                {
                    self.end = Some(End::OtherTime(source, scale));
                }
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
            Event::BoardTimes { source, times } => {
                self.clocks.take(source, &times);
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

    fn rows(&mut self, mut rows: Vec<Row>, texts: &Texts) -> Result<(), Failure> {
        for (index, row) in rows.iter_mut().enumerate() {
            mask(&self.plan.masks, row);
            self.flags.judge(row);
            let text = texts.get(index);
            if row.status == Status::Suspect && !text.is_empty() {
                self.reject(Rejected {
                    stamp: row.stamp,
                    source: Arc::clone(&row.source),
                    why: "its row is kept as suspect",
                    bytes: text.to_vec(),
                })?;
            }
        }
        for row in &rows {
            self.judge(row);
            self.last_ms = Some(row.stamp.wall_ms);
        }
        self.look_after_bytes();
        if self.room.is_full() {
            self.try_again()?;
        }
        if self.room.is_full() {
            self.room.miss(&rows);
            return Ok(());
        }
        match self.writer.append(rows) {
            Ok(Written { lines, rows }) => {
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

    /// Keeps what was refused; while a full disk is waited out, until there is room.
    fn reject(&mut self, rejected: Rejected) -> Result<(), Failure> {
        let written = self.room.refuse(&mut self.writer, rejected);
        written.map_err(|error| self.broken(&error))
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
    pub(super) fn look(&mut self) -> Result<(), Failure> {
        let seen = self.writer.look();
        self.unless_full(seen)?;
        if self.room.is_full() {
            self.try_again()?;
        }
        let written = self.room.write_refused(&mut self.writer);
        written.map_err(|error| self.broken(&error))
    }

    /// A byte log that ended early is told; the recording goes on.
    fn look_after_bytes(&self) {
        for (label, log) in &self.plan.kept {
            if let Some(why) = log.trouble() {
                self.progress.say(&format!(
                    "the byte log of {label} ends here: {why}; the recording goes on"
                ));
            }
        }
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
    pub(super) fn waits_for_forecast(&self) -> bool {
        self.plan.is_replay && self.lookout.as_ref().is_some_and(Lookout::is_busy)
    }

    /// A forecast has come.
    pub(super) fn foretold(&mut self, answer: &Answer) {
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
            // One question of several may be answered.
            Status::Silent | Status::Refused | Status::Garbled if !row.readings.is_empty() => {
                if self.mute.remove(&row.source) {
                    let text = format!("{} gives a part of its values: {}", row.source, row.note);
                    self.progress.say(&text);
                }
                self.speed.is_read(&row.source);
            }
            Status::Silent | Status::Refused | Status::Garbled => {
                let what = if row.readings.is_empty() {
                    "nothing that can be read"
                } else {
                    "only a part of its readings"
                };
                if self.mute.contains(&row.source) && self.warned.insert(Arc::clone(&row.source)) {
                    let (source, note) = (&row.source, &row.note);
                    let words = format!("{source} gives {what} yet: {note}");
                    self.progress.say(&words);
                }
                if !row.readings.is_empty() {
                    self.mute.remove(&row.source);
                }
            }
            Status::Ok | Status::NoSignal | Status::Overload | Status::Stale | Status::Suspect => {
                self.mute.remove(&row.source);
                self.speed.is_read(&row.source);
            }
            Status::Gap | Status::ClockStep => {}
        }
        let Some(limit_v) = self.plan.until_below_v else {
            return;
        };
        // A coil that stopped, or a counter that fell silent, does not stop its battery from emptying; a doubted reading neither
        // counts nor begins anew.
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

    pub(super) fn gives_up_at(&self) -> Option<Instant> {
        let patience = self.plan.give_up_after?;
        self.lost.iter().map(|(_, since)| *since + patience).min()
    }

    pub(super) fn give_up(&mut self) {
        if let Some((label, _)) = self.lost.first() {
            self.end = Some(End::GivenUp(Arc::clone(label)));
        }
    }

    pub(super) fn mark(&mut self, stamp: Stamp, text: &str) -> Result<(), Failure> {
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

    pub(super) fn close(mut self, end: End) -> Result<Recorded, Failure> {
        for (_, log) in &self.plan.kept {
            log.finish();
        }
        self.look_after_bytes();
        self.look()?;
        for (source, rate) in self.clocks.rates() {
            let words = board_clock::words(rate);
            self.progress.say(&format!("{source}: {words}"));
            self.writer.keep_clock(source, rate);
        }
        if let Some(words) = self.room.refused_words() {
            self.progress
                .say(&format!("the disk is still full: {words}"));
        }
        self.progress.finish();
        if self.room.is_full() {
            let failure = Failure::new(
                CANNOT_WRITE,
                format!("the disk is still full: {}", self.room.words()),
            );
            let wall_ms = self.plan.clock.now().wall_ms;
            self.writer.end(wall_ms, &failure.message).ok();
            let rows = self.writer.summary().rows;
            let dir = self.writer.dir().shown();
            return Err(failure.hint(format!("{rows} rows are safe in {dir}")));
        }
        let dir = self.writer.dir().to_owned();
        let reason = end.words();
        let now_ms = self.plan.clock.now().wall_ms;
        let ended_ms = match self.last_ms {
            Some(last_ms) if self.plan.is_replay => last_ms,
            _ => now_ms,
        };
        let kept = format!("all rows are safe in {}", dir.shown());
        let on_ports = recording::on_ports(self.writer.meta());
        let summary = self
            .writer
            .close(ended_ms, &reason)
            .map_err(|error| Failure::from_error(CANNOT_WRITE, &error).hint(kept))?;
        let lost = self.lost.into_iter().map(|(label, _)| label).collect();
        Ok(Recorded {
            dir,
            end,
            reason,
            summary,
            mute: self.mute.into_iter().collect(),
            lost,
            on_ports,
            not_shown: self.not_shown,
        })
    }
}

//! Where the incoming data is judged, written and reported while it is recorded.

mod broken;
mod health;

use std::sync::Arc;

use tokio::sync::mpsc;
use tokio::time::Instant;

use super::begin::KeptLogs;
use super::board_clock::BoardClocks;
use super::end::{End, Recorded, on_ports};
use super::error::RecordingError;
use super::forecast::{Answer, Answers, Lookout};
use super::full_disk::{Again, FullDisk};
use super::news::{FromInstrument, Listener, News};
use super::plan::Plan;
use crate::analysis::flags::Flags;
use crate::instrument::mask;
use crate::reading::{Event, Rejected, Row, Stamp, Status, Texts, virtual_time_scale};
use crate::session::{SessionError, Writer, Written};
use health::Health;

/// The number of good readings in a row that `--until-below` takes.
const BELOW_IN_A_ROW: u32 = 3;

/// Where rows are judged, written and reported.
pub(super) struct Desk {
    writer: Writer,
    plan: Plan,
    /// Whether every instrument is a log: nothing is lost while a forecast is waited for.
    is_replay: bool,
    flags: Flags,
    health: Health,
    hear: Listener,
    lookout: Option<Lookout>,
    disk: FullDisk,
    /// The byte logs that are written beside it.
    kept: KeptLogs,
    lost: Vec<(Arc<str>, Instant)>,
    below: u32,
    /// When the last row was, in wall milliseconds.
    last_ms: Option<i64>,
    clocks: BoardClocks,
    pub(super) end: Option<End>,
}

impl Desk {
    pub(super) fn new(
        writer: Writer,
        mut plan: Plan,
        is_replay: bool,
        labels: Vec<Arc<str>>,
        flags: Flags,
        hear: Listener,
    ) -> Result<(Self, Answers), RecordingError> {
        let (lookout, answers) = match plan.forecast.take() {
            Some(forecast) => {
                let (lookout, answers) = Lookout::start(forecast, &writer)?;
                (Some(lookout), answers)
            }
            None => (None, mpsc::channel(1).1),
        };
        let desk = Self {
            writer,
            is_replay,
            flags,
            health: Health::new(labels),
            hear,
            lookout,
            disk: FullDisk::new(plan.wait_for_room),
            kept: KeptLogs::new(),
            plan,
            lost: Vec::new(),
            below: 0,
            last_ms: None,
            clocks: BoardClocks::default(),
            end: None,
        };
        Ok((desk, answers))
    }

    pub(super) fn start(&mut self, kept: KeptLogs) {
        self.kept = kept;
        self.tell(News::Begins(self.writer.dir().to_owned()));
        let cautions = self.lookout.iter().flat_map(Lookout::cautions);
        cautions.for_each(|caution| (self.hear)(caution));
        self.tell(News::Header(format!("{}\n", self.writer.header())));
    }

    fn tell(&mut self, news: News) {
        (self.hear)(news);
    }

    fn tell_of(&mut self, source: &Arc<str>, what: FromInstrument) {
        self.tell(News::Instrument(Arc::clone(source), what));
    }

    pub(super) fn take(&mut self, event: Event) -> Result<(), RecordingError> {
        match event {
            Event::Rows(rows, texts) => self.rows(rows, &texts)?,
            Event::Rejected(rejected) => {
                if let Some(news) = self.health.refused(&rejected) {
                    self.tell_of(&rejected.source, news);
                }
                self.reject(rejected)?;
            }
            Event::Identity { source, text } => self.identity(source, text)?,
            Event::Lost { source, reason } => {
                // One that was found to be another is lost once more when that is unplugged.
                if self.lost.iter().all(|(label, _)| *label != source) {
                    self.lost.push((Arc::clone(&source), Instant::now()));
                }
                self.tell_of(&source, FromInstrument::Lost(reason));
            }
            Event::Back { source } => {
                self.lost.retain(|(label, _)| *label != source);
                self.tell_of(&source, FromInstrument::Back);
            }
            Event::BoardTimes { source, times } => self.clocks.take(source, &times),
            Event::Told { source, text } => self.tell_of(&source, FromInstrument::Message(text)),
            Event::Ended { source, fault } => {
                if let Some(fault) = fault {
                    self.tell_of(&source, FromInstrument::Ended(fault));
                }
            }
        }
        Ok(())
    }

    fn identity(&mut self, source: Arc<str>, text: String) -> Result<(), RecordingError> {
        let written = self.writer.identify(&source, &text);
        let scale = virtual_time_scale(&text);
        self.tell_of(&source, FromInstrument::Identity(text));
        if let Some(scale) = scale
            && scale.to_bits() != self.plan.clock.scale().to_bits()
            && !self.is_replay
        {
            self.end = Some(End::OtherTime { source, scale });
        }
        self.unless_full(written)
    }

    fn rows(&mut self, mut rows: Vec<Row>, texts: &Texts) -> Result<(), RecordingError> {
        for (index, row) in rows.iter_mut().enumerate() {
            mask(&self.plan.masks, row);
            self.flags.judge(row);
            let text = texts.get(index);
            if row.status == Status::Suspect && !text.is_empty() {
                self.reject(Rejected {
                    stamp: row.stamp,
                    source: Arc::clone(&row.source),
                    why: "its row is kept as suspect".to_owned(),
                    bytes: text.to_vec(),
                })?;
            }
        }
        for row in &rows {
            self.judge(row);
            self.last_ms = Some(row.stamp.wall_ms);
        }
        self.look_after_bytes();
        if self.disk.is_full() {
            self.try_again()?;
        }
        if self.disk.is_full() {
            self.disk.miss(&rows);
            return Ok(());
        }
        match self.writer.append(rows) {
            Ok(Written { lines, rows }) => {
                if let Some(lookout) = &mut self.lookout {
                    lookout.push(&rows);
                }
                self.tell(News::Rows { lines, rows });
            }
            Err(error) if self.disk.waits_for(&error) => {
                self.tell(News::DiskFull);
                self.disk.miss(self.writer.missed());
            }
            Err(error) => return Err(self.broken(error)),
        }
        Ok(())
    }

    /// Keeps the refused text; while a full disk is waited out, until there is room.
    fn reject(&mut self, rejected: Rejected) -> Result<(), RecordingError> {
        let written = self.disk.refuse(&mut self.writer, rejected);
        written.map_err(|error| self.broken(error))
    }

    /// Anything but a row can be done without while a full disk is waited out.
    fn unless_full(&mut self, written: Result<(), SessionError>) -> Result<(), RecordingError> {
        match written {
            Err(error) if !self.disk.waits_for(&error) => Err(self.broken(error)),
            _ => Ok(()),
        }
    }

    /// Goes on writing if there is room again.
    fn try_again(&mut self) -> Result<(), RecordingError> {
        match self.disk.try_again(&mut self.writer) {
            Ok(Some(Again {
                rows,
                lines,
                missing,
            })) => {
                self.tell(News::Rows { lines, rows });
                self.tell(News::RoomAgain(missing));
                Ok(())
            }
            Ok(None) => Ok(()),
            Err(error) => Err(self.broken(error)),
        }
    }

    /// Looks after the folder and the disk.
    pub(super) fn look(&mut self) -> Result<(), RecordingError> {
        let seen = self.writer.look();
        self.unless_full(seen)?;
        if self.disk.is_full() {
            self.try_again()?;
        }
        let written = self.disk.write_refused(&mut self.writer);
        written.map_err(|error| self.broken(error))
    }

    /// A byte log that ended early is reported; the recording goes on.
    fn look_after_bytes(&mut self) {
        for (source, log) in &self.kept {
            if let Some(why) = log.trouble() {
                let what = FromInstrument::BytesEnd(why);
                (self.hear)(News::Instrument(Arc::clone(source), what));
            }
        }
    }

    /// Whether a forecast was asked for that the log can wait for.
    pub(super) fn waits_for_forecast(&self) -> bool {
        self.is_replay && self.lookout.as_ref().is_some_and(Lookout::is_busy)
    }

    /// A forecast has come.
    pub(super) fn foretold(&mut self, answer: &Answer) {
        let Some(lookout) = &mut self.lookout else {
            return;
        };
        let end = lookout.take(answer, &mut self.hear);
        self.end = self.end.take().or(end);
    }

    fn judge(&mut self, row: &Row) {
        if let Some(news) = self.health.judge(row) {
            self.tell_of(&row.source, news);
        }
        // A coil that stopped, or a counter that fell silent, does not stop its battery from emptying; a doubted reading neither
        // counts nor begins anew.
        if let (Some(limit_v), Some(battery_v)) = (self.plan.until_below_v, row.battery_v()) {
            self.below = if battery_v < limit_v {
                self.below + 1
            } else {
                0
            };
            if self.below >= BELOW_IN_A_ROW {
                self.end = Some(End::BatteryBelow { limit_v });
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

    pub(super) fn mark(&mut self, stamp: Stamp, text: String) -> Result<(), RecordingError> {
        match self.writer.mark(stamp, &text) {
            Ok(()) => {}
            Err(error) if self.disk.waits_for(&error) => {
                if !self.disk.is_full() {
                    self.tell(News::DiskFull);
                }
                self.disk.keep(stamp, &text);
            }
            Err(error) => return Err(self.broken(error)),
        }
        self.tell(News::Marked(text));
        Ok(())
    }

    pub(super) fn close(mut self, end: End) -> Result<Recorded, RecordingError> {
        for (_, log) in &self.kept {
            log.finish();
        }
        self.look_after_bytes();
        self.look()?;
        for (source, rate) in self.clocks.rates() {
            self.writer.keep_clock(source, rate);
            let what = FromInstrument::Clock(rate);
            (self.hear)(News::Instrument(Arc::clone(source), what));
        }
        if let Some(count) = self.disk.refused_missing() {
            self.tell(News::RefusedMissing(count));
        }
        let now_ms = self.plan.clock.now().wall_ms;
        let dir = self.writer.dir().to_owned();
        if self.disk.is_full() {
            let error = RecordingError::StillFull {
                missing: self.disk.missing(),
                rows: self.writer.summary().rows,
                dir,
            };
            self.writer.end(now_ms, &error.to_string()).ok();
            return Err(error);
        }
        let ended_ms = match self.last_ms {
            Some(last_ms) if self.is_replay => last_ms,
            _ => now_ms,
        };
        let on_ports = on_ports(self.writer.meta());
        let reason = (self.plan.end_words)(&end);
        match self.writer.close(ended_ms, &reason) {
            Ok(summary) => Ok(Recorded {
                dir,
                end,
                summary,
                mute: self.health.mute(),
                lost: self.lost.into_iter().map(|(label, _)| label).collect(),
                on_ports,
            }),
            Err(why) => Err(RecordingError::Unclosed { why, dir }),
        }
    }
}

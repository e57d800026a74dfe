//! An instrument that speaks by itself: each line is a row.

use std::sync::Arc;
use std::time::Duration;

use super::outlet::{Gone, Outlet, Stop, finish_in_time, stopped};
use super::source::Source;
use crate::frame::{Lines, Piece};
use crate::instrument::{Heard, Line as Said, LineReader, Notice, Reading};
use crate::reading::{BoardTime, Event, Row, Stamp, Status, Texts, VIRTUAL_IDENTITY};
use crate::transport::{LinkEvent, Request};

pub(super) struct Listener {
    source: Source,
    outlet: Outlet,
    reader: LineReader,
    /// The next line may be the end of one that began before the port was open.
    maybe_fragment: bool,
    /// Until this moment, in elapsed microseconds, a board may still be starting and its text is no fault.
    settled_at_us: i64,
    /// Lines that read well one after the other since the line was opened.
    good_lines: usize,
}

/// After this many good lines in a row a board has started, whatever its time to settle; chosen, since a banner may
/// hold one by chance.
const STARTED: usize = 2;

/// The outcome of one line.
enum Line {
    Row(Reading),
    /// Names of columns, or nothing of use.
    Passed,
    /// News of the board.
    Notice(Notice),
    Refused(&'static str),
    /// Refused, and a row says so.
    Garbled(Reading),
}

impl Listener {
    pub(super) fn new(source: Source, outlet: Outlet) -> Self {
        Self {
            reader: LineReader::new(&source.profile),
            source,
            outlet,
            maybe_fragment: true,
            settled_at_us: i64::MIN,
            good_lines: 0,
        }
    }

    pub(super) async fn run(mut self, mut stop: Stop) -> Result<(), Gone> {
        self.set_up();
        loop {
            tokio::select! {
                biased;
                () = stopped(&mut stop) => return self.finish().await,
                event = self.source.link.next() => match event {
                    Some(LinkEvent::Ended) | None => return self.outlet.ended(None).await,
                    Some(event) => self.take(event).await?,
                },
            }
        }
    }

    /// Ends the task; the values that have come so far are recorded too.
    async fn finish(mut self) -> Result<(), Gone> {
        let mut patience = finish_in_time(&self.source.link);
        loop {
            tokio::select! {
                biased;
                () = &mut patience => return Ok(()),
                event = self.source.link.next() => match event {
                    Some(LinkEvent::Ended) | None => return Ok(()),
                    Some(event) => self.take(event).await?,
                },
            }
        }
    }

    fn set_up(&self) {
        for text in &self.source.profile.start {
            self.source
                .link
                .send(Request::Tell(self.source.profile.to_bytes(text)));
        }
        let timing = self.source.profile.timing;
        self.source.link.send(Request::Watch {
            settle: timing.settle,
            silence: timing.silence,
        });
    }

    /// A board may restart when its line is opened.
    fn opened(&mut self, stamp: Stamp) {
        let settle_s = self.source.profile.timing.settle.as_secs_f64() * self.source.clock.scale();
        let settle_us = Duration::from_secs_f64(settle_s).as_micros();
        let settle_us = i64::try_from(settle_us).unwrap_or(i64::MAX);
        self.settled_at_us = stamp.elapsed_us.saturating_add(settle_us);
        self.good_lines = 0;
    }

    async fn take(&mut self, event: LinkEvent) -> Result<(), Gone> {
        match event {
            LinkEvent::Lines(stamp, lines) => self.take_lines(stamp, &lines).await,
            LinkEvent::Stray(stamp, bytes) | LinkEvent::Begun(stamp, bytes) => {
                self.outlet
                    .reject(stamp, "it was not asked for", bytes)
                    .await
            }
            LinkEvent::Overrun(stamp, waited) => {
                let note = format!(
                    "lines may be missing: the recording was {:.1} s behind",
                    waited.as_secs_f64()
                );
                self.outlet.status_row(stamp, Status::Gap, &note).await
            }
            LinkEvent::Lost(stamp, reason) => self.outlet.lost(stamp, reason).await,
            LinkEvent::Open(stamp) => {
                self.opened(stamp);
                Ok(())
            }
            LinkEvent::Silent(stamp) => {
                let silence = self.source.profile.timing.silence.as_secs_f64();
                let note = format!("no line for {silence} s");
                self.outlet.status_row(stamp, Status::Silent, &note).await
            }
            LinkEvent::Back(stamp) => {
                self.maybe_fragment = true;
                self.opened(stamp);
                self.set_up();
                self.outlet
                    .send(Event::Back {
                        source: Arc::clone(&self.source.label),
                    })
                    .await
            }
            LinkEvent::Told(text) => self.outlet.told(text).await,
            LinkEvent::Answers(_) | LinkEvent::Ended => Ok(()),
        }
    }

    async fn take_lines(&mut self, stamp: Stamp, lines: &Lines) -> Result<(), Gone> {
        // By the stamp, so that a replay judges alike.
        let is_early = stamp.elapsed_us < self.settled_at_us;
        let mut batch = Batch::new(stamp, lines.len());
        for piece in lines.iter() {
            if let Piece::Line(bytes) = piece
                && bytes.starts_with(VIRTUAL_IDENTITY.as_bytes())
            {
                self.introduced(bytes).await?;
                continue;
            }
            let (line, bytes) = match piece {
                Piece::Line(bytes) => (self.read(bytes, &mut batch), bytes),
                Piece::Overlong(head) => {
                    // Its end has been seen by the time of the next line, which is whole.
                    self.maybe_fragment = false;
                    let reading = Reading::failed(Status::Garbled, "a line beyond the limit");
                    (Line::Garbled(reading), head)
                }
            };
            let stamp = batch.stamp();
            match line {
                Line::Row(reading) => {
                    self.good_lines += 1;
                    batch.push(self.outlet.row(stamp, reading), bytes);
                }
                Line::Passed => {}
                Line::Notice(notice) => self.notice(notice, &mut batch).await?,
                Line::Refused(why) => self.outlet.reject(stamp, why, bytes.to_vec()).await?,
                Line::Garbled(_) if is_early && self.good_lines < STARTED => {
                    self.good_lines = 0;
                    self.outlet
                        .reject(stamp, "the board was starting", bytes.to_vec())
                        .await?;
                }
                Line::Garbled(reading) => {
                    self.outlet
                        .reject(stamp, "it could not be read", bytes.to_vec())
                        .await?;
                    batch.push(self.outlet.row(stamp, reading), bytes);
                }
            }
        }
        let source = Arc::clone(&self.source.label);
        if !batch.times.is_empty() {
            let times = batch.times;
            self.outlet
                .send(Event::BoardTimes { source, times })
                .await?;
        }
        if batch.rows.is_empty() {
            Ok(())
        } else {
            self.outlet.send(Event::Rows(batch.rows, batch.texts)).await
        }
    }

    /// Handles a board's word about itself: its name, a new start, or something else.
    async fn notice(&mut self, notice: Notice, batch: &mut Batch) -> Result<(), Gone> {
        if let Some(why) = notice.restart {
            self.gap(&why, batch);
        }
        if let Some(text) = notice.identity {
            let source = Arc::clone(&self.source.label);
            self.outlet.send(Event::Identity { source, text }).await?;
        }
        match notice.other {
            Some(text) => self.outlet.told(format!("it says {text}")).await,
            None => Ok(()),
        }
    }

    /// Adds a row for the data missing before the next row.
    fn gap(&self, why: &str, batch: &mut Batch) {
        let reading = Reading::failed(Status::Gap, why);
        batch.push(self.outlet.row(batch.stamp(), reading), &[]);
    }

    /// A board of the virtual bench says who it is when its line is opened, so that nothing of it passes for measured.
    async fn introduced(&mut self, bytes: &[u8]) -> Result<(), Gone> {
        // A line that began before the port was open has ended here.
        self.maybe_fragment = false;
        let source = Arc::clone(&self.source.label);
        let text = String::from_utf8_lossy(bytes).trim().to_owned();
        self.outlet.send(Event::Identity { source, text }).await
    }

    fn read(&mut self, bytes: &[u8], batch: &mut Batch) -> Line {
        let profile = &self.source.profile;
        let is_first = std::mem::take(&mut self.maybe_fragment);
        if is_first && !LineReader::is_whole(profile, bytes) {
            return Line::Refused("the first line after opening may be a fragment");
        }
        let elapsed_s = batch.stamp.elapsed_s();
        let Heard {
            line,
            missing,
            board,
        } = self.reader.hear(profile, bytes, elapsed_s);
        if let Some(why) = missing {
            self.gap(&why, batch);
        }
        batch.times.extend(board.map(|moment| BoardTime {
            elapsed_s,
            board_s: moment.board_s,
            is_first: moment.is_first,
        }));
        match line {
            Said::Row(reading) if reading.status == Status::Garbled => Line::Garbled(reading),
            Said::Row(reading) => Line::Row(reading),
            Said::Names => Line::Passed,
            Said::Notice(notice) => Line::Notice(notice),
            Said::NotOurs => Line::Refused("it does not begin as the profile says"),
        }
    }
}

/// The outcome of the lines of one read.
struct Batch {
    stamp: Stamp,
    rows: Vec<Row>,
    texts: Texts,
    times: Vec<BoardTime>,
}

impl Batch {
    fn new(stamp: Stamp, lines: usize) -> Self {
        Self {
            stamp,
            rows: Vec::with_capacity(lines),
            texts: Texts::default(),
            times: Vec::new(),
        }
    }

    /// Returns the moment of the next row: rows of one read came together; they stay apart by a microsecond each.
    fn stamp(&self) -> Stamp {
        let step = i64::try_from(self.rows.len()).unwrap_or(i64::MAX);
        Stamp {
            elapsed_us: self.stamp.elapsed_us + step,
            ..self.stamp
        }
    }

    fn push(&mut self, row: Row, text: &[u8]) {
        self.rows.push(row);
        self.texts.push(text);
    }
}

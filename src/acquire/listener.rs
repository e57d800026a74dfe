//! An instrument that speaks by itself: each line is a row.

use std::sync::Arc;

use tokio::time::{Instant, sleep_until};

use super::{Gone, Outlet, Source, Stop, stopped};
use crate::frame::Frame;
use crate::instrument::{ColumnMap, Form, Profile, Reading, columns, fields, is_checked_line};
use crate::reading::{Event, Row, Stamp, Status};
use crate::transport::{LinkEvent, Request};

pub(super) struct Listener {
    source: Source,
    outlet: Outlet,
    /// Where the columns are; `None` until it is known.
    map: Option<ColumnMap>,
    /// The next line may be the end of one that began before the port was open.
    maybe_fragment: bool,
    /// Until then a board may still be starting, and what it prints is no fault.
    settled_at: Instant,
    /// When something was last heard.
    heard_at: Instant,
    lost: bool,
}

/// What one line came to.
enum Line {
    Row(Reading),
    /// Names of columns, or nothing of use.
    Passed,
    Refused(&'static str),
    /// Refused, and a row says so.
    Garbled(Reading),
}

impl Listener {
    pub(super) fn new(source: Source, outlet: Outlet) -> Self {
        let map =
            ColumnMap::by_position(&source.profile.values).filter(|_| !has_header(&source.profile));
        let now = Instant::now();
        let settled_at = now + source.profile.timing.settle;
        Self {
            source,
            outlet,
            map,
            maybe_fragment: true,
            settled_at,
            heard_at: now,
            lost: false,
        }
    }

    pub(super) async fn run(mut self, mut stop: Stop) -> Result<(), Gone> {
        self.set_up();
        loop {
            let silent_at = self.heard_at.max(self.settled_at) + self.source.profile.timing.silence;
            tokio::select! {
                biased;
                () = stopped(&mut stop) => return Ok(()),
                event = self.source.link.next() => match event {
                    Some(LinkEvent::Ended) | None => return self.outlet.ended(None).await,
                    Some(event) => self.take(event).await?,
                },
                () = sleep_until(silent_at), if !self.lost && !self.source.link.is_replay => {
                    self.heard_at = silent_at;
                    let silence = self.source.profile.timing.silence.as_secs_f64();
                    let stamp = self.source.clock.now();
                    self.outlet.status_row(stamp, Status::Silent, &format!("no line for {silence} s")).await?;
                }
            }
        }
    }

    fn set_up(&self) {
        for text in &self.source.profile.start {
            self.source
                .link
                .send(Request::Tell(self.source.profile.to_bytes(text)));
        }
    }

    async fn take(&mut self, event: LinkEvent) -> Result<(), Gone> {
        match event {
            LinkEvent::Lines(stamp, frames) => self.take_lines(stamp, frames).await,
            LinkEvent::Stray(stamp, bytes) => {
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
            LinkEvent::Lost(stamp, reason) => {
                self.lost = true;
                self.outlet.lost(stamp, reason).await
            }
            LinkEvent::Back(_) => {
                self.lost = false;
                self.maybe_fragment = true;
                self.heard_at = Instant::now();
                self.settled_at = self.heard_at + self.source.profile.timing.settle;
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

    async fn take_lines(&mut self, stamp: Stamp, frames: Vec<Frame>) -> Result<(), Gone> {
        self.heard_at = Instant::now();
        let settling = !self.source.link.is_replay && self.heard_at < self.settled_at;
        let mut rows: Vec<Row> = Vec::with_capacity(frames.len());
        for frame in frames {
            // Rows of one read came together; they stay apart by a microsecond each.
            let step = i64::try_from(rows.len()).unwrap_or(i64::MAX);
            let stamp = Stamp {
                elapsed_us: stamp.elapsed_us + step,
                ..stamp
            };
            let (line, bytes) = match frame {
                Frame::Line(bytes) => (self.read(&bytes), bytes),
                Frame::Overlong(head) => (
                    Line::Garbled(Reading::failed(Status::Garbled, "a line beyond the limit")),
                    head,
                ),
            };
            match line {
                Line::Row(reading) => rows.push(self.outlet.row(stamp, reading)),
                Line::Passed => {}
                Line::Refused(why) => self.outlet.reject(stamp, why, bytes).await?,
                Line::Garbled(_) if settling => {
                    self.outlet
                        .reject(stamp, "the board was starting", bytes)
                        .await?;
                }
                Line::Garbled(reading) => {
                    self.outlet
                        .reject(stamp, "it could not be read", bytes)
                        .await?;
                    rows.push(self.outlet.row(stamp, reading));
                }
            }
        }
        if rows.is_empty() {
            Ok(())
        } else {
            self.outlet.send(Event::Rows(rows)).await
        }
    }

    fn read(&mut self, bytes: &[u8]) -> Line {
        let Ok(text) = std::str::from_utf8(bytes) else {
            return if std::mem::take(&mut self.maybe_fragment) {
                Line::Refused("the first line after opening may be a fragment")
            } else {
                Line::Garbled(Reading::failed(Status::Garbled, "bytes that are no text"))
            };
        };
        let rules = &self.source.profile.values;
        let header = match self.source.profile.form {
            Form::Columns {
                delimiter,
                header: true,
            } => ColumnMap::by_header(text, rules, delimiter),
            _ => None,
        };
        let is_first = std::mem::take(&mut self.maybe_fragment);
        if is_first && header.is_none() && !is_checked_line(text) {
            return Line::Refused("the first line after opening may be a fragment");
        }
        let reading = match (self.source.profile.form.clone(), &self.map) {
            (Form::Fields(checksum), _) => fields(text, rules, checksum),
            (Form::Columns { delimiter, .. }, Some(map)) => columns(text, rules, delimiter, map),
            (Form::Columns { .. }, None) => {
                Reading::failed(Status::Garbled, "no line of names has come yet")
            }
            (Form::Answers, _) => {
                Reading::failed(Status::Garbled, "an answer that nobody asked for")
            }
        };
        match (reading.status, header) {
            // A line of names can come again when the board restarts.
            (Status::Garbled, Some(map)) => {
                self.map = Some(map);
                Line::Passed
            }
            (Status::Garbled, None) => Line::Garbled(reading),
            _ => Line::Row(reading),
        }
    }
}

const fn has_header(profile: &Profile) -> bool {
    matches!(profile.form, Form::Columns { header: true, .. })
}

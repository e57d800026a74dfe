//! An instrument that is asked: a row every so often, questions and answers kept in step.

mod answers;
mod in_step;
mod name;

use std::sync::Arc;

use tokio::time::{Instant, MissedTickBehavior, interval, sleep};

use super::outlet::{Gone, Outlet, Stop, finish_in_time, stopped};
use super::source::{Source, passing};
use super::step::{Line, Step};
use crate::instrument::{Profile, Reading};
use crate::reading::{Event, Failed, Row, Stamp, Status, Texts};
use crate::transport::{Answer, LinkEvent, Request};

pub(super) struct Poller {
    pub(super) source: Source,
    pub(super) outlet: Outlet,
    pub(super) stop: Stop,
    pub(super) step: Step,
    /// The number of synchronising questions without an answer; each answer may still come, at any time.
    pub(super) owed_syncs: usize,
    /// The rest of a block may still come, whose bytes could pass for any answer.
    pub(super) owes_quiet: bool,
    /// Lines that ended after the last question and began before it.
    pub(super) begun_before: usize,
    /// When the row's first question was asked.
    asked: Option<Instant>,
    at_end: AtEnd,
    /// Who was there first: nobody else's readings are taken for its.
    identity: Option<String>,
    /// It was asked who it is since the line was opened.
    is_met: bool,
    pub(super) line: Line,
    /// When the link last answered: a row that has no answer of its own is of that moment, in a replay too.
    pub(super) last: Stamp,
    /// The lines of the answers in the row so far, one after the other.
    pub(super) heard: Vec<u8>,
    /// Where the row first went wrong.
    failed: Option<Failed>,
    /// Coming into step was not tried, because the recording or the log is at its end.
    pub(super) is_untried: bool,
}

/// The action of a poller that is stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum AtEnd {
    /// Nothing more is asked.
    Leave,
    /// The instrument is asked for its complaints.
    HearComplaints,
}

impl Poller {
    pub(super) fn new(source: Source, outlet: Outlet, stop: Stop) -> Self {
        Self {
            last: source.clock.now(),
            heard: Vec::new(),
            failed: None,
            is_untried: false,
            source,
            outlet,
            stop,
            step: Step::In,
            owed_syncs: 0,
            owes_quiet: false,
            begun_before: 0,
            asked: None,
            at_end: AtEnd::Leave,
            identity: None,
            is_met: false,
            line: Line::Fresh,
        }
    }

    /// Returns the same poller, which asks for complaints at its end.
    pub(super) const fn telling_complaints(mut self) -> Self {
        self.at_end = AtEnd::HearComplaints;
        self
    }

    pub(super) async fn run(mut self) -> Result<(), Gone> {
        let every = self.source.clock.real_duration(self.source.every);
        let mut ticks = interval(every);
        ticks.set_missed_tick_behavior(MissedTickBehavior::Skip);
        while self.line != Line::Ended {
            tokio::select! {
                biased;
                () = stopped(&mut self.stop) => return self.finish().await,
                event = self.source.link.next() => self.aside(event).await?,
                _ = ticks.tick(), if self.line != Line::Lost && !self.source.link.is_replay => {
                    let is_first = self.line == Line::Fresh;
                    self.turn().await?;
                    if let Some(asked) = self.asked.filter(|_| is_first) {
                        // Anything before the first question was no part of the rhythm.
                        ticks.reset_at(asked + every);
                    }
                }
                () = std::future::ready(()), if self.source.link.is_replay && self.line != Line::Lost => self.turn().await?,
            }
        }
        Ok(())
    }

    /// Ends the task; the values that have come so far are recorded too.
    async fn finish(mut self) -> Result<(), Gone> {
        if self.at_end == AtEnd::HearComplaints && (self.line, self.step) == (Line::Up, Step::In) {
            self.complaint().await?;
        }
        let mut patience = finish_in_time(&self.source.link);
        loop {
            tokio::select! {
                biased;
                () = &mut patience => return Ok(()),
                event = self.source.link.next() => match event {
                    Some(LinkEvent::Ended) | None => return Ok(()),
                    event => self.aside(event).await?,
                },
            }
        }
    }

    /// Takes one turn: sets the instrument up if need be, then asks for a row.
    async fn turn(&mut self) -> Result<(), Gone> {
        if self.line == Line::Fresh {
            if !self.source.link.is_replay {
                tokio::select! {
                    biased;
                    () = stopped(&mut self.stop) => return Ok(()),
                    () = sleep(self.source.profile.timing.settle) => {}
                }
            }
            self.line = Line::Up;
            self.set_up().await?;
        }
        if self.line == Line::Up
            && let Some(row) = self.row().await?
        {
            self.tell(row).await?;
        }
        Ok(())
    }

    /// Handles the link's reports beside answers.
    async fn aside(&mut self, event: Option<LinkEvent>) -> Result<(), Gone> {
        match event {
            Some(LinkEvent::Begun(stamp, bytes)) => {
                self.begun_before += 1;
                let why = "it began before the question: a copy, or a prompt before an answer";
                self.outlet.reject(stamp, why, bytes).await
            }
            Some(LinkEvent::Stray(stamp, bytes)) => {
                if self.step == Step::Missed && std::str::from_utf8(&bytes).is_err() {
                    // It is not silent after all: a wrong speed, say.
                    self.step = Step::Garbled;
                }
                self.beside(stamp, bytes).await
            }
            Some(LinkEvent::Lost(stamp, reason)) => {
                self.line = Line::Lost;
                self.outlet.lost(stamp, reason).await
            }
            Some(LinkEvent::Back(_)) => {
                self.line = Line::Fresh;
                self.step = Step::In;
                self.owed_syncs = 0;
                self.owes_quiet = false;
                self.outlet
                    .send(Event::Back {
                        source: Arc::clone(&self.source.label),
                    })
                    .await
            }
            Some(LinkEvent::Told(text)) => self.outlet.told(text).await,
            Some(LinkEvent::Ended) | None => {
                self.line = Line::Ended;
                self.outlet.ended(None).await
            }
            // An asked link reports answers to requests alone, and those are awaited in `request`.
            Some(
                LinkEvent::Answers(_)
                | LinkEvent::Lines(..)
                | LinkEvent::Overrun(..)
                | LinkEvent::Open(_)
                | LinkEvent::Silent(_),
            ) => Ok(()),
        }
    }

    /// Keeps the bytes that came beside all answers.
    async fn beside(&self, stamp: Stamp, bytes: Vec<u8>) -> Result<(), Gone> {
        self.outlet
            .reject(stamp, "it belongs to no question: late, or a banner", bytes)
            .await
    }

    /// Hands the link a request and waits for its outcome.
    pub(super) async fn request(&mut self, request: Request) -> Result<Vec<(Stamp, Answer)>, Gone> {
        self.source.link.send(request);
        loop {
            match self.source.link.next().await {
                Some(LinkEvent::Answers(answers)) => {
                    if let Some((stamp, answer)) = answers.last() {
                        self.last = *stamp;
                        if *answer == Answer::NoLine {
                            // The news of it is on its way; until the line is back nothing is asked.
                            self.line = Line::Lost;
                        }
                    }
                    return Ok(answers);
                }
                event => self.aside(event).await?,
            }
            if self.line == Line::Ended {
                return Ok(vec![(self.source.clock.now(), Answer::NoLine)]);
            }
        }
    }

    /// Asks questions one after the other, up to the first that gets no line.
    async fn ask_all(&mut self, questions: &[String]) -> Result<Vec<(Stamp, Answer)>, Gone> {
        self.begun_before = 0;
        let Profile { timing, .. } = &self.source.profile;
        let questions = questions
            .iter()
            .map(|question| self.source.profile.to_bytes(question))
            .collect();
        self.request(Request::Ask {
            questions,
            pause: timing.pause,
            timeout: timing.timeout,
        })
        .await
    }

    pub(super) async fn ask(&mut self, question: &str) -> Result<(Stamp, Answer), Gone> {
        let answers = self.ask_all(&[question.to_owned()]).await?;
        Ok(answers
            .into_iter()
            .next()
            .unwrap_or_else(|| (self.source.clock.now(), Answer::NoLine)))
    }

    async fn set_up(&mut self) -> Result<(), Gone> {
        let passing = passing(&self.source.profile.port);
        self.source.link.send(Request::Pass(passing));
        for text in self.source.profile.start.clone() {
            let bytes = self.source.profile.to_bytes(&text);
            self.request(Request::Tell(bytes)).await?;
            if self.line != Line::Up {
                // Once it is back all is sent again, from the first on: the rest alone would set half of it up.
                return Ok(());
            }
        }
        self.is_met = false;
        // A banner, or the echo of the question, may be on its way.
        self.step = Step::Missed;
        Ok(())
    }

    /// Whether a question can be asked: in step, and the instrument is who it should be.
    pub(super) async fn is_ready(&mut self) -> Result<bool, Gone> {
        let mut is_ready = self.is_in_step().await?;
        while is_ready && !self.is_met {
            self.is_met = true;
            let is_told = self.introduce().await?;
            self.is_untried = self.line == Line::Ended;
            is_ready = is_told && self.line == Line::Up && self.is_in_step().await?;
        }
        // Coming into step may have met a loss, and the return behind it.
        Ok(is_ready && self.line == Line::Up)
    }

    /// Asks every question of the profile once; `None` when the line was lost meanwhile.
    async fn row(&mut self) -> Result<Option<Row>, Gone> {
        let questions: Vec<String> = self
            .source
            .profile
            .questions()
            .into_iter()
            .map(str::to_owned)
            .collect();
        let mut left = questions.as_slice();
        self.heard.clear();
        self.failed = None;
        self.asked = None;
        let mut reading = Reading::default();
        let mut stamp = self.last;
        let (mut has_begun, mut is_told) = (false, false);
        self.is_untried = false;
        while !left.is_empty() {
            if !self.is_ready().await? {
                let is_over = self.is_untried && !has_begun;
                if is_over || matches!(self.line, Line::Lost | Line::Fresh) {
                    return Ok(self.cut_short(stamp, reading));
                }
                self.note_not_ready(&mut reading);
                stamp = self.last;
                break;
            }
            self.asked.get_or_insert_with(Instant::now);
            let answers = self.ask_all(left).await?;
            has_begun = true;
            for (came, answer) in answers {
                if answer == Answer::NoLine {
                    return Ok(self.cut_short(came, reading));
                }
                let is_early = matches!(&answer, Answer::Line(line) if self.is_owed_sync(line));
                if self.step == Step::Garbled || is_early {
                    // It was asked for before it showed that answers are out of step: its question is asked again.
                    self.put_aside(came, answer).await?;
                    continue;
                }
                let Some((question, rest)) = left.split_first() else {
                    break;
                };
                (left, stamp) = (rest, came);
                match answer {
                    // A round of questions is for lines.
                    Answer::NoLine | Answer::Done | Answer::Block(_) | Answer::Broken(..) => {}
                    Answer::Line(line) => self.take(question, came, line, &mut reading).await?,
                    Answer::Overlong(head) => {
                        self.step = Step::Garbled;
                        self.failed_at(question);
                        reading.note(Status::Garbled, "a line beyond the limit");
                        self.outlet
                            .reject(came, "a line beyond the limit", head)
                            .await?;
                    }
                    Answer::Silence(partial) => {
                        self.missed(question, came, partial, &mut reading).await?;
                        if self.step == Step::Missed && self.line == Line::Up {
                            // Coming into step may take long, and the silence is of now. The rest is a row of its own.
                            let silence = self.outlet.row(stamp, std::mem::take(&mut reading));
                            self.tell(silence).await?;
                            (has_begun, is_told) = (false, true);
                        }
                    }
                }
            }
        }
        if left.is_empty() && !self.waveform(has_begun, &mut stamp, &mut reading).await? {
            return Ok(self.cut_short(stamp, reading));
        }
        let is_all_told = is_told && reading == Reading::default();
        Ok((!is_all_told).then(|| self.outlet.row(stamp, reading)))
    }

    /// Sends a row with the answers that it is read from.
    async fn tell(&mut self, row: Row) -> Result<(), Gone> {
        let mut texts = Texts::default();
        texts.push(&std::mem::take(&mut self.heard));
        if let Some(failed) = self.failed.take() {
            texts.fail(failed);
        }
        self.outlet.send(Event::Rows(vec![row], texts)).await
    }

    /// Returns the row of a round that the loss of the line ended: the answers before it are not lost with it.
    fn cut_short(&self, stamp: Stamp, mut reading: Reading) -> Option<Row> {
        // A log that ends in a round lost no line, and its own recording has the row whole.
        if reading.readings.is_empty() || self.line == Line::Ended {
            return None;
        }
        reading.note(Status::Silent, "the line was lost before the next answer");
        Some(self.outlet.row(stamp, reading))
    }
}

//! Plays a byte log to those who ask or listen.

use super::entries::Entries;
use crate::frame::Splitter;
use crate::reading::Stamp;
use crate::transport::block::BlockEar;
use crate::transport::byte_log::Entry;
use crate::transport::ear::{Ear, Wanted};
use crate::transport::link::{Closed, FarEnd};
use crate::transport::request::{Answer, BlockAsk, Cut, LinkEvent, Request};
use crate::transport::unasked::cut_lines;

/// The answers to the questions of one request.
type Answers = Vec<(Stamp, Answer)>;

/// How a request ended.
#[derive(Debug, PartialEq, Eq)]
enum Played {
    /// It has its answers.
    Whole,
    /// The line was lost meanwhile.
    Loss(Stamp, String),
    /// The log ended before it did.
    End,
}

pub(super) struct Player {
    entries: Entries,
    cut: Cut,
    ear: Ear,
    /// When the last entry happened.
    last: Option<Stamp>,
    /// The last question was not in the log where it was asked.
    is_unknown: bool,
}

impl Player {
    pub(super) fn new(entries: Entries, cut: Cut) -> Self {
        Self {
            entries,
            cut,
            ear: Ear::new(cut),
            last: None,
            is_unknown: false,
        }
    }

    fn next(&mut self) -> Option<(Stamp, Entry)> {
        let entry = self.entries.next()?;
        self.last = Some(entry.0);
        Some(entry)
    }

    /// Plays the whole log of an instrument that spoke by itself.
    pub(super) fn speak(mut self, far: &FarEnd) -> Result<(), Closed> {
        let mut splitter = Splitter::new(self.cut.end, self.cut.limit);
        let mut is_first = true;
        while let Some((stamp, entry)) = self.next() {
            let was_first = std::mem::take(&mut is_first);
            match entry {
                Entry::Received(bytes) => {
                    let lines = cut_lines(&mut splitter, &bytes);
                    if !lines.is_empty() {
                        far.report(LinkEvent::Lines(stamp, lines))?;
                    }
                }
                Entry::Lost(reason) => {
                    splitter.take_rest();
                    far.report(LinkEvent::Lost(stamp, reason))?;
                }
                Entry::Open if was_first => far.report(LinkEvent::Open(stamp))?,
                Entry::Open => far.report(LinkEvent::Back(stamp))?,
                Entry::Unanswered => far.report(LinkEvent::Silent(stamp))?,
                Entry::Behind(waited) => far.report(LinkEvent::Overrun(stamp, waited))?,
                Entry::Sent(_) | Entry::Quiet => {}
            }
        }
        far.report(LinkEvent::Ended)
    }

    /// Answers each question as it was answered when the log was made.
    pub(super) fn answer(mut self, far: &FarEnd) -> Result<(), Closed> {
        if self.entries.find_ahead(|entry| Some(*entry == Entry::Open)) == Some(true) {
            self.next();
        }
        while let Ok(request) = far.requests.recv() {
            if let Request::Pass(passing) = request {
                self.ear.pass(passing);
                continue;
            }
            let mut answers = Vec::new();
            let played = self.exchange(&request, &mut answers, far)?;
            if let Played::Loss(stamp, _) = &played {
                answers.push((*stamp, Answer::NoLine));
            }
            if !answers.is_empty() {
                far.report(LinkEvent::Answers(answers))?;
            }
            match played {
                Played::Whole => {}
                Played::End => return far.report(LinkEvent::Ended),
                Played::Loss(stamp, reason) => {
                    self.ear.forget();
                    far.report(LinkEvent::Lost(stamp, reason))?;
                    if !self.come_back(far)? {
                        return far.report(LinkEvent::Ended);
                    }
                }
            }
        }
        Err(Closed)
    }

    /// Goes on to where the line is open again, and returns whether it ever was.
    fn come_back(&mut self, far: &FarEnd) -> Result<bool, Closed> {
        while let Some((stamp, entry)) = self.next() {
            if entry == Entry::Open {
                far.report(LinkEvent::Back(stamp))?;
                return Ok(true);
            }
        }
        Ok(false)
    }

    fn exchange(
        &mut self,
        request: &Request,
        answers: &mut Answers,
        far: &FarEnd,
    ) -> Result<Played, Closed> {
        match request {
            // Text that the log does not send is not looked for: that would skip the text that it does send.
            Request::Tell(bytes) if self.sends_other(bytes) => {
                answers.push((self.moment(), Answer::Done));
                Ok(Played::Whole)
            }
            Request::Tell(bytes) => {
                let found = self.find(bytes, far)?;
                if found == Played::Whole {
                    answers.push((self.moment(), Answer::Done));
                }
                Ok(found)
            }
            Request::Ask { questions, .. } => self.ask_round(questions, answers, far),
            Request::AskBlock(ask) => self.ask_block(ask, answers, far),
            // A log that was written by hand is in step by its nature.
            Request::Resync { bytes, answer, .. } if self.sends_other(bytes) => {
                answers.push((self.moment(), Answer::Line(answer.clone())));
                Ok(Played::Whole)
            }
            Request::Resync { bytes, answer, .. } => {
                let found = self.find(bytes, far)?;
                if found != Played::Whole {
                    return Ok(found);
                }
                self.hear_out(Wanted::Exactly(answer), answers, far)
            }
            Request::Quiet { .. } => self.quiet(answers, far),
            // Nothing is asked before the line is lost: another instrument is on it.
            Request::Watch { .. } => self.skip_to_loss(far),
            Request::Pass(_) => Ok(Played::Whole),
            Request::Finish => Ok(Played::End),
        }
    }

    fn ask_round(
        &mut self,
        questions: &[Vec<u8>],
        answers: &mut Answers,
        far: &FarEnd,
    ) -> Result<Played, Closed> {
        for bytes in questions {
            // One question may be unknown to the log; after two, it is looked for.
            if self.sends_other(bytes) && !std::mem::replace(&mut self.is_unknown, true) {
                answers.push((self.moment(), Answer::Silence(Vec::new())));
                break;
            }
            let found = self.find_question(bytes, far)?;
            if found != Played::Whole {
                return Ok(found);
            }
            let echo = bytes.trim_ascii_end();
            let played = self.hear_out(Wanted::AllBut(echo), answers, far)?;
            if played != Played::Whole {
                return Ok(played);
            }
            if !matches!(answers.last(), Some((_, Answer::Line(_)))) {
                break;
            }
        }
        Ok(Played::Whole)
    }

    fn ask_block(
        &mut self,
        ask: &BlockAsk,
        answers: &mut Answers,
        far: &FarEnd,
    ) -> Result<Played, Closed> {
        // As with any other question, see `ask_round`.
        if self.sends_other(&ask.bytes) && !std::mem::replace(&mut self.is_unknown, true) {
            answers.push((self.moment(), Answer::Silence(Vec::new())));
            return Ok(Played::Whole);
        }
        let found = self.find_question(&ask.bytes, far)?;
        if found != Played::Whole {
            return Ok(found);
        }
        self.is_unknown = false;
        let mut ear = BlockEar::new(ask, &mut self.ear);
        let received = loop {
            let goes_on = self.entries.find_ahead(|entry| match entry {
                Entry::Received(_) | Entry::Unanswered | Entry::Quiet | Entry::Lost(_) => {
                    Some(true)
                }
                Entry::Sent(_) | Entry::Open | Entry::Behind(_) => Some(false),
            });
            // In a log that was written by hand the line was quiet before anything but an answer.
            if goes_on != Some(true)
                && let Some(received) = ear.quiet(self.moment())
            {
                break received;
            }
            let Some((stamp, entry)) = self.next() else {
                return Ok(Played::End);
            };
            let received = match entry {
                Entry::Received(bytes) => ear.hear(stamp, &bytes),
                Entry::Quiet => ear.quiet(stamp),
                Entry::Unanswered => Some(ear.give_up(stamp)),
                Entry::Lost(reason) => return Ok(Played::Loss(stamp, reason)),
                Entry::Open => {
                    far.report(LinkEvent::Back(stamp))?;
                    None
                }
                Entry::Sent(_) | Entry::Behind(_) => None,
            };
            if let Some(received) = received {
                break received;
            }
        };
        for event in received.aside(&mut self.ear) {
            far.report(event)?;
        }
        answers.push((received.stamp, received.answer));
        Ok(Played::Whole)
    }

    /// Goes on to a question; the half line before it is no answer to it.
    fn find_question(&mut self, bytes: &[u8], far: &FarEnd) -> Result<Played, Closed> {
        let found = self.find(bytes, far)?;
        if found == Played::Whole {
            self.ear.question();
        }
        Ok(found)
    }

    /// Whether something else was sent next, before any loss.
    fn sends_other(&mut self, bytes: &[u8]) -> bool {
        let other = |entry: &Entry| match entry {
            Entry::Sent(sent) => Some(sent != bytes),
            Entry::Lost(_) => Some(false),
            Entry::Received(_)
            | Entry::Unanswered
            | Entry::Quiet
            | Entry::Open
            | Entry::Behind(_) => None,
        };
        self.entries.find_ahead(other) == Some(true)
    }

    /// When the last entry happened.
    fn moment(&self) -> Stamp {
        self.last.unwrap_or(Stamp {
            elapsed_us: 0,
            wall_ms: 0,
        })
    }

    /// Plays the entries that came after a question.
    fn hear_out(
        &mut self,
        wanted: Wanted<'_>,
        answers: &mut Answers,
        far: &FarEnd,
    ) -> Result<Played, Closed> {
        self.is_unknown = false;
        while let Some((stamp, entry)) = self.next() {
            match entry {
                Entry::Received(bytes) => {
                    let mut answer = None;
                    for heard in self.ear.hear(stamp, &bytes) {
                        if answer.is_none() && wanted.is_it(&heard, &mut self.ear) {
                            answer = Some((heard.began, heard.into_answer()));
                        } else {
                            far.report(heard.into_event(stamp))?;
                        }
                    }
                    if let Some(answer) = answer {
                        answers.push(answer);
                        return Ok(Played::Whole);
                    }
                }
                Entry::Lost(reason) => return Ok(Played::Loss(stamp, reason)),
                Entry::Unanswered => {
                    let half = self.ear.rest().to_vec();
                    answers.push((stamp, Answer::Silence(half)));
                    return Ok(Played::Whole);
                }
                Entry::Open => far.report(LinkEvent::Back(stamp))?,
                // Something was sent before the answer came, as after a time-out that left no trace.
                Entry::Sent(_) | Entry::Quiet | Entry::Behind(_) => {}
            }
        }
        Ok(Played::End)
    }

    /// Goes on to where these bytes were sent, but not past a loss: after it the instrument is set up anew.
    fn find(&mut self, bytes: &[u8], far: &FarEnd) -> Result<Played, Closed> {
        while let Some((stamp, entry)) = self.next() {
            match entry {
                Entry::Sent(sent) if sent == bytes => {
                    return Ok(Played::Whole);
                }
                // These bytes were there before the question.
                Entry::Received(bytes) => {
                    for heard in self.ear.hear(stamp, &bytes) {
                        far.report(heard.into_event(stamp))?;
                    }
                }
                Entry::Lost(reason) => return Ok(Played::Loss(stamp, reason)),
                Entry::Open => far.report(LinkEvent::Back(stamp))?,
                Entry::Sent(_) | Entry::Unanswered | Entry::Quiet | Entry::Behind(_) => {}
            }
        }
        Ok(Played::End)
    }

    /// Goes on to the next loss.
    fn skip_to_loss(&mut self, far: &FarEnd) -> Result<Played, Closed> {
        while let Some((stamp, entry)) = self.next() {
            match entry {
                Entry::Received(bytes) => far.report(LinkEvent::Stray(stamp, bytes))?,
                Entry::Lost(reason) => return Ok(Played::Loss(stamp, reason)),
                _ => {}
            }
        }
        Ok(Played::End)
    }

    /// Plays a wait for quiet, where the log has one next; a log that was written by hand is quiet by its nature.
    fn quiet(&mut self, answers: &mut Answers, far: &FarEnd) -> Result<Played, Closed> {
        let ends = self.entries.find_ahead(|entry| match entry {
            Entry::Received(_) => None,
            Entry::Sent(_) | Entry::Open | Entry::Behind(_) => Some(false),
            Entry::Unanswered | Entry::Quiet | Entry::Lost(_) => Some(true),
        });
        match ends {
            None => return Ok(Played::End),
            Some(false) => {
                answers.push((self.moment(), Answer::Done));
                return Ok(Played::Whole);
            }
            Some(true) => {}
        }
        while let Some((stamp, entry)) = self.next() {
            match entry {
                Entry::Received(bytes) => self.noise(stamp, &bytes, far)?,
                Entry::Lost(reason) => return Ok(Played::Loss(stamp, reason)),
                Entry::Quiet => {
                    self.noise(stamp, &[], far)?;
                    answers.push((stamp, Answer::Done));
                    return Ok(Played::Whole);
                }
                _ => {
                    answers.push((stamp, Answer::Silence(Vec::new())));
                    return Ok(Played::Whole);
                }
            }
        }
        Ok(Played::End)
    }

    /// Handles bytes that are waited out in silence, with the half line that stood before them.
    fn noise(&mut self, stamp: Stamp, bytes: &[u8], far: &FarEnd) -> Result<(), Closed> {
        let noise = self.ear.noise(bytes);
        if noise.is_empty() {
            Ok(())
        } else {
            far.report(LinkEvent::Stray(stamp, noise))
        }
    }
}

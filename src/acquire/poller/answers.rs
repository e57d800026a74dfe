//! The outcome of an answer: values, a silence with the complaint behind it, or bytes whose question is unknown.

use super::Poller;
use crate::acquire::outlet::Gone;
use crate::acquire::step::Step;
use crate::instrument::{Complaint, Reading, Refusal, read_answer, read_complaint};
use crate::reading::{Failed, Stamp, Status};
use crate::transport::Answer;

/// A queue of complaints is emptied at most so far.
const COMPLAINTS: usize = 20;

impl Poller {
    /// Says in a row why nothing can be asked.
    pub(in crate::acquire) fn note_not_ready(&mut self, reading: &mut Reading) {
        let (status, why) = match self.step {
            Step::Garbled => (Status::Garbled, "nothing that could be read"),
            Step::In | Step::Missed => (Status::Silent, "no answer, and not in step again"),
        };
        reading.note(status, why);
        self.failed.get_or_insert(Failed::OutOfStep);
    }

    /// Remembers the question at which the row went wrong.
    pub(in crate::acquire) fn failed_at(&mut self, question: &str) {
        self.failed
            .get_or_insert_with(|| Failed::At(question.to_owned()));
    }

    /// Keeps the bytes of an answer whose question is unknown.
    pub(super) async fn put_aside(&mut self, came: Stamp, answer: Answer) -> Result<(), Gone> {
        match answer {
            Answer::Line(bytes) | Answer::Overlong(bytes) | Answer::Silence(bytes)
                if !bytes.is_empty() =>
            {
                self.outlet
                    .reject(came, "it may be the answer to an earlier question", bytes)
                    .await
            }
            _ => Ok(()),
        }
    }

    pub(super) async fn take(
        &mut self,
        question: &str,
        came: Stamp,
        line: Vec<u8>,
        reading: &mut Reading,
    ) -> Result<(), Gone> {
        let rules = &self.source.profile.values;
        let outcome = if let Ok(text) = std::str::from_utf8(&line) {
            read_answer(question, text, rules, reading)
        } else {
            reading.note(Status::Garbled, Refusal::NoText.to_string());
            Err(Refusal::NoText)
        };
        match outcome {
            Ok(()) => {
                // Answers come in order: each earlier question is answered or never will be.
                self.owed_syncs = 0;
                self.keep_text(&line);
                Ok(())
            }
            Err(why) => {
                // A banner, say: the answer itself may come after it, and is not to pass for the next one.
                self.step = Step::Garbled;
                self.failed_at(question);
                self.outlet.reject(came, why, line).await
            }
        }
    }

    /// Adds a line to the text that the row is read from.
    pub(in crate::acquire) fn keep_text(&mut self, line: &[u8]) {
        if !self.heard.is_empty() {
            self.heard.push(b'\n');
        }
        self.heard.extend_from_slice(line);
    }

    /// Notes that no answer came in time: the next one could be this question's, so questions and answers are out of step.
    pub(in crate::acquire) async fn missed(
        &mut self,
        question: &str,
        came: Stamp,
        partial: Vec<u8>,
        reading: &mut Reading,
    ) -> Result<(), Gone> {
        self.step = Step::Missed;
        self.failed_at(question);
        let waited = self.source.profile.timing.timeout.as_secs_f64();
        let glued = if self.begun_before > 0 {
            ", but a line that began before it"
        } else {
            ""
        };
        reading.note(
            Status::Silent,
            format!("no answer to {question} in {waited} s{glued}"),
        );
        if !partial.is_empty() {
            self.outlet.reject(came, "half an answer", partial).await?;
        }
        // A question that the instrument does not know gets no answer, but leaves a complaint.
        if self.source.profile.errors.is_some()
            && self.is_in_step_at_once().await?
            && let Some(complaint) = self.complaint().await?
        {
            // It did answer, in its way.
            reading.status = Status::Refused;
            reading.note = format!("{question}: {complaint}").into();
        }
        Ok(())
    }

    /// Returns the oldest complaint in the instrument's queue, which is emptied, and how many came behind it.
    pub(super) async fn complaint(&mut self) -> Result<Option<String>, Gone> {
        let Some(errors) = self.source.profile.errors.clone() else {
            return Ok(None);
        };
        let (mut oldest, mut more) = (None, 0_usize);
        for _ in 0..COMPLAINTS {
            let (came, answer) = self.ask(&errors.ask).await?;
            let Answer::Line(line) = answer else {
                self.step = Step::Missed;
                break;
            };
            if self.is_owed_sync(&line) {
                self.put_aside(came, Answer::Line(line)).await?;
                break;
            }
            match read_complaint(&String::from_utf8_lossy(&line), &errors) {
                Complaint::None => break,
                Complaint::Some(text) if oldest.is_none() => oldest = Some(text),
                Complaint::Some(_) => more += 1,
                Complaint::Unreadable => {
                    self.step = Step::Garbled;
                    let why = "it is no answer to the question for complaints";
                    self.outlet.reject(came, why, line).await?;
                    break;
                }
            }
        }
        Ok(oldest.map(|oldest| match more {
            0 => oldest,
            more => format!("{oldest} (and {more} more)"),
        }))
    }
}

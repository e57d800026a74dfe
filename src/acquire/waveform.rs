//! The waveform of a row: preamble, block, and the preamble again, so that scale and samples belong together.

use super::Gone;
use super::line_end;
use super::poller::{Line, Poller};
use super::step::Step;
use crate::frame::{BlockCut, LineEnd};
use crate::instrument::{Preamble, Profile, Reading, Trace, WaveformRule};
use crate::reading::{Stamp, Status};
use crate::transport::{Answer, BlockAsk, Request};

/// Why a waveform came to nothing.
enum Fault {
    /// The row says why.
    Marked,
    /// The line was lost: there is no row.
    NoLine,
    Gone,
}

impl From<Gone> for Fault {
    fn from(_: Gone) -> Self {
        Self::Gone
    }
}

/// The question for a waveform's block, when its preamble has been read.
pub fn block_ask(
    profile: &Profile,
    rule: &WaveformRule,
    preamble: Preamble,
    end: LineEnd,
) -> BlockAsk {
    let sample_len = rule.codes.sample_len();
    BlockAsk {
        bytes: profile.to_bytes(&rule.ask),
        pause: profile.timing.pause,
        timeout: profile.timing.timeout,
        byte_time: profile.port.byte_time(),
        idle: rule.idle,
        cut: BlockCut {
            end,
            limit: rule.longest_block,
            known_len: preamble
                .points
                .map(|points| points.saturating_mul(sample_len)),
            sample_len,
        },
    }
}

impl Poller {
    /// Asks for the waveform, if the profile has one, and takes its values into the row, which `has_begun` if it has
    /// answers already; whether there is a row.
    pub(super) async fn waveform(
        &mut self,
        has_begun: bool,
        stamp: &mut Stamp,
        reading: &mut Reading,
    ) -> Result<bool, Gone> {
        let Some(rule) = self.source.profile.waveform.clone() else {
            return Ok(true);
        };
        match self.take_waveform(&rule, has_begun, stamp, reading).await {
            Ok(()) | Err(Fault::Marked) => Ok(true),
            Err(Fault::NoLine) => Ok(false),
            Err(Fault::Gone) => Err(Gone),
        }
    }

    async fn take_waveform(
        &mut self,
        rule: &WaveformRule,
        has_begun: bool,
        stamp: &mut Stamp,
        reading: &mut Reading,
    ) -> Result<(), Fault> {
        if !self.is_ready().await? {
            let is_over = self.is_untried && !has_begun;
            if is_over || matches!(self.line, Line::Lost | Line::Fresh) {
                return Err(Fault::NoLine);
            }
            self.note_not_ready(reading);
            *stamp = self.last;
            return Err(Fault::Marked);
        }
        for text in &rule.before {
            let bytes = self.source.profile.to_bytes(text);
            self.request(Request::Tell(bytes)).await?;
            if self.line != Line::Up {
                return Err(Fault::NoLine);
            }
        }
        let before = self.preamble(rule, stamp, reading).await?;
        let block = self.block(rule, before, stamp, reading).await?;
        // The moment of the row is the block's.
        let after = self.preamble(rule, &mut stamp.clone(), reading).await?;
        if before != after {
            reading.note(
                Status::Garbled,
                "the scale changed while the waveform was read",
            );
            return Err(Fault::Marked);
        }
        match Trace::new(before, &block, rule.codes) {
            Ok(trace) => {
                trace.fill(rule, &self.source.profile.values, reading);
                Ok(())
            }
            // It is this question's answer all the same, so nothing is out of step.
            Err(why) => {
                reading.note(Status::Garbled, why);
                self.outlet.reject(*stamp, why, block).await?;
                Err(Fault::Marked)
            }
        }
    }

    async fn preamble(
        &mut self,
        rule: &WaveformRule,
        stamp: &mut Stamp,
        reading: &mut Reading,
    ) -> Result<Preamble, Fault> {
        let (came, answer) = self.ask(&rule.preamble).await?;
        *stamp = came;
        let line = self.line_of(&rule.preamble, came, answer, reading).await?;
        let text = String::from_utf8_lossy(&line).into_owned();
        match Preamble::read(&text, &rule.places) {
            Ok(preamble) => {
                self.keep_text(&line);
                Ok(preamble)
            }
            Err(why) => {
                reading.note(Status::Garbled, why);
                self.step = Step::Garbled;
                self.outlet.reject(came, why, line).await?;
                Err(Fault::Marked)
            }
        }
    }

    async fn block(
        &mut self,
        rule: &WaveformRule,
        preamble: Preamble,
        stamp: &mut Stamp,
        reading: &mut Reading,
    ) -> Result<Vec<u8>, Fault> {
        let profile = &self.source.profile;
        let ask = block_ask(profile, rule, preamble, line_end(&profile.port));
        let wanted = ask.cut.known_len;
        let mut answers = self.request(Request::AskBlock(ask)).await?;
        let (came, answer) = answers.pop().ok_or(Fault::NoLine)?;
        *stamp = came;
        match answer {
            Answer::Block(bytes) => Ok(bytes),
            Answer::Broken(why, bytes) => {
                let of = wanted.map_or_else(String::new, |wanted| format!(" of {wanted}"));
                let note = format!("{}: {why}, {}{of} bytes came", rule.ask, bytes.len());
                reading.note(Status::Garbled, &note);
                self.step = Step::Garbled;
                self.owes_quiet = true;
                self.outlet.reject(came, why, bytes).await?;
                Err(Fault::Marked)
            }
            Answer::Line(line) => {
                let why = "a line where a block is wanted";
                reading.note(Status::Garbled, &format!("{}: {why}", rule.ask));
                self.step = Step::Garbled;
                self.outlet.reject(came, why, line).await?;
                Err(Fault::Marked)
            }
            other => {
                self.line_of(&rule.ask, came, other, reading).await?;
                Err(Fault::Marked)
            }
        }
    }

    /// The line of an answer; what is none marks the row.
    async fn line_of(
        &mut self,
        question: &str,
        came: Stamp,
        answer: Answer,
        reading: &mut Reading,
    ) -> Result<Vec<u8>, Fault> {
        match answer {
            Answer::Line(line) => Ok(line),
            Answer::NoLine => Err(Fault::NoLine),
            Answer::Silence(partial) => {
                self.missed(question, came, partial, reading).await?;
                Err(Fault::Marked)
            }
            Answer::Overlong(head) => {
                self.step = Step::Garbled;
                reading.note(Status::Garbled, "a line beyond the limit");
                self.outlet
                    .reject(came, "a line beyond the limit", head)
                    .await?;
                Err(Fault::Marked)
            }
            Answer::Done | Answer::Block(_) | Answer::Broken(..) => Err(Fault::Marked),
        }
    }
}

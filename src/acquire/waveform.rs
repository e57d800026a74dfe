//! The blocks of a row: small ones with values in them, and the waveform. Its scale is asked for before the samples and
//! again after them, so that scale and samples belong together.

use std::time::Duration;

use super::outlet::Gone;
use super::poller::Poller;
use super::source::line_end;
use super::step::{Line, Step};
use crate::frame::BlockCut;
use crate::instrument::{
    Codes, Preamble, Profile, Reading, ScaleRule, Trace, WaveformRule, read_block_values,
};
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

/// The silence that ends a small block which has no line end behind it (chosen).
const IDLE: Duration = Duration::from_millis(500);

/// The longest small block, in bytes: a thousand numbers of eight.
const LONGEST: usize = 8000;

/// Returns every question that is answered by a block, as it is sent, and how that block is cut while its length is not known.
pub fn blocks(profile: &Profile) -> Vec<(Vec<u8>, BlockCut)> {
    let small = profile.block_questions().into_iter();
    let small = small.map(|(question, codes)| (question, small_cut(profile, codes)));
    let waveform = profile.waveform.iter();
    let waveform = waveform.map(|rule| (rule.ask.as_str(), waveform_cut(profile, rule, None)));
    small
        .chain(waveform)
        .map(|(question, cut)| (profile.to_bytes(question), cut))
        .collect()
}

/// Returns the cut of a waveform with this number of samples, if it is known.
fn waveform_cut(profile: &Profile, rule: &WaveformRule, points: Option<usize>) -> BlockCut {
    BlockCut {
        end: line_end(&profile.port),
        limit: rule.longest_block,
        known_len: points.and_then(|points| rule.block_len(points)),
        sample_len: rule.codes.sample_len(),
        is_text: rule.codes.is_text(),
    }
}

/// Returns the cut of a small block with values in it.
fn small_cut(profile: &Profile, codes: Codes) -> BlockCut {
    BlockCut {
        end: line_end(&profile.port),
        limit: LONGEST,
        known_len: None,
        sample_len: codes.sample_len(),
        is_text: false,
    }
}

fn asking(profile: &Profile, question: &str, idle: Duration, cut: BlockCut) -> BlockAsk {
    BlockAsk {
        bytes: profile.to_bytes(question),
        pause: profile.timing.pause,
        timeout: profile.timing.timeout,
        byte_time: profile.port.byte_time(),
        idle,
        cut,
    }
}

impl Poller {
    /// Asks for everything answered by blocks: small ones with values in them, and the waveform. It takes their values into the
    /// row, which `has_begun` if it has answers already, and returns whether there is a row.
    pub(super) async fn waveform(
        &mut self,
        has_begun: bool,
        stamp: &mut Stamp,
        reading: &mut Reading,
    ) -> Result<bool, Gone> {
        match self.take_blocks(has_begun, stamp, reading).await {
            Ok(()) | Err(Fault::Marked) => Ok(true),
            Err(Fault::NoLine) => Ok(false),
            Err(Fault::Gone) => Err(Gone),
        }
    }

    async fn take_blocks(
        &mut self,
        mut has_begun: bool,
        stamp: &mut Stamp,
        reading: &mut Reading,
    ) -> Result<(), Fault> {
        let profile = &self.source.profile;
        let asks: Vec<(String, BlockAsk)> = profile
            .block_questions()
            .into_iter()
            .map(|(question, codes)| {
                (
                    question.to_owned(),
                    asking(profile, question, IDLE, small_cut(profile, codes)),
                )
            })
            .collect();
        let rule = profile.waveform.clone();
        for (question, ask) in asks {
            self.come_ready(has_begun, stamp, reading).await?;
            has_begun = true;
            match self.take_values(&question, ask, stamp, reading).await {
                Ok(()) | Err(Fault::Marked) => {}
                Err(fault) => return Err(fault),
            }
        }
        match rule {
            Some(rule) => self.take_waveform(&rule, has_begun, stamp, reading).await,
            None => Ok(()),
        }
    }

    /// Comes into step, or says in the row why that failed.
    async fn come_ready(
        &mut self,
        has_begun: bool,
        stamp: &mut Stamp,
        reading: &mut Reading,
    ) -> Result<(), Fault> {
        if self.is_ready().await? {
            return Ok(());
        }
        let is_over = self.is_untried && !has_begun;
        if is_over || matches!(self.line, Line::Lost | Line::Fresh) {
            return Err(Fault::NoLine);
        }
        self.note_not_ready(reading);
        *stamp = self.last;
        Err(Fault::Marked)
    }

    async fn take_values(
        &mut self,
        question: &str,
        ask: BlockAsk,
        stamp: &mut Stamp,
        reading: &mut Reading,
    ) -> Result<(), Fault> {
        let block = self.block(question, ask, stamp, reading).await?;
        let rules = &self.source.profile.values;
        if let Err(why) = read_block_values(question, &block, rules, reading) {
            self.step = Step::Garbled;
            self.failed_at(question);
            self.outlet.reject(*stamp, why, block).await?;
            return Err(Fault::Marked);
        }
        Ok(())
    }

    async fn take_waveform(
        &mut self,
        rule: &WaveformRule,
        has_begun: bool,
        stamp: &mut Stamp,
        reading: &mut Reading,
    ) -> Result<(), Fault> {
        self.come_ready(has_begun, stamp, reading).await?;
        for text in &rule.before {
            let bytes = self.source.profile.to_bytes(text);
            self.request(Request::Tell(bytes)).await?;
            if self.line != Line::Up {
                return Err(Fault::NoLine);
            }
        }
        let (before, preamble) = self.scale(&rule.scale, stamp, reading).await?;
        let profile = &self.source.profile;
        let cut = waveform_cut(profile, rule, preamble.points);
        let ask = asking(profile, &rule.ask, rule.idle, cut);
        let block = self.block(&rule.ask, ask, stamp, reading).await?;
        // The moment of the row is the block's.
        let (after, _) = self.scale(&rule.scale, &mut stamp.clone(), reading).await?;
        let scale = |answers: &[String]| Preamble::read(answers, Some(&block), &rule.scale);
        let outcome = match (scale(&before), scale(&after)) {
            (Ok(before), Ok(after)) if before == after => {
                let samples = rule.samples(&block);
                samples.and_then(|samples| Trace::new(before, samples, rule.codes))
            }
            (Ok(_), Ok(_)) => {
                reading.note(
                    Status::Garbled,
                    "the scale changed while the waveform was read",
                );
                return Err(Fault::Marked);
            }
            (Err(fault), _) | (_, Err(fault)) => {
                reading.note(Status::Garbled, fault.to_string());
                Err(fault.why)
            }
        };
        match outcome {
            Ok(trace) => {
                trace.fill(rule, &self.source.profile.values, reading);
                Ok(())
            }
            // It is this question's answer all the same, so nothing is out of step.
            Err(why) => {
                reading.note(Status::Garbled, why.to_string());
                self.outlet.reject(*stamp, why, block).await?;
                Err(Fault::Marked)
            }
        }
    }

    /// Asks for the scale: the answers, and the values they give without the block.
    async fn scale(
        &mut self,
        rule: &ScaleRule,
        stamp: &mut Stamp,
        reading: &mut Reading,
    ) -> Result<(Vec<String>, Preamble), Fault> {
        let mut lines = Vec::new();
        for question in rule.questions() {
            let (came, answer) = self.ask(question).await?;
            *stamp = came;
            lines.push(self.line_of(question, came, answer, reading).await?);
        }
        let text = |line: &Vec<u8>| String::from_utf8_lossy(line).into_owned();
        let answers: Vec<String> = lines.iter().map(text).collect();
        match Preamble::read(&answers, None, rule) {
            Ok(preamble) => {
                for line in &lines {
                    self.keep_text(line);
                }
                Ok((answers, preamble))
            }
            Err(fault) => {
                reading.note(Status::Garbled, fault.to_string());
                self.step = Step::Garbled;
                let bytes = lines.join(&b'\n');
                self.outlet.reject(*stamp, fault.why, bytes).await?;
                Err(Fault::Marked)
            }
        }
    }

    /// Asks for a block: its bytes, or those of a line where samples are text.
    async fn block(
        &mut self,
        question: &str,
        ask: BlockAsk,
        stamp: &mut Stamp,
        reading: &mut Reading,
    ) -> Result<Vec<u8>, Fault> {
        let (expected, is_text) = (ask.cut.known_len, ask.cut.is_text);
        let mut answers = self.request(Request::AskBlock(ask)).await?;
        let (came, answer) = answers.pop().ok_or(Fault::NoLine)?;
        *stamp = came;
        match answer {
            Answer::Block(bytes) => Ok(bytes),
            Answer::Line(line) if is_text => Ok(line),
            Answer::Broken(why, bytes) => {
                let of = expected.map_or_else(String::new, |expected| format!(" of {expected}"));
                let note = format!("{question}: {why}, {}{of} bytes came", bytes.len());
                reading.note(Status::Garbled, note);
                self.step = Step::Garbled;
                self.failed_at(question);
                self.owes_quiet = true;
                self.outlet.reject(came, why, bytes).await?;
                Err(Fault::Marked)
            }
            Answer::Line(line) => {
                let why = "a line where a block is expected";
                reading.note(Status::Garbled, format!("{question}: {why}"));
                self.step = Step::Garbled;
                self.failed_at(question);
                self.outlet.reject(came, why, line).await?;
                Err(Fault::Marked)
            }
            other => {
                self.line_of(question, came, other, reading).await?;
                Err(Fault::Marked)
            }
        }
    }

    /// Returns the line of an answer; anything else marks the row.
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
                self.failed_at(question);
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

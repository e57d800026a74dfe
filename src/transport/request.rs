//! The requests to a link, and its reports.

use std::time::Duration;

use crate::frame::{BlockCut, BlockFrame, Broken, LineEnd, Lines};
use crate::reading::Stamp;

/// How lines are cut.
#[derive(Debug, Clone, Copy)]
pub struct Cut {
    /// The end of a line.
    pub end: LineEnd,
    /// The longest line.
    pub limit: usize,
}

/// A request to the link's thread.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Request {
    /// Send these bytes; no answer is awaited.
    Tell(Vec<u8>),
    /// Ask these questions one after the other, each with its line; an unanswered one ends the round.
    ///
    /// A round goes to the thread whole, because each hand-over between threads costs more than the instrument's answer.
    Ask {
        /// The questions.
        questions: Vec<Vec<u8>>,
        /// How long the line rests before each.
        pause: Duration,
        /// How long each answer may take.
        timeout: Duration,
    },
    /// Ask a question whose answer is a block.
    AskBlock(BlockAsk),
    /// Send these bytes and drop every line until this one comes.
    Resync {
        /// The synchronising question.
        bytes: Vec<u8>,
        /// Its answer.
        answer: Vec<u8>,
        /// How long that may take.
        timeout: Duration,
    },
    /// Drop the bytes that come until nothing has come for this long.
    Quiet {
        /// How long the line must be quiet.
        quiet: Duration,
    },
    /// Pass this over from now on; has no answer.
    Pass(Passing),
    /// Say so whenever no line has come for this time; only an unasked link can.
    Watch {
        /// How long the instrument needs before it speaks at all.
        settle: Duration,
        /// How long it may say nothing.
        silence: Duration,
    },
    /// Report the bytes that came so far, then [`LinkEvent::Ended`], and end.
    Finish,
}

/// The answer to a request; each request gets exactly one, a round of questions one for each that was asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// It was sent, or it is quiet now.
    Done,
    /// A line.
    Line(Vec<u8>),
    /// A line beyond the limit: its first bytes.
    Overlong(Vec<u8>),
    /// The bytes of a block.
    Block(Vec<u8>),
    /// A block that can't be taken: the reason, and the bytes that came.
    Broken(Broken, Vec<u8>),
    /// Nothing whole in time, and the half line that came.
    Silence(Vec<u8>),
    /// The line is lost.
    NoLine,
}

/// The reports of a link, in order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LinkEvent {
    /// The answers to a request, and when the first byte of each had come; never empty.
    Answers(Vec<(Stamp, Answer)>),
    /// Bytes that belong to no question: a late answer, a banner.
    Stray(Stamp, Vec<u8>),
    /// A line that ended after a question and began before it: no answer, however much it looks like one.
    Begun(Stamp, Vec<u8>),
    /// Lines that came unasked in one read.
    Lines(Stamp, Lines),
    /// The receiving side took nothing for long enough that the port may have lost bytes.
    Overrun(Stamp, Duration),
    /// An unasked link begins: its line was opened then.
    Open(Stamp),
    /// No line has come for as long as was asked for by [`Request::Watch`].
    Silent(Stamp),
    /// The line is lost; the link goes on trying to open it.
    Lost(Stamp, String),
    /// The line is open again.
    Back(Stamp),
    /// News for the person: the fault that keeps a lost line from coming back, or where it came back.
    Told(String),
    /// A byte log is at its end, or the link was asked to finish.
    Ended,
}

/// Whether the instrument is asked or speaks by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Manner {
    /// It answers when asked.
    Asked,
    /// It speaks unasked.
    Unasked,
}

/// The texts that an instrument sends beside its answers.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Passing {
    /// Its prompt, which is cut off wherever it begins a line; one without digits and signs is learnt.
    pub prompt: Option<Vec<u8>>,
    /// Lines that are passed over.
    pub skip: Vec<Vec<u8>>,
}

/// The time that a block may take beyond the time its bytes need on the line (chosen).
const ALLOWANCE: Duration = Duration::from_secs(1);

/// A question whose answer is a block.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BlockAsk {
    /// The question.
    pub bytes: Vec<u8>,
    /// How long the line rests before it.
    pub pause: Duration,
    /// How long the block may take to begin.
    pub timeout: Duration,
    /// How long one byte takes on the line.
    pub byte_time: Duration,
    /// The silence that ends a block of unknown length.
    pub idle: Duration,
    /// How the block is cut.
    pub cut: BlockCut,
}

impl BlockAsk {
    /// How long a block that has begun may take: half as long again as its bytes need, and a second.
    pub(super) fn patience(&self, length: usize) -> Duration {
        let bytes = u32::try_from(length).unwrap_or(u32::MAX);
        self.byte_time.saturating_mul(bytes).mul_f64(1.5) + ALLOWANCE
    }

    /// Returns the answer in a reader's frame; `None` for the echo of the question.
    pub(super) fn answer(&self, frame: BlockFrame) -> Option<Answer> {
        match frame {
            BlockFrame::Whole(bytes) => Some(Answer::Block(bytes)),
            BlockFrame::Line(line) if line == self.bytes.trim_ascii_end() => None,
            BlockFrame::Line(line) => Some(Answer::Line(line)),
            BlockFrame::Broken(why, bytes) => Some(Answer::Broken(why, bytes)),
        }
    }
}

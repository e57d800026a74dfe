//! A checked description of an instrument.

pub(in crate::instrument) mod layout;
pub(in crate::instrument) mod places;
pub(in crate::instrument) mod port;
pub(in crate::instrument) mod seal;
pub(in crate::instrument) mod unit_cell;

use std::time::Duration;

use crate::instrument::line::stream::Stream;
use crate::instrument::number::rule::NumberRule;
use crate::instrument::profile::layout::ColumnLayout;
use crate::instrument::profile::places::{PlacesLayout, Shown};
use crate::instrument::profile::port::PortRule;
use crate::instrument::profile::seal::Seal;
use crate::instrument::profile::unit_cell::UnitCell;
use crate::instrument::waveform::codes::Codes;
use crate::instrument::waveform::rule::{Figure, WaveformRule};
use crate::reading::Channel;

/// Whether the instrument is asked or speaks by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Manner {
    /// It answers when asked.
    Asked,
    /// It sends lines by itself.
    Unasked,
}

/// Pacing and patience, in real time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Timing {
    /// The time from one row to the next, for an instrument that is asked.
    pub every: Duration,
    /// How long an answer may take.
    pub timeout: Duration,
    /// How long a board needs after its port was opened.
    pub settle: Duration,
    /// The least time between an answer and the next question.
    pub pause: Duration,
    /// How long an instrument that speaks by itself may say nothing.
    pub silence: Duration,
}

/// The question that brings questions and answers into step again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Resync {
    /// The question.
    pub ask: String,
    /// Its only answer.
    pub answer: String,
}

/// Where the instrument keeps its complaints.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Errors {
    /// The question for the oldest one.
    pub ask: String,
    /// The number that means there is none.
    pub none: String,
}

/// How lines are laid out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Form {
    /// Answers to questions: values between commas or semicolons.
    Answers,
    /// `name=value` with its unit, between blanks.
    Fields(Seal),
    /// Values between delimiters.
    Columns(ColumnLayout),
    /// Frames of a fixed length, with fixed places and no delimiters.
    Places(PlacesLayout),
}

impl Form {
    /// Whether a line carries a checksum that is right, and so is whole even if it is the first after opening.
    pub fn is_proven(&self, line: &str) -> bool {
        let seal = match self {
            Self::Answers | Self::Places(_) => None,
            Self::Fields(seal) => Some(*seal),
            Self::Columns(layout) => layout.seal,
        };
        seal.is_some_and(|seal| seal.proves(line))
    }
}

/// Where a value stands in its line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// It stands in the answer to a question, counted from 1.
    Answer {
        /// The question.
        ask: String,
        /// Which of its values.
        position: usize,
        /// How many values the answer has; an answer with fewer or more belongs to another question, or is spoilt.
        of: usize,
        /// The header that may stand before it, where that is not the question's own.
        header: Option<String>,
    },
    /// Behind a name.
    Named(String),
    /// It stands in a column, counted from 1.
    Column(usize),
    /// It stands in a small block of numbers in bytes, the answer to a question; counted from 1.
    Block {
        /// The question.
        ask: String,
        /// Which of its numbers.
        position: usize,
        /// How many numbers the block has.
        of: usize,
        /// How a number stands in it.
        codes: Codes,
    },
    /// It is in the waveform.
    Waveform(Figure),
    /// It is on the display, while its flags say so.
    Shown(Shown),
}

/// One value that the instrument reports.
#[derive(Debug, Clone, PartialEq)]
pub struct ChannelRule {
    /// The quantity it is.
    pub channel: Channel,
    /// The instrument's input it is measured at, as the person calls it.
    pub input: String,
    /// Where it stands.
    pub place: Place,
    /// Other names of its field or column.
    pub also: Vec<String>,
    /// The cell of its unit, where lines are cut into cells.
    pub unit_cell: UnitCell,
    /// How its number is read.
    pub number: NumberRule,
    /// The range of values that is believed.
    pub belief: Belief,
}

impl ChannelRule {
    /// Returns the names of its field or column, the usual one first; none where its place has no name.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        let name = match &self.place {
            Place::Named(name) => Some(name),
            _ => None,
        };
        name.into_iter().chain(&self.also).map(String::as_str)
    }
}

/// The limits within which a value is believed; a value outside them is recorded all the same, with a doubt beside it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Belief {
    /// The least value that can be, in the SI unit, all factors in it; `None` for the usual.
    pub at_least: Option<f64>,
    /// The greatest value that can be, likewise.
    pub at_most: Option<f64>,
    /// How often in a row the same value comes from an instrument that hangs; 0 for never, `None` for the usual.
    pub stale_after: Option<u32>,
}

/// A checked description of an instrument.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// Its name, the stem of its file.
    pub name: String,
    /// Its description, in one line.
    pub about: String,
    /// Whether it is asked.
    pub manner: Manner,
    /// The port.
    pub port: PortRule,
    /// Pacing.
    pub timing: Timing,
    /// The instrument's gate time, or `"unknown"`.
    pub gate_time: String,
    /// The instrument's averaging mode, or `"unknown"`.
    pub averaging: String,
    /// The lines to send at the start and after each return of the line.
    pub start: Vec<String>,
    /// The question for its name.
    pub identity: Option<String>,
    /// The question that brings it into step.
    pub resync: Option<Resync>,
    /// Where its complaints are.
    pub errors: Option<Errors>,
    /// How its lines are laid out.
    pub form: Form,
    /// The bookkeeping in its lines, if it speaks unasked.
    pub stream: Stream,
    /// The waveform that some of its values are taken from.
    pub waveform: Option<WaveformRule>,
    /// The values it reports.
    pub values: Vec<ChannelRule>,
}

impl Profile {
    /// The questions for one row, each once, in the order of the values.
    pub fn questions(&self) -> Vec<&str> {
        let mut questions: Vec<&str> = Vec::new();
        for rule in &self.values {
            if let Place::Answer { ask, .. } = &rule.place
                && !questions.contains(&ask.as_str())
            {
                questions.push(ask);
            }
        }
        questions
    }

    /// Returns the questions for one row that are answered by a small block, each once, with the form of its numbers.
    pub fn block_questions(&self) -> Vec<(&str, Codes)> {
        let mut questions: Vec<(&str, Codes)> = Vec::new();
        for rule in &self.values {
            if let Place::Block { ask, codes, .. } = &rule.place
                && !questions.iter().any(|(known, _)| known == ask)
            {
                questions.push((ask, *codes));
            }
        }
        questions
    }

    /// A command or question as the bytes to send.
    pub fn to_bytes(&self, text: &str) -> Vec<u8> {
        [text.as_bytes(), self.port.sent_end.bytes()].concat()
    }
}

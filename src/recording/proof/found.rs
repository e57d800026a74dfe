//! The findings of the proof of a profile, as facts.

use std::io;
use std::path::PathBuf;
use std::time::Duration;

use crate::instrument;
use crate::plain::Shown as _;
use crate::reading::{self, Channel};
use crate::recording::address::Place;
use crate::recording::opening::OpeningError;
use crate::transport::Answer;

/// Why a profile can't be proved.
#[derive(Debug, thiserror::Error)]
pub enum ProofError {
    /// There is nobody to ask.
    #[error("{} is a byte log, not an instrument", .0.shown())]
    IsLog(PathBuf),
    /// The instrument does not open.
    #[error(transparent)]
    Opening(#[from] OpeningError),
    /// The system gives no runtime.
    #[error("cannot start asking")]
    Runtime(#[source] io::Error),
}

/// The result of the proof of a profile.
#[derive(Debug)]
pub struct Proof {
    /// The label of the instrument.
    pub label: String,
    /// The name of the profile.
    pub profile: String,
    /// Where the instrument is.
    pub place: Place,
    /// The time from one row to the next, in seconds, where the instrument is asked.
    pub every_s: Option<f64>,
    /// Who it says it is.
    pub identity: Option<String>,
    /// The result of each question, or of a line.
    pub heard: Vec<Heard>,
    /// The round trips of every question, in seconds.
    pub round_trips_s: Vec<f64>,
    /// The rows per second that came.
    pub rows_per_s: Option<f64>,
    /// Notes that are worth knowing and no faults.
    pub notes: Vec<Note>,
    /// The errors of the profile.
    pub faults: Vec<Fault>,
}

/// The result of one question, or of one line.
#[derive(Debug)]
pub struct Heard {
    /// The question; none for a line that came unasked.
    pub question: Option<String>,
    /// The bytes that came.
    pub came: Came,
    /// The time from the question to the last of its answer, in seconds.
    pub round_trip_s: Option<f64>,
    /// The values in it.
    pub values: Vec<Value>,
}

/// The text or block that came, asked or unasked.
#[derive(Debug)]
pub enum Came {
    /// The bytes of a line.
    Line(Vec<u8>),
    /// A block of this many bytes.
    Block(usize),
}

/// A value with where it stood.
#[derive(Debug, Clone)]
pub struct Value {
    /// Its channel.
    pub channel: Channel,
    /// The input of the instrument.
    pub input: String,
    /// Where it stood.
    pub place: instrument::Place,
    /// The value as read, in the channel's SI unit.
    pub value_si: Option<f64>,
}

/// A note on an instrument that is worth knowing and no fault.
#[derive(Debug)]
pub enum Note {
    /// This question is answered by another name each time.
    NamesDiffer(String),
    /// It sends back each question.
    Echo,
}

/// An error of a profile.
#[derive(Debug)]
pub enum Fault {
    /// The synchronising question was never answered.
    NeverInStep {
        /// That question.
        ask: String,
        /// The answer that the profile expects.
        answer: String,
        /// How long it was waited for.
        within: Duration,
    },
    /// A question had no answer.
    NoAnswer {
        /// That question.
        question: String,
        /// The answer that came instead.
        answer: Answer,
        /// How long it was waited for.
        within: Duration,
        /// The instrument's complaints.
        complaints: Vec<String>,
        /// It was answered at another time.
        is_answered_else: bool,
    },
    /// The answer to a question can't be read.
    Unread {
        /// That question.
        question: String,
        /// Why.
        why: String,
        /// The answer.
        line: Vec<u8>,
    },
    /// The instrument complained of nothing that was asked.
    Complaint(String),
    /// A row is not good.
    Row {
        /// The question at which it went wrong, if it was one.
        question: Option<String>,
        /// The row's note.
        note: reading::Note,
    },
    /// A row takes longer than it may.
    Slow {
        /// How long it takes, in seconds.
        row_s: f64,
        /// The time from one row to the next, in seconds.
        every_s: f64,
    },
    /// A value cannot be: it is read from the wrong place or in the wrong unit.
    Impossible {
        /// That value.
        value: Value,
        /// The least that is believed, in the channel's SI unit.
        at_least: f64,
        /// The most.
        at_most: f64,
    },
    /// The line was lost, for this reason.
    Lost(String),
    /// Nothing came.
    Nothing {
        /// Whether rows are made of answers.
        is_asked: bool,
        /// How long it was waited for.
        within: Duration,
    },
    /// Most of the bytes are no text.
    NoText,
    /// A line can't be read.
    Garbled {
        /// Its row's note.
        note: reading::Note,
        /// The line.
        line: Vec<u8>,
    },
    /// No line made a row.
    NoReading {
        /// Why the last one did not.
        why: String,
        /// That line.
        line: Vec<u8>,
    },
}

impl Fault {
    /// The question that it is about.
    pub(super) fn question(&self) -> Option<&str> {
        match self {
            Self::NoAnswer { question, .. } | Self::Unread { question, .. } => Some(question),
            Self::Row { question, .. } => question.as_deref(),
            _ => None,
        }
    }
}

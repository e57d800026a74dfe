//! The types that every part of the program shares: one row of readings, and the remarks on it.
//!
//! A row is one reading set of one instrument at one moment. Status is a word, never a magic number. Silence, refusal, garbage,
//! overload and a lost line are different values, and a recording goes on through all of them.

use std::fmt;
use std::sync::Arc;

mod note;

pub use note::{Note, Remark};

/// A quantity that an instrument may report, named for its column.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Channel {
    /// Frequency of the oscillation, in hertz.
    FrequencyHz,
    /// Battery voltage at the circuit, in volts.
    BatteryV,
    /// Supply current, in amperes.
    CurrentA,
    /// Peak-to-peak voltage at the pick-up, in volts.
    AmplitudeV,
    /// Temperature, in degrees Celsius.
    TemperatureC,
}

impl Channel {
    /// All channels in column order.
    pub const ALL: [Self; 5] = [
        Self::FrequencyHz,
        Self::BatteryV,
        Self::CurrentA,
        Self::AmplitudeV,
        Self::TemperatureC,
    ];

    /// The column's name.
    pub const fn column(self) -> &'static str {
        match self {
            Self::FrequencyHz => "frequency_hz",
            Self::BatteryV => "battery_v",
            Self::CurrentA => "current_a",
            Self::AmplitudeV => "amplitude_v",
            Self::TemperatureC => "temperature_c",
        }
    }

    /// The channel with this column name.
    pub fn from_column(name: &str) -> Option<Self> {
        Self::ALL
            .into_iter()
            .find(|channel| channel.column() == name)
    }

    /// The unit its values are in.
    pub const fn unit(self) -> crate::units::Unit {
        match self {
            Self::FrequencyHz => crate::units::Unit::Hertz,
            Self::BatteryV | Self::AmplitudeV => crate::units::Unit::Volt,
            Self::CurrentA => crate::units::Unit::Ampere,
            Self::TemperatureC => crate::units::Unit::Celsius,
        }
    }
}

/// The values of one row, by channel; a channel that was not read is `None`.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Readings([Option<f64>; Channel::ALL.len()]);

impl Readings {
    /// The value of a channel, in its SI unit.
    pub const fn get(&self, channel: Channel) -> Option<f64> {
        self.0[channel as usize]
    }

    /// Sets a channel; a value that is not finite is not a reading and is left out.
    pub fn set(&mut self, channel: Channel, value: f64) {
        self.0[channel as usize] = value.is_finite().then_some(value);
    }

    /// Takes the value of a channel out.
    pub const fn clear(&mut self, channel: Channel) {
        self.0[channel as usize] = None;
    }

    /// Whether no channel has a value.
    pub fn is_empty(&self) -> bool {
        self.0.iter().all(Option::is_none)
    }
}

/// The worth of a row; when several apply, the first in this order stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Status {
    /// The line to the instrument was lost at this moment; its reason is in the note.
    Gap,
    /// The instrument did not answer.
    Silent,
    /// The instrument answered that it won't.
    Refused,
    /// The answer could not be read.
    Garbled,
    /// The instrument reports a value beyond its range.
    Overload,
    /// The instrument answers and the coil is silent.
    NoSignal,
    /// The same value stuck.
    Stale,
    /// Kept, and looks wrong.
    Suspect,
    /// The wall clock was moved.
    ClockStep,
    /// A good reading.
    Ok,
}

impl Status {
    /// All states in order of precedence.
    pub const ALL: [Self; 10] = [
        Self::Gap,
        Self::Silent,
        Self::Refused,
        Self::Garbled,
        Self::Overload,
        Self::NoSignal,
        Self::Stale,
        Self::Suspect,
        Self::ClockStep,
        Self::Ok,
    ];

    /// The word in the status column.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Gap => "gap",
            Self::Silent => "silent",
            Self::Refused => "refused",
            Self::Garbled => "garbled",
            Self::Overload => "overload",
            Self::NoSignal => "no-signal",
            Self::Stale => "stale",
            Self::Suspect => "suspect",
            Self::ClockStep => "clock-step",
            Self::Ok => "ok",
        }
    }

    /// The status with this word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|status| status.word() == word)
    }

    /// Whether the frequency of such a row could not be read, so that nobody knows whether the coil ran; `no-signal` says that
    /// it did not.
    pub const fn is_unread(self) -> bool {
        matches!(
            self,
            Self::Gap | Self::Silent | Self::Refused | Self::Garbled | Self::Overload
        )
    }

    /// The more serious of two.
    #[must_use]
    pub fn worst(self, other: Self) -> Self {
        self.min(other)
    }
}

impl fmt::Display for Status {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// A moment: wall time for people, elapsed time for rates.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Stamp {
    /// Microseconds since the session began; never runs backwards.
    pub elapsed_us: i64,
    /// Milliseconds since 1970-01-01 UTC.
    pub wall_ms: i64,
}

impl Stamp {
    /// Seconds since the session began.
    pub fn elapsed_s(self) -> f64 {
        // Exact: sessions are far shorter than the 285 years at which microseconds leave an f64's integers.
        self.elapsed_us as f64 / 1e6
    }
}

/// One reading set of one instrument at one moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// When the first byte of the last answer in it came, or a line that came unasked was whole.
    pub stamp: Stamp,
    /// The label of the instrument.
    pub source: Arc<str>,
    /// The values.
    pub readings: Readings,
    /// The status of the readings.
    pub status: Status,
    /// Why, when the status is not `ok`; else empty.
    pub note: Note,
}

impl Row {
    /// A channel's value, when the row says that it can be used.
    ///
    /// A `stale` or `suspect` row names the channels it doubts in its note; the others count. One that names none doubts all.
    pub fn good(&self, channel: Channel) -> Option<f64> {
        let is_good = match self.status {
            Status::Ok => true,
            Status::Stale | Status::Suspect => {
                self.note.doubts().next().is_some() && !self.is_doubted(channel)
            }
            _ => false,
        };
        if is_good {
            self.readings.get(channel)
        } else {
            None
        }
    }

    /// The battery voltage, in volts, when it can be used.
    pub fn battery_v(&self) -> Option<f64> {
        self.supplied(Channel::BatteryV)
    }

    /// A value of the supply, when it can be used.
    ///
    /// A row without a frequency says that of the coil or its counter. The battery and its current beside it were read all the
    /// same, whatever befell the frequency.
    pub fn supplied(&self, channel: Channel) -> Option<f64> {
        match self.status {
            Status::NoSignal
            | Status::Silent
            | Status::Refused
            | Status::Garbled
            | Status::Overload => {
                let value = self.readings.get(channel);
                value.filter(|_| !self.is_doubted(channel))
            }
            _ => self.good(channel),
        }
    }

    fn is_doubted(&self, channel: Channel) -> bool {
        self.note.doubts().any(|(doubted, _)| doubted == channel)
    }
}

/// A run of rows in the order of their time, as an analysis takes them.
pub type Chunk = [Row];

/// Where the exchange of a row went wrong, of an instrument that is asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Failed {
    /// It went wrong at this question.
    At(String),
    /// It went wrong between questions and answers, which are not in step.
    OutOfStep,
}

/// The text that each of some rows was read from, without blocks; empty for a row that was read from nothing.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Texts {
    bytes: Vec<u8>,
    ends: Vec<usize>,
    failed: Vec<(usize, Failed)>,
}

impl Texts {
    /// Adds the next row's.
    pub fn push(&mut self, text: &[u8]) {
        self.bytes.extend_from_slice(text);
        self.ends.push(self.bytes.len());
    }

    /// Says where the exchange of the row added last went wrong.
    pub fn fail(&mut self, failed: Failed) {
        self.failed
            .extend(self.ends.len().checked_sub(1).map(|index| (index, failed)));
    }

    /// Returns where the exchange of the row at this place, counted from 0, went wrong, if it did.
    pub fn failed(&self, index: usize) -> Option<&Failed> {
        let found = self.failed.iter().find(|(row, _)| *row == index);
        found.map(|(_, failed)| failed)
    }

    /// The text of the row at this place, counted from 0; empty where there is none.
    pub fn get(&self, index: usize) -> &[u8] {
        let end_of = |index: usize| self.ends.get(index).copied();
        let begin = index.checked_sub(1).and_then(end_of).unwrap_or(0);
        let end = end_of(index).unwrap_or(begin);
        self.bytes.get(begin..end).unwrap_or(&[])
    }
}

/// Bytes that could not be used, or hardly, kept for `rejected.log`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rejected {
    /// When they came.
    pub stamp: Stamp,
    /// The label of the instrument.
    pub source: Arc<str>,
    /// Why they were refused.
    pub why: String,
    /// The bytes.
    pub bytes: Vec<u8>,
}

/// How an instrument of the virtual bench begins when it says who it is; a board sends it as a line when it is opened.
pub const VIRTUAL_IDENTITY: &str = "sagtrace,virtual ";

/// Returns how many times faster than real the world of a virtual instrument runs. It stands in the instrument's identity (`x20`
/// in the third field, `0` for real time); `None` for any other instrument.
pub fn virtual_time_scale(identity: &str) -> Option<f64> {
    let rest = identity.strip_prefix(VIRTUAL_IDENTITY)?;
    let scale = rest.split(',').nth(1)?.trim().strip_prefix('x');
    Some(scale.and_then(|scale| scale.parse().ok()).unwrap_or(1.0))
}

/// A moment by this computer's clock and by a board's own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoardTime {
    /// Seconds since the session began, when the line came.
    pub elapsed_s: f64,
    /// The board's seconds, counted from where its clock began.
    pub board_s: f64,
    /// The board's clock begins anew here.
    pub is_first: bool,
}

/// The events that reach a recording from its instruments: the closed list.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
    /// Rows of one instrument that came together, to be written together.
    Rows(Vec<Row>, Texts),
    /// An answer that was refused.
    Rejected(Rejected),
    /// The instrument is there, and who it says it is.
    Identity {
        /// The label of the instrument.
        source: Arc<str>,
        /// Its answer to the identity query.
        text: String,
    },
    /// The line was lost; the row that says so came before.
    Lost {
        /// The label of the instrument.
        source: Arc<str>,
        /// How.
        reason: String,
    },
    /// The line came back after a gap.
    Back {
        /// The label of the instrument.
        source: Arc<str>,
    },
    /// The board's own clock beside this computer's.
    BoardTimes {
        /// The label of the instrument.
        source: Arc<str>,
        /// Moments of both, in order.
        times: Vec<BoardTime>,
    },
    /// News of the line that is no reading.
    Told {
        /// The label of the instrument.
        source: Arc<str>,
        /// The text to be reported.
        text: String,
    },
    /// The instrument will give no more: its log is at the end, or it was given up.
    Ended {
        /// The label of the instrument.
        source: Arc<str>,
        /// Why, when that is a fault.
        fault: Option<String>,
    },
}

#[cfg(test)]
mod tests;

//! What a line, or the answers for one row, came to.

use std::fmt::Display;

use crate::instrument::number::value::Value;
use crate::instrument::refusal::Refusal;
use crate::reading::{Channel, Readings, Status};

/// What a line, or the answers for one row, came to.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The values that could be read.
    pub readings: Readings,
    /// The most serious of what was met.
    pub status: Status,
    /// Why, when the status is not `ok`.
    pub note: String,
}

impl Default for Reading {
    fn default() -> Self {
        Self {
            readings: Readings::default(),
            status: Status::Ok,
            note: String::new(),
        }
    }
}

impl Reading {
    /// A reading without values.
    pub fn failed(status: Status, note: &(impl ToString + ?Sized)) -> Self {
        Self {
            readings: Readings::default(),
            status,
            note: note.to_string(),
        }
    }

    /// Adds one value.
    pub fn add(&mut self, channel: Channel, value: Value) {
        let (status, why): (_, &dyn Display) = match &value {
            Value::Number(value) => {
                self.readings.set(channel, *value);
                return;
            }
            // Without a signal there is no frequency and no amplitude; another channel without one is out of order.
            Value::NoSignal => (Status::NoSignal, &"no signal"),
            Value::Overload => (Status::Overload, &"beyond the range"),
            Value::Unsteady => (Status::Suspect, &"a signal without one steady value"),
            Value::Garbled(why) => (Status::Garbled, why),
        };
        self.note(status, &format!("{}: {why}", channel.column()));
    }

    /// Checks the number of values that answered `question`; with another number none is taken.
    ///
    /// # Errors
    /// Whether there are too few or too many.
    pub(in crate::instrument) fn expect(
        &mut self,
        question: &str,
        came: usize,
        expected: usize,
    ) -> Result<(), Refusal> {
        if came == expected {
            return Ok(());
        }
        let note = format!("{question} gave {came} values where the profile says {expected}");
        self.note(Status::Garbled, &note);
        Err(if came < expected {
            Refusal::TooFewValues
        } else {
            Refusal::TooManyValues
        })
    }

    /// Takes a status that is more serious than what was met before, with its reason; doubts of several channels stand
    /// side by side.
    pub fn note(&mut self, status: Status, why: &str) {
        if self.status.worst(status) != self.status {
            self.status = status;
            why.clone_into(&mut self.note);
        } else if status == Status::Suspect && self.status == status {
            self.note.push_str("; ");
            self.note.push_str(why);
        }
    }
}

/// A line that gave nothing at all is no row of readings.
pub(in crate::instrument) fn settle(reading: Reading) -> Reading {
    if reading.readings.is_empty() && reading.status == Status::Ok {
        return Reading::failed(Status::Garbled, "no known value in the line");
    }
    reading
}

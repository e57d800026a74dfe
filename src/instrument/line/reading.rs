//! The reading of a line, or of the answers for one row.

use std::fmt::Display;

use crate::instrument::number::value::Value;
use crate::instrument::refusal::Refusal;
use crate::reading::{Channel, Note, Readings, Remark, Status};

/// The reading of a line, or of the answers for one row.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The values that could be read.
    pub readings: Readings,
    /// The most serious status met.
    pub status: Status,
    /// Why, when the status is not `ok`.
    pub note: Note,
}

impl Default for Reading {
    fn default() -> Self {
        Self {
            readings: Readings::default(),
            status: Status::Ok,
            note: Note::default(),
        }
    }
}

impl Reading {
    /// A reading without values.
    pub fn failed(status: Status, note: &(impl ToString + ?Sized)) -> Self {
        Self {
            readings: Readings::default(),
            status,
            note: note.to_string().into(),
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
        self.note(status, Remark::of(channel, why.to_string()));
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
        self.note(Status::Garbled, note);
        Err(if came < expected {
            Refusal::TooFewValues
        } else {
            Refusal::TooManyValues
        })
    }

    /// Takes a status that is more serious than those met before, with its reason; doubts of several channels stand side by side.
    pub fn note(&mut self, status: Status, why: impl Into<Remark>) {
        self.note_all(status, [why.into()]);
    }

    /// The same of several reasons that go together.
    pub(in crate::instrument) fn note_all(
        &mut self,
        status: Status,
        whys: impl IntoIterator<Item = Remark>,
    ) {
        if self.status.worst(status) != self.status {
            self.status = status;
            self.note = Note::default();
        } else if status != Status::Suspect || self.status != status {
            return;
        }
        for why in whys {
            self.note.push(why);
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

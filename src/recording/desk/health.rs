//! How the instruments of a recording are doing: whether each gave anything yet, and whether one fell silent.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::reading::{Rejected, Row, Status};
use crate::recording::news::FromInstrument;
use crate::recording::wrong_speed::WrongSpeed;

/// How the instruments are doing.
pub(super) struct Health {
    /// Instruments that never gave anything that could be read.
    mute: BTreeSet<Arc<str>>,
    /// Of them those that were reported.
    warned: BTreeSet<Arc<str>>,
    /// Instruments that fell silent or hang, as it was reported.
    odd: BTreeMap<Arc<str>, Status>,
    speed: WrongSpeed,
}

impl Health {
    pub(super) fn new(labels: Vec<Arc<str>>) -> Self {
        Self {
            mute: labels.into_iter().collect(),
            warned: BTreeSet::new(),
            odd: BTreeMap::new(),
            speed: WrongSpeed::default(),
        }
    }

    /// Returns the instruments that never gave anything that could be read.
    pub(super) fn mute(self) -> Vec<Arc<str>> {
        self.mute.into_iter().collect()
    }

    /// Takes a row; returns the news of its instrument.
    pub(super) fn judge(&mut self, row: &Row) -> Option<FromInstrument> {
        let odd = self.odd(row);
        let heard = match row.status {
            // One question of several may be answered.
            Status::Silent | Status::Refused | Status::Garbled if !row.readings.is_empty() => {
                self.speed.is_read(&row.source);
                self.mute
                    .remove(&row.source)
                    .then(|| FromInstrument::PartOnly(row.note.to_string()))
            }
            Status::Silent | Status::Refused | Status::Garbled => {
                let is_new =
                    self.mute.contains(&row.source) && self.warned.insert(Arc::clone(&row.source));
                is_new.then(|| FromInstrument::NothingYet(row.note.to_string()))
            }
            Status::Ok | Status::NoSignal | Status::Overload | Status::Stale | Status::Suspect => {
                self.mute.remove(&row.source);
                self.speed.is_read(&row.source);
                None
            }
            Status::Gap | Status::ClockStep => None,
        };
        odd.or(heard)
    }

    /// Reports once that an instrument that was heard fell silent, hangs, or gave a value that is hard to believe.
    fn odd(&mut self, row: &Row) -> Option<FromInstrument> {
        let was = match row.status {
            Status::Ok => {
                self.odd.remove(&row.source);
                return None;
            }
            Status::Silent | Status::Stale | Status::Suspect => {
                self.odd.insert(Arc::clone(&row.source), row.status)
            }
            _ => return None,
        };
        let is_new = was != Some(row.status) && !self.mute.contains(&row.source);
        is_new.then(|| FromInstrument::Odd(row.status, row.note.to_string()))
    }

    /// Takes bytes that were refused; reports once that most of them are no text.
    pub(super) fn refused(&mut self, rejected: &Rejected) -> Option<FromInstrument> {
        let is_doubtful = self.speed.is_doubtful(rejected);
        is_doubtful.then_some(FromInstrument::MostlyNoText)
    }
}

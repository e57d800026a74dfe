//! The state behind the commands: the model, its readings and its queue of errors.

use std::collections::VecDeque;

use scpi::Device;
use scpi::error::{Error, ErrorCode};

use super::super::Quantity;
use super::super::world::Moment;
use super::number::{Resolution, nr3};
use super::sampling::{Form, Sampling};

/// Errors kept; when the queue is full the newest gives way to "queue overflow" (SCPI-99, 21.8.1, from memory).
pub(super) const QUEUE_LENGTH: usize = 16;

/// Which instrument it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Model {
    /// Frequency, battery voltage, current and temperature.
    Counter,
    /// The pick-up's frequency and peak-to-peak voltage on channel 1, the battery on channel 2.
    Scope,
}

/// The state that the commands work on.
pub(super) struct Panel {
    pub(super) model: Model,
    /// How many times faster than real its time runs.
    pub(super) time_scale: u32,
    pub(super) resolution: Resolution,
    /// The values that can be measured.
    pub(super) moment: Option<Moment>,
    pub(super) errors: VecDeque<Error>,
    /// How it samples a waveform.
    pub(super) sampling: Sampling,
    /// How samples are coded now.
    pub(super) form: Form,
    /// Waveforms handed out so far.
    pub(super) traces: u64,
    /// Bytes of the block in the answer to the message in hand.
    pub(super) block_len: usize,
}

impl Device for Panel {
    fn handle_error(&mut self, err: Error) {
        if self.errors.len() == QUEUE_LENGTH {
            self.errors.pop_back();
            self.errors.push_back(ErrorCode::QueueOverflow.into());
        } else {
            self.errors.push_back(err);
        }
    }
}

impl Panel {
    /// Returns the reading of a quantity on a channel in NR3 form; 9.91E+37 where there is none to be had.
    pub(super) fn reading(&self, quantity: Quantity, channel: usize) -> Option<String> {
        let value = self.moment.as_ref().and_then(|moment| quantity.of(moment));
        let value = match (self.model, quantity, channel) {
            (Model::Scope, Quantity::FrequencyHz, 2) => None,
            // The pick-up swings about zero, and the battery hardly at all.
            (Model::Scope, Quantity::BatteryV, 1) | (Model::Scope, Quantity::AmplitudeV, 2) => {
                Some(0.0)
            }
            _ => value,
        };
        let resolution = match (self.resolution, quantity) {
            (resolution, Quantity::FrequencyHz) | (resolution @ Resolution::Digits(_), _) => {
                resolution
            }
            (_, Quantity::CurrentA) => Resolution::Decade(-4),
            (_, Quantity::TemperatureC) => Resolution::Decade(-1),
            (_, Quantity::BatteryV | Quantity::AmplitudeV) => Resolution::Decade(-3),
        };
        value.map(|value| nr3(value, resolution))
    }

    /// Returns how many channels it has.
    pub(super) const fn channels(&self) -> usize {
        match self.model {
            Model::Counter => 1,
            Model::Scope => 2,
        }
    }
}

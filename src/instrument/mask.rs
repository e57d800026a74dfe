//! Frequencies that are known not to be the coil's, like the ripple of a battery's converter.

use crate::reading::{Channel, Row, Status};
use crate::units::{Unit, rounded};

/// A band in which a frequency is not the coil's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mask {
    /// Where it begins, in hertz.
    pub from_hz: f64,
    /// Where it ends, in hertz.
    pub to_hz: f64,
}

impl Mask {
    /// The mask to either side of a frequency by half a width, both in hertz.
    pub fn around(centre_hz: f64, half_width_hz: f64) -> Self {
        Self {
            from_hz: centre_hz - half_width_hz,
            to_hz: centre_hz + half_width_hz,
        }
    }

    /// Whether a frequency in hertz lies in it.
    pub fn covers(&self, frequency_hz: f64) -> bool {
        (self.from_hz..=self.to_hz).contains(&frequency_hz)
    }
}

/// Marks a good row whose frequency is masked: the instrument answers and the coil is silent. The reading stays in the row.
pub fn mask(masks: &[Mask], row: &mut Row) {
    let Some(frequency_hz) = row.good(Channel::FrequencyHz) else {
        return;
    };
    if let Some(mask) = masks.iter().find(|mask| mask.covers(frequency_hz)) {
        let hertz = |value_hz| rounded(value_hz, Unit::Hertz, 5);
        row.status = Status::NoSignal;
        row.note = format!(
            "masked: {} to {} is not the coil's",
            hertz(mask.from_hz),
            hertz(mask.to_hz)
        )
        .into();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::{Note, Readings, Stamp};

    fn row(frequency_hz: f64, status: Status) -> Row {
        let mut readings = Readings::default();
        readings.set(Channel::FrequencyHz, frequency_hz);
        readings.set(Channel::BatteryV, 9.02);
        Row {
            stamp: Stamp {
                elapsed_us: 0,
                wall_ms: 0,
            },
            source: "counter".into(),
            readings,
            status,
            note: Note::default(),
        }
    }

    #[test]
    fn a_masked_frequency_is_no_signal_of_the_coil_and_stays_in_the_row() {
        let masks = [Mask::around(2.1e6, 21e3)];
        let mut ripple = row(2.11e6, Status::Ok);
        mask(&masks, &mut ripple);
        assert_eq!(ripple.status, Status::NoSignal);
        assert_eq!(
            ripple.note.to_string(),
            "masked: 2.0790 MHz to 2.1210 MHz is not the coil's"
        );
        assert_eq!(ripple.readings.get(Channel::FrequencyHz), Some(2.11e6));
        assert_eq!(ripple.readings.get(Channel::BatteryV), Some(9.02));
    }

    #[test]
    fn the_coil_and_what_is_worse_stay_as_they_are() {
        let masks = [Mask::around(2.1e6, 21e3)];
        for (frequency_hz, status) in [(2.122e6, Status::Ok), (2.1e6, Status::Overload)] {
            let mut other = row(frequency_hz, status);
            mask(&masks, &mut other);
            assert_eq!(other, row(frequency_hz, status));
        }
    }
}

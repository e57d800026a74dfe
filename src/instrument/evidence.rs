//! How far an answer, or a line, shows that a profile is the instrument's.

use super::line::Reading;
use crate::reading::{Channel, Status};

/// How far a reading shows that a profile is the instrument's.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Evidence {
    /// It has a number, and all of it could be read.
    Measures,
    /// It answers as the profile says, but with marks alone: overload or no signal.
    NothingToMeasure,
    /// It shows nothing: no value at all, or one that could not be read.
    Nothing,
}

impl Evidence {
    /// Returns how far a reading shows that the profile it was read by is the instrument's.
    ///
    /// A mark alone is no proof: `0`, `nan` or 9.9E37 fits many profiles, of which one is right.
    pub fn from_reading(reading: &Reading) -> Self {
        let has_number = Channel::ALL
            .into_iter()
            .any(|channel| reading.readings.get(channel).is_some());
        match reading.status {
            Status::Gap | Status::Silent | Status::Refused | Status::Garbled => Self::Nothing,
            _ if has_number => Self::Measures,
            Status::Overload | Status::NoSignal | Status::Suspect => Self::NothingToMeasure,
            Status::Stale | Status::ClockStep | Status::Ok => Self::Nothing,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instrument::{Catalogue, Checksum, fields, read_answer};

    #[test]
    fn a_mark_alone_proves_no_profile() {
        let (profile, _) = Catalogue::default().get("scpi-counter").unwrap();
        let evidence = |answers: [&str; 2]| {
            let mut reading = Reading::default();
            for (question, answer) in profile.questions().into_iter().zip(answers) {
                read_answer(question, answer, &profile.values, &mut reading).ok();
            }
            Evidence::from_reading(&reading)
        };
        assert_eq!(evidence(["6.2E6", "8.9"]), Evidence::Measures);
        assert_eq!(evidence(["9.91E37", "8.9"]), Evidence::Measures);
        assert_eq!(evidence(["9.9E37", "9.9E37"]), Evidence::NothingToMeasure);
        assert_eq!(evidence(["9.91E37", "9.9E37"]), Evidence::NothingToMeasure);
        assert_eq!(evidence(["6.2E6", "ERROR"]), Evidence::Nothing);
        assert_eq!(
            Evidence::from_reading(&Reading::default()),
            Evidence::Nothing
        );
    }

    #[test]
    fn the_same_holds_for_lines_that_come_unasked() {
        let (profile, _) = Catalogue::default().get("plain-lines").unwrap();
        for (line, expected) in [
            ("f=6231234.5Hz", Evidence::Measures),
            ("f=none v=8.9V", Evidence::Measures),
            ("f=over", Evidence::NothingToMeasure),
            ("f=none", Evidence::NothingToMeasure),
            ("f=what", Evidence::Nothing),
        ] {
            let reading = fields(line, &profile.values, Checksum::Optional);
            assert_eq!(Evidence::from_reading(&reading), expected, "{line}");
        }
    }
}

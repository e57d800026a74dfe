//! The answer to a question: values between commas or semicolons.

use super::line::Reading;
use super::number::read_number;
use super::profile::{ChannelRule, Place};
use crate::reading::Status;

/// Reads the answer to `question` into `reading`; `Err` says why the answer is not one to this question.
///
/// # Errors
/// The reason, in a few words, when the answer holds too few values or none that can be read.
pub fn read_answer(
    question: &str,
    answer: &str,
    rules: &[ChannelRule],
    reading: &mut Reading,
) -> Result<(), &'static str> {
    let values: Vec<&str> = answer.split([',', ';']).collect();
    let mut wanted = 0;
    for rule in rules {
        let Place::Answer { ask, position } = &rule.place else {
            continue;
        };
        if ask != question {
            continue;
        }
        wanted = wanted.max(*position);
        if let Some(text) = values.get(position - 1) {
            reading.add(rule.channel, read_number(text, &rule.number, rule.channel));
        }
    }
    if values.len() < wanted {
        // Values that came may belong to the question before: none of them is taken as the missing one.
        reading.note(
            Status::Garbled,
            &format!("{question} gave {} of {wanted} values", values.len()),
        );
        return Err("too few values");
    }
    if reading.status == Status::Garbled {
        Err("not a number")
    } else {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instrument::Catalogue;
    use crate::reading::Channel;

    /// A profile whose one question gives two values.
    fn both() -> Vec<ChannelRule> {
        let (profile, _) = Catalogue::default().get("scpi-counter").unwrap();
        let mut rules = profile.values;
        for (index, rule) in rules.iter_mut().enumerate() {
            rule.place = Place::Answer {
                ask: "BOTH?".to_owned(),
                position: index + 1,
            };
        }
        rules
    }

    #[test]
    fn a_compound_answer_gives_each_value_its_channel() {
        let mut reading = Reading::default();
        assert_eq!(
            read_answer("BOTH?", "+4.015E+06;+9.36E+00", &both(), &mut reading),
            Ok(())
        );
        assert_eq!(reading.readings.get(Channel::FrequencyHz), Some(4.015e6));
        assert_eq!(reading.readings.get(Channel::BatteryV), Some(9.36));
    }

    #[test]
    fn one_value_where_two_are_wanted_marks_the_row() {
        let mut reading = Reading::default();
        assert_eq!(
            read_answer("BOTH?", "+9.36E+00", &both(), &mut reading),
            Err("too few values")
        );
        assert_eq!(
            (reading.status, reading.readings.get(Channel::BatteryV)),
            (Status::Garbled, None)
        );
        assert_eq!(reading.note, "BOTH? gave 1 of 2 values");
    }
}

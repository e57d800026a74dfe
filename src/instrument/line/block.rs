//! The answer to a question that is a small block of numbers in bytes.

use crate::instrument::line::reading::Reading;
use crate::instrument::number::read_number;
use crate::instrument::number::rule::NumberRule;
use crate::instrument::profile::{ChannelRule, Place};
use crate::instrument::refusal::Refusal;
use crate::reading::Status;

/// Reads the block that answers `question` into `reading`; `Err` says why it is no answer to this question.
///
/// # Errors
/// [`Refusal`] when the block has another number of values than the profile says, or half of one.
pub fn read_block_values(
    question: &str,
    block: &[u8],
    rules: &[ChannelRule],
    reading: &mut Reading,
) -> Result<(), Refusal> {
    for rule in rules {
        let Place::Block {
            ask,
            position,
            of,
            codes,
        } = &rule.place
        else {
            continue;
        };
        if ask != question {
            continue;
        }
        let texts = codes.texts(block).inspect_err(|why| {
            reading.note(Status::Garbled, format!("{question}: {why}"));
        })?;
        // Other values of the same block may say a larger number.
        let expected = rules
            .iter()
            .filter_map(|rule| match &rule.place {
                Place::Block { ask, of, .. } if ask == question => Some(*of),
                _ => None,
            })
            .fold(*of, usize::max);
        reading.expect(question, texts.len(), expected)?;
        if let Some(text) = texts.get(position - 1) {
            // These digits are ours, with a point whatever the instrument prints.
            let number = NumberRule {
                decimal_sign: '.',
                ..rule.number.clone()
            };
            reading.add(rule.channel, read_number(text, &number, rule.channel));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instrument::{Catalogue, Codes};
    use crate::reading::Channel;

    fn rules(codes: Codes, of: usize) -> Vec<ChannelRule> {
        let (profile, _) = Catalogue::default().get("scpi-counter").unwrap();
        let mut rules = profile.values;
        for (index, rule) in rules.iter_mut().enumerate() {
            rule.place = Place::Block {
                ask: "R? 1".to_owned(),
                position: index + 1,
                of,
                codes,
            };
            rule.number.decimal_sign = ',';
        }
        rules
    }

    /// The eight bytes of 1.0 (IEEE 754) are those of a meter in a general-purpose instrument library's tests. Those of 6.25e6
    /// and 8.5 are by hand: 415 7D784 0… and 4021 0….
    #[test]
    fn numbers_of_a_small_block_are_values() {
        let mut one = rules(Codes::Real64HighFirst, 1);
        one.truncate(1);
        let mut reading = Reading::default();
        let block = [0x3f, 0xf0, 0, 0, 0, 0, 0, 0];
        read_block_values("R? 1", &block, &one, &mut reading).unwrap();
        assert_eq!(reading.readings.get(Channel::FrequencyHz), Some(1.0));
        let block = [
            0x41, 0x57, 0xd7, 0x84, 0, 0, 0, 0, 0x40, 0x21, 0, 0, 0, 0, 0, 0,
        ];
        let mut reading = Reading::default();
        let two = rules(Codes::Real64HighFirst, 2);
        read_block_values("R? 1", &block, &two, &mut reading).unwrap();
        assert_eq!(reading.readings.get(Channel::FrequencyHz), Some(6.25e6));
        assert_eq!(reading.readings.get(Channel::BatteryV), Some(8.5));
    }

    #[test]
    fn a_block_of_another_size_gives_none() {
        let two = rules(Codes::Real64HighFirst, 2);
        for (block, why) in [
            (&[0_u8; 8][..], Refusal::TooFewValues),
            (&[0; 24], Refusal::TooManyValues),
            (&[0; 12], Refusal::HalfNumber),
        ] {
            let mut reading = Reading::default();
            assert_eq!(
                read_block_values("R? 1", block, &two, &mut reading),
                Err(why)
            );
            assert_eq!(reading.status, Status::Garbled);
            assert!(reading.readings.is_empty());
        }
    }

    /// SCPI-1999, 7.2.1.5: 9.91E37 is not a number; of 32 bits it is 9.9100003E37.
    #[test]
    fn the_numbers_that_stand_for_none_are_words() {
        let mut one = rules(Codes::Real32LowFirst, 1);
        one.truncate(1);
        for (value, status) in [
            (9.91e37_f32, Status::NoSignal),
            (9.9e37, Status::Overload),
            (0.0, Status::NoSignal),
            (f32::NAN, Status::NoSignal),
        ] {
            let mut reading = Reading::default();
            read_block_values("R? 1", &value.to_le_bytes(), &one, &mut reading).unwrap();
            assert_eq!(reading.status, status, "{value}: {reading:?}");
            assert!(reading.readings.is_empty());
        }
    }
}

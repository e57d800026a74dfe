//! The answer to a question: values between commas or semicolons.

use crate::instrument::line::cells;
use crate::instrument::line::cells::Cell;
use crate::instrument::line::reading::Reading;
use crate::instrument::line::unit_beside::{Beside, Placed, units_beside, with_unit_beside};
use crate::instrument::number::read_number;
use crate::instrument::number::value::Value;
use crate::instrument::profile::{ChannelRule, Place};
use crate::instrument::refusal::Refusal;
use crate::reading::Status;

/// Reads the answer to `question` into `reading`; `Err` says why the answer is not one to this question.
///
/// # Errors
/// [`Refusal`] when the answer holds too few or too many values, or one that can't be read.
pub fn read_answer(
    question: &str,
    answer: &str,
    rules: &[ChannelRule],
    reading: &mut Reading,
) -> Result<(), Refusal> {
    let is_asked =
        |rule: &&ChannelRule| matches!(&rule.place, Place::Answer { ask, .. } if ask == question);
    let decimal_sign = rules
        .iter()
        .find(is_asked)
        .map_or('.', |rule| rule.number.decimal_sign);
    // With a decimal comma, a comma separates nothing.
    let comma = (decimal_sign != ',').then_some(',');
    let values = match cells::cut(answer.trim_end_matches(';'), comma, Some(';')) {
        Ok(values) => values,
        Err(why) => {
            reading.note(Status::Garbled, format!("{question}: {why}"));
            return Err(why);
        }
    };
    let expected = rules
        .iter()
        .filter_map(|rule| match &rule.place {
            Place::Answer { ask, of, .. } if ask == question => Some(*of),
            _ => None,
        })
        .max()
        .unwrap_or(0);
    // The values that came may belong to the question before, and "4,012" may be one number.
    reading.expect(question, values.len(), expected)?;
    let mut outcome = Ok(());
    for (rule, beside) in units_beside_all(&values, rules, question) {
        let Place::Answer {
            position, header, ..
        } = &rule.place
        else {
            continue;
        };
        let Some(cell) = values.get(position - 1) else {
            continue;
        };
        let (rule, refusal) = with_unit_beside(rule, beside);
        let value = match (
            read_value(cell, question, header.as_deref(), &rule),
            refusal,
        ) {
            (Value::Garbled(_), Some(why)) => Value::Garbled(why),
            (value, _) => value,
        };
        if let Value::Garbled(why) = value {
            outcome = Err(why);
        }
        reading.add(rule.channel, value);
    }
    outcome
}

/// Returns the rules of a question, each with the unit in the cells beside its value.
fn units_beside_all<'r>(
    values: &[Cell],
    rules: &'r [ChannelRule],
    question: &str,
) -> Vec<(&'r ChannelRule, Beside)> {
    let place = |rule: &'r ChannelRule| match &rule.place {
        Place::Answer { ask, position, .. } if ask == question => Some(Placed {
            index: position.checked_sub(1)?,
            unit: rule.unit_cell.resolve(|_| None)?,
            rule,
        }),
        _ => None,
    };
    let placed: Vec<Placed<'r>> = rules.iter().filter_map(place).collect();
    let beside = units_beside(values, &placed);
    placed
        .iter()
        .map(|placed| placed.rule)
        .zip(beside)
        .collect()
}

/// Reads one value, behind the header of its unit if the instrument's headers are on.
fn read_value(cell: &Cell, question: &str, header: Option<&str>, rule: &ChannelRule) -> Value {
    let number = &rule.number;
    // A mark may look like a header: `NO SIGNAL`.
    if number.marks.have(&cell.text) {
        return read_number(&cell.text, number, rule.channel);
    }
    if let Some(rest) = header.and_then(|header| behind(&cell.text, header)) {
        return read_number(unquoted(rest), number, rule.channel);
    }
    let Some((found, rest)) = split_header(&cell.text) else {
        return if is_glued(&cell.text) {
            Value::Garbled(match header {
                Some(_) => Refusal::OtherLetters,
                None => Refusal::GluedLetters,
            })
        } else {
            read_number(&cell.text, number, rule.channel)
        };
    };
    let unit = question.split(';').nth(cell.unit).unwrap_or(question);
    let is_ours = match header {
        Some(header) => header.eq_ignore_ascii_case(found),
        None => belongs(found, unit),
    };
    if is_ours {
        read_number(unquoted(rest), number, rule.channel)
    } else {
        Value::Garbled(Refusal::OtherHeader)
    }
}

/// Returns the text behind the header of the answer to `question`; `None` where there is no header, or another question's.
pub(in crate::instrument) fn without_header<'a>(
    answer: &'a str,
    question: &str,
) -> Option<&'a str> {
    split_header(answer.trim())
        .filter(|(header, _)| belongs(header, question))
        .map(|(_, rest)| rest)
}

/// The value behind the profile's own header, which ends where the number begins: `FA+010E+06`, `FREQ   9999.9E+03`.
fn behind<'a>(text: &'a str, header: &str) -> Option<&'a str> {
    let (found, rest) = text.split_at_checked(header.len())?;
    let value = rest.trim_start();
    // `F1` is not the header of `F12.5`, nor `VAL` that of `VALUE 5`.
    let is_cut = value.len() < rest.len()
        || !(found.ends_with(|c: char| c.is_ascii_digit()) && begins_with_digit(value));
    let begins = value.starts_with(['"', '\'', '#']) || begins_number(value);
    (found.eq_ignore_ascii_case(header) && is_cut && begins).then_some(value)
}

fn begins_with_digit(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_digit())
}

/// Whether a text begins as a number does: a sign, a decimal sign, a digit.
fn begins_number(text: &str) -> bool {
    let unsigned = text.strip_prefix(['+', '-']).unwrap_or(text);
    begins_with_digit(unsigned.strip_prefix(['.', ',']).unwrap_or(unsigned))
}

/// Whether letters stand before a number without a blank between.
fn is_glued(text: &str) -> bool {
    let behind = text.trim_start_matches(|c: char| c.is_ascii_alphabetic());
    behind.len() < text.len() && begins_number(behind)
}

/// Splits a header, `:MEAS:FREQ `, from the value behind it.
fn split_header(text: &str) -> Option<(&str, &str)> {
    let (header, rest) = text.split_once([' ', '\t'])?;
    let mut letters = header.trim_start_matches(':').bytes();
    let begins = letters.next().is_some_and(|byte| byte.is_ascii_uppercase());
    let goes_on = |byte: u8| byte.is_ascii_uppercase() || byte.is_ascii_digit() || byte == b':';
    let rest = rest.trim_start();
    (begins && letters.all(goes_on) && !rest.is_empty()).then_some((header, rest))
}

/// Whether a header is that of a question: its last word is one of the question's, in its short or long form.
///
/// So the header shows an answer that came too late: `:MEAS:VOLT 8.9` is none to `MEAS:FREQ?`.
pub(in crate::instrument) fn belongs(header: &str, question: &str) -> bool {
    let asked = question.split(['?', ' ']).next().unwrap_or("");
    let last = header.rsplit(':').next().unwrap_or("");
    let mut words = asked.split(':').filter(|word| !word.is_empty()).rev();
    // `VOLT:DC` may answer as `VOLT`, since DC goes without saying; a word further left is shared with other questions.
    words.by_ref().take(2).any(|word| is_same_word(word, last))
}

/// Short and long form of one word: the shorter begins the longer, and has at least two letters.
fn is_same_word(one: &str, other: &str) -> bool {
    let (short, long) = if one.len() <= other.len() {
        (one, other)
    } else {
        (other, one)
    };
    let head = long.get(..short.len()).unwrap_or("");
    short.len() >= 2 && head.eq_ignore_ascii_case(short)
}

/// A value that is a string: behind a header its quotes are still on.
fn unquoted(text: &str) -> &str {
    let inner = |quote: char| text.strip_prefix(quote)?.strip_suffix(quote);
    inner('"').or_else(|| inner('\'')).unwrap_or(text)
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
                ask: "MEAS:FREQ?;:MEAS:VOLT:DC?".to_owned(),
                position: index + 1,
                of: 2,
                header: None,
            };
        }
        rules
    }

    const BOTH: &str = "MEAS:FREQ?;:MEAS:VOLT:DC?";

    fn read(question: &str, answer: &str, rules: &[ChannelRule]) -> Reading {
        let mut reading = Reading::default();
        let outcome = read_answer(question, answer, rules, &mut reading);
        let is_bad = reading.status == Status::Garbled;
        assert_eq!(outcome.is_err(), is_bad, "{answer}: {outcome:?}");
        reading
    }

    fn values(reading: &Reading) -> [Option<f64>; 2] {
        [Channel::FrequencyHz, Channel::BatteryV].map(|channel| reading.readings.get(channel))
    }

    #[test]
    fn a_compound_answer_gives_each_value_its_channel() {
        for answer in [
            "+4.015E+06;+9.36E+00",
            "+4.015E+06,+9.36E+00",
            ":MEAS:FREQ +4.015E+06;:MEAS:VOLT:DC +9.36E+00",
            "FREQUENCY 4.015E6; VOLTAGE 9.36",
            "FREQ 4015 kHz;VOLT \"9.36\"",
            "'4.015E6';9.36;",
        ] {
            let reading = read(BOTH, answer, &both());
            assert_eq!(values(&reading), [Some(4.015e6), Some(9.36)], "{answer}");
        }
    }

    /// `6.231,MHZ`: a counter that sends its unit behind a comma, form D.
    #[test]
    fn a_unit_in_the_next_value_is_the_numbers() {
        let (profile, _) = Catalogue::default().get("scpi-counter").unwrap();
        let mut rules = profile.values;
        for rule in &mut rules {
            if let Place::Answer { of, .. } = &mut rule.place {
                *of = 2;
            }
        }
        for (answer, want) in [
            ("6.231,MHZ", Some(6.231e6)),
            ("FREQ 62.31,KHZ", Some(62310.0)),
        ] {
            assert_eq!(
                values(&read("MEAS:FREQ?", answer, &rules))[0],
                want,
                "{answer}"
            );
        }
        for answer in ["6.231,mHz", "6.231,k"] {
            let reading = read("MEAS:FREQ?", answer, &rules);
            assert!(reading.readings.is_empty(), "{answer}");
            assert!(
                reading.note.to_string().contains("beside the number"),
                "{reading:?}"
            );
        }
        assert_eq!(
            values(&read("MEAS:VOLT:DC?", "8912,mV", &rules))[1],
            Some(8.912)
        );
        let silent = read("MEAS:FREQ?", "9.91E37,mHz", &rules);
        assert_eq!(silent.status, Status::NoSignal);
    }

    #[test]
    fn another_number_of_values_marks_the_row_and_gives_none() {
        for answer in [
            "+9.36E+00",
            "4,015,9.36",
            "4.015E6;9.36;1",
            "\"4.015E6;9.36\"",
        ] {
            let reading = read(BOTH, answer, &both());
            assert_eq!(reading.status, Status::Garbled, "{answer}");
            assert!(reading.readings.is_empty(), "{answer}: {reading:?}");
        }
        assert_eq!(
            read(BOTH, "+9.36E+00", &both()).note.to_string(),
            "MEAS:FREQ?;:MEAS:VOLT:DC? gave 1 values where the profile says 2"
        );
    }

    /// "4,012" may be 4012 or 4.012: it is not 4.
    #[test]
    fn a_decimal_comma_is_never_a_separator_by_mistake() {
        let (profile, _) = Catalogue::default().get("scpi-counter").unwrap();
        let mut rules = profile.values;
        assert!(read("MEAS:FREQ?", "4,012", &rules).readings.is_empty());
        for rule in &mut rules {
            rule.number.decimal_sign = ',';
        }
        let reading = read("MEAS:FREQ?", "4012345,5", &rules);
        assert_eq!(values(&reading), [Some(4012345.5), None]);
    }

    #[test]
    fn the_header_of_another_question_is_refused() {
        let (profile, _) = Catalogue::default().get("scpi-scope").unwrap();
        let frequency = "MEAS:VOLT:FREQ? (@1)";
        let reading = read(frequency, ":MEAS:VOLT:FREQ 6.2E6", &profile.values);
        assert_eq!(values(&reading), [Some(6.2e6), None]);
        for answer in [":MEAS:VOLT:DC 8.9", "ERR 113", "E 5", "BUSY 3"] {
            let reading = read(frequency, answer, &profile.values);
            assert_eq!(reading.status, Status::Garbled, "{answer}");
            assert!(reading.readings.is_empty(), "{answer}");
        }
        let swapped = read(BOTH, ":MEAS:VOLT:DC 9.36;:MEAS:FREQ 4.015E6", &both());
        assert!(swapped.readings.is_empty(), "{swapped:?}");
    }

    #[test]
    fn a_header_of_its_own_is_named_in_the_profile() {
        let (profile, _) = Catalogue::default().get("scpi-counter").unwrap();
        let mut rules = profile.values;
        for rule in &mut rules {
            rule.place = Place::Answer {
                ask: "READ?".to_owned(),
                position: 1,
                of: 1,
                header: Some("VAL".to_owned()),
            };
        }
        rules.truncate(1);
        assert_eq!(values(&read("READ?", "VAL 6.2E6", &rules))[0], Some(6.2e6));
        assert!(read("READ?", "READ 6.2E6", &rules).readings.is_empty());
    }

    /// The rules of a profile with one question, whose value stands behind a header of its own.
    fn behind_header(ask: &str, header: &str) -> Vec<ChannelRule> {
        let (profile, _) = Catalogue::default().get("scpi-counter").unwrap();
        let mut rules = profile.values;
        rules.truncate(1);
        for rule in &mut rules {
            rule.place = Place::Answer {
                ask: ask.to_owned(),
                position: 1,
                of: 1,
                header: Some(header.to_owned()),
            };
        }
        rules
    }

    /// Bytes of counters, a meter and a scope in tests and drivers of general-purpose instrument libraries; `NDCV` from
    /// memory of an old meter's form.
    #[test]
    fn a_header_of_its_own_ends_where_the_number_begins() {
        for (ask, header, answer, want) in [
            (" FA", "FA", "FA+010.00000000E+06", 10e6),
            ("T", "NDCV", "NDCV+8.91200E+0", 8.912),
            ("X", "FREQ", "FREQ   9999.9993E+03", 9_999_999.3),
            ("V?", "F=", "F= 6231234", 6_231_234.0),
            ("V?", "f:", "F:6231234Hz", 6_231_234.0),
        ] {
            let read = read(ask, answer, &behind_header(ask, header));
            assert_eq!(values(&read)[0], Some(want), "{answer}");
        }
        let (profile, _) = Catalogue::default().get("scpi-counter").unwrap();
        let mut rules = profile.values;
        rules.truncate(1);
        let ask = "MEASU:MEAS1:VAL?";
        for rule in &mut rules {
            rule.place = Place::Answer {
                ask: ask.to_owned(),
                position: 1,
                of: 1,
                header: None,
            };
        }
        for answer in ["6.231E6", ":MEASUREMENT:MEAS1:VALUE 6.231E6"] {
            assert_eq!(
                values(&read(ask, answer, &rules))[0],
                Some(6.231e6),
                "{answer}"
            );
        }
    }

    #[test]
    fn a_header_that_is_not_the_profiles_gives_no_number() {
        for (header, answer) in [
            ("FA", "PA+000100.00000E-09"),
            ("FA", "FAB+010.00000000E+06"),
            ("F1", "F12.5"),
            ("VAL", "VALUE 6.2E6"),
            ("FREQ", "PER   100.0E-09"),
            ("FA", "FA"),
        ] {
            let read = read("X", answer, &behind_header("X", header));
            assert_eq!(read.status, Status::Garbled, "{answer}");
            assert!(read.readings.is_empty(), "{answer}");
        }
        let no_header = read(BOTH, "FA+1.0E+06;9.36", &both());
        assert!(
            no_header
                .note
                .to_string()
                .contains("letters glued to the number"),
            "{no_header:?}"
        );
        assert!(no_header.readings.get(Channel::FrequencyHz).is_none());
    }

    #[test]
    fn a_mark_of_two_words_is_not_taken_for_a_header() {
        let (profile, _) = Catalogue::default().get("scpi-counter").unwrap();
        let mut rules = profile.values;
        for rule in &mut rules {
            rule.number.marks.no_signal.push("NO SIGNAL".to_owned());
        }
        assert_eq!(
            read("MEAS:FREQ?", "NO SIGNAL", &rules).status,
            Status::NoSignal
        );
        assert_eq!(
            read("MEAS:FREQ?", "FREQ 9.91E37", &rules).status,
            Status::NoSignal
        );
    }
}

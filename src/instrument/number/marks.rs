//! Answers that are no number.

use crate::instrument::number::unit::{BLANKS, unit_scale};
use crate::instrument::number::value::Value;
use crate::units::Unit;

/// Answers that are no number.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Marks {
    /// The instrument works and finds nothing to measure.
    pub no_signal: Vec<String>,
    /// The value is beyond the instrument's range.
    pub overload: Vec<String>,
    /// There is a signal, but it has no one value.
    pub unsteady: Vec<String>,
}

impl Marks {
    /// Returns whether a text is one of the marks, letter by letter.
    pub fn have(&self, text: &str) -> bool {
        self.word(text).is_some()
    }

    fn word(&self, text: &str) -> Option<Value> {
        let has = |marks: &[String]| marks.iter().any(|mark| mark.eq_ignore_ascii_case(text));
        [
            (&self.no_signal, Value::NoSignal),
            (&self.overload, Value::Overload),
            (&self.unsteady, Value::Unsteady),
        ]
        .into_iter()
        .find_map(|(marks, value)| has(marks).then_some(value))
    }

    /// Returns the meaning of a text that is a mark, with any number of blanks in it and a unit behind it or not.
    pub(in crate::instrument) fn value(&self, text: &str, unit: Unit) -> Option<Value> {
        let plain = self.word(text);
        if plain.is_some() || !text.contains(BLANKS) {
            return plain;
        }
        let words: Vec<&str> = text.split(BLANKS).filter(|word| !word.is_empty()).collect();
        let squeezed = words.join(" ");
        let ends =
            std::iter::once(squeezed.len()).chain(squeezed.rmatch_indices(' ').map(|(at, _)| at));
        ends.filter_map(|at| squeezed.split_at_checked(at))
            .filter(|(_, unit_text)| {
                let unit_text = unit_text.trim_start();
                unit_text.is_empty() || unit_scale(unit_text, unit).is_some()
            })
            .find_map(|(word, _)| self.word(word))
    }
}

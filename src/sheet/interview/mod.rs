//! An interview about a build: answers in plain words, one at a time, become the text of a sheet.
//!
//! Every answer is judged by the sheet's own reader, within the sheet that the answers so far make.

mod assumed;
mod fill;
mod question;
mod questions;

use std::fmt;

use crate::coil::film::{Film, over_enamel};
use crate::coil::wire::Gauge;
use crate::faults::{Fault, Faults};
use crate::units::{self, Unit};

use super::{Sheet, parse, template};
use fill::{Filled, State};
pub use question::{Choice, Form, Question, Unknown};
pub use questions::QUESTIONS;

/// How far a primary of unknown diameter is assumed to be from the secondary, all round, in metres; chosen.
const CLEAR_M: f64 = 1e-3;

/// An answer that cannot be taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Refused {
    /// The question can't stay open: why not.
    Needed(&'static str),
    /// The sheet's reader refuses it: the text found and the text expected.
    Wrong(String),
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Needed(why) => write!(f, "This one is needed. {why}"),
            Self::Wrong(why) => write!(f, "Not taken: {why}."),
        }
    }
}

/// The questions that were answered so far, in the order of the table.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Interview {
    /// Each with its value; `None` where it is not known.
    answers: Vec<(&'static Question, Option<String>)>,
}

impl Interview {
    /// Returns the next question; `None` once all are answered.
    pub fn question(&self) -> Option<&'static Question> {
        let last = self.answers.last().map(|(question, _)| *question);
        let done = last.and_then(|last| QUESTIONS.iter().position(|one| one == last));
        let begin = done.map_or(0, |at| at + 1);
        QUESTIONS.iter().skip(begin).find(|one| self.applies(one))
    }

    fn applies(&self, question: &Question) -> bool {
        question.only_if.is_none_or(|(key, words)| {
            let word = self.said(key);
            word.is_some_and(|word| words.contains(&word))
        })
    }

    /// Returns the answer for a key; `None` where it is open or unknown.
    pub fn said(&self, key: &str) -> Option<&str> {
        let (_, value) = self.answers.iter().find(|(one, _)| one.key == key)?;
        value.as_deref()
    }

    /// Takes a line as the answer to the next question; an empty one for "not known".
    ///
    /// # Errors
    /// [`Refused`] where the line is no answer to it; the question stays open.
    pub fn take(&mut self, line: &str) -> Result<(), Refused> {
        let Some(question) = self.question() else {
            return Ok(());
        };
        let line = line.trim();
        let value = match (line.is_empty(), question.unknown, question.form) {
            (true, Unknown::Needed(why), _) => return Err(Refused::Needed(why)),
            (true, Unknown::First, Form::Choice([first, ..])) => Some(first.word.to_owned()),
            (true, ..) => None,
            (false, _, Form::Choice(choices)) => Some(chosen(line, choices)?.to_owned()),
            (false, ..) => Some(line.to_owned()),
        };
        self.answers.push((question, value));
        if let Some(fault) = self.fault(question) {
            self.answers.pop();
            return Err(Refused::Wrong(fault));
        }
        Ok(())
    }

    /// Goes back to the question before; `false` where there is none.
    pub fn back(&mut self) -> bool {
        self.answers.pop().is_some()
    }

    /// Returns each question that was left unknown, with the value assumed instead.
    pub fn unknown(&self) -> impl Iterator<Item = (&'static Question, String)> + '_ {
        let open = self.answers.iter().filter(|(_, value)| value.is_none());
        open.map(|(question, _)| (*question, self.assumed(question)))
    }

    /// Returns the value assumed for a question whose answer nobody knows.
    pub fn assumed(&self, question: &Question) -> String {
        let value = self.stand_in(question).unwrap_or_default();
        let value = value.trim_matches('"');
        let choices = match question.form {
            Form::Choice(choices) => choices,
            Form::Text | Form::Number => &[],
        };
        let label = |word| {
            choices
                .iter()
                .find(|one| one.word == word)
                .map(|one| one.label)
        };
        match question.unknown {
            Unknown::LeftOut(words) => words.to_owned(),
            Unknown::First => choices.first().map_or("", |first| first.label).to_owned(),
            Unknown::Clear => format!("{value}, clear of the secondary"),
            Unknown::Usual | Unknown::Needed(_) => label(value).unwrap_or(value).to_owned(),
        }
    }

    /// Returns the sheet that the answers so far make, where all that is open is assumed.
    ///
    /// # Errors
    /// [`Faults`] of it: there are none once every question is answered.
    pub fn sheet(&self) -> Result<Sheet, Faults> {
        parse(&fill::fill(template(), &self.filled()))
    }

    /// Returns the text of that sheet: answers in the template's lines, assumptions as comments.
    pub fn text(&self) -> String {
        let mut filled = self.filled();
        if let Ok(sheet) = self.sheet() {
            filled.extend(assumed::filled(&sheet));
        }
        fill::fill(template(), &filled)
    }

    /// Returns the lines that the answers fill, and stand-ins for others that a sheet must have.
    fn filled(&self) -> Vec<Filled> {
        let mut all: Vec<Filled> = Vec::new();
        for question in QUESTIONS.iter().filter(|one| self.applies(one)) {
            let answer = self.answers.iter().find(|(one, _)| *one == question);
            let said = answer.and_then(|(_, value)| value.as_deref());
            let (value, state) = match (said, answer.is_some()) {
                (Some(""), _) => continue,
                (Some(said), _) => (Some(toml(said, question.form)), State::Answered),
                (None, true) => (self.stand_in(question), State::Usual),
                (None, false) => (self.stand_in(question), State::Pending),
            };
            let note = match state {
                State::Answered => "",
                _ => "assumed",
            };
            all.extend(value.map(|value| Filled {
                key: question.key,
                value: Some(value),
                state,
                note: note.to_owned(),
            }));
        }
        self.count(&mut all);
        all
    }

    /// Turns along a ruler are read as a winding of their own until the length of the whole one is known. The reader judges
    /// whether they fit. Then they give the pitch.
    fn count(&self, all: &mut Vec<Filled>) {
        let [turns, length] = [self.said("counted.turns"), self.said("counted.length")];
        let pitch = turns.zip(length).and_then(|(turns, length)| {
            let length_m = units::parse(length, Unit::Metre).ok()?;
            let pitch_m = length_m / turns.parse::<f64>().ok()?;
            Some(millimetres(pitch_m))
        });
        let is_whole = self.said("coil.winding_length").is_some();
        if is_whole {
            all.retain(|one| one.key != "counted.turns");
        } else if turns.is_some() {
            all.retain(|one| one.key != "coil.winding_length");
        }
        for one in all {
            match (one.key, &pitch) {
                ("counted.turns", _) => one.key = "coil.turns",
                ("counted.length", Some(pitch)) if is_whole => {
                    one.key = "coil.turn_pitch";
                    one.value = Some(toml(pitch, Form::Text));
                }
                ("counted.length", _) => one.key = "coil.winding_length",
                _ => {}
            }
        }
    }

    /// The value that stands in for an unknown one, as TOML; `None` where the sheet can be without.
    fn stand_in(&self, question: &Question) -> Option<String> {
        match question.unknown {
            Unknown::Usual | Unknown::Needed(_) => {
                fill::value(template(), question.key).map(str::to_owned)
            }
            Unknown::Clear => self.clear().map(|value| toml(&value, Form::Text)),
            Unknown::First | Unknown::LeftOut(_) => None,
        }
    }

    /// The inner diameter of a primary that is clear of the secondary; `None` before that is known.
    fn clear(&self) -> Option<String> {
        let former_m = units::parse(self.said("coil.former_diameter")?, Unit::Metre).ok()?;
        let gauge = Gauge::parse(self.said("coil.wire")?).ok()?;
        let wire_m = over_enamel(gauge, Film::usual(gauge)).ok()?.middle_m();
        let clear_m = former_m + 2.0 * (wire_m + CLEAR_M);
        Some(millimetres((clear_m * 1e4).ceil() / 1e4))
    }

    /// Why the sheet's reader refuses the last answer; faults of keys that were not yet asked for do not count.
    fn fault(&self, question: &Question) -> Option<String> {
        let filled = self.filled();
        let faults = self.sheet().err()?;
        let is_asked = |fault: &&Fault| {
            let is_filled = |one: &Filled| one.key == fault.key && one.state != State::Pending;
            fault.key.is_empty() || filled.iter().any(is_filled)
        };
        let fault = faults.first.iter().find(is_asked)?;
        let is_own = fault.key == question.key || question.key.starts_with("counted.");
        let of = QUESTIONS.iter().find(|one| one.key == fault.key);
        let of = of.map_or_else(String::new, |other| format!("{}: ", other.name));
        let of = if is_own { String::new() } else { of };
        // The line itself still stands above; a quantity's fault says all there is to say.
        let says = if fault.found.starts_with('"') {
            &fault.found
        } else {
            &fault.allowed
        };
        // A person who is asked knows no keys.
        let mut words = format!("{of}{says}");
        for one in QUESTIONS.iter().filter(|one| one.key.contains('.')) {
            words = words.replace(one.key, one.name);
        }
        Some(words)
    }
}

/// The word of the choice that was typed by its number or a word of it.
fn chosen(line: &str, choices: &'static [Choice]) -> Result<&'static str, Refused> {
    let plain = |text: &str| text.to_lowercase().replace([' ', '-', '"'], "");
    let typed = plain(line);
    let number = line.parse::<usize>().ok();
    let by_number = number.and_then(|number| choices.get(number.checked_sub(1)?));
    let is_named = |one: &&Choice| [one.word, one.also].map(plain).contains(&typed);
    let choice = by_number.or_else(|| choices.iter().find(is_named));
    choice.map(|one| one.word).ok_or_else(|| {
        let count = choices.len();
        Refused::Wrong(format!("expected a number from 1 to {count}"))
    })
}

/// A length as a person would write it, to a tenth of a micrometre.
pub fn millimetres(length_m: f64) -> String {
    format!("{} mm", (length_m * 1e7).round() / 1e4)
}

/// Returns an answer as TOML. A text that is no number is left to the reader to refuse.
fn toml(said: &str, form: Form) -> String {
    let number = said.parse().ok().filter(|number: &f64| number.is_finite());
    match (form, number) {
        (Form::Number, Some(number)) => number.to_string(),
        _ => toml::Value::String(said.to_owned()).to_string(),
    }
}

#[cfg(test)]
mod tests;

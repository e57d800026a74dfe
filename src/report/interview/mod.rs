//! An interview about a build as a person sees it: its questions, its picture, and the answer at its end.

mod picture;

use std::path::Path;

use crate::coil::predict::PredictError;
use crate::coil::prediction::Prediction;
use crate::report::layout::{filled, fitted, shell_word};
use crate::report::predict::answer::resonates;
use crate::report::short::Short;
use crate::sheet::Sheet;
use crate::sheet::interview::{Form, Interview, Question, Unknown};

pub use picture::picture;

/// Letters of the list of assumptions in the answer; those behind it are counted. Chosen: six lines of 80 columns.
const MOST_LETTERS: usize = 480;

/// A question as it is asked.
pub fn prompt(interview: &Interview, question: &Question, width: usize) -> String {
    let mut out = fitted(width, question.asks) + "\n";
    if let Form::Choice(choices) = question.form {
        for (at, choice) in choices.iter().enumerate() {
            let row = format!("{:2}  {}", at + 1, choice.label);
            filled(&mut out, width, 1, &row);
        }
    }
    let assumed = interview.assumed(question);
    let enter = match question.unknown {
        Unknown::Needed(_) => "An answer is needed.".to_owned(),
        Unknown::First => format!("Enter: {assumed}"),
        Unknown::Usual | Unknown::Clear | Unknown::LeftOut(_) => {
            format!("Enter: don't know (assumed: {assumed})")
        }
    };
    filled(&mut out, width, 2, &enter);
    out.pop();
    out
}

/// Returns the answer once the sheet is written to `path`: the predictions and assumptions, and the next command.
pub fn answer(
    interview: &Interview,
    sheet: &Sheet,
    prediction: Result<&Prediction, &PredictError>,
    path: &Path,
    width: usize,
) -> String {
    let mut short = Short::default();
    let file = shell_word(path);
    let found = match prediction {
        Ok(prediction) => resonates(sheet, prediction),
        Err(why) => format!("{}: no resonance is predicted, {why}.", sheet.name),
    };
    short.say(format!("{found} The sheet is written: {file}"));
    let unknown: Vec<String> = interview
        .unknown()
        .map(|(question, assumed)| format!("{} ({assumed})", question.name))
        .collect();
    if unknown.is_empty() {
        short.say("You answered every question.");
    } else {
        short.say(format!("Assumed: {}.", listed(&unknown)));
        short.say("The sheet marks what is assumed; write there what you learn later.");
    }
    match prediction {
        Ok(_) => short.next("what it should do", &format!("sagtrace predict {file}")),
        Err(_) => short.next(
            "once it is corrected",
            &format!("sagtrace sheet check {file}"),
        ),
    }
    short.printed(width)
}

/// Returns as many items as fit, and the number of the others.
fn listed(items: &[String]) -> String {
    let mut letters = 0;
    let fits = |item: &&String| {
        letters += item.chars().count();
        letters <= MOST_LETTERS
    };
    let shown: Vec<&str> = items.iter().take_while(fits).map(String::as_str).collect();
    let list = shown.join("; ");
    match items.len() - shown.len() {
        0 => list,
        more => format!("{list}; and {more} more"),
    }
}

#[cfg(test)]
mod tests;

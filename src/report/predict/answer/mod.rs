//! The short answer of a prediction: where it resonates, whether it starts, its current, how warm it gets, the cautions.

mod commands;
mod range;
mod start;

pub use commands::Commands;
pub(in crate::report) use range::to;

use crate::coil::prediction::{BandBasis, Prediction};
use crate::sheet::Sheet;
use crate::units::{Unit, rounded};

use range::digits;

use super::start::Start;
use crate::circuit::practice::Spread;
use crate::circuit::verdict::{Answer, State};
use crate::coil::spec::Measured;
use crate::report::hazards;
use crate::report::layout::kept;
use crate::report::short::Short;

/// A prediction in at most twelve lines; `start` is the circuit, or why it was not computed.
pub fn answer(
    sheet: &Sheet,
    prediction: &Prediction,
    start: Result<&Start<'_>, &str>,
    commands: &Commands,
    width: usize,
) -> String {
    let mut short = Short::default();
    let found = start.ok().map(Start::hazards);
    let resonates = resonates(sheet, prediction);
    let begins = start.map_or_else(
        |why| format!("Whether it starts was not computed: {why}."),
        |start| start::begins(start.outlook),
    );
    let is_dead = start.is_ok_and(|start| start.outlook.verdict.answer == Answer::No);
    // A dead build says first which part it lacks.
    let (first, second) = if is_dead {
        (begins, resonates)
    } else {
        (resonates, begins)
    };
    short.say(format!("{first} {second}"));
    let warnings = hazards::brief(found.as_ref());
    if !warnings.is_empty() {
        short.warn(warnings.join(" "));
    }
    if let (Ok(start), Some(found)) = (start, &found) {
        let figures = start::figures(start, found);
        if !figures.is_empty() {
            short.say(figures.join(" "));
        }
    }
    let (why, command) = next(sheet, start, commands);
    short.next(why, &command);
    short.more(commands.detail());
    short.printed(width)
}

/// Where a build resonates, in a sentence.
pub(in crate::report) fn resonates(sheet: &Sheet, prediction: &Prediction) -> String {
    let found = &prediction.resonance;
    let (name, earth) = (&sheet.name, sheet.earth.name());
    if prediction.band == BandBasis::NoneGiven {
        let value = kept(&rounded(found.value_hz, Unit::Hertz, 3));
        return format!("{name}: resonates at {value} by its measured values, foot {earth}.");
    }
    let digits = digits(found.value_hz, (found.high_hz - found.low_hz) / 2.0);
    let hertz = |value_hz| rounded(value_hz, Unit::Hertz, digits);
    let (value, low, high) = (
        hertz(found.value_hz),
        hertz(found.low_hz),
        hertz(found.high_hz),
    );
    format!(
        "{name}: resonates near {} ({}), foot {earth}.",
        kept(&value),
        to(&low, &high)
    )
}

/// Returns the next step: its purpose, and the command.
fn next(
    sheet: &Sheet,
    start: Result<&Start<'_>, &str>,
    commands: &Commands,
) -> (&'static str, String) {
    let path = &commands.sheet;
    // The options as typed, such as another earth state, hold for the card, too.
    let card = commands.card();
    let Ok(start) = start else {
        return ("wiring", card);
    };
    let typical = start.outlook.verdict.set(Spread::Typical);
    if start::is_reversed(start.outlook) {
        return ("wiring that works", card);
    }
    if typical.state == State::Dead {
        return ("if it stays dark", format!("sagtrace diagnose {path}"));
    }
    let is_built = sheet.measured != Measured::default() || sheet.known.starts.is_some();
    let is_sound = start.hazards().first_rating().is_none();
    if is_built && is_sound {
        return ("record it", format!("sagtrace record -b {path}"));
    }
    ("wiring", card)
}

#[cfg(test)]
mod tests;

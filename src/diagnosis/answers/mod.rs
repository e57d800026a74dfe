//! Readings as a person writes them: `9.4 V`, `50 mA +- 2 mA`, `dark`, `open`; singly, or in a file of answers.

use crate::faults::{self, Entry, Faults, Table};
use crate::units::{self, Span, Unit};

use crate::diagnosis::evidence::{Evidence, History};
use crate::diagnosis::quantity::{Form, Quantity, Reading, Seen};
use crate::diagnosis::situation::Situation;

/// Words for a reading that was not made.
const UNKNOWN: [&str; 3] = ["", "?", "unknown"];
/// A meter's sign for an open circuit, as people type it. A bare 1 is not among them: it may be one ohm.
const OPEN: [&str; 9] = [
    "ol", "o.l.", "o.l", "0l", "0.l", "over", "overload", "inf", "infinite",
];
/// Words for an LED that goes on and off.
const BLINKING: [&str; 4] = ["blinking", "blinks", "flashing", "flashes"];
/// The words that may stand between them and the period.
const EVERY: [&str; 4] = ["once every", "every", "at", "period"];

/// Why a text is no reading: the expected form, in words that follow the text found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoReading {
    /// The flaw is known.
    #[error("{0}: expected {choices}", choices = choices(*.1))]
    Amiss(Amiss, Quantity),
    /// It is something else.
    #[error("expected {}", choices(*.0))]
    Other(Quantity),
}

/// The most frequent flaws of a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[expect(missing_docs, reason = "each has its words above it")]
pub enum Amiss {
    #[error("decimals stand behind a point, not a comma")]
    Comma,
    #[error("a number without a unit is in volts, so write mV behind millivolts")]
    Millivolts,
    #[error("its unit is missing")]
    NoUnit,
}

/// Why a typed text gives no evidence.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TypedError {
    /// There is no `=` in it.
    #[error("\"{0}\" is no reading, write it like led=dark")]
    NoReading(String),
    /// No situation has this key.
    #[error("\"{0}\" is no situation, expected one of {known}", known = Situation::ALL.map(Situation::key).join(", "))]
    NoSituation(String),
    /// No quantity has this key.
    #[error("\"{0}\" is nothing that can be read, expected one of {known}", known = Quantity::ALL.map(|one| one.form().key).join(", "))]
    NoQuantity(String),
    /// The value is none of its quantity.
    #[error("{name}: found \"{found}\", {why}")]
    Value {
        /// The quantity's key.
        name: String,
        /// The value.
        found: String,
        /// The reason why it is none.
        why: NoReading,
    },
}

/// Reads one reading of one quantity; `None` where the person says it is unknown.
///
/// # Errors
/// [`NoReading`].
pub fn reading(quantity: Quantity, text: &str) -> Result<Option<Reading>, NoReading> {
    let form = quantity.form();
    let text = plain(text);
    let word = text.to_lowercase();
    if UNKNOWN.contains(&word.as_str()) {
        return Ok(None);
    }
    if let Some(seen) = seen(quantity, &word) {
        return Ok(Some(Reading::Seen(seen)));
    }
    let (value, tolerance) = text
        .split_once("+-")
        .or_else(|| text.split_once('±'))
        .map_or((text, None), |(value, tolerance)| (value, Some(tolerance)));
    let read = |text: &str| number(&form, text).ok_or_else(|| refusal(quantity, text));
    let value = read(value)?;
    let tolerance = tolerance.map(|text| read(text).map(f64::abs)).transpose()?;
    if !form.range.contains(value) {
        return Err(refusal(quantity, text));
    }
    let value = if quantity.is_change() {
        1.0 + value
    } else {
        value
    };
    Ok(Some(Reading::Value { value, tolerance }))
}

/// Returns the text without the quotation marks in which words stand where they are asked for.
fn plain(text: &str) -> &str {
    text.trim().trim_matches('"').trim()
}

/// Returns the word of a quantity: its own, or another that can mean nothing else there.
fn seen(quantity: Quantity, word: &str) -> Option<Seen> {
    let words = quantity.form().seen;
    if let Some(seen) = words.iter().find(|seen| seen.word() == word) {
        return Some(*seen);
    }
    let meant = match (quantity, word) {
        (Quantity::Led, "on" | "yes" | "y") => Seen::Lit,
        (Quantity::Led | Quantity::Lamp, "off" | "no" | "n") => Seen::Dark,
        (Quantity::Led, word) if BLINKING.contains(&word) => Seen::Blinking,
        (Quantity::Lamp, "on" | "yes" | "y") => Seen::Near,
        (Quantity::Bursts, "y" | "on") => Seen::Yes,
        (Quantity::Bursts, "n" | "off") => Seen::No,
        (_, word) if OPEN.contains(&word) => Seen::Open,
        _ => return None,
    };
    words.contains(&meant).then_some(meant)
}

/// Adds a person's answer for a quantity to the evidence: one reading, or with the period of an LED that blinks two. Nothing is
/// added where the person says it is unknown. Returns whether something was added.
///
/// # Errors
/// [`NoReading`].
pub fn book(
    evidence: &mut Evidence,
    situation: Situation,
    quantity: Quantity,
    text: &str,
) -> Result<bool, NoReading> {
    let text = plain(text);
    if quantity == Quantity::WeakestBattery && !UNKNOWN.contains(&text.to_lowercase().as_str()) {
        let each_v = each_battery_v(text)?;
        let weakest_v = each_v.iter().copied().fold(f64::INFINITY, f64::min);
        evidence.add(situation, quantity, Reading::value(weakest_v));
        evidence.battery_each_v = each_v;
        return Ok(true);
    }
    if let (Quantity::Led, Some(period)) = (quantity, period(text)) {
        let read = reading(Quantity::Blinking, period).map_err(|_| NoReading::Other(quantity))?;
        evidence.add(situation, quantity, Reading::Seen(Seen::Blinking));
        if let Some(read) = read {
            evidence.add(situation, Quantity::Blinking, read);
        }
        return Ok(true);
    }
    let Some(read) = reading(quantity, text)? else {
        return Ok(false);
    };
    if quantity == Quantity::Blinking {
        evidence.add(situation, Quantity::Led, Reading::Seen(Seen::Blinking));
    }
    evidence.add(situation, quantity, read);
    Ok(true)
}

/// Returns the period behind the word that an LED blinks; `None` where there is no such word.
fn period(text: &str) -> Option<&str> {
    let (word, rest) = text.split_once(char::is_whitespace)?;
    if !BLINKING.contains(&word.to_lowercase().as_str()) {
        return None;
    }
    let rest = rest.trim();
    let bare = EVERY.iter().find_map(|word| rest.strip_prefix(word));
    Some(bare.unwrap_or(rest).trim())
}

/// Returns the own voltages of several batteries, in volts.
fn each_battery_v(text: &str) -> Result<Vec<f64>, NoReading> {
    let quantity = Quantity::WeakestBattery;
    let parts: Vec<&str> = if text.contains(';') {
        text.split(';').collect()
    } else if text.contains(", ") || text.split(',').all(|part| part.contains('.')) {
        text.split(',').collect()
    } else {
        vec![text]
    };
    parts
        .into_iter()
        .map(|part| match reading(quantity, part) {
            Ok(Some(Reading::Value { value, .. })) => Ok(value),
            _ => Err(refusal(quantity, part)),
        })
        .collect()
}

/// Returns a number in a quantity's unit; plain where it has none, or where only volts can be meant. Quantities of words alone
/// take none.
fn number(form: &Form, text: &str) -> Option<f64> {
    let text = text.trim();
    let plain = text.strip_prefix('+').unwrap_or(text);
    let bare = || plain.parse().ok().filter(|v: &f64| v.is_finite());
    match form.unit {
        Some(unit @ Unit::Volt) => units::parse(plain, unit).ok().or_else(bare),
        Some(unit) => units::parse(plain, unit).ok(),
        None if form.range.width() > 0.0 => bare(),
        None => None,
    }
}

/// Returns the expected form, behind the flaw where that is known.
fn refusal(quantity: Quantity, text: &str) -> NoReading {
    match amiss(quantity, text) {
        Some(amiss) => NoReading::Amiss(amiss, quantity),
        None => NoReading::Other(quantity),
    }
}

/// Returns the most frequent flaws of a number.
pub fn amiss(quantity: Quantity, text: &str) -> Option<Amiss> {
    let number = text.trim().parse::<f64>().ok();
    let unit = quantity.form().unit;
    let Span { high, .. } = quantity.form().range;
    if text.contains(',') {
        Some(Amiss::Comma)
    } else if unit == Some(Unit::Volt) {
        let is_millivolts = number.is_some_and(|value| value > high);
        is_millivolts.then_some(Amiss::Millivolts)
    } else {
        (number.is_some() && unit.is_some()).then_some(Amiss::NoUnit)
    }
}

/// Returns the answers that may be written for a quantity.
pub fn choices(quantity: Quantity) -> String {
    let form = quantity.form();
    let words: Vec<_> = form
        .seen
        .iter()
        .map(|seen| match seen {
            Seen::Blinking => "\"blinking\" (\"blinking every 2 s\")".to_owned(),
            seen => format!("\"{}\"", seen.word()),
        })
        .collect();
    let Span { low, high } = form.range;
    let number = match form.unit {
        _ if quantity == Quantity::WeakestBattery => Some(
            "a list like \"9.4 V, 9.3 V, -9.1 V\", minus for one that stands the wrong way round"
                .to_owned(),
        ),
        Some(unit @ Unit::Percent) => Some(format!(
            "a change like \"+0.3 %\" from {} to {}",
            units::exact(low, unit),
            units::exact(high, unit)
        )),
        Some(unit) => Some(format!(
            "a value like \"{}\" from {} to {}",
            example(quantity, unit),
            units::exact(low, unit),
            units::exact(high, unit)
        )),
        None if high > low => Some(format!("a number from {low} to {high}")),
        None => None,
    };
    let all: Vec<String> = number.into_iter().chain(words).collect();
    format!("{} or \"unknown\"", all.join(", "))
}

/// Returns a number that may stand there.
pub fn example(quantity: Quantity, unit: Unit) -> &'static str {
    let Span { high, .. } = quantity.form().range;
    if unit == Unit::Volt && high < 6.0 {
        "0.65 V"
    } else {
        unit.example()
    }
}

/// The form of a file of answers.
const HISTORIES: [(&str, History); 3] = [
    ("never", History::Never),
    ("yes", History::Ran),
    ("unknown", History::Unknown),
];

/// Reads a file of answers: `ran_before`, then a table of readings for each situation.
///
/// # Errors
/// [`Faults`] with every fault of the file at once.
pub fn parse(text: &str) -> Result<Evidence, Faults> {
    faults::read(text, |top| {
        let mut evidence = Evidence::default();
        if let Some(history) = top
            .entry("ran_before")
            .and_then(|entry| entry.choice(&HISTORIES))
        {
            evidence.history = history;
        }
        for situation in Situation::ALL {
            if let Some(table) = top.table(situation.key()) {
                readings(&table, situation, &mut evidence);
            }
        }
        Some(evidence)
    })
}

fn readings(table: &Table<'_>, situation: Situation, evidence: &mut Evidence) {
    for quantity in Quantity::ALL {
        let Some(entry) = table.entry(quantity.form().key) else {
            continue;
        };
        if let Err(why) = answer(&entry, situation, quantity, evidence) {
            entry.fault(&why.to_string());
        }
    }
    table.close();
}

/// Reads one answer of a file: a text, or a bare number or a list where no unit is needed.
fn answer(
    entry: &Entry<'_>,
    situation: Situation,
    quantity: Quantity,
    evidence: &mut Evidence,
) -> Result<(), NoReading> {
    let written = entry.written();
    let is_bare = !written.starts_with(['"', '\'']);
    let takes_bare = match quantity.form().unit {
        Some(unit) => unit == Unit::Volt,
        None => quantity == Quantity::RingQ,
    };
    let text = if is_bare && takes_bare {
        written.replace(['[', ']', '"', '\''], "")
    } else {
        match entry.text() {
            Some(text) => text.to_owned(),
            // The entry has reported it.
            None => return Ok(()),
        }
    };
    book(evidence, situation, quantity, &text).map(|_| ())
}

/// Reads `NAME=VALUE` or `SITUATION.NAME=VALUE` into evidence.
///
/// # Errors
/// [`TypedError`].
pub fn typed(text: &str, evidence: &mut Evidence) -> Result<(), TypedError> {
    let (name, value) = text
        .split_once('=')
        .ok_or_else(|| TypedError::NoReading(text.to_owned()))?;
    let (situation, name) = match name.split_once('.') {
        None => (Situation::AsFound, name),
        Some((situation, name)) => {
            let known = Situation::ALL.into_iter().find(|s| s.key() == situation);
            let found = known.ok_or_else(|| TypedError::NoSituation(situation.to_owned()))?;
            (found, name)
        }
    };
    let quantity = Quantity::ALL
        .into_iter()
        .find(|quantity| quantity.form().key == name)
        .ok_or_else(|| TypedError::NoQuantity(name.to_owned()))?;
    book(evidence, situation, quantity, value).map_err(|why| TypedError::Value {
        name: name.to_owned(),
        found: value.to_owned(),
        why,
    })?;
    Ok(())
}

#[cfg(test)]
mod tests;

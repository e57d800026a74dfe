//! Readings as a person writes them: `9.4 V`, `50 mA +- 2 mA`, `dark`, `open`; singly, or in a file of answers.

use crate::faults::{self, Faults, Table};
use crate::units::{self, Unit};

use super::evidence::{Evidence, History};
use super::quantity::{Form, Quantity, Reading};
use super::situation::Situation;

/// Words for a reading that was not made.
const UNKNOWN: [&str; 3] = ["", "?", "unknown"];

/// Reads one reading; `None` where the person says it is unknown.
///
/// # Errors
/// What may stand there, in words that follow what was found.
pub fn reading(quantity: Quantity, text: &str) -> Result<Option<Reading>, String> {
    let form = quantity.form();
    // The words stand in quotation marks where they are asked for.
    let text = text.trim().trim_matches('"').trim();
    let word = text.to_lowercase();
    if UNKNOWN.contains(&word.as_str()) {
        return Ok(None);
    }
    if let Some(seen) = form.seen.iter().find(|seen| seen.word() == word) {
        return Ok(Some(Reading::Seen(*seen)));
    }
    let (value, tolerance) = text
        .split_once("+-")
        .or_else(|| text.split_once('±'))
        .map_or((text, None), |(value, tolerance)| (value, Some(tolerance)));
    let read = |text: &str| number(&form, text).ok_or_else(|| refusal(quantity, text));
    let value = read(value)?;
    let tolerance = tolerance.map(|text| read(text).map(f64::abs)).transpose()?;
    let (low, high) = form.range;
    if !(low..=high).contains(&value) {
        return Err(wanted(quantity));
    }
    let value = if quantity.is_change() {
        1.0 + value
    } else {
        value
    };
    Ok(Some(Reading::Value { value, tolerance }))
}

/// A number in a quantity's unit; plain where it has none. Quantities of words alone take none.
fn number(form: &Form, text: &str) -> Option<f64> {
    let text = text.trim();
    let plain = text.strip_prefix('+').unwrap_or(text);
    match form.unit {
        Some(unit) => units::parse(plain, unit).ok(),
        None if form.range.1 > form.range.0 => plain.parse().ok().filter(|v: &f64| v.is_finite()),
        None => None,
    }
}

/// What may stand there, behind what is amiss where that can be told.
fn refusal(quantity: Quantity, text: &str) -> String {
    let wanted = wanted(quantity);
    match amiss(quantity, text) {
        Some(amiss) => format!("{amiss}: {wanted}"),
        None => wanted,
    }
}

/// What is most often amiss with a number.
pub fn amiss(quantity: Quantity, text: &str) -> Option<&'static str> {
    let is_number = text.trim().parse::<f64>().is_ok();
    if text.contains(',') {
        Some("decimals stand behind a point, not a comma")
    } else if is_number && quantity.form().unit.is_some() {
        Some("its unit is missing")
    } else {
        None
    }
}

/// What may be written for a quantity.
pub fn wanted(quantity: Quantity) -> String {
    let form = quantity.form();
    let words: Vec<_> = form
        .seen
        .iter()
        .map(|seen| format!("\"{}\"", seen.word()))
        .collect();
    let (low, high) = form.range;
    let number = match form.unit {
        Some(unit @ Unit::Percent) => Some(format!(
            "a change like \"+0.3 %\" from {} to {}",
            units::exact(low, unit),
            units::exact(high, unit)
        )),
        Some(unit) => Some(format!(
            "a value like \"{}\" from {} to {}",
            unit.example(),
            units::exact(low, unit),
            units::exact(high, unit)
        )),
        None if high > low => Some(format!("a number from {low} to {high}")),
        None => None,
    };
    let all: Vec<String> = number.into_iter().chain(words).collect();
    format!("{} or \"unknown\" is wanted", all.join(", "))
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
        if quantity == Quantity::RingQ {
            let (low, high) = quantity.form().range;
            if let Some(value) = entry.number(low..=high) {
                evidence.add(situation, quantity, Reading::value(value));
            }
            continue;
        }
        let Some(text) = entry.text() else {
            continue;
        };
        match reading(quantity, text) {
            Ok(Some(reading)) => evidence.add(situation, quantity, reading),
            Ok(None) => {}
            Err(wanted) => entry.fault(&wanted),
        }
    }
    table.close();
}

/// Reads `NAME=VALUE` or `SITUATION.NAME=VALUE` into evidence.
///
/// # Errors
/// What is wrong with it, in words.
pub fn typed(text: &str, evidence: &mut Evidence) -> Result<(), String> {
    let (name, value) = text
        .split_once('=')
        .ok_or_else(|| format!("\"{text}\" is no reading, write it like led=dark"))?;
    let (situation, name) = match name.split_once('.') {
        None => (Situation::AsFound, name),
        Some((situation, name)) => {
            let known = Situation::ALL.into_iter().find(|s| s.key() == situation);
            let words: Vec<_> = Situation::ALL.iter().map(|s| s.key()).collect();
            let found = known.ok_or_else(|| {
                format!(
                    "\"{situation}\" is no situation, one of {} is wanted",
                    words.join(", ")
                )
            })?;
            (found, name)
        }
    };
    let quantity = Quantity::ALL
        .into_iter()
        .find(|quantity| quantity.form().key == name)
        .ok_or_else(|| {
            let words: Vec<_> = Quantity::ALL.iter().map(|q| q.form().key).collect();
            format!(
                "\"{name}\" is nothing that can be read, one of {} is wanted",
                words.join(", ")
            )
        })?;
    let read = reading(quantity, value)
        .map_err(|wanted| format!("{name}: found \"{value}\", {wanted}"))?;
    if let Some(reading) = read {
        evidence.add(situation, quantity, reading);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnosis::quantity::Seen;

    #[test]
    fn readings_are_taken_as_a_number_a_word_or_as_unknown() {
        assert_eq!(
            reading(Quantity::Current, "50 mA +- 2 mA"),
            Ok(Some(Reading::Value {
                value: 0.05,
                tolerance: Some(0.002)
            }))
        );
        assert_eq!(
            reading(Quantity::FootToTop, "open"),
            Ok(Some(Reading::Seen(Seen::Open)))
        );
        assert_eq!(reading(Quantity::Led, "?"), Ok(None));
        let Ok(Some(Reading::Value { value, .. })) = reading(Quantity::FrequencyRatio, "+0.3 %")
        else {
            panic!("a change is a number");
        };
        assert!((value - 1.003).abs() < 1e-12);
        insta::assert_snapshot!(reading(Quantity::Led, "bright").unwrap_err(),
            @r#""dark", "faint", "lit" or "unknown" is wanted"#);
        insta::assert_snapshot!(reading(Quantity::Current, "9 V").unwrap_err(),
            @r#"a value like "300 mA" from -20 A to 20 A or "unknown" is wanted"#);
        insta::assert_snapshot!(reading(Quantity::Current, "50").unwrap_err(),
            @r#"its unit is missing: a value like "300 mA" from -20 A to 20 A or "unknown" is wanted"#);
        assert!(
            reading(Quantity::FootToTop, "12,6 ohm")
                .unwrap_err()
                .starts_with("decimals stand behind a point, not a comma: ")
        );
        for asked_for in ["\"dark\"", "Dark", " DARK "] {
            let dark = Ok(Some(Reading::Seen(Seen::Dark)));
            assert_eq!(reading(Quantity::Led, asked_for), dark, "{asked_for}");
        }
    }

    #[test]
    fn a_file_of_answers_is_read_and_every_fault_is_told_with_its_line() {
        let evidence = parse(
            "ran_before = \"never\"\n[found]\nled = \"dark\"\nring_q = 96\n[swapped]\ncurrent = \"365 mA\"\n",
        )
        .unwrap();
        assert_eq!(evidence.observations.len(), 3);
        assert_eq!(evidence.history, History::Never);
        let told = parse("[found]\nled = \"9 V\"\ncolour = \"red\"\n[perhaps]\n").unwrap_err();
        let text = told.to_string();
        assert!(text.contains("line 2: found.led: found \"9 V\""), "{text}");
        assert!(text.contains("line 3: found.colour: unknown key"), "{text}");
        assert!(text.contains("line 4: perhaps: unknown key"), "{text}");
    }

    #[test]
    fn what_is_typed_wrongly_is_told_with_what_is_known() {
        let mut evidence = Evidence::default();
        typed("swapped.led=lit", &mut evidence).unwrap();
        assert_eq!(
            evidence.reading(Situation::LeadsSwapped, Quantity::Led),
            Some(Reading::Seen(Seen::Lit))
        );
        assert!(
            typed("led", &mut evidence)
                .unwrap_err()
                .contains("led=dark")
        );
        assert!(
            typed("tomorrow.led=lit", &mut evidence)
                .unwrap_err()
                .contains("swapped")
        );
        assert!(
            typed("smell=burnt", &mut evidence)
                .unwrap_err()
                .contains("foot_to_top")
        );
    }
}

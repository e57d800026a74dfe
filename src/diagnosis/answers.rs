//! Readings as a person writes them: `9.4 V`, `50 mA +- 2 mA`, `dark`, `open`; singly, or in a file of answers.

use crate::faults::{self, Entry, Faults, Table};
use crate::units::{self, Unit};

use super::evidence::{Evidence, History};
use super::quantity::{Form, Quantity, Reading, Seen};
use super::situation::Situation;

/// Words for a reading that was not made.
const UNKNOWN: [&str; 3] = ["", "?", "unknown"];
/// A meter's sign for an open circuit, as people type it. A bare 1 is not among them: it may be one ohm.
const OPEN: [&str; 9] = [
    "ol", "o.l.", "o.l", "0l", "0.l", "over", "overload", "inf", "infinite",
];
/// Words for an LED that goes on and off.
const BLINKING: [&str; 4] = ["blinking", "blinks", "flashing", "flashes"];
/// What may stand between them and the period.
const EVERY: [&str; 4] = ["once every", "every", "at", "period"];

/// Reads one reading of one quantity; `None` where the person says it is unknown.
///
/// # Errors
/// What is expected there, in words that follow what was found.
pub fn reading(quantity: Quantity, text: &str) -> Result<Option<Reading>, String> {
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
    let (low, high) = form.range;
    if !(low..=high).contains(&value) {
        return Err(refusal(quantity, text));
    }
    let value = if quantity.is_change() {
        1.0 + value
    } else {
        value
    };
    Ok(Some(Reading::Value { value, tolerance }))
}

/// Without the quotation marks in which words stand where they are asked for.
fn plain(text: &str) -> &str {
    text.trim().trim_matches('"').trim()
}

/// The word of a quantity: its own, or another that can mean nothing else there.
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

/// Adds what a person wrote for a quantity to the evidence: one reading, or with the period of an LED that blinks two. Nothing
/// is added where the person says it is unknown; returns whether something was.
///
/// # Errors
/// What is expected there, in words that follow what was found.
pub fn book(
    evidence: &mut Evidence,
    situation: Situation,
    quantity: Quantity,
    text: &str,
) -> Result<bool, String> {
    let text = plain(text);
    if quantity == Quantity::WeakestBattery && !UNKNOWN.contains(&text.to_lowercase().as_str()) {
        let each_v = each_battery_v(text)?;
        let weakest_v = each_v.iter().copied().fold(f64::INFINITY, f64::min);
        evidence.add(situation, quantity, Reading::value(weakest_v));
        evidence.battery_each_v = each_v;
        return Ok(true);
    }
    if let (Quantity::Led, Some(period)) = (quantity, period(text)) {
        let read = reading(Quantity::Blinking, period).map_err(|_| expected(quantity))?;
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

/// The period behind the word that an LED blinks; `None` where there is no such word.
fn period(text: &str) -> Option<&str> {
    let (word, rest) = text.split_once(char::is_whitespace)?;
    if !BLINKING.contains(&word.to_lowercase().as_str()) {
        return None;
    }
    let rest = rest.trim();
    let bare = EVERY.iter().find_map(|word| rest.strip_prefix(word));
    Some(bare.unwrap_or(rest).trim())
}

/// The own voltages of several batteries, in volts.
fn each_battery_v(text: &str) -> Result<Vec<f64>, String> {
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

/// A number in a quantity's unit; plain where it has none, or where only volts can be meant. Quantities of words alone take
/// none.
fn number(form: &Form, text: &str) -> Option<f64> {
    let text = text.trim();
    let plain = text.strip_prefix('+').unwrap_or(text);
    let bare = || plain.parse().ok().filter(|v: &f64| v.is_finite());
    match form.unit {
        Some(unit @ Unit::Volt) => units::parse(plain, unit).ok().or_else(bare),
        Some(unit) => units::parse(plain, unit).ok(),
        None if form.range.1 > form.range.0 => bare(),
        None => None,
    }
}

/// What is expected there, behind what is amiss where that is known.
fn refusal(quantity: Quantity, text: &str) -> String {
    let expected = expected(quantity);
    match amiss(quantity, text) {
        Some(amiss) => format!("{amiss}: {expected}"),
        None => expected,
    }
}

/// What is most often amiss with a number.
pub fn amiss(quantity: Quantity, text: &str) -> Option<&'static str> {
    let number = text.trim().parse::<f64>().ok();
    let unit = quantity.form().unit;
    let (_, high) = quantity.form().range;
    if text.contains(',') {
        Some("decimals stand behind a point, not a comma")
    } else if unit == Some(Unit::Volt) {
        let is_millivolts = number.is_some_and(|value| value > high);
        is_millivolts
            .then_some("a number without a unit is in volts, so write mV behind millivolts")
    } else {
        (number.is_some() && unit.is_some()).then_some("its unit is missing")
    }
}

/// What is expected for a quantity, in words that follow what was found.
pub fn expected(quantity: Quantity) -> String {
    format!("expected {}", choices(quantity))
}

/// What may be written for a quantity.
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
    let (low, high) = form.range;
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

/// A number that may stand there.
fn example(quantity: Quantity, unit: Unit) -> &'static str {
    let (_, high) = quantity.form().range;
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
        if let Err(expected) = answer(&entry, situation, quantity, evidence) {
            entry.fault(&expected);
        }
    }
    table.close();
}

/// One answer of a file: a text, or a bare number or a list where no unit is needed.
fn answer(
    entry: &Entry<'_>,
    situation: Situation,
    quantity: Quantity,
    evidence: &mut Evidence,
) -> Result<(), String> {
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
            // The entry has said so itself.
            None => return Ok(()),
        }
    };
    book(evidence, situation, quantity, &text).map(|_| ())
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
                    "\"{situation}\" is no situation, expected one of {}",
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
                "\"{name}\" is nothing that can be read, expected one of {}",
                words.join(", ")
            )
        })?;
    book(evidence, situation, quantity, value)
        .map_err(|expected| format!("{name}: found \"{value}\", {expected}"))?;
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
            @r#"expected "dark", "faint", "lit", "blinking" ("blinking every 2 s") or "unknown""#);
        insta::assert_snapshot!(reading(Quantity::Current, "9 V").unwrap_err(),
            @r#"expected a value like "300 mA" from -20 A to 20 A or "unknown""#);
        insta::assert_snapshot!(reading(Quantity::Current, "50").unwrap_err(),
            @r#"its unit is missing: expected a value like "300 mA" from -20 A to 20 A or "unknown""#);
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
    fn volts_need_no_letter_and_a_word_may_be_another_that_means_the_same() {
        let volt = |quantity, text| match reading(quantity, text) {
            Ok(Some(Reading::Value { value, tolerance })) => (value, tolerance),
            other => panic!("{text}: {other:?}"),
        };
        assert_eq!(volt(Quantity::Base, "0.62"), (0.62, None));
        assert_eq!(volt(Quantity::Battery, "9.1 +- 0.1"), (9.1, Some(0.1)));
        assert_eq!(volt(Quantity::BaseTest, "650 mV"), (0.65, None));
        insta::assert_snapshot!(reading(Quantity::BaseTest, "650").unwrap_err(),
            @r#"a number without a unit is in volts, so write mV behind millivolts: expected a value like "0.65 V" from 0 V to 4 V, "open" or "unknown""#);
        for (quantity, words, seen) in [
            (
                Quantity::Primary,
                &["OL", "o.l.", "open", "0L"][..],
                Seen::Open,
            ),
            (Quantity::BaseTest, &["OL", "Open"], Seen::Open),
            (Quantity::Led, &["on", "Yes", "LIT"], Seen::Lit),
            (Quantity::Led, &["off", "no"], Seen::Dark),
            (Quantity::Led, &["blinks", "Flashing"], Seen::Blinking),
            (Quantity::Lamp, &["yes", "on"], Seen::Near),
            (Quantity::Lamp, &["no", "OFF"], Seen::Dark),
            (Quantity::Bursts, &["Yes"], Seen::Yes),
        ] {
            for word in words {
                let read = Ok(Some(Reading::Seen(seen)));
                assert_eq!(reading(quantity, word), read, "{quantity:?} {word}");
            }
        }
        // One ohm, or a meter's sign: nobody knows, and it has no unit.
        assert!(reading(Quantity::Primary, "1").is_err());
        assert!(reading(Quantity::Current, "OL").is_err());
        assert!(reading(Quantity::Heat, "yes").is_err());
    }

    #[test]
    fn an_led_may_blink_with_its_period_and_each_battery_has_its_own_voltage() {
        let found = Situation::AsFound;
        for (text, period_s) in [
            ("led=blinking every 2 s", Some(2.0)),
            ("led=Blinking 0.5 s", Some(0.5)),
            ("led=blinking every 500 ms", Some(0.5)),
            ("led=blinking", None),
            ("blinking=2s", Some(2.0)),
        ] {
            let mut evidence = Evidence::default();
            typed(text, &mut evidence).unwrap();
            let led = evidence.reading(found, Quantity::Led);
            assert_eq!(led, Some(Reading::Seen(Seen::Blinking)), "{text}");
            let period = evidence.reading(found, Quantity::Blinking);
            assert_eq!(period, period_s.map(Reading::value), "{text}");
            // A later look takes the place of both.
            typed("led=lit", &mut evidence).unwrap();
            assert_eq!(evidence.observations.len(), 1, "{text}");
        }
        for list in [
            "9.4 V, 9.3 V, -9.1 V",
            "9.4, 9.3, -9.1",
            "9.4;9.3;-9.1",
            "9.4,9.3,-9.1",
        ] {
            let mut evidence = Evidence::default();
            typed(&format!("battery_each={list}"), &mut evidence).unwrap();
            let weakest = evidence.reading(found, Quantity::WeakestBattery);
            assert_eq!(weakest, Some(Reading::value(-9.1)), "{list}");
            assert_eq!(evidence.battery_each_v, [9.4, 9.3, -9.1], "{list}");
        }
        let mut evidence = Evidence::default();
        for wrong in [
            "led=blinking every 2 m",
            "battery_each=9,4 V",
            "led=blinking every hour",
        ] {
            assert!(typed(wrong, &mut evidence).is_err(), "{wrong}");
        }
        assert_eq!(evidence, Evidence::default());
    }

    #[test]
    fn a_file_may_have_volts_as_bare_numbers_and_lists_and_where_it_was_touched() {
        let evidence = parse(
            "[found]\nbase = 0.62\nbattery_each = [9.4, -9.1]\n[touched]\nled = \"on\"\nnear = \"wire\"\n",
        )
        .unwrap();
        let reading = |situation, quantity| evidence.reading(situation, quantity);
        assert_eq!(
            reading(Situation::AsFound, Quantity::Base),
            Some(Reading::value(0.62))
        );
        assert_eq!(evidence.battery_each_v, [9.4, -9.1]);
        let lit = Some(Reading::Seen(Seen::Lit));
        assert_eq!(reading(Situation::Touched, Quantity::Led), lit);
        let wire = Some(Reading::Seen(Seen::OnWire));
        assert_eq!(reading(Situation::Touched, Quantity::Near), wire);
        let told = parse("[found]\ncurrent = 0.05\n").unwrap_err().to_string();
        assert!(told.contains("line 2: found.current"), "{told}");
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

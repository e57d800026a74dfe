//! The command that asks the same again, and readings as they are typed behind it.

use crate::diagnosis::answers::example;
use crate::diagnosis::evidence::{Evidence, History, Observation};
use crate::diagnosis::quantity::{Quantity, Reading};
use crate::diagnosis::situation::Situation;
use crate::units::{Unit, exact};

/// The command that was typed, with the readings since.
#[derive(Debug, Clone)]
pub struct Command {
    /// Its words, each as a shell takes it.
    pub words: Vec<String>,
    /// Whether the next question is asked at once: nothing is to be typed for it.
    pub is_asking: bool,
}

impl Command {
    /// The command with one more word, in lines of at most `width` that a shell takes for one.
    pub(super) fn lines(&self, lead: &str, width: usize, more: &str) -> Vec<String> {
        let mut rows = Vec::new();
        let mut row = lead.to_owned();
        let mut words = self
            .words
            .iter()
            .map(String::as_str)
            .chain([more])
            .peekable();
        while let Some(word) = words.next() {
            // The option stays with its value, and room is left for the mark of a line that goes on.
            let pair = match (word, words.peek()) {
                ("-r", Some(_)) => format!("-r {}", words.next().unwrap_or_default()),
                _ => word.to_owned(),
            };
            let room = if words.peek().is_some() { 2 } else { 0 };
            if row.chars().count() + 1 + pair.chars().count() + room > width && row != lead {
                rows.push(format!("{row} \\"));
                " ".clone_into(&mut row);
            }
            row = format!("{row} {pair}");
        }
        rows.push(row);
        rows
    }
}

/// Returns the statements on a build, as options: all but those `known` without them.
pub fn arguments(evidence: &Evidence, known: &Evidence) -> Vec<String> {
    let mut words = Vec::new();
    let ran = match evidence.history {
        _ if evidence.history == known.history => None,
        History::Never => Some("never"),
        History::Ran => Some("yes"),
        History::Unknown => None,
    };
    if let Some(ran) = ran {
        words.extend(["--ran-before".to_owned(), ran.to_owned()]);
    }
    let is_new = |seen: &&Observation| !known.observations.contains(seen);
    for seen in evidence.observations.iter().filter(is_new) {
        let value = if seen.quantity == Quantity::WeakestBattery {
            let each = evidence.battery_each_v.iter();
            let each: Vec<String> = each.map(|each_v| bare(*each_v, Unit::Volt)).collect();
            each.join(";")
        } else {
            value(seen)
        };
        words.push("-r".to_owned());
        words.push(quoted(&format!(
            "{}{value}",
            name(seen.situation, seen.quantity)
        )));
    }
    words
}

/// The name of a reading and the sign behind it.
fn name(situation: Situation, quantity: Quantity) -> String {
    let key = quantity.form().key;
    match situation {
        Situation::AsFound => format!("{key}="),
        other => format!("{}.{key}=", other.key()),
    }
}

/// A reading as it may be typed, such as `led=dark`, with the other words that may stand there.
pub(super) fn typed(situation: Situation, quantity: Quantity) -> String {
    let form = quantity.form();
    let mut words = form.seen.iter().map(|seen| seen.word());
    let value = match quantity {
        Quantity::WeakestBattery => "9.4V;9.3V".to_owned(),
        Quantity::Battery | Quantity::BatteryOpen => "9.1V".to_owned(),
        Quantity::Base => "0.65V".to_owned(),
        Quantity::FootToTop | Quantity::WireToTop => "12.5ohm".to_owned(),
        Quantity::Primary => "0.3ohm".to_owned(),
        _ => form.unit.map_or_else(
            || words.next().unwrap_or("60").to_owned(),
            |unit| example(quantity, unit).replace(' ', ""),
        ),
    };
    let others: Vec<&str> = words.collect();
    let others = match others.as_slice() {
        [] => String::new(),
        others => format!(" (or {})", others.join(", ")),
    };
    format!(
        "-r\u{a0}{}{others}",
        quoted(&format!("{}{value}", name(situation, quantity)))
    )
}

fn value(seen: &Observation) -> String {
    let form = seen.quantity.form();
    let number = |value| {
        form.unit
            .map_or_else(|| format!("{value}"), |unit| bare(value, unit))
    };
    match seen.reading {
        Reading::Seen(word) => word.word().to_owned(),
        Reading::Value { value, tolerance } => {
            let less = if seen.quantity.is_change() { 1.0 } else { 0.0 };
            let tolerance = tolerance.map_or_else(String::new, |off| format!("+-{}", number(off)));
            format!("{}{tolerance}", number(value - less))
        }
    }
}

/// A number with its unit and without the space between.
fn bare(value: f64, unit: Unit) -> String {
    exact(value, unit).replace(' ', "")
}

/// A word that a shell would split or read stands in quotation marks.
fn quoted(word: &str) -> String {
    let is_plain = |c: char| c.is_alphanumeric() || "._-=+,%:/".contains(c);
    if word.chars().all(is_plain) {
        word.to_owned()
    } else {
        format!("\"{word}\"")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnosis::answers;

    #[test]
    fn what_was_read_is_read_back_from_its_options() {
        let text = "ran_before = \"never\"\n[found]\nled = \"blinking every 2 s\"\nbattery = \"9.4 V +- 0.1 V\"\n\
                    battery_each = \"9.4 V, -9.25 V\"\nfoot_to_top = \"open\"\nwire_to_top = \"12.5 ohm\"\nring_q = \"90\"\n\
                    current = \"50 mA\"\nfrequency_change = \"+0.3 %\"\n[swapped]\nled = \"dark\"\nlamp = \"near\"\n";
        let mut read = answers::parse(text).unwrap();
        read.history = History::Unknown;
        let words = arguments(&read, &Evidence::default());
        let mut again = Evidence::default();
        for pair in words.chunks(2) {
            assert_eq!(pair[0], "-r");
            answers::typed(pair[1].trim_matches('"'), &mut again).unwrap();
        }
        assert_eq!(words.len(), 2 * read.observations.len());
        for seen in &read.observations {
            let back = again.reading(seen.situation, seen.quantity).unwrap();
            match (seen.reading, back) {
                (Reading::Value { value, .. }, Reading::Value { value: back, .. }) => {
                    assert!((value - back).abs() < 1e-9, "{words:?}");
                }
                (read, back) => assert_eq!(read, back),
            }
        }
        assert_eq!(arguments(&read, &read), Vec::<String>::new());
        let never = Evidence {
            history: History::Never,
            ..Evidence::default()
        };
        assert_eq!(
            arguments(&never, &Evidence::default()),
            ["--ran-before", "never"]
        );
    }

    #[test]
    fn a_long_command_is_broken_where_a_shell_goes_on() {
        let command = Command {
            words: [
                "sagtrace",
                "diagnose",
                "a.toml",
                "-r",
                "led=dark",
                "-r",
                "current=50mA",
            ]
            .map(str::to_owned)
            .to_vec(),
            is_asking: false,
        };
        assert_eq!(
            command.lines("more:", 40, "--detail"),
            [
                "more: sagtrace diagnose a.toml \\",
                "  -r led=dark -r current=50mA --detail"
            ]
        );
    }
}

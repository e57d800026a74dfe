//! Text from outside on its way to people. A character that could steer a terminal, or turn the order of reading, is shown as an
//! escape.
//!
//! The escape is that of JSON (RFC 8259, section 7), `\u001b`, so that one rule serves a report, a picture and a JSON text. In
//! JSON such a character can stand in a string alone, and the string keeps its value.

use std::borrow::Cow;
use std::error::Error;
use std::fmt::Write as _;
use std::path::Path;

/// Whether a character is one that is not shown. It may be a control of ISO 6429 (U+0000–1F, U+007F–9F), or a line or paragraph
/// separator. It may also be one of the directional formatting characters that Unicode Standard Annex #9 lists.
pub fn is_steering(c: char) -> bool {
    c.is_control()
        || matches!(
            c,
            '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}'
        )
}

/// A text of our own lines, with all else that is not to be shown escaped.
pub fn lines(text: &str) -> Cow<'_, str> {
    escaped(text, |c| c != '\n' && is_steering(c))
}

/// A text from outside that is to stand in one line: its line ends are escaped too.
pub fn line(text: &str) -> Cow<'_, str> {
    escaped(text, is_steering)
}

fn escaped(text: &str, is_hidden: impl Fn(char) -> bool) -> Cow<'_, str> {
    if !text.contains(&is_hidden) {
        return text.into();
    }
    let mut shown = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        if is_hidden(c) {
            // All of them lie in the plane that four digits reach; writing to a String cannot fail.
            write!(shown, "\\u{:04x}", u32::from(c)).unwrap_or(());
        } else {
            shown.push(c);
        }
    }
    shown.into()
}

/// Returns an error and its causes in one text.
pub fn with_causes(error: &dyn Error) -> String {
    let mut text = error.to_string();
    let mut cause = error.source();
    while let Some(error) = cause {
        text = format!("{text}: {error}");
        cause = error.source();
    }
    text
}

/// A path as it is shown.
pub trait Shown {
    /// Returns it in one line, with the characters that are not to be shown escaped.
    fn shown(&self) -> String;
}

impl Shown for Path {
    fn shown(&self) -> String {
        line(&self.to_string_lossy()).into_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_steers_a_terminal_or_turns_a_text_is_shown_and_all_else_stays() {
        for (raw, want) in [
            ("\u{1b}]0;x\u{7}", r"\u001b]0;x\u0007"),
            ("\u{1b}[2J\u{9b}2J\u{7f}", r"\u001b[2J\u009b2J\u007f"),
            ("a\r\tb", r"a\u000d\u0009b"),
            (
                "\u{202e}\u{2066}\u{200f}\u{61c}",
                r"\u202e\u2066\u200f\u061c",
            ),
            ("\u{2028}\u{2029}\u{85}", r"\u2028\u2029\u0085"),
            ("Größe 4 µH, 日本, שלום, 👍", "Größe 4 µH, 日本, שלום, 👍"),
        ] {
            assert_eq!(lines(raw), want);
            assert_eq!(line(raw), want);
        }
        assert_eq!(lines("one\ntwo"), "one\ntwo");
        assert_eq!(line("one\ntwo"), r"one\u000atwo");
        assert_eq!(Path::new("a\nb").shown(), r"a\u000ab");
    }

    proptest::proptest! {
        #[test]
        fn a_json_text_keeps_its_value(text in ".{0,20}", hidden in "[\u{80}-\u{9f}\u{202a}-\u{202e}\u{7f}]{0,4}") {
            let value = serde_json::json!({ text.clone() + &hidden: [hidden + &text] });
            let shown = lines(&format!("{value:#}")).into_owned();
            proptest::prop_assert!(!shown.chars().any(|c| c != '\n' && is_steering(c)));
            proptest::prop_assert_eq!(serde_json::from_str::<serde_json::Value>(&shown).unwrap(), value);
        }
    }
}

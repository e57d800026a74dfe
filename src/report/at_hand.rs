//! The things at hand, and the next command for each: the program without arguments.

use std::fmt::Write as _;
use std::path::PathBuf;

use super::layout::{filled, shell_word};
use crate::plain::{self, Shown as _};

/// Sheets, sessions and serial ports that were found.
#[derive(Debug, Default)]
pub struct AtHand {
    /// Build sheets of the current folder, by name.
    pub sheets: Vec<PathBuf>,
    /// Session folders, by name, which begins with their time.
    pub sessions: Vec<PathBuf>,
    /// Serial ports that are plugged in by USB.
    pub ports: Vec<String>,
    /// Whether the settings name instruments.
    pub are_instruments_set: bool,
}

/// Returns a sentence and a command for sheets, sessions and instruments.
pub fn text(at_hand: &AtHand, width: usize) -> String {
    let mut out = String::new();
    for (words, command) in [
        sheets(&at_hand.sheets),
        sessions(&at_hand.sessions),
        instruments(at_hand),
    ] {
        filled(&mut out, width, 0, &words);
        // Writing to a String cannot fail.
        writeln!(out, "  {command}").ok();
    }
    out
}

fn sheets(sheets: &[PathBuf]) -> (String, String) {
    match sheets {
        [] => (
            "No build sheet in this folder. Describe your build:".to_owned(),
            "sagtrace sheet new".to_owned(),
        ),
        [one] => (
            format!(
                "Build sheet: {}. See where it should resonate:",
                one.shown()
            ),
            format!("sagtrace predict {}", shell_word(one)),
        ),
        [first, ..] => (
            format!(
                "{} build sheets, the first {}. See where it should resonate:",
                sheets.len(),
                first.shown()
            ),
            format!("sagtrace predict {}", shell_word(first)),
        ),
    }
}

fn sessions(sessions: &[PathBuf]) -> (String, String) {
    match sessions.last() {
        None => (
            "No session in this folder. Try one without an instrument:".to_owned(),
            "sagtrace simulate".to_owned(),
        ),
        Some(last) => (
            match sessions.len() {
                1 => format!("Session: {}. See how it went:", last.shown()),
                count => format!(
                    "{count} sessions, the last {}. See how it went:",
                    last.shown()
                ),
            },
            format!("sagtrace compare {}", shell_word(last)),
        ),
    }
}

fn instruments(at_hand: &AtHand) -> (String, String) {
    match at_hand.ports.as_slice() {
        _ if at_hand.are_instruments_set => (
            "Your settings name the instrument. Record a session:".to_owned(),
            "sagtrace record".to_owned(),
        ),
        [] => (
            "No USB instrument is plugged in. See how to join an instrument:".to_owned(),
            "sagtrace guide joining".to_owned(),
        ),
        [one] => (
            format!(
                "Plugged in: {}. See whether an instrument answers:",
                plain::line(one)
            ),
            "sagtrace ports --identify".to_owned(),
        ),
        several => (
            format!(
                "Plugged in: {} serial ports. See which instruments answer:",
                several.len()
            ),
            "sagtrace ports --identify".to_owned(),
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn six_lines_say_what_is_at_hand() {
        let nothing = text(&AtHand::default(), 80);
        insta::assert_snapshot!(nothing, @"
        No build sheet in this folder. Describe your build:
          sagtrace sheet new
        No session in this folder. Try one without an instrument:
          sagtrace simulate
        No USB instrument is plugged in. See how to join an instrument:
          sagtrace guide joining
        ");
        let bench = AtHand {
            sheets: vec!["my pillar.toml".into()],
            sessions: vec![
                "20260131T190000Z-glow-pillar".into(),
                "20260201T190000Z-glow-pillar".into(),
            ],
            ports: vec!["/dev/ttyUSB0".to_owned()],
            are_instruments_set: false,
        };
        let all = text(&bench, 80);
        insta::assert_snapshot!(all, @"
        Build sheet: my pillar.toml. See where it should resonate:
          sagtrace predict 'my pillar.toml'
        2 sessions, the last 20260201T190000Z-glow-pillar. See how it went:
          sagtrace compare 20260201T190000Z-glow-pillar
        Plugged in: /dev/ttyUSB0. See whether an instrument answers:
          sagtrace ports --identify
        ");
        assert_eq!((nothing.lines().count(), all.lines().count()), (6, 6));
    }
}

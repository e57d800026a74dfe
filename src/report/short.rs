//! An answer that fits on a screen: the most important first, the next step, and where the rest is.

use super::layout::filled;

/// Lines at the most in a window of 80 columns.
pub(super) const MOST_LINES: usize = 12;

/// Lines at the most in the narrowest window: with a prompt below they fill a screen of 24.
const MOST_NARROW_LINES: usize = 22;

/// Returns the number of lines at the most; a narrow window takes more of them for the same words.
pub(super) fn most_lines(width: usize) -> usize {
    (MOST_LINES * 80 / width.max(1)).clamp(MOST_LINES, MOST_NARROW_LINES)
}

/// The answer of a command, before it is set in lines.
#[derive(Debug, Default)]
pub(super) struct Short {
    findings: Vec<Finding>,
    next: Vec<String>,
    more: Option<String>,
}

#[derive(Debug)]
struct Finding {
    words: String,
    /// A warning of harm is printed even where there is no room for it.
    is_warning: bool,
}

impl Short {
    /// Adds a finding; those that come first are kept where there is no room for all.
    pub(super) fn say(&mut self, finding: impl Into<String>) {
        self.findings.push(Finding {
            words: finding.into(),
            is_warning: false,
        });
    }

    /// Adds a warning of harm, which is never left out.
    pub(super) fn warn(&mut self, warning: impl Into<String>) {
        self.findings.push(Finding {
            words: warning.into(),
            is_warning: true,
        });
    }

    /// Says several things, each in a sentence.
    pub(super) fn say_all(&mut self, some: impl IntoIterator<Item = String>) {
        for one in some {
            self.say(one);
        }
    }

    /// Sets the next step: its purpose, and a command that can be pasted.
    pub(super) fn next(&mut self, why: &str, command: &str) {
        self.next = vec![format!("next, {why}:"), command.to_owned()];
    }

    /// Sets the command that prints everything.
    pub(super) fn more(&mut self, command: impl Into<String>) {
        self.more = Some(command.into());
    }

    /// Returns the lines, none of them wider than `width` but for a word or a command that is longer by itself.
    pub(super) fn printed(&self, width: usize) -> String {
        let next = in_lines(&self.next, width);
        let rows = |text: &str| text.lines().count();
        // A note of the lines left out may push the command into a line of its own.
        let more = |left_out| {
            let more = self
                .more
                .as_ref()
                .map(|command| more(command, left_out, width));
            more.map_or_else(String::new, |more| in_lines(&more, width))
        };
        let last = more(99);
        let sets: Vec<(String, bool)> = (self.findings.iter())
            .map(|finding| {
                let mut set = String::new();
                filled(&mut set, width, 0, &finding.words);
                (set, finding.is_warning)
            })
            .collect();
        let warnings = sets.iter().filter(|(_, is_warning)| *is_warning);
        let taken: usize = warnings.map(|(set, _)| rows(set)).sum();
        let mut room = most_lines(width).saturating_sub(rows(&next) + rows(&last) + taken);
        let mut out = String::new();
        let mut left_out = 0;
        for (set, is_warning) in &sets {
            if *is_warning {
                out.push_str(set);
            } else if left_out == 0 && rows(set) <= room {
                room -= rows(set);
                out.push_str(set);
            } else {
                left_out += 1;
            }
        }
        out + &next + &more(left_out)
    }
}

/// Where the rest is. A command that is wider than the window was typed just now, and is not repeated.
fn more(command: &str, left_out: usize, width: usize) -> [String; 2] {
    const SAME: &str = "the same command with --detail";
    let name = match left_out {
        0 => "more:".to_owned(),
        1 => "more (1 finding left out here):".to_owned(),
        count => format!("more ({count} findings left out here):"),
    };
    let columns = |command: &str| name.chars().count() + 1 + command.chars().count();
    let is_too_wide = command.chars().count() + 2 > width || columns(SAME) <= width;
    let is_same = command.ends_with(" --detail") && columns(command) > width && is_too_wide;
    let command = if is_same { SAME } else { command };
    [name, command.to_owned()]
}

/// Parts in one line where they fit, else a line each, set in behind the first. No command is broken.
fn in_lines(parts: &[String], width: usize) -> String {
    let one = parts.join(" ");
    if one.is_empty() {
        String::new()
    } else if one.chars().count() <= width {
        one + "\n"
    } else {
        parts.join("\n  ") + "\n"
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_there_is_no_room_for_is_counted_and_the_next_step_stays() {
        let mut short = Short::default();
        for number in 0..20 {
            short.say(format!("finding {number}"));
        }
        short.next("to go on", "sagtrace go");
        short.more("sagtrace go --detail");
        let text = short.printed(80);
        assert_eq!(text.lines().count(), MOST_LINES);
        assert!(
            text.contains("finding 9\nnext, to go on: sagtrace go\n"),
            "{text}"
        );
        assert!(
            text.ends_with("more (10 findings left out here): sagtrace go --detail\n"),
            "{text}"
        );
    }

    #[test]
    fn a_warning_is_printed_in_the_narrowest_window() {
        let mut short = Short::default();
        short.say("something long that is said before it and takes some lines");
        short.warn("DO NOT SWITCH IT ON as it is, whatever else there is to say of it today");
        short.say("last");
        short.next("to go on", "sagtrace go");
        short.more("sagtrace go --detail");
        let text = short.printed(7);
        let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            words.contains(
                "DO NOT SWITCH IT ON as it is, whatever else there is to say of it today"
            ),
            "{text}"
        );
        assert!(
            !words.contains("something") && !words.contains("last"),
            "{text}"
        );
    }

    #[test]
    fn a_command_wider_than_the_window_is_not_repeated() {
        let mut short = Short::default();
        short.more(format!("sagtrace go {} --detail", "x".repeat(80)));
        assert_eq!(short.printed(80), "more: the same command with --detail\n");
    }

    #[test]
    fn a_command_that_is_too_long_has_its_own_line() {
        let mut short = Short::default();
        let command = format!("sagtrace go {}", "x".repeat(60));
        short.next("to go on", &command);
        assert_eq!(short.printed(80), format!("next, to go on:\n  {command}\n"));
    }
}

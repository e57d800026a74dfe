//! The end of a command's help.

use crate::caution::Caution;

/// The end of the short page: examples, and where the rest is.
pub(super) fn brief(command: &str, examples: &str) -> String {
    let examples = examples.lines().map(|one| format!("  {}\n", one.trim()));
    let examples: String = examples.collect();
    format!("Examples:\n{examples}All options and examples: sagtrace {command} --help")
}

/// A text whose paragraphs are one line each, for the help to break them where the window ends. Lines that are set in stay.
pub(super) fn flowed(text: &str) -> String {
    let mut out = String::new();
    let mut is_prose = false;
    for line in text.lines() {
        let goes_on = is_prose && !line.is_empty() && !line.starts_with(' ');
        if goes_on {
            out.push(' ');
        } else if !out.is_empty() {
            out.push('\n');
        }
        out.push_str(line);
        is_prose = !line.is_empty() && !line.starts_with(' ') && !line.ends_with(':');
    }
    out
}

/// Examples and what belongs to them, then what whoever uses the command must mind.
pub(super) fn minding(text: &str, cautions: &[Caution]) -> String {
    let each = cautions.iter().map(|one| format!("- {}\n", one.words()));
    let each: String = each.collect();
    let text = flowed(text);
    format!("{text}\n\nCautions:\n{each}All, with their sources: sagtrace cautions --detail")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paragraphs_flow_and_examples_stay() {
        let text = "Examples:\n  sagtrace go\n  sagtrace stay\n\nThis is\nprose.\nMore.\n\nLast.";
        let wanted = "Examples:\n  sagtrace go\n  sagtrace stay\n\nThis is prose. More.\n\nLast.";
        assert_eq!(flowed(text), wanted);
    }
}

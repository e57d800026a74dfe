//! The end of a command's help.

use crate::caution::Caution;
use crate::report::layout::broken;

/// The end of the short page: examples, and where the rest is.
pub(super) fn brief(command: &str, examples: &str) -> String {
    let examples: Vec<String> = examples
        .lines()
        .map(|one| format!("  {}", one.trim()))
        .collect();
    let examples = examples.join("\n");
    format!("Examples:\n{examples}\nAll options and examples: sagtrace {command} --help")
}

/// Examples and what belongs to them, then what whoever uses the command must mind.
pub(super) fn minding(text: &str, cautions: &[Caution]) -> String {
    let each: String = cautions
        .iter()
        .map(|one| broken(2, one.words()) + "\n")
        .collect();
    format!("{text}\n\nCautions:\n{each}  All, with their sources: sagtrace cautions")
}

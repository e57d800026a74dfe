//! The end of a command's help.

use crate::caution::Caution;
use crate::report::layout::broken;

/// Examples and what belongs to them, then what whoever uses the command must mind.
pub(super) fn minding(text: &str, cautions: &[Caution]) -> String {
    let each: String = cautions
        .iter()
        .map(|one| broken(2, one.words()) + "\n")
        .collect();
    format!(
        "{text}\n\nCautions:\n{each}  sagtrace cautions and README.md have all, with their sources."
    )
}

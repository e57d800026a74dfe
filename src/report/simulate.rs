//! The outcome of a simulated evening, where everything is, and how to remove it.

use std::path::Path;

use super::layout::shell_word;
use crate::plain::Shown as _;

/// The comparison of the session in a folder as `compare` answers it, its files, and the command that removes it.
pub fn text(dir: &Path, answer: &str, plots: usize) -> String {
    let pictures = if plots == 1 { "plot" } else { "plots" };
    format!(
        "\n{answer}\nsession made: {}\n  samples.csv has every reading, plots/ has {plots} {pictures}\nremove it with: rm -r {}\n",
        dir.shown(),
        shell_word(dir)
    )
}

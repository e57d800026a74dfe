//! What a simulated evening came to, where everything is, and how to remove it.

use std::path::{Path, PathBuf};

use super::compare;
use super::layout::shell_word;
use crate::analysis::compare::Comparison;
use crate::analysis::pushing::Modelled;
use crate::plain::Shown as _;

/// The comparison of the session in a folder, its files, and the command that removes it.
pub fn text(
    dir: &Path,
    comparison: &Comparison,
    pushing: Option<&Modelled>,
    plots: &[PathBuf],
) -> String {
    let of_dir = [
        ("samples.csv", "every reading, for a spreadsheet"),
        ("session.toml", "what was recorded, and how"),
    ]
    .map(|(name, what)| format!("{}  {what}", dir.join(name).shown()));
    let plots = plots.iter().map(|plot| plot.shown());
    let files: Vec<String> = of_dir.into_iter().chain(plots).collect();
    let pushing = pushing.map_or_else(String::new, |modelled| {
        compare::pushing::text(comparison, modelled)
    });
    format!(
        "\n{}{pushing}\nfiles\n  {}\nremove it with: rm -r {}\n\nsession made: {}\nnext: sagtrace compare {}\n",
        compare::text(comparison),
        files.join("\n  "),
        shell_word(dir),
        dir.shown(),
        shell_word(dir)
    )
}

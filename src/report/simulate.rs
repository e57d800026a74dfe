//! What a simulated evening came to, where everything is, and how to remove it.

use std::path::{Path, PathBuf};

use super::compare;
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
        "\n{}{pushing}\nfiles\n  {}\nremove it with: rm -r {}\n",
        compare::text(comparison),
        files.join("\n  "),
        shell_word(dir)
    )
}

/// A path as a shell takes it for one word, POSIX.1-2017, Shell Command Language, 2.2.2: all but `'` is literal between two `'`.
fn shell_word(path: &Path) -> String {
    let text = path.shown();
    let is_plain = |c: char| c.is_ascii_alphanumeric() || "/._-".contains(c);
    if !text.is_empty() && !text.starts_with('-') && text.chars().all(is_plain) {
        return text;
    }
    let text = if text.starts_with('-') {
        format!("./{text}")
    } else {
        text
    };
    format!("'{}'", text.replace('\'', r"'\''"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_can_be_pasted_into_a_shell_whatever_stands_in_it() {
        for (path, want) in [
            (
                "20260131T190405Z-glow-pillar",
                "20260131T190405Z-glow-pillar",
            ),
            ("/tmp/a b", "'/tmp/a b'"),
            ("it's", r"'it'\''s'"),
            ("-rf", "'./-rf'"),
            ("a;b", "'a;b'"),
        ] {
            assert_eq!(shell_word(path.as_ref()), want);
        }
    }
}

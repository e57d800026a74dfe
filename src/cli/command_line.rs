//! The command line itself, for a text that says how to ask for more.

use std::ffi::OsString;
use std::path::Path;

use crate::plain::Shown as _;
use crate::report::layout::shell_text;

/// The command as it was typed, as a shell takes it, without the words in `less`.
pub(super) fn typed(less: &[String]) -> String {
    let is_left = |word: &OsString| less.iter().all(|label| word != label.as_str());
    let words = std::env::args_os().skip(1).filter(is_left);
    let words = words.map(|word| shell_text(&Path::new(&word).shown()));
    std::iter::once("sagtrace".to_owned())
        .chain(words)
        .collect::<Vec<_>>()
        .join(" ")
}

//! How lines are laid out.

use crate::instrument::profile::seal::Seal;

/// How columns are laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ColumnLayout {
    /// The delimiter; a blank stands for any run of blanks and tabs.
    pub delimiter: char,
    /// Whether a line of names comes first.
    pub header: bool,
    /// How many columns a line has, where no line of names says it; `None` for as many as are read.
    pub count: Option<usize>,
    /// The proof of a line, if it has any.
    pub seal: Option<Seal>,
}

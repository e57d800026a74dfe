//! The commands that an answer ends with.

use std::ffi::OsString;
use std::path::Path;

use crate::plain::Shown as _;
use crate::report::layout::shell_word;

/// The words of the commands that an answer offers, as a shell takes them.
#[derive(Debug, Clone)]
pub struct Commands {
    /// The build sheet.
    pub sheet: String,
    again: String,
}

impl Commands {
    /// Returns the commands for a sheet; `typed` is the rest of the line behind the program's name.
    pub fn new(sheet: &Path, typed: impl IntoIterator<Item = OsString>) -> Self {
        let mut again = "sagtrace".to_owned();
        for one in typed {
            again.push(' ');
            again.push_str(&word(Path::new(&one)));
        }
        // A sheet that came by a pipe has no name.
        let sheet = if sheet == Path::new("-") {
            "SHEET".to_owned()
        } else {
            shell_word(sheet)
        };
        Self { sheet, again }
    }

    /// The command that prints the full account.
    pub fn detail(&self) -> String {
        self.with("--detail")
    }

    /// The command that prints the card of the same build, in the same earth state.
    pub fn card(&self) -> String {
        let earth = self.again.split(" --earth").nth(1);
        let earth = earth.and_then(|rest| rest.trim_start_matches(['=', ' ']).split(' ').next());
        let earth = earth.map_or_else(String::new, |state| format!(" --earth {state}"));
        format!("sagtrace predict {}{earth} --card", self.sheet)
    }

    /// The command as it was typed, with more behind it.
    pub fn with(&self, more: &str) -> String {
        format!("{} {more}", self.again)
    }
}

/// An argument as a shell takes it for one word; an option keeps its dash.
fn word(typed: &Path) -> String {
    let text = typed.shown();
    if !text.starts_with('-') {
        return shell_word(typed);
    }
    let is_plain = |c: char| c.is_ascii_alphanumeric() || "/._-=".contains(c);
    if text.chars().all(is_plain) {
        return text;
    }
    format!("'{}'", text.replace('\'', r"'\''"))
}

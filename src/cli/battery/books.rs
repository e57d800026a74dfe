//! The logbooks of the batteries in a folder, as the commands ask for them.

use std::path::Path;

use crate::battery::logbook::Logbook;
use crate::cli::exit::{Failure, USAGE};
use crate::cli::output;
use crate::logbook::{self, Rule};
use crate::plain::Shown as _;

/// The logbook with a label.
pub(crate) fn known<'a>(
    books: &'a [Logbook],
    label: &str,
    dir: &Path,
) -> Result<&'a Logbook, Failure> {
    let found = books.iter().find(|book| book.battery == label);
    found.ok_or_else(|| unknown(label, dir))
}

pub(crate) fn unknown(label: &str, dir: &Path) -> Failure {
    Failure::new(
        USAGE,
        format!("no session in {} names the battery {label}", dir.shown()),
    )
    .hint(format!(
        "name it when you record: sagtrace record --battery {label}"
    ))
}

/// The logbooks of all batteries in a folder; notes name those that could not be read.
pub(crate) fn books(dir: &Path, rule: &Rule) -> Result<Vec<Logbook>, Failure> {
    let (entries, left_out) = logbook::entries(dir, rule)?;
    for error in left_out {
        let why = Failure::from(error).message;
        output::note(&format!("left out: {why}"));
    }
    Ok(Logbook::by_battery(entries))
}

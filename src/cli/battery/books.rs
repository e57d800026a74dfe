//! The logbooks of the batteries in a folder, as the commands ask for them.

use std::path::Path;

use crate::battery::kind::Kind;
use crate::battery::logbook::Logbook;
use crate::cli::exit::{Failure, USAGE};
use crate::cli::output;
use crate::logbook::{self, Rule};
use crate::plain::Shown as _;
use crate::units::{Unit, exact};

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

/// Refuses an end voltage above the voltage of the full battery; `option` is where it was given.
pub(crate) fn refuse_above(
    option: &str,
    end_v: Option<f64>,
    kind: Option<Kind>,
    series: u32,
) -> Result<(), Failure> {
    let (Some(end_v), Some(kind)) = (end_v, kind) else {
        return Ok(());
    };
    let nominal_v = f64::from(series) * kind.nominal().value_v;
    if end_v <= nominal_v {
        return Ok(());
    }
    let many = match series {
        1 => format!("one {} battery", kind.name()),
        _ => format!("{series} {} batteries in series", kind.name()),
    };
    Err(Failure::new(
        USAGE,
        format!(
            "{option}: found {}: expected at most {}, the nominal voltage of {many}",
            exact(end_v, Unit::Volt),
            exact(nominal_v, Unit::Volt)
        ),
    )
    .hint("the end is the voltage under load at which it counts as empty"))
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

//! `compare MINE.toml THEIRS.toml`: the differences of two sheets, one at a time.

use std::path::Path;

use super::args::{CompareArgs, Format};
use super::exit::{Failure, Outcome};
use super::{output, sheet};
use crate::report::sheets::{json, text};
use crate::sheet::differences::Walk;

pub(super) fn run(args: &CompareArgs, other: &Path) -> Result<Outcome, Failure> {
    let (mine, _) = sheet::read(&args.session)?;
    let (theirs, _) = sheet::read(other)?;
    let walk = Walk::of(&mine, &theirs);
    output::result(&match args.format {
        Format::Text => text(&mine.name, &theirs.name, &walk),
        Format::Json => format!("{:#}\n", json(&mine.name, &theirs.name, &walk)),
    })?;
    Ok(Outcome::DONE)
}

//! `sheet`: a template to fill in, and every fault of a filled one.

use std::path::Path;

use super::args::SheetAction;
use super::exit::{Failure, Outcome, USAGE};
use super::output;
use super::settings::{origin, read_text};
use crate::sheet::{self, Sheet};

pub(super) fn run(action: &SheetAction) -> Result<Outcome, Failure> {
    match action {
        SheetAction::Template => output::result(sheet::template())?,
        SheetAction::Check { sheet } => {
            let place = origin(sheet);
            let (sheet, _) = read(sheet)?;
            // What the model can't compute is a fault of the sheet that no single key shows.
            sheet.prediction().map_err(|error| {
                Failure::new(
                    USAGE,
                    format!("build sheet {place} has no prediction: {error}"),
                )
                .hint(
                    "a measured frequency in the sheet, under [measured], takes the model's place",
                )
            })?;
            output::result(&format!("{}: no faults\n", sheet.name))?
        }
    };
    Ok(Outcome::DONE)
}

/// Reads a build sheet and keeps its text.
pub(super) fn read(path: &Path) -> Result<(Sheet, String), Failure> {
    let text = read_text(path).map_err(|failure| {
        failure.hint("begin one with: sagtrace sheet template > my-pillar.toml")
    })?;
    let sheet = parse(&text, &origin(path))?;
    Ok((sheet, text))
}

/// Reads a build sheet's text; `origin` is where it came from.
pub(super) fn parse(text: &str, origin: &str) -> Result<Sheet, Failure> {
    sheet::parse(text).map_err(|faults| {
        Failure::new(USAGE, format!("build sheet {origin} has faults:\n{faults}"))
            .hint("see every key with: sagtrace sheet template")
    })
}

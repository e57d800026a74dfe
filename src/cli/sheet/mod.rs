//! `sheet`: an interview that writes one, a template to fill in, and every fault of a filled one.

mod new;

use std::io::ErrorKind;
use std::path::Path;

use super::args::SheetAction;
use super::exit::{Failure, Outcome, USAGE};
use super::output;
use super::settings::{open_text, origin};
use crate::plain::Shown as _;
use crate::sheet::{self, Sheet};

pub(super) fn run(action: &SheetAction) -> Result<Outcome, Failure> {
    match action {
        SheetAction::New { file } => return new::run(file.as_deref()),
        SheetAction::Template => output::result(sheet::template())?,
        SheetAction::Check { sheet } => {
            let place = origin(sheet);
            let (sheet, _) = read(sheet)?;
            // A failure of the model is a fault of the sheet that no single key shows.
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
    let text = open_text(path).map_err(|error| {
        let hint = hint(path, error.kind());
        let failure = Failure::new(USAGE, format!("cannot read {}: {error}", origin(path)));
        match hint {
            Some(hint) => failure.hint(hint),
            None => failure,
        }
    })?;
    let sheet = parse(&text, &origin(path))?;
    Ok((sheet, text))
}

/// Returns the advice where a sheet cannot be read; only a sheet that does not exist is begun anew.
fn hint(path: &Path, kind: ErrorKind) -> Option<String> {
    let own = path.join("build.toml");
    if own.is_file() {
        return Some(format!("the sheet in that folder is {}", own.shown()));
    }
    match kind {
        _ if path.is_dir() => Some("name the sheet itself, a file that ends in .toml".to_owned()),
        ErrorKind::NotFound => Some("begin one with: sagtrace sheet new".to_owned()),
        ErrorKind::PermissionDenied => Some(format!(
            "allow yourself to read it: chmod u+r {}",
            path.shown()
        )),
        _ => None,
    }
}

/// Reads a build sheet's text; `origin` is where it came from.
pub(super) fn parse(text: &str, origin: &str) -> Result<Sheet, Failure> {
    sheet::parse(text).map_err(|faults| {
        Failure::new(USAGE, format!("build sheet {origin} has faults:\n{faults}"))
            .hint("see every key with: sagtrace sheet template")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_new_sheet_is_advised_only_where_there_is_none() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("mine.toml");
        let told = |path: &Path, kind| hint(path, kind).unwrap_or_default();
        assert!(told(&path, ErrorKind::NotFound).contains("sheet new"));
        assert!(told(&path, ErrorKind::PermissionDenied).starts_with("allow yourself to read it"));
        assert!(told(dir.path(), ErrorKind::Other).starts_with("name the sheet itself"));
        std::fs::write(dir.path().join("build.toml"), "").unwrap();
        assert!(told(dir.path(), ErrorKind::Other).ends_with("build.toml"));
        assert_eq!(hint(&path, ErrorKind::Other), None);
    }
}

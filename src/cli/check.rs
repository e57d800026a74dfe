//! `check`: whether a session folder is whole, and a mended copy of one that is not.

use std::path::PathBuf;

use super::args::{CheckArgs, Format};
use super::exit::{ANSWER_IS_NO, CANNOT_WRITE, Failure, Outcome, USAGE};
use super::output;
use crate::plain::Shown as _;
use crate::report;
use crate::session::{self, SessionError};

pub(super) fn run(args: &CheckArgs) -> Result<Outcome, Failure> {
    let checked = session::check(&args.session)?;
    let copy = (args.repair && !checked.findings.is_empty())
        .then(|| mended_path(args))
        .transpose()?;
    let mut unmended = Vec::new();
    if let Some(copy) = &copy {
        session::mend(&args.session, copy).map_err(|error| match error {
            SessionError::Exists { .. } => Failure::from_error(CANNOT_WRITE, &error)
                .hint("a mended copy is there already: move it away first"),
            _ => {
                Failure::from_error(CANNOT_WRITE, &error).hint("the session itself was not changed")
            }
        })?;
        // Rows in a wrong order, or another sheet, are copied as they stand.
        unmended = session::check(copy)
            .map_err(|error| Failure::from_error(CANNOT_WRITE, &error))?
            .findings;
    }
    let repaired = copy.as_deref().map(|copy| (copy, unmended.as_slice()));
    let text = match args.format {
        Format::Text if args.detail => output::account(report::check::text(&checked, repaired)),
        Format::Text => {
            report::check::answer::answer(&args.session, &checked, repaired, output::width())
        }
        Format::Json => output::json(&report::check::Json::new(&checked, repaired))?,
    };
    output::result(&text)?;
    Ok(if args.strict && !checked.findings.is_empty() {
        Outcome(ANSWER_IS_NO)
    } else {
        Outcome::DONE
    })
}

/// The folder beside the session's, its name with `.mended` behind it.
fn mended_path(args: &CheckArgs) -> Result<PathBuf, Failure> {
    let dir = args.session.canonicalize().map_err(|error| {
        Failure::new(
            USAGE,
            format!("cannot find {}: {error}", args.session.shown()),
        )
    })?;
    let mut name = dir.file_name().unwrap_or_default().to_owned();
    name.push(".mended");
    Ok(dir.with_file_name(name))
}

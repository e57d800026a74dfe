//! `check`: whether a session folder is whole, and a mended copy of one that is not.

use std::path::PathBuf;

use serde_json::json;

use super::args::{CheckArgs, Format};
use super::exit::{ANSWER_IS_NO, CANNOT_WRITE, Failure, Outcome, USAGE};
use super::output;
use crate::session::{self, Checked, SessionError};

pub(super) fn run(args: &CheckArgs) -> Result<Outcome, Failure> {
    let checked = session::check(&args.session).map_err(|error| {
        Failure::from_error(USAGE, &error)
            .hint("name the folder that record made, the one with session.toml in it")
    })?;
    let copy = (args.repair && !checked.findings.is_empty())
        .then(|| mended_path(args))
        .transpose()?;
    if let Some(copy) = &copy {
        session::mend(&args.session, copy).map_err(|error| match error {
            SessionError::Exists { .. } => Failure::from_error(CANNOT_WRITE, &error)
                .hint("a mended copy is there already: move it away first"),
            _ => {
                Failure::from_error(CANNOT_WRITE, &error).hint("the session itself was not changed")
            }
        })?;
    }
    let text = match args.format {
        Format::Text => text(&checked, copy.as_ref()),
        Format::Json => format!("{:#}\n", json(&checked, copy.as_ref())),
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
            format!("cannot find {}: {error}", args.session.display()),
        )
    })?;
    let mut name = dir.file_name().unwrap_or_default().to_owned();
    name.push(".mended");
    Ok(dir.with_file_name(name))
}

fn text(checked: &Checked, copy: Option<&PathBuf>) -> String {
    let summary = &checked.summary;
    let mut lines = vec![format!(
        "{} rows, {} good, {} gaps over {:.1} s",
        summary.rows, summary.good_rows, summary.gaps, summary.duration_s
    )];
    lines.extend(
        checked
            .findings
            .iter()
            .map(|finding| format!("{}: {}", finding.file, finding.what)),
    );
    if checked.findings.is_empty() {
        lines.push("whole: every row, sheet and profile is as it was written".to_owned());
    }
    lines.extend(copy.map(|copy| format!("a mended copy is in {}", copy.display())));
    lines.join("\n") + "\n"
}

fn json(checked: &Checked, copy: Option<&PathBuf>) -> serde_json::Value {
    let findings: Vec<_> = checked
        .findings
        .iter()
        .map(|finding| json!({"file": finding.file, "what": finding.what}))
        .collect();
    json!({
        "schema": 1,
        "is_whole": checked.findings.is_empty(),
        "is_closed": checked.is_closed,
        "rows": checked.summary.rows,
        "good_rows": checked.summary.good_rows,
        "gaps": checked.summary.gaps,
        "duration_s": checked.summary.duration_s,
        "findings": findings,
        "mended_copy": copy.map(|copy| copy.display().to_string()),
    })
}

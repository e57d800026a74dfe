//! `check`: whether a session folder is whole, and a mended copy of one that is not.

use std::path::{Path, PathBuf};

use serde_json::json;

use super::args::{CheckArgs, Format};
use super::exit::{ANSWER_IS_NO, CANNOT_WRITE, Failure, Outcome, USAGE};
use super::output;
use crate::plain::Shown as _;
use crate::session::{self, Checked, Finding, SessionError};

pub(super) fn run(args: &CheckArgs) -> Result<Outcome, Failure> {
    let checked = session::check(&args.session).map_err(|error| {
        Failure::from_error(USAGE, &error)
            .hint("name the folder that record made, the one with session.toml in it")
    })?;
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
        Format::Text => text(&checked, repaired),
        Format::Json => format!("{:#}\n", json(&checked, repaired)),
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

/// A mended copy, and what is not mended in it.
type Repaired<'a> = Option<(&'a Path, &'a [Finding])>;

fn text(checked: &Checked, copy: Repaired<'_>) -> String {
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
        lines.push(
            "whole: every row can be read, in order and as many as were recorded; sheet and profiles are as they were written"
                .to_owned(),
        );
    }
    if let Some((copy, unmended)) = copy {
        lines.push(format!("a mended copy is in {}", copy.shown()));
        lines.extend(
            unmended
                .iter()
                .map(|finding| format!("not mended in it: {}: {}", finding.file, finding.what)),
        );
    }
    lines.join("\n") + "\n"
}

fn json(checked: &Checked, copy: Repaired<'_>) -> serde_json::Value {
    let list = |findings: &[Finding]| -> Vec<_> {
        findings
            .iter()
            .map(|finding| json!({"file": finding.file, "what": finding.what}))
            .collect()
    };
    json!({
        "schema": 1,
        "is_whole": checked.findings.is_empty(),
        "is_closed": checked.is_closed,
        "rows": checked.summary.rows,
        "good_rows": checked.summary.good_rows,
        "gaps": checked.summary.gaps,
        "duration_s": checked.summary.duration_s,
        "findings": list(&checked.findings),
        "mended_copy": copy.map(|(copy, _)| copy.to_string_lossy()),
        "not_mended": copy.map_or_else(Vec::new, |(_, unmended)| list(unmended)),
    })
}

//! Whether a session folder is whole.

pub mod answer;

use std::borrow::Cow;
use std::path::Path;

use crate::plain::Shown as _;
use crate::report::form::{Digits, Form, part};
use crate::session::{Checked, Finding};

/// A mended copy, and the faults that are not mended in it.
pub type Repaired<'a> = Option<(&'a Path, &'a [Finding])>;

/// Returns the faults of a folder, a line each.
pub fn text(checked: &Checked, copy: Repaired<'_>) -> String {
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

part! {
    /// The same for programs.
    pub struct Json<'a>(checked: &'a Checked, copy: Repaired<'a>) with {
        let list = |findings: &'a [Finding]| findings.iter().map(FindingPart::new).collect();
    } {
        is_whole: bool = checked.findings.is_empty(),
        is_closed: bool = checked.is_closed,
        rows: u64 = checked.summary.rows,
        good_rows: u64 = checked.summary.good_rows,
        gaps: u64 = checked.summary.gaps,
        duration_s: f64 = checked.summary.duration_s,
        findings: Vec<FindingPart<'a>> = list(&checked.findings),
        mended_copy: Option<Cow<'a, str>> = copy.map(|(copy, _)| copy.to_string_lossy()),
        not_mended: Vec<FindingPart<'a>> = copy.map_or_else(Vec::new, |(_, unmended)| list(unmended)),
    }
}

impl Form for Json<'_> {
    const DIGITS: Digits = Digits::All;
}

part! {
    struct FindingPart<'a>(finding: &'a Finding) {
        file: &'a str = &finding.file,
        what: &'a str = &finding.what,
    }
}

//! Whether a session folder is whole, in a first reading: findings of one kind together, three of each.

use std::path::Path;

use super::Repaired;
use crate::plain::Shown as _;
use crate::report::layout::shell_word;
use crate::report::short::Short;
use crate::session::{Checked, Finding};

/// Findings of a kind that are listed by themselves. Chosen.
const LISTED: usize = 3;

/// The answer in at most twelve lines of `width` columns; `dir` is the folder as it was typed.
pub fn answer(dir: &Path, checked: &Checked, copy: Repaired<'_>, width: usize) -> String {
    let mut short = Short::default();
    let (summary, path) = (&checked.summary, shell_word(dir));
    let counted = format!(
        "{} rows in {:.1} s, {} of them good, {} gaps",
        summary.rows, summary.duration_s, summary.good_rows, summary.gaps
    );
    short.more(format!("sagtrace check {path} --detail"));
    if checked.findings.is_empty() {
        short.say(format!("whole: {counted}."));
        short.say("Every row can be read, in order. Sheet and profiles are as they were written.");
        short.next(
            "to compare it with its build",
            &format!("sagtrace compare {path}"),
        );
        return short.printed(width);
    }
    let faults = match checked.findings.len() {
        1 => "1 fault".to_owned(),
        count => format!("{count} faults"),
    };
    let Some((copy, unmended)) = copy else {
        short.say(format!(
            "not whole: {faults}; mend with sagtrace check {path} --repair"
        ));
        short.say_all(grouped(&checked.findings));
        short.say(format!("What can be read: {counted}."));
        return short.printed(width);
    };
    short.say(format!(
        "not whole: {faults}; a mended copy is in {}",
        copy.shown()
    ));
    for one in grouped(unmended) {
        short.say(format!("not mended in it: {one}"));
    }
    short.say_all(grouped(&checked.findings));
    short.say(format!("What can be read: {counted}."));
    short.next(
        "to compare the copy with its build",
        &format!("sagtrace compare {}", shell_word(copy)),
    );
    short.printed(width)
}

/// Returns the words that two findings of one kind have in common: those before a number or a colon.
fn kind(finding: &Finding) -> &str {
    let end = finding.what.find(|c: char| c == ':' || c.is_ascii_digit());
    finding
        .what
        .get(..end.unwrap_or(finding.what.len()))
        .unwrap_or("")
}

/// The first of each kind, each kind where its first stands, and how many more there are.
fn grouped(findings: &[Finding]) -> Vec<String> {
    let mut kinds: Vec<(&str, Vec<&Finding>)> = Vec::new();
    for finding in findings {
        let kind = kind(finding);
        match kinds.iter_mut().find(|(known, _)| *known == kind) {
            Some((_, of_kind)) => of_kind.push(finding),
            None => kinds.push((kind, vec![finding])),
        }
    }
    let mut said = Vec::new();
    for (_, of_kind) in kinds {
        let listed = of_kind.iter().take(LISTED);
        said.extend(listed.map(|finding| format!("{}: {}", finding.file, finding.what)));
        if of_kind.len() > LISTED {
            said.push(format!("and {} more", of_kind.len() - LISTED));
        }
    }
    said
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::Summary;

    fn finding(file: &str, what: &str) -> Finding {
        Finding {
            file: file.to_owned(),
            what: what.to_owned(),
        }
    }

    fn said(findings: Vec<Finding>, copy: Repaired<'_>) -> String {
        let mut summary = Summary::default();
        summary.rows = 358;
        summary.good_rows = 335;
        summary.gaps = 2;
        summary.duration_s = 357.6;
        let checked = Checked {
            summary,
            findings,
            is_closed: true,
        };
        let text = answer("scope".as_ref(), &checked, copy, 80);
        assert!(text.lines().count() <= 12, "{text}");
        assert!(
            text.lines().all(|line| line.chars().count() <= 80),
            "{text}"
        );
        text
    }

    #[test]
    fn a_whole_folder_leads_on_to_its_comparison() {
        insta::assert_snapshot!(said(Vec::new(), None), @"
        whole: 358 rows in 357.6 s, 335 of them good, 2 gaps.
        Every row can be read, in order. Sheet and profiles are as they were written.
        next, to compare it with its build: sagtrace compare scope
        more: sagtrace check scope --detail
        ");
    }

    #[test]
    fn findings_of_a_kind_are_listed_to_three() {
        let mut findings: Vec<Finding> = (0..17)
            .map(|number| {
                finding(
                    &format!("instruments/{number}.toml"),
                    "it is not the file that was in force: its checksum differs",
                )
            })
            .collect();
        findings.insert(2, finding("samples.csv", "the last line was cut off"));
        insta::assert_snapshot!(said(findings, None), @"
        not whole: 18 faults; mend with sagtrace check scope --repair
        instruments/0.toml: it is not the file that was in force: its checksum differs
        instruments/1.toml: it is not the file that was in force: its checksum differs
        instruments/2.toml: it is not the file that was in force: its checksum differs
        and 14 more
        samples.csv: the last line was cut off
        What can be read: 358 rows in 357.6 s, 335 of them good, 2 gaps.
        more: sagtrace check scope --detail
        ");
    }

    #[test]
    fn what_a_mended_copy_still_lacks_comes_first() {
        let rest = finding("samples.csv", "rows at which elapsed time does not rise: 1");
        let all = vec![
            finding("marks.csv", "the last line was cut off"),
            rest.clone(),
        ];
        let copy: Repaired<'_> = Some(("scope.mended".as_ref(), &[rest]));
        insta::assert_snapshot!(said(all, copy), @"
        not whole: 2 faults; a mended copy is in scope.mended
        not mended in it: samples.csv: rows at which elapsed time does not rise: 1
        marks.csv: the last line was cut off
        samples.csv: rows at which elapsed time does not rise: 1
        What can be read: 358 rows in 357.6 s, 335 of them good, 2 gaps.
        next, to compare the copy with its build: sagtrace compare scope.mended
        more: sagtrace check scope --detail
        ");
    }
}

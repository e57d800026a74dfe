//! `check`: a folder that is whole, ones that are not, and their mended copies.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use sagtrace::session::{Session, State, check};

fn sagtrace(args: &[&str], dir: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_sagtrace"))
        .args(args)
        .current_dir(dir)
        .output()
        .expect("the program runs")
}

fn told(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// A copy of a sample session to spoil.
fn session() -> (tempfile::TempDir, PathBuf) {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let session = dir.path().join("scope");
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data/scope");
    copy(&from, &session);
    (dir, session)
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("the folder is made");
    for entry in fs::read_dir(from).expect("the folder is read") {
        let entry = entry.expect("an entry");
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).expect("the file is copied");
        }
    }
}

/// Every file of a folder with what is in it.
fn tree(dir: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut files = BTreeMap::new();
    for entry in fs::read_dir(dir).expect("the folder is read") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            files.append(&mut tree(&path));
        } else {
            let bytes = fs::read(&path).expect("the file is read");
            files.insert(path, bytes);
        }
    }
    files
}

fn edit(path: &Path, change: impl FnOnce(String) -> String) {
    let text = fs::read_to_string(path).expect("the file is read");
    fs::write(path, change(text)).expect("the file is written");
}

#[test]
fn every_sample_session_is_whole() {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data");
    for name in ["evening", "board", "scope"] {
        let checked = check(&samples.join(name)).expect("it is a session");
        assert!(
            checked.findings.is_empty(),
            "{name}: {:?}",
            checked.findings
        );
        assert!(checked.summary.rows > 300);
        let meta = Session::open(&samples.join(name)).expect("it opens").meta;
        assert!(
            meta.simulated && meta.note.is_some_and(|note| note.contains("seed")),
            "{name} says that it is invented"
        );
    }
    assert!(samples.join("evening/forecast.csv").is_file());
}

#[test]
fn a_recording_that_was_cut_off_is_told_and_mended_beside_it() {
    let (dir, session) = session();
    let samples = session.join("samples.csv");
    let whole = fs::read_to_string(&samples).expect("the table");
    // Cut within the last row, with a line of rubbish before it.
    edit(&samples, |text| text.replacen('\n', "\nrubbish\n", 1));
    edit(&samples, |text| {
        text.get(..text.len() - 9).expect("plain text").to_owned()
    });
    edit(&session.join("session.toml"), |text| {
        let kept = text.replace("state = \"closed\"", "state = \"recording\"");
        kept.split_once("\n[summary]")
            .expect("a summary")
            .0
            .to_owned()
            + "\n"
    });
    edit(&session.join("marks.csv"), |text| text + "2026-01-31T19:0");
    let before = tree(&session);
    let output = sagtrace(&["check", "scope", "--repair", "--strict"], dir.path());
    assert_eq!(output.status.code(), Some(1), "{}", told(&output));
    let text = told(&output).replace(
        &*dir.path().canonicalize().expect("a path").to_string_lossy(),
        "DIR",
    );
    insta::assert_snapshot!(text);
    assert_eq!(tree(&session), before, "the folder itself is not changed");

    let mended = dir.path().join("scope.mended");
    let checked = check(&mended).expect("it is a session");
    assert_eq!(
        (checked.findings, checked.summary.rows),
        (
            Vec::new(),
            u64::try_from(whole.lines().count() - 2).expect("few rows")
        )
    );
    let rows = fs::read_to_string(mended.join("samples.csv")).expect("the mended table");
    assert!(whole.starts_with(&rows), "every whole row stands as it was");
    let meta = Session::open(&mended).expect("it opens").meta;
    assert_eq!(
        (meta.state, meta.end_reason.as_deref()),
        (State::Closed, Some("it was cut off; this is a mended copy"))
    );

    let again = sagtrace(&["check", "scope", "--repair"], dir.path());
    assert_eq!(
        again.status.code(),
        Some(4),
        "a mended copy is not written over"
    );
}

#[test]
fn an_edited_sheet_and_a_lost_profile_are_told_by_their_checksums() {
    let (dir, session) = session();
    edit(&session.join("build.toml"), |text| {
        text.replace("450", "451")
    });
    fs::remove_file(session.join("instruments/scpi-scope.toml")).expect("the profile is removed");
    edit(&session.join("samples.csv"), |text| {
        let mut lines: Vec<&str> = text.lines().collect();
        lines.swap(10, 11);
        lines.join("\n") + "\n"
    });
    let output = sagtrace(&["check", "scope"], dir.path());
    assert_eq!(output.status.code(), Some(0));
    let text = told(&output);
    for what in [
        "build.toml: it is not the file that was in force: its checksum differs",
        "instruments/scpi-scope.toml: it cannot be read",
        "samples.csv: rows at which elapsed time does not rise: 1",
    ] {
        assert!(text.contains(what), "{text}");
    }
    let text = told(&sagtrace(&["check", "scope", "--repair"], dir.path()));
    assert!(
        text.contains("not mended in it: samples.csv: rows at which elapsed time does not rise: 1"),
        "{text}"
    );
}

#[test]
fn a_row_that_was_taken_out_is_told_by_the_summary() {
    let (dir, session) = session();
    let rows = check(&session).expect("it is a session").summary.rows;
    edit(&session.join("samples.csv"), |text| {
        let mut lines: Vec<&str> = text.lines().collect();
        lines.remove(10);
        lines.join("\n") + "\n"
    });
    let text = told(&sagtrace(&["check", "scope"], dir.path()));
    let gaps = check(&session).expect("it is a session").summary.gaps;
    let what = format!(
        "session.toml: it says {rows} rows and {gaps} gaps, samples.csv has {} and {gaps}",
        rows - 1
    );
    assert!(text.contains(&what), "{text}");
    sagtrace(&["check", "scope", "--repair"], dir.path());
    let mended = Session::open(&dir.path().join("scope.mended")).expect("it opens");
    let reason = mended.meta.end_reason.expect("it ended");
    let lost = format!("; 1 of its {rows} rows are lost, they are not in this mended copy");
    assert!(reason.ends_with(&lost), "{reason}");
}

#[test]
fn gaps_are_counted_and_a_gap_that_was_written_in_is_told() {
    let (dir, session) = session();
    let before = check(&session).expect("it is a session").summary;
    edit(&session.join("samples.csv"), |text| {
        let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
        let (head, _) = lines[10].split_once(",scpi-scope").expect("its source");
        let commas = ",".repeat(lines[0].matches(',').count() - 4);
        lines[10] = format!("{head},scpi-scope{commas},gap,unplugged");
        lines.join("\n") + "\n"
    });
    let after = check(&session).expect("it is a session");
    assert_eq!(
        (after.summary.rows, after.summary.gaps),
        (before.rows, before.gaps + 1),
        "{:?}",
        after.findings
    );
    let text = told(&sagtrace(&["check", "scope"], dir.path()));
    assert!(text.contains("gaps, samples.csv has"), "{text}");
}

#[test]
fn a_copy_that_was_cut_off_does_not_pass_for_a_mended_one() {
    let (dir, session) = session();
    edit(&session.join("samples.csv"), |text| text + "torn");
    fs::create_dir(dir.path().join("scope.mended.part")).expect("what an earlier one left");
    let output = sagtrace(&["check", "scope", "--repair"], dir.path());
    assert_eq!(output.status.code(), Some(4));
    assert!(!dir.path().join("scope.mended").exists());
}

#[test]
fn what_is_no_session_is_refused() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let output = sagtrace(&["check", "nowhere"], dir.path());
    assert_eq!(output.status.code(), Some(2));
    insta::assert_snapshot!(String::from_utf8_lossy(&output.stderr));
}

//! `sheet new`, driven by answers on stdin.

use std::fs;
use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Output, Stdio};

/// The answers of somebody who knows only what is needed, with Enter for all else.
fn least(name: &str) -> String {
    let begin = [name, "16 mm", "", "0.2 mm", "", "450", "", "3"];
    format!("{}\n{}", begin.join("\n"), "\n".repeat(15))
}

fn run(folder: &Path, args: &[&str], typed: &str) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_sagtrace"))
        .args(args)
        .current_dir(folder)
        .env_remove("SAGTRACE_CONFIG")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child
        .stdin
        .take()
        .unwrap()
        .write_all(typed.as_bytes())
        .unwrap();
    child.wait_with_output().unwrap()
}

fn text(bytes: Vec<u8>) -> String {
    String::from_utf8(bytes).unwrap()
}

#[test]
fn a_sheet_that_was_asked_for_is_checked_and_predicted() {
    let folder = tempfile::tempdir().unwrap();
    let output = run(folder.path(), &["sheet", "new"], &least("Glow pillar"));
    assert_eq!(output.status.code(), Some(0), "{}", text(output.stderr));
    let answer = text(output.stdout);
    assert!(answer.lines().count() <= 12, "{answer}");
    assert!(
        answer.ends_with(": sagtrace predict glow-pillar.toml\n"),
        "{answer}"
    );
    for args in [["sheet", "check"].as_slice(), &["predict"]] {
        let output = run(folder.path(), &[args, &["glow-pillar.toml"]].concat(), "");
        assert_eq!(output.status.code(), Some(0), "{}", text(output.stderr));
    }
}

#[test]
fn the_interview_as_a_newcomer_sees_it() {
    let folder = tempfile::tempdir().unwrap();
    let typed =
        "back\n?\nmy pillar\n16\n\n16 mm\n?\ntube\nback\nrod\n0.2 mm\n2\n99 mm\n3\n20 mm\nquit\n";
    let output = run(folder.path(), &["sheet", "new"], typed);
    assert_eq!(output.status.code(), Some(0));
    assert!(output.stdout.is_empty());
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
    insta::assert_snapshot!("interview", text(output.stderr));
}

#[test]
fn the_end_of_the_input_writes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let output = run(folder.path(), &["sheet", "new", "one.toml"], "one\n16 mm\n");
    assert_eq!(output.status.code(), Some(0));
    assert!(text(output.stderr).ends_with("Nothing was written.\n"));
    assert!(!folder.path().join("one.toml").exists());
}

#[test]
fn a_file_that_is_there_is_never_overwritten() {
    let folder = tempfile::tempdir().unwrap();
    let own = folder.path().join("one.toml");
    fs::write(&own, "mine").unwrap();
    let output = run(folder.path(), &["sheet", "new", "one.toml"], &least(""));
    assert_eq!(output.status.code(), Some(2));
    let said = text(output.stderr);
    assert!(
        said.contains("cannot write one.toml: it exists and is never overwritten"),
        "{said}"
    );
    // Somebody who is asked presses Enter, or goes back and answers the last question again.
    for (typed, other) in [("\n", "one-2.toml"), ("back\n\nother.toml\n", "other.toml")] {
        let output = run(
            folder.path(),
            &["sheet", "new", "one.toml"],
            &(least("") + typed),
        );
        let said = text(output.stderr);
        assert_eq!(output.status.code(), Some(0), "{said}");
        assert!(folder.path().join(other).exists(), "{said}");
    }
    let lost = run(
        folder.path(),
        &["sheet", "new", "nowhere/one.toml"],
        &least(""),
    );
    assert_eq!(lost.status.code(), Some(4));
    assert_eq!(fs::read_to_string(own).unwrap(), "mine");
}

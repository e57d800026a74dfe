//! What the program says of itself.

use std::process::{Command, Output, Stdio};

const COMMANDS: [&str; 13] = [
    "simulate",
    "ports",
    "sheet",
    "record",
    "predict",
    "compare",
    "diagnose",
    "check",
    "battery",
    "cautions",
    "guide",
    "completions",
    "man",
];

fn run(args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_sagtrace"));
    for name in [
        "SAGTRACE_INSTRUMENT",
        "SAGTRACE_SESSIONS",
        "SAGTRACE_CONFIG",
        "COLUMNS",
    ] {
        command.env_remove(name);
    }
    command.args(args).stdin(Stdio::null()).output().unwrap()
}

/// The result of a run that has to say something on stdout alone.
fn told(args: &[&str]) -> String {
    let output = run(args);
    assert_eq!(output.status.code(), Some(0), "{args:?}");
    assert!(output.stderr.is_empty(), "{args:?}");
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn every_help_is_as_it_was_agreed() {
    insta::assert_snapshot!("help_sagtrace", told(&["--help"]));
    for command in COMMANDS {
        insta::assert_snapshot!(format!("help_{command}"), told(&[command, "--help"]));
    }
}

#[test]
fn every_help_fits_a_hundred_columns_and_ends_with_three_examples() {
    let mut commands: Vec<Vec<&str>> = COMMANDS.iter().map(|command| vec![*command]).collect();
    commands.push(Vec::new());
    for mut args in commands {
        args.push("--help");
        let help = told(&args);
        for line in help.lines() {
            // An example is pasted, so it stays whole on a window of 80 columns.
            let is_example = line.starts_with("  sagtrace ") || line.starts_with("      -");
            let most = if is_example { 80 } else { 100 };
            assert!(line.chars().count() <= most, "{args:?}: {line}");
        }
        let (_, examples) = help.split_once("\nExamples:\n").unwrap();
        let count = examples
            .lines()
            .filter(|line| line.starts_with("  sagtrace "))
            .count();
        assert!(count >= 3, "{args:?}: {examples}");
    }
}

/// `-h` stands whole on a terminal of 80 columns and 24 lines.
#[test]
fn every_short_help_fits_a_terminal() {
    let all = COMMANDS.iter().map(|command| vec![*command, "-h"]);
    for args in all.chain([vec!["-h"]]) {
        let mut command = Command::new(env!("CARGO_BIN_EXE_sagtrace"));
        let output = command.args(&args).env("COLUMNS", "80").output().unwrap();
        let help = String::from_utf8(output.stdout).unwrap();
        assert!(help.lines().count() <= 24, "{args:?}\n{help}");
        for line in help.lines() {
            assert!(line.chars().count() <= 80, "{args:?}: {line}");
        }
    }
}

#[test]
fn without_an_action_the_help_of_sheet_comes_on_stderr() {
    let output = run(&["sheet"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(output.stdout.is_empty());
    let text = String::from_utf8(output.stderr).unwrap();
    assert!(text.contains("Usage: sagtrace sheet"), "{text}");
}

#[test]
fn alone_it_says_what_is_at_hand_and_the_next_commands() {
    let dir = tempfile::tempdir().unwrap();
    let said = || {
        let mut command = Command::new(env!("CARGO_BIN_EXE_sagtrace"));
        let output = command
            .current_dir(dir.path())
            .env("XDG_CONFIG_HOME", dir.path())
            .env_remove("SAGTRACE_CONFIG")
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(0));
        String::from_utf8(output.stdout).unwrap()
    };
    let nothing = said();
    assert!(nothing.contains("  sagtrace sheet new\n"), "{nothing}");
    assert!(nothing.contains("  sagtrace simulate\n"), "{nothing}");
    let sheet = include_str!("../../sample-data/glow-pillar.toml");
    std::fs::write(dir.path().join("pillar.toml"), sheet).unwrap();
    let session = dir.path().join("evening");
    std::fs::create_dir(&session).unwrap();
    std::fs::write(session.join("session.toml"), "").unwrap();
    let all = said();
    assert!(all.contains("  sagtrace predict pillar.toml\n"), "{all}");
    assert!(all.contains("  sagtrace compare evening\n"), "{all}");
    assert_eq!(all.lines().count(), 6, "{all}");
}

#[test]
fn what_cannot_be_meant_is_refused_with_what_can() {
    let mut said = String::new();
    for args in [
        ["--bogus"].as_slice(),
        &["recrod"],
        &["record", "--for", "20"],
        &["record", "--until-below", "6.5A"],
        &["record", "-i", "counter"],
        &["record", "-i", "columns@serial:p", "-i", "columns@tcp:a:1"],
        &["compare", "nowhere"],
    ] {
        let output = run(args);
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        assert!(output.stdout.is_empty(), "{args:?}");
        let text = String::from_utf8(output.stderr).unwrap();
        said = format!("{said}$ sagtrace {}\n{text}\n", args.join(" "));
    }
    insta::assert_snapshot!(said);
}

#[test]
fn completions_and_the_manual_page_come_on_stdout() {
    let script = told(&["completions", "bash"]);
    assert!(script.contains("complete -F _sagtrace") && script.contains("--until-below"));
    let page = told(&["man"]);
    assert!(page.contains(".TH sagtrace 1") && page.contains("simulate"));
    assert_eq!(
        told(&["--version"]),
        concat!("sagtrace ", env!("CARGO_PKG_VERSION"), "\n")
    );
}

/// What `sheet check` makes of a sheet.
fn checked(sheet: &str) -> Output {
    let mut check = Command::new(env!("CARGO_BIN_EXE_sagtrace"))
        .args(["sheet", "check", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    std::io::Write::write_all(&mut check.stdin.take().unwrap(), sheet.as_bytes()).unwrap();
    check.wait_with_output().unwrap()
}

#[test]
fn a_check_of_a_sheet_finds_what_a_prediction_would_refuse() {
    let pillar = include_str!("../../sample-data/glow-pillar.toml");
    let few = pillar.replacen("turns = 450", "turns = 4", 1);
    let cut = pillar
        .replacen("position = \"0 mm\"", "position = \"98 mm\"", 1)
        .replacen(
            "earth = \"earthed\"",
            "earth = \"standing\"\nhand = \"4 mm\"",
            1,
        );
    for (sheet, key) in [(few, "coil.turns"), (cut, "usual.hand")] {
        let output = checked(&sheet);
        assert_eq!(output.status.code(), Some(2));
        let told = String::from_utf8(output.stderr).unwrap();
        assert!(
            told.contains("has no prediction") && told.contains(key),
            "{told}"
        );
    }
}

#[test]
fn a_template_is_a_sheet_without_faults() {
    let output = checked(&told(&["sheet", "template"]));
    assert_eq!(output.status.code(), Some(0));
    assert!(
        String::from_utf8(output.stdout)
            .unwrap()
            .ends_with(": no faults\n")
    );
}

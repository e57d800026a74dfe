//! What the program says of itself.

use std::process::{Command, Output, Stdio};

const COMMANDS: [&str; 12] = [
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
    for flag in ["-h", "--help"] {
        insta::assert_snapshot!(
            format!("help_sagtrace_{}", flag.trim_matches('-')),
            told(&[flag])
        );
        for command in COMMANDS {
            let name = format!("help_{command}_{}", flag.trim_matches('-'));
            insta::assert_snapshot!(name, told(&[command, flag]));
        }
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
            assert!(line.chars().count() <= 100, "{args:?}: {line}");
        }
        let (_, examples) = help.split_once("\nExamples:\n").unwrap();
        let count = examples
            .lines()
            .filter(|line| line.starts_with("  sagtrace "))
            .count();
        assert!(count >= 3, "{args:?}: {examples}");
    }
}

#[test]
fn without_arguments_the_help_comes_on_stderr() {
    for args in [[].as_slice(), &["sheet"]] {
        let output = run(args);
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        assert!(output.stdout.is_empty());
        assert!(
            String::from_utf8(output.stderr)
                .unwrap()
                .contains("Usage: sagtrace")
        );
    }
}

#[test]
fn what_cannot_be_meant_is_refused_with_what_can() {
    let mut said = String::new();
    for args in [
        ["--bogus"].as_slice(),
        &["recrod"],
        &["record"],
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

#[test]
fn a_template_is_a_sheet_without_faults() {
    let template = told(&["sheet", "template"]);
    let mut check = Command::new(env!("CARGO_BIN_EXE_sagtrace"))
        .args(["sheet", "check", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    std::io::Write::write_all(&mut check.stdin.take().unwrap(), template.as_bytes()).unwrap();
    let output = check.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert!(
        String::from_utf8(output.stdout)
            .unwrap()
            .ends_with(": no faults\n")
    );
}

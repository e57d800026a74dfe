//! What the program says of itself: help, manual page, words for the shell.

use std::process::{Command, Output};

const COMMANDS: [&str; 9] = [
    "simulate",
    "ports",
    "sheet",
    "record",
    "predict",
    "compare",
    "battery",
    "completions",
    "man",
];

fn run(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_sagtrace"))
        .args(args)
        .env_remove("SAGTRACE_CONFIG")
        .env_remove("SAGTRACE_INSTRUMENT")
        .env_remove("SAGTRACE_SESSIONS")
        .env("COLUMNS", "100")
        .output()
        .expect("the program runs")
}

fn stdout(args: &[&str]) -> String {
    let output = run(args);
    assert_eq!(output.status.code(), Some(0), "{args:?}");
    assert!(
        output.stderr.is_empty(),
        "{args:?} says something on stderr"
    );
    String::from_utf8(output.stdout).expect("help is text")
}

#[test]
fn the_help_of_every_command_is_as_it_was_read() {
    insta::assert_snapshot!("help", stdout(&["--help"]));
    for command in COMMANDS {
        insta::assert_snapshot!(format!("help-{command}"), stdout(&[command, "--help"]));
    }
    insta::assert_snapshot!("help-sheet-check", stdout(&["sheet", "check", "--help"]));
}

#[test]
fn help_fits_a_terminal_and_its_short_form_is_shorter() {
    for command in COMMANDS {
        let (long, short) = (stdout(&[command, "--help"]), stdout(&[command, "-h"]));
        for line in long.lines().chain(short.lines()) {
            assert!(line.chars().count() <= 100, "{command}: {line}");
        }
        assert!(short.lines().count() <= long.lines().count(), "{command}");
    }
}

#[test]
fn the_working_commands_show_three_examples() {
    for command in [
        "simulate", "ports", "record", "predict", "compare", "battery",
    ] {
        let help = stdout(&[command, "--help"]);
        let examples = help
            .lines()
            .filter(|line| line.trim_start().starts_with("sagtrace "))
            .count();
        assert!(examples >= 3, "{command} shows {examples} examples");
    }
}

#[test]
fn no_arguments_and_a_wrong_one_are_usage_faults_on_stderr() {
    for args in [
        &[][..],
        &["record", "--frob"],
        &["record", "--for", "5"],
        &["frobnicate"],
    ] {
        let output = run(args);
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        assert!(
            output.stdout.is_empty() && !output.stderr.is_empty(),
            "{args:?}"
        );
    }
    let said = String::from_utf8(run(&["record", "--for", "5"]).stderr).expect("it is text");
    assert!(
        said.contains("\"5\" has no unit, write it like \"500 ms\""),
        "{said}"
    );
}

#[test]
fn the_exit_codes_and_the_cautions_stand_in_the_help() {
    let help = stdout(&["--help"]);
    let readme = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md"))
        .expect("the README");
    for code in ["0", "1", "2", "3", "4", "129, 130, 143"] {
        assert!(
            help.contains(&format!("\n  {code} ")),
            "{code} is not in the help"
        );
        assert!(
            readme.contains(&format!("\n| {code} | ")),
            "{code} is not in the README"
        );
    }
    assert!(help.contains("Cautions:") && readme.contains("## Cautions"));
}

#[test]
fn the_shell_and_the_manual_know_every_command() {
    let (bash, man) = (stdout(&["completions", "bash"]), stdout(&["man"]));
    for command in COMMANDS {
        assert!(bash.contains(command), "{command} cannot be completed");
        assert!(man.contains(command), "{command} is not in the manual");
    }
    assert!(stdout(&["completions", "zsh"]).contains("#compdef sagtrace"));
}

#[test]
fn the_version_is_one_line() {
    assert_eq!(
        stdout(&["--version"]),
        concat!("sagtrace ", env!("CARGO_PKG_VERSION"), "\n")
    );
}

//! The short answers, as a person at a terminal of 80 columns reads them.

use std::fs;
use std::path::Path;
use std::process::Command;

fn sample(name: &str) -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("sample-data")
        .join(name)
}

/// A sample session named `name` in a folder that may be written to.
fn copied(name: &str, to: &Path) {
    let dir = to.join(name);
    fs::create_dir(&dir).unwrap();
    for file in ["session.toml", "build.toml", "samples.csv", "marks.csv"] {
        fs::copy(sample(name).join(file), dir.join(file)).unwrap();
    }
}

/// What a command prints in a folder, which has to fit on a screen.
fn answer(folder: &Path, args: &[&str]) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_sagtrace"));
    command.env_remove("SAGTRACE_CONFIG").current_dir(folder);
    let output = command.args(args).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    let (out, said) = (text(output.stdout), text(output.stderr));
    assert!(output.status.success(), "{said}");
    assert!(out.lines().count() <= 12, "{out}");
    for line in out.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    assert!(!out.contains('\u{a0}'), "{out}");
    out
}

#[test]
fn two_sheets_say_which_difference_matters_most() {
    let folder = tempfile::tempdir().unwrap();
    let names = [
        "glow-pillar.toml",
        "glow-pillar-measured.toml",
        "glow-plate.toml",
    ];
    for name in names {
        fs::copy(sample(name), folder.path().join(name)).unwrap();
    }
    let [pillar, measured, plate] = names;
    for (name, one, other) in [
        ("sheets-measured", pillar, measured),
        ("sheets-plate", pillar, plate),
        ("sheets-same", pillar, pillar),
    ] {
        insta::assert_snapshot!(name, answer(folder.path(), &["compare", one, other]));
    }
}

#[test]
fn a_sample_session_is_whole_and_its_comparison_is_next() {
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data");
    for name in ["evening", "board", "scope"] {
        let out = answer(&from, &["check", name]);
        assert!(out.starts_with("whole: "), "{out}");
        assert!(
            out.contains(&format!(": sagtrace compare {name}\n")),
            "{out}"
        );
    }
}

#[test]
fn compare_says_where_it_runs_whether_it_stopped_and_what_to_do_next() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["evening", "board", "scope"] {
        copied(name, folder.path());
        let out = answer(folder.path(), &["compare", name, "--no-plots"]);
        insta::assert_snapshot!(format!("compare-{name}"), out);
    }
    let args = ["compare", "evening", "--no-plots", "--fit", "winding"];
    insta::assert_snapshot!("compare-fit", answer(folder.path(), &args));
    let args = [
        "compare",
        "board",
        "--no-plots",
        "--good-day",
        "evening/good-day.toml",
    ];
    insta::assert_snapshot!("compare-good-day", answer(folder.path(), &args));
}

//! What a person gets wrong at a bench, and how the program answers: the fault, its place, and what to do.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

struct Bench(tempfile::TempDir);

/// Exit code, stdout and stderr.
type Answer = (i32, String, String);

impl Bench {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn run(&self, args: &[&str]) -> Answer {
        let output = Command::new(env!("CARGO_BIN_EXE_sagtrace"))
            .args(args)
            .current_dir(self.0.path())
            .output()
            .unwrap();
        (
            output.status.code().unwrap(),
            String::from_utf8(output.stdout).unwrap(),
            String::from_utf8(output.stderr).unwrap(),
        )
    }

    /// What is said of a failure with this exit code.
    fn refused(&self, code: i32, args: &[&str]) -> String {
        let (found, out, said) = self.run(args);
        assert_eq!((found, out.as_str()), (code, ""), "{args:?}: {said}");
        said
    }

    /// The example sheet with one text in place of another.
    fn sheet(&self, from: &str, to: &str) -> String {
        let text = fs::read_to_string(sample("glow-pillar.toml")).unwrap();
        assert!(text.contains(from), "{from}");
        let name = "mine.toml";
        fs::write(self.path(name), text.replace(from, to)).unwrap();
        self.refused(2, &["sheet", "check", name])
    }

    fn session(&self, name: &str) -> PathBuf {
        let dir = self.path(name);
        copy(&sample(name), &dir);
        dir
    }
}

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("sample-data")
        .join(name)
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

fn has(said: &str, words: &str) {
    assert!(said.contains(words), "expected {words:?} in:\n{said}");
}

fn lacks(said: &str, words: &str) {
    assert!(!said.contains(words), "found {words:?} in:\n{said}");
}

#[test]
fn a_key_that_is_nearly_right_is_answered_with_the_right_one() {
    let bench = Bench::new();
    let said = bench.sheet("former_diameter = \"16 mm\"", "former_diametre = \"16 mm\"");
    has(
        &said,
        "line 8: coil.former_diametre: unknown key: did you mean former_diameter?",
    );
    let said = bench.sheet(
        "sense = \"right\"\n\n[primary]",
        "colour = \"red\"\n\n[primary]",
    );
    has(
        &said,
        "coil.colour: unknown key: expected one of shape, wire",
    );
    // A key that is there already was not meant.
    let said = bench.sheet("turns = 450", "turns = 450\nturn = 450");
    lacks(&said, "did you mean turns?");
}

#[test]
fn a_decimal_comma_is_the_fault_that_is_named() {
    let bench = Bench::new();
    let said = bench.sheet("\"0.20 mm\"", "\"0,2 mm\"");
    has(
        &said,
        "line 9: coil.wire: found \"0,2 mm\": write 0.2 mm, with a point",
    );
    let said = bench.sheet("\"0.22 mm\"", "\"0,22 mm\"");
    has(
        &said,
        "coil.turn_pitch: found \"0,22 mm\": write 0.22 mm, with a point",
    );
    let said = bench.refused(2, &["record", "--until-below", "6,5V"]);
    has(
        &said,
        "\"6,5V\" has a decimal comma: write 6.5V, with a point",
    );
}

#[test]
fn a_quantity_of_another_kind_is_answered_with_the_right_kind() {
    let bench = Bench::new();
    let said = bench.sheet("\"16 mm\"", "\"16 mH\"");
    has(
        &said,
        "coil.former_diameter: found \"16 mH\": expected a length, such as \"16 mm\"",
    );
    let said = bench.sheet("\"16 mm\"", "\"16\"");
    has(
        &said,
        "found \"16\": expected a length with its unit, such as \"16 mm\"",
    );
}

#[test]
fn a_transistors_type_number_is_answered_with_the_classes_and_their_cases() {
    let bench = Bench::new();
    for number in ["2N3904", "xy1234", "BX99A"] {
        let said = bench.sheet("\"power-to220\"", &format!("\"{number}\""));
        has(&said, "line 29: circuit.transistor:");
        has(
            &said,
            "expected the class of that type, by its case and size",
        );
        for (class, case) in [
            ("small-signal", "TO-92"),
            ("medium", "TO-126"),
            ("power-to220", "TO-220"),
            ("power-to3", "TO-3)"),
        ] {
            has(&said, &format!("\"{class}\" ("));
            has(&said, case);
        }
    }
    let said = bench.sheet("\"power-to220\"", "\"large\"");
    has(
        &said,
        "found \"large\": expected one of \"small-signal\", \"medium\"",
    );
}

#[test]
fn a_new_sheet_is_advised_only_where_there_is_none() {
    let bench = Bench::new();
    let template = "sagtrace sheet new";
    has(&bench.refused(2, &["predict", "nowhere.toml"]), template);
    fs::create_dir(bench.path("folder")).unwrap();
    let said = bench.refused(2, &["predict", "folder"]);
    has(&said, "it is a folder, a file is expected");
    has(&said, "hint: name the sheet itself");
    lacks(&said, template);
    bench.session("evening");
    let said = bench.refused(2, &["predict", "evening"]);
    has(
        &said,
        "hint: the sheet in that folder is evening/build.toml",
    );
}

#[test]
fn a_time_below_zero_or_without_a_unit_is_answered_as_a_time() {
    let bench = Bench::new();
    let said = bench.refused(2, &["record", "--for", "-5s"]);
    has(&said, "invalid value '-5s' for '--for <TIME>'");
    has(&said, "expected a time of 1 ms or more");
    let said = bench.refused(2, &["record", "--for", "5"]);
    has(&said, "\"5\" has no unit: write 5 s, 5 min or 5 h");
}

#[test]
fn a_sheet_alone_is_answered_with_what_compare_takes() {
    let bench = Bench::new();
    fs::copy(sample("glow-pillar.toml"), bench.path("pillar.toml")).unwrap();
    let said = bench.refused(2, &["compare", "pillar.toml"]);
    has(
        &said,
        "pillar.toml: that is a build sheet; compare takes a session folder, or two sheets",
    );
    has(&said, "sagtrace predict pillar.toml");
    fs::write(bench.path("rows.csv"), "a,b\n").unwrap();
    let said = bench.refused(2, &["compare", "rows.csv"]);
    has(&said, "rows.csv: that is a file; compare takes");
    lacks(&said, "sagtrace predict");
}

#[test]
fn an_empty_table_is_named_as_empty() {
    let bench = Bench::new();
    let dir = bench.session("board");
    fs::write(dir.join("samples.csv"), "").unwrap();
    for args in [&["compare", "board", "--no-plots"][..], &["check", "board"]] {
        let said = bench.refused(2, args);
        has(
            &said,
            "board/samples.csv is empty: expected a line of column names",
        );
        lacks(&said, "is not a session folder");
        lacks(&said, "name the folder that record made");
    }
}

#[test]
fn a_damaged_description_is_reported_with_its_line_and_the_rows_are_repaired() {
    let bench = Bench::new();
    let dir = bench.session("board");
    let rows = fs::read_to_string(dir.join("samples.csv")).unwrap();
    let path = dir.join("session.toml");
    let whole = fs::read_to_string(&path).unwrap();
    let mut lines: Vec<&str> = whole.lines().collect();
    let at = lines
        .iter()
        .position(|line| line.starts_with("end_reason"))
        .unwrap();
    lines[at] = "end_reason = = ";
    fs::write(&path, lines.join("\n")).unwrap();
    let line = at + 1;
    let said = bench.refused(2, &["compare", "board", "--no-plots"]);
    has(&said, &format!("board/session.toml, line {line}: "));
    has(&said, "sagtrace check board --repair");
    let (code, out, said) = bench.run(&["check", "board", "--repair"]);
    assert_eq!(code, 0, "{said}");
    has(&out, &format!("session.toml: line {line}: "));
    has(&out, "a mended copy is in ");
    let mended = bench.path("board.mended");
    assert_eq!(
        fs::read_to_string(mended.join("samples.csv")).unwrap(),
        rows
    );
    let text = fs::read_to_string(mended.join("session.toml")).unwrap();
    let told = |key: &str| whole.lines().find(|line| line.starts_with(key)).unwrap();
    for key in ["started", "build", "simulated", "columns"] {
        has(&text, told(key));
    }
    has(&text, &format!("session.toml was damaged in line {line}"));
    let (code, _, said) = bench.run(&["compare", "board.mended", "--no-plots"]);
    assert_eq!(code, 0, "{said}");
}

#[test]
fn a_description_that_is_lost_altogether_costs_no_row_and_never_passes_for_measured() {
    let bench = Bench::new();
    let dir = bench.session("board");
    let rows = fs::read_to_string(dir.join("samples.csv")).unwrap();
    fs::write(dir.join("session.toml"), "\u{0}\u{0}\u{0}").unwrap();
    let (code, out, said) = bench.run(&["check", "board", "--repair"]);
    assert_eq!(code, 0, "{said}");
    has(&out, "session.toml: line 1: ");
    let mended = bench.path("board.mended");
    assert_eq!(
        fs::read_to_string(mended.join("samples.csv")).unwrap(),
        rows
    );
    let text = fs::read_to_string(mended.join("session.toml")).unwrap();
    has(&text, "simulated = true");
    has(&text, "whether it was simulated is unknown");
}

#[test]
fn a_primary_beyond_the_coil_is_refused() {
    let bench = Bench::new();
    let said = bench.sheet("position = \"0 mm\"", "position = \"99 cm\"");
    has(
        &said,
        "line 24: primary.position: found \"99 cm\": expected less than 99.0 mm",
    );
}

#[test]
fn an_end_above_the_batterys_nominal_voltage_is_refused() {
    let bench = Bench::new();
    bench.session("evening");
    let of = |end: &str| bench.run(&["battery", "A1", "--end", end, "--no-plots"]);
    let (code, out, said) = of("60V");
    assert_eq!((code, out.as_str()), (2, ""), "{said}");
    has(
        &said,
        "--end: found 60 V: expected at most 9 V, the nominal voltage of one alkaline battery",
    );
    let (code, _, said) = of("7V");
    assert_eq!(code, 0, "{said}");
    let sheet = sample("glow-pillar.toml");
    let sheet = sheet.to_str().unwrap();
    let log = bench.path("a.log");
    fs::write(&log, "").unwrap();
    let instrument = ["-i", "plain-lines@log:a.log"];
    let args = [
        "record",
        "-b",
        sheet,
        "--battery",
        "N2",
        "--battery-end",
        "60V",
    ];
    let said = bench.refused(2, &[&args[..], &instrument].concat());
    has(&said, "--battery-end: found 60 V: expected at most 9 V");
}

#[test]
fn a_fit_without_a_solution_is_an_answer_and_no_wrong_usage() {
    let bench = Bench::new();
    bench.session("evening");
    let args = [
        "compare",
        "evening",
        "--no-plots",
        "--force",
        "--fit",
        "top",
    ];
    let said = bench.refused(1, &args);
    has(&said, "0 to 100 pF from top to earth gives");
}

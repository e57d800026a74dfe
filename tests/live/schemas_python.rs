//! What every command says to other programs is valid by the schema of its form, as Python's jsonschema has it.

use std::path::Path;
use std::process::Command;

use crate::bench_python::Counter;
use crate::common::Desk;

/// Commands on the sample data: the form and the case, then the arguments. Loads and voltages are invented.
const SAID: &[(&str, &str)] = &[
    ("predict.coil", "predict sample-data/glow-pillar.toml"),
    (
        "predict.measured",
        "predict sample-data/glow-pillar-measured.toml",
    ),
    ("predict.plate", "predict sample-data/glow-plate.toml"),
    (
        "predict.field",
        "predict sample-data/glow-pillar.toml --field --top-amplitude 1.2kV",
    ),
    (
        "predict.stub",
        "predict sample-data/glow-pillar.toml --pickup stub_5cm_at_30cm",
    ),
    (
        "predict.loop",
        "predict sample-data/glow-pillar.toml --pickup loop_4cm_3_turns_at_10cm_into_50_ohm",
    ),
    (
        "predict-wanted.coil",
        "predict sample-data/glow-pillar.toml --wanted 5MHz",
    ),
    (
        "predict-evening.typed",
        "predict sample-data/glow-pillar.toml --evening 4_x_6min_every_15min --load 0.3A",
    ),
    (
        "predict-evening.priced",
        "predict sample-data/glow-pillar.toml --evening 4_x_6min_every_15min --own A1 --sessions sample-data --price alkaline=3.50",
    ),
    ("compare.evening", "compare sample-data/evening --no-plots"),
    ("compare.board", "compare sample-data/board --no-plots"),
    ("compare.scope", "compare sample-data/scope --no-plots"),
    (
        "compare.explained",
        "compare sample-data/evening --no-plots --fit winding --force",
    ),
    (
        "compare-sheets.two",
        "compare sample-data/glow-pillar.toml sample-data/glow-pillar-measured.toml",
    ),
    ("check.whole", "check sample-data/evening"),
    ("battery-list.all", "battery --sessions sample-data"),
    (
        "battery.one",
        "battery A1 --sessions sample-data --no-plots",
    ),
    (
        "battery-test.two",
        "battery --open 9.42V --loaded 8.60V --current 0.3A --kind alkaline",
    ),
    (
        "battery-backtest.own",
        "battery --backtest --sessions sample-data",
    ),
    ("cautions.at", "cautions"),
    (
        "diagnose.dark",
        "diagnose sample-data/glow-pillar.toml --quick -q --ran-before never -r led=dark -r battery=9.4V -r current=50mA",
    ),
    (
        "diagnose.session",
        "diagnose --session sample-data/evening --quick -q",
    ),
    ("ports.plugged", "ports"),
];

#[test]
fn what_every_command_says_to_programs_is_valid_by_its_schema() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let dir = tempfile::tempdir().unwrap();
    let keep = |name: &str, text: &str| {
        std::fs::write(dir.path().join(format!("{name}.json")), text).unwrap();
    };
    let desk = Desk::new();
    desk.file("sample-data", "");
    std::fs::remove_file(desk.path().join("sample-data")).unwrap();
    std::os::unix::fs::symlink(root.join("sample-data"), desk.path().join("sample-data")).unwrap();
    for (name, args) in SAID {
        let words: Vec<String> = args.split(' ').map(|word| word.replace('_', " ")).collect();
        let args: Vec<&str> = words
            .iter()
            .map(String::as_str)
            .chain(["--format", "json"])
            .collect();
        let ended = desk.run(&args);
        assert_eq!(ended.code, Some(0), "{args:?}: {}", ended.stderr);
        keep(name, &ended.stdout);
    }
    let (_counter, path) = Counter::start(None);
    let place = format!("scpi-counter@serial:{path}");
    for (name, more) in [
        ("record-dry-run.counter", &["--dry-run"][..]),
        ("record.counter", &["--for", "2s"]),
    ] {
        let args = [&["record", "-i", &place, "--format", "json"], more].concat();
        let ended = desk.run(&args);
        assert_eq!(ended.code, Some(0), "{args:?}: {}", ended.stderr);
        keep(name, &ended.stdout);
    }
    let ended = desk.run(&["ports", "--identify", "--path", &path, "--format", "json"]);
    assert_eq!(ended.code, Some(0), "{}", ended.stderr);
    keep("ports.identified", &ended.stdout);

    let python = root.join("target/ci-python/bin/python");
    let checked = Command::new(python)
        .arg(root.join("tests/compare/schema_check.py"))
        .arg(root.join("tests/snapshots/schemas"))
        .arg(dir.path())
        .output()
        .expect("the Python that .ci/run sets up is there");
    let said = String::from_utf8_lossy(&checked.stderr);
    assert!(checked.status.success(), "{said}");
    print!("{}", String::from_utf8_lossy(&checked.stdout));
}

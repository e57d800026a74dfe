//! Pipes, devices, folders, links and texts in another encoding where a plain file belongs.

use std::fs;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::process::Command;

use rustix::fs::{CWD, FileType, Mode, mknodat};
use sagtrace::bench::scpi::Scpi;
use sagtrace::clock::Clock;

use crate::common::{Desk, Running};
use crate::line::device;

const USAGE: Option<i32> = Some(2);

fn pipe(path: &Path) {
    mknodat(CWD, path, FileType::Fifo, Mode::RUSR | Mode::WUSR, 0).unwrap();
}

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("sample-data")
        .join(name)
}

/// A sample session of its own for a test.
fn session(desk: &Desk, name: &str) -> PathBuf {
    let dir = desk.path().join(name);
    fs::create_dir(&dir).unwrap();
    for file in [
        "session.toml",
        "build.toml",
        "samples.csv",
        "marks.csv",
        "forecast.csv",
    ] {
        fs::copy(sample("evening").join(file), dir.join(file)).unwrap();
    }
    dir
}

/// What is said of a thing in a file's place, and how it is put there.
type Way = (&'static str, Box<dyn Fn(&Path)>);

/// Puts something else in the place of a file, in each way that there is.
fn odd(path: &Path) -> Vec<Way> {
    let name = path.file_name().unwrap().to_owned();
    let elsewhere = path.with_file_name(format!("{}.elsewhere", name.to_string_lossy()));
    vec![
        ("it is a pipe, a file is expected", Box::new(pipe)),
        (
            "it is a device, a file is expected",
            Box::new(|path| symlink("/dev/zero", path).unwrap()),
        ),
        (
            "it is a folder, a file is expected",
            Box::new(|path| fs::create_dir(path).unwrap()),
        ),
        (
            "No such file or directory",
            Box::new(move |path| symlink(&elsewhere, path).unwrap()),
        ),
    ]
}

fn remove(path: &Path) {
    if path.symlink_metadata().unwrap().is_dir() {
        fs::remove_dir(path).unwrap();
    } else {
        fs::remove_file(path).unwrap();
    }
}

#[test]
fn what_is_no_file_in_a_session_is_refused_at_once_and_named() {
    let desk = Desk::new();
    let dir = session(&desk, "out");
    for file in ["session.toml", "build.toml", "samples.csv", "marks.csv"] {
        let path = dir.join(file);
        let kept = fs::read(&path).unwrap();
        for (why, put) in odd(&path) {
            fs::remove_file(&path).unwrap();
            put(&path);
            let ended = desk.run(&["compare", "out", "--no-plots"]);
            assert_eq!(ended.code, USAGE, "{file}, {why}: {}", ended.stderr);
            let told = ended.stderr.lines().next().unwrap();
            assert!(
                told.starts_with(&format!("error: cannot read out/{file}: {why}")),
                "{file}, {why}: {told}"
            );
            // Neither hangs nor fails without a word.
            let checked = desk.run(&["check", "out", "--repair"]);
            let words = format!("{}{}", checked.stdout, checked.stderr);
            assert!(words.contains(file), "{file}, {why}: {words}");
            remove(&path);
            fs::write(&path, &kept).unwrap();
            for left in ["out.mended", "out.mended.part"] {
                fs::remove_dir_all(desk.path().join(left)).ok();
            }
        }
    }
}

#[test]
fn what_is_no_file_is_refused_at_once_wherever_a_text_is_named() {
    let desk = Desk::new();
    session(&desk, "out");
    let path = desk.path().join("odd");
    for (why, put) in odd(&path) {
        put(&path);
        for args in [
            &["sheet", "check", "odd"][..],
            &["predict", "odd"],
            &["compare", "out", "--no-plots", "--build", "odd"],
            &["compare", "out", "--no-plots", "--good-day", "odd"],
            &["compare", "odd", "odd"],
            &["diagnose", "odd"],
            &["record", "-i", "plain-lines@log:odd"],
            &["--config", "odd", "ports"],
        ] {
            let ended = desk.run(args);
            let told = ended
                .stderr
                .lines()
                .find(|line| line.starts_with("error: "));
            let told = told.unwrap_or_else(|| panic!("{args:?}: {ended:?}"));
            assert!(
                ended.code != Some(0) && told.contains(why),
                "{args:?}: {told}"
            );
        }
        remove(&path);
    }
    // The time is asked of this machine with others at work beside it; quadratic it was minutes.
    let keys: Vec<String> = (0..300_000).map(|key| format!("k{key} = 1\n")).collect();
    fs::write(&path, keys.concat()).unwrap();
    let clock = Clock::real();
    let ended = desk.run(&["sheet", "check", "odd"]);
    assert!(clock.elapsed_s() < 2.0, "{} s", clock.elapsed_s());
    assert!(ended.stderr.lines().count() < 110, "{}", ended.stderr);
    assert!(ended.stderr.contains("\nand 2999"), "{}", ended.stderr);
    let long = fs::File::create(&path).unwrap();
    long.set_len(1 << 40).unwrap();
    let ended = desk.run(&["sheet", "check", "odd"]);
    assert!(
        ended.stderr.contains("it is longer than 8 MiB"),
        "{}",
        ended.stderr
    );
}

#[test]
fn a_sheet_that_a_shell_hands_on_is_read() {
    let desk = Desk::new();
    let sheet = sample("glow-pillar.toml");
    let sheet = sheet.to_string_lossy();
    for script in [
        "cat SHEET | PROGRAM sheet check -",
        "cat SHEET | PROGRAM sheet check /dev/stdin",
        "PROGRAM sheet check /dev/stdin < SHEET",
        "exec 7< SHEET; PROGRAM sheet check /dev/fd/7",
        "cat SHEET | (exec 7<&0; PROGRAM sheet check /dev/fd/7)",
    ] {
        let script = script
            .replace("SHEET", &format!("'{sheet}'"))
            .replace("PROGRAM", env!("CARGO_BIN_EXE_sagtrace"));
        let mut command = Command::new("sh");
        command.args(["-c", &script]);
        desk.settle(&mut command);
        let ended = Running::start(&mut command).end();
        assert_eq!(
            ended.stdout, "glow pillar: no faults\n",
            "{script}: {}",
            ended.stderr
        );
    }
    let mut endless = desk.command(&["sheet", "check", "-"]);
    let ended = Running::start(endless.stdin(fs::File::open("/dev/zero").unwrap())).end();
    assert!(
        ended
            .stderr
            .contains("cannot read stdin: it is longer than"),
        "{}",
        ended.stderr
    );
}

#[test]
fn a_profile_that_cannot_be_read_is_told_and_stands_in_no_others_way() {
    let desk = Desk::new();
    let counter = device(Scpi::counter(), Vec::new());
    let port = counter.path().to_string_lossy().into_owned();
    let address = format!("quick-scpi-counter@serial:{port}");
    let devices = desk.path().join("sagtrace/devices");
    let mut ways = odd(&devices.join("mine.toml"));
    ways.push((
        "line 2 is not UTF-8",
        Box::new(|path| fs::write(path, b"schema = 1\n# Gr\xf6\xdfe\n").unwrap()),
    ));
    for (number, (why, put)) in ways.into_iter().enumerate() {
        let mine = devices.join("mine.toml");
        put(&mine);
        let out = format!("out{number}");
        let args = [
            "record", "-i", &address, "--every", "50ms", "--for", "300ms", "-o", &out,
        ];
        let ended = desk.run(&args).well();
        let told = |text: &str| {
            let is_it = |line: &str| line.contains("devices/mine.toml") && line.contains(why);
            text.lines().any(is_it)
        };
        assert!(told(&ended.stderr), "{why}: {}", ended.stderr);
        let named = desk.run(&["record", "-i", &format!("mine@serial:{port}")]);
        assert!(
            named.code == USAGE && told(&named.stderr),
            "{why}: {}",
            named.stderr
        );
        let found = desk.run(&["ports", "--identify", "--path", &port]).well();
        assert!(told(&found.stderr), "{why}: {}", found.stderr);
        assert!(
            found.stdout.contains("answers to scpi-counter"),
            "{why}: {}",
            found.stdout
        );
        remove(&mine);
    }
}

#[test]
fn pictures_and_pages_are_not_written_through_a_link() {
    let desk = Desk::new();
    session(&desk, "out");
    let precious = desk.file("precious", "kept");
    let plots = desk.path().join("out/plots");
    fs::create_dir(&plots).unwrap();
    let names = [
        "frequency-against-battery.png",
        "frequency-against-battery.png.part",
    ];
    for name in names {
        symlink(&precious, plots.join(name)).unwrap();
    }
    for name in ["good-day.toml.part", "session.toml.part"] {
        symlink(&precious, desk.path().join("out").join(name)).unwrap();
    }
    desk.run(&["compare", "out", "--fit", "winding"]).well();
    assert_eq!(desk.read("precious"), "kept");
    assert!(desk.path().join("out/good-day.toml").is_file());
    assert!(plots.join(names[0]).symlink_metadata().unwrap().is_file());
}

//! Holds the table of rooms: which part of the library may import which. A forbidden import fails with file and line.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Each room with the rooms it may import; `report` and `cli` may import all that stand above them.
const ROOMS: &[(&str, &[&str])] = &[
    ("units", &[]),
    ("chance", &[]),
    ("reading", &["units"]),
    ("clock", &["reading"]),
    ("figure", &["units"]),
    ("limits", &[]),
    ("caution", &[]),
    ("guide", &[]),
    ("plain", &[]),
    ("input", &[]),
    ("frame", &[]),
    ("tone", &[]),
    ("faults", &["units", "plain"]),
    (
        "transport",
        &["frame", "clock", "reading", "input", "plain"],
    ),
    ("instrument", &["units", "reading", "faults", "tone"]),
    (
        "acquire",
        &["reading", "clock", "transport", "instrument", "frame"],
    ),
    ("session", &["units", "reading", "clock", "plain", "input"]),
    (
        "recording",
        &[
            "units",
            "plain",
            "input",
            "frame",
            "clock",
            "reading",
            "transport",
            "instrument",
            "acquire",
            "session",
            "battery",
            "analysis",
        ],
    ),
    ("sheet", &["units", "faults", "coil", "circuit", "battery"]),
    ("coil", &["units", "chance", "limits", "figure"]),
    ("circuit", &["units", "limits", "coil", "figure"]),
    ("battery", &["units", "figure"]),
    (
        "analysis",
        &["units", "reading", "coil", "circuit", "battery", "figure"],
    ),
    (
        "diagnosis",
        &[
            "units", "chance", "reading", "faults", "caution", "analysis", "circuit", "coil",
            "battery",
        ],
    ),
    (
        "logbook",
        &[
            "units", "reading", "faults", "figure", "plain", "input", "session", "sheet", "coil",
            "circuit", "battery", "analysis",
        ],
    ),
    ("plot", &["units", "figure", "plain"]),
    ("bench", &["units", "chance", "clock", "frame", "plain"]),
];

/// Rooms that may import any other.
const OPEN_ROOMS: &[&str] = &["report", "cli"];

/// Rooms that may use the operating system: files, threads, the environment.
const EDGE_ROOMS: &[&str] = &[
    "clock",
    "input",
    "transport",
    "acquire",
    "session",
    "logbook",
    "recording",
    "bench",
    "cli",
];

/// What a pure room never says.
const IMPURE: &[&str] = &[
    "std::fs",
    "std::env",
    "std::net",
    "std::thread",
    "std::process",
    "tokio",
    "rustix",
    "fastrand",
];

fn sources(dir: &Path, into: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(dir).expect("the source folder can be read") {
        let path = entry.expect("an entry can be read").path();
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|end| end == "rs") {
            into.push(path);
        }
    }
}

/// The room a source file stands in.
fn room(path: &Path, root: &Path) -> String {
    let inside = path.strip_prefix(root).expect("the file is below the root");
    let first = inside.components().next().expect("the file has a name");
    first
        .as_os_str()
        .to_string_lossy()
        .trim_end_matches(".rs")
        .to_owned()
}

/// Names that follow `crate::` in a line, the braces of a grouped import included.
fn imported(text: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    for (index, line) in text.lines().enumerate() {
        let code = line.split("//").next().unwrap_or("");
        for part in code.split("crate::").skip(1) {
            let names = part.strip_prefix('{').unwrap_or(part);
            let names = if part.starts_with('{') {
                names.split(',').collect()
            } else {
                vec![names]
            };
            for name in names {
                let name: String = name
                    .trim()
                    .chars()
                    .take_while(|c| c.is_ascii_alphanumeric() || *c == '_')
                    .collect();
                if !name.is_empty() {
                    found.push((index + 1, name));
                }
            }
        }
    }
    found
}

fn allowed(room: &str) -> Option<&'static [&'static str]> {
    ROOMS
        .iter()
        .find(|(name, _)| *name == room)
        .map(|(_, may)| *may)
}

fn faults(root: &Path) -> Vec<String> {
    let mut files = Vec::new();
    sources(root, &mut files);
    let mut faults = Vec::new();
    for path in files {
        let room = room(&path, root);
        if room == "lib" || room == "main" || OPEN_ROOMS.contains(&room.as_str()) {
            continue;
        }
        let text = fs::read_to_string(&path).expect("a source file can be read");
        let Some(may) = allowed(&room) else {
            faults.push(format!(
                "{}: room \"{room}\" is not in the table",
                path.display()
            ));
            continue;
        };
        for (line, name) in imported(&text) {
            if name != room && !may.contains(&name.as_str()) {
                faults.push(format!(
                    "{}:{line}: {room} may not import {name}",
                    path.display()
                ));
            }
        }
        if !EDGE_ROOMS.contains(&room.as_str()) {
            for (index, line) in text.lines().enumerate() {
                let code = line.split("//").next().unwrap_or("");
                for word in IMPURE.iter().filter(|word| code.contains(**word)) {
                    faults.push(format!(
                        "{}:{}: {room} is pure and uses {word}",
                        path.display(),
                        index + 1
                    ));
                }
            }
        }
    }
    faults
}

#[test]
fn every_import_is_one_the_table_allows() {
    let faults = faults(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"));
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn a_forbidden_import_is_found_with_file_and_line() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let file = |name: &str, text: &str| {
        let path = dir.path().join(name);
        fs::create_dir_all(path.parent().expect("a parent")).expect("the folder is made");
        fs::write(path, text).expect("the file is written");
    };
    file(
        "coil/wire.rs",
        "use crate::units::Unit;\nuse crate::{units, session};\nfn f() { std::fs::read(\"x\"); }\n",
    );
    file("stray.rs", "");
    let faults = faults(dir.path());
    assert_eq!(faults.len(), 3, "{faults:?}");
    assert!(
        faults
            .iter()
            .any(|fault| fault.contains("wire.rs:2: coil may not import session")),
        "{faults:?}"
    );
    assert!(
        faults
            .iter()
            .any(|fault| fault.contains("wire.rs:3: coil is pure and uses std::fs")),
        "{faults:?}"
    );
    assert!(
        faults
            .iter()
            .any(|fault| fault.contains("\"stray\" is not in the table")),
        "{faults:?}"
    );
}

/// What the top level holds, as it was agreed on.
const TOP_LEVEL: &[&str] = &[
    "Cargo.toml",
    "Cargo.lock",
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "src",
    "devices",
    "tests",
    "sample-data",
    ".ci",
    ".gitignore",
    ".cargo",
];

fn git(root: &Path, args: &[&str]) -> Option<String> {
    let out = Command::new("git")
        .arg("-C")
        .arg(root)
        .args(args)
        .output()
        .ok()?;
    out.status
        .success()
        .then(|| String::from_utf8_lossy(&out.stdout).into_owned())
}

/// The names at the top level that belong to the project: what is tracked, so that a session recorded beside the sources is
/// nobody's fault. Without a repository (an unpacked archive) everything of the package itself must at least be there.
fn tracked_top_level(root: &Path) -> BTreeSet<String> {
    match git(root, &["ls-files"]) {
        Some(files) if root.join(".git").exists() => files
            .lines()
            .filter_map(|path| path.split('/').next())
            .map(str::to_owned)
            .collect(),
        _ => TOP_LEVEL
            .iter()
            .filter(|name| root.join(name).exists())
            .map(|name| (*name).to_owned())
            .collect(),
    }
}

#[test]
fn the_top_level_is_as_agreed_whatever_was_recorded_beside_it() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let agreed: BTreeSet<String> = TOP_LEVEL.iter().map(|name| (*name).to_owned()).collect();
    assert_eq!(tracked_top_level(root), agreed);
}

#[test]
fn a_session_recorded_in_a_clone_is_no_part_of_the_project() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let root = dir.path();
    for name in TOP_LEVEL {
        fs::write(root.join(name), "").expect("a file is written");
    }
    let rules = fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join(".gitignore"));
    fs::write(root.join(".gitignore"), rules.expect("the rules")).expect("they are written");
    assert!(git(root, &["init", "-q"]).is_some(), "git is at hand");
    git(root, &["add", "-A"]).expect("what is there is tracked");
    // What `simulate`, a recording that was moved aside or mended, and the list of batteries leave behind.
    for left in [
        "20261128T190405Z-glow-pillar",
        "20261128T190405Z-glow-pillar-2",
        "20261128T190405Z-glow-pillar.mended",
    ] {
        fs::create_dir(root.join(left)).expect("a folder is made");
        fs::write(root.join(left).join("samples.csv"), "").expect("a file is written");
    }
    fs::write(root.join(".sagtrace-batteries.json"), "").expect("a file is written");
    let untracked = git(root, &["status", "--porcelain", "--untracked-files=normal"]);
    let untracked: Vec<String> = untracked
        .expect("the state of the clone")
        .lines()
        .filter(|line| line.starts_with("??"))
        .map(str::to_owned)
        .collect();
    assert_eq!(untracked, Vec::<String>::new());
    let agreed: BTreeSet<String> = TOP_LEVEL.iter().map(|name| (*name).to_owned()).collect();
    assert_eq!(tracked_top_level(root), agreed);
}

#[test]
fn no_source_file_is_empty() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    sources(&root.join("src"), &mut files);
    for path in files {
        let text = fs::read_to_string(&path).expect("a source file can be read");
        let code = text
            .lines()
            .filter(|line| !line.trim().is_empty() && !line.trim_start().starts_with("//"))
            .count();
        assert!(code >= 3, "{} holds no code", path.display());
    }
}

//! The libraries of the stories' builds: computed once for a program, kept in the target folder, held against figures of before.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::sync::Mutex;

use sagtrace::diagnosis::build::Build;
use sagtrace::diagnosis::kept;
use sagtrace::diagnosis::library::{Effort, Library};
use sagtrace::diagnosis::quantity::Quantity;
use sagtrace::diagnosis::situation::Situation;
use sagtrace::sheet;
use sha2::{Digest as _, Sha256};

use crate::build::{build_of, on_two};

pub(crate) const EFFORT: Effort = Effort {
    draws: 40,
    runs: 12,
    other_runs: 2,
};
pub(super) const BUILDS: [&str; 3] = ["pillar-medium", "pillar-standing", "practice-held"];

/// What a library follows from once its build is known.
const SOURCES: [&str; 8] = [
    "src/circuit",
    "src/diagnosis/fault",
    "src/diagnosis/library",
    "src/diagnosis/quantity.rs",
    "src/diagnosis/situation.rs",
    "src/diagnosis/answer/likelihood.rs",
    "src/chance.rs",
    "Cargo.lock",
];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

pub(super) fn scenarios() -> PathBuf {
    root().join("tests/scenarios")
}

pub(super) fn build(name: &str) -> Build {
    let path = scenarios().join(name).with_extension("toml");
    build_of(&sheet::parse(&fs::read_to_string(path).unwrap()).unwrap())
}

/// Takes the bytes of all files below a path, in the order of their names.
fn take(path: &Path, hash: &mut Sha256) {
    if path.is_dir() {
        let entries = fs::read_dir(path).unwrap();
        let mut inside: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
        inside.sort();
        for path in inside {
            take(&path, hash);
        }
    } else {
        hash.update(fs::read(path).unwrap());
    }
}

/// The file of a build's library, computed by the first test that asks for it: about half a minute on two cores.
pub(crate) fn library_file(name: &str) -> PathBuf {
    static KNOWN: Mutex<BTreeMap<String, PathBuf>> = Mutex::new(BTreeMap::new());
    let mut known = KNOWN.lock().unwrap();
    known
        .entry(name.to_owned())
        .or_insert_with(|| computed(name))
        .clone()
}

fn computed(name: &str) -> PathBuf {
    let build = build(name);
    let mut hash = Sha256::new();
    hash.update(kept::file_name(&build, EFFORT));
    for path in SOURCES {
        take(&root().join(path), &mut hash);
    }
    let key = hash.finalize();
    let key = u64::from_be_bytes(*key.first_chunk().unwrap());
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}-{key:016x}.library"));
    // Against other processes; the system releases it where a test is killed.
    let lock = File::create(path.with_extension("lock")).unwrap();
    lock.lock().unwrap();
    if fs::read(&path)
        .ok()
        .is_none_or(|bytes| kept::read(&bytes).is_none())
    {
        let shown = on_two(&Library::wanted(&build), |fault| {
            Library::shown(&build, fault, EFFORT)
        });
        fs::write(&path, kept::bytes(&shown)).unwrap();
    }
    path
}

pub(crate) fn library_of(name: &str) -> Library {
    let shown = kept::read(&fs::read(library_file(name)).unwrap()).unwrap();
    Library { shown }
}

/// What is compared of each fault: the mean over its draws.
const FIGURES: [(Situation, Quantity); 8] = [
    (Situation::AsFound, Quantity::Current),
    (Situation::AsFound, Quantity::Base),
    (Situation::AsFound, Quantity::Led),
    (Situation::AsFound, Quantity::Frequency),
    (Situation::AsFound, Quantity::FootToTop),
    (Situation::AsFound, Quantity::RingQ),
    (Situation::FreshBattery, Quantity::Current),
    (Situation::LeadsSwapped, Quantity::Current),
];

/// Each fault of a library with its figures; no number where no draw has one.
fn figures(library: &Library) -> Vec<(&str, Vec<f64>)> {
    let of = |place: usize, (situation, quantity): (Situation, Quantity)| {
        let rows = library.rows(place, situation).iter();
        let read = rows.map(|row| f64::from(row[quantity.index()]));
        let read: Vec<f64> = read.filter(|value| !value.is_nan()).collect();
        read.iter().sum::<f64>() / read.len() as f64
    };
    let shown = library.shown.iter().enumerate();
    shown
        .map(|(place, shown)| {
            (
                shown.key.as_str(),
                FIGURES.map(|figure| of(place, figure)).to_vec(),
            )
        })
        .collect()
}

/// Computed values: they say that something changed and not what is right. `INSTA_UPDATE=always` writes them; read the stories'
/// answers after that.
#[test]
fn every_fault_of_each_build_has_the_figures_that_it_had() {
    let path = root().join("tests/snapshots/diagnosis-libraries.txt");
    let libraries = BUILDS.map(|name| (name, library_of(name)));
    let own = libraries.iter().flat_map(|(name, library)| {
        figures(library)
            .into_iter()
            .map(move |(key, figures)| (format!("{name} {key}"), figures))
    });
    let own: Vec<(String, Vec<f64>)> = own.collect();
    if std::env::var("INSTA_UPDATE").is_ok_and(|told| told == "always") {
        let head = FIGURES
            .map(|(situation, quantity)| format!(" {situation:?}.{quantity:?}"))
            .concat();
        let line = |(name, figures): &(String, Vec<f64>)| {
            let figures: Vec<String> = figures
                .iter()
                .map(|value| format!(" {value:.4e}"))
                .collect();
            format!("{name}{}\n", figures.concat())
        };
        let lines: String = own.iter().map(line).collect();
        let text = format!("# computed: means over the draws, SI\n# build fault{head}\n{lines}");
        fs::write(&path, text).unwrap();
    }
    let text = fs::read_to_string(path).unwrap();
    let known: Vec<&str> = text.lines().filter(|line| !line.starts_with('#')).collect();
    assert_eq!(known.len(), own.len());
    for (line, (name, figures)) in known.iter().zip(&own) {
        let known = line
            .strip_prefix(&format!("{name} "))
            .unwrap_or_else(|| panic!("{name}: {line}"));
        let known: Vec<f64> = known.split(' ').map(|word| word.parse().unwrap()).collect();
        assert_eq!(known.len(), figures.len(), "{line}");
        for ((own, known), figure) in figures.iter().zip(known).zip(FIGURES) {
            // Another machine's last digits grow in a wild run; a changed circuit moves more.
            let near = (own - known).abs() <= 0.05 * known.abs() + 1e-6;
            assert!(
                near || own.total_cmp(&known).is_eq() || (own.is_nan() && known.is_nan()),
                "{name} {figure:?}: {own}, it was {known}"
            );
        }
    }
}

//! Holds what the program is made of: where crates come from, which ones are used directly, and under which licences.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::Command;

/// The crates used directly, each weighed before it came in; DEVELOPERS.md has the reasons.
const AGREED: &[&str] = &[
    "chrono",
    "clap",
    "clap_complete",
    "clap_mangen",
    "csv",
    "dejavu",
    "etcetera",
    "fastrand",
    "indicatif",
    "nalgebra",
    "plotters",
    "pulldown-cmark",
    "rayon",
    "realfft",
    "resvg",
    "rustix",
    "scpi",
    "serde",
    "serde_json",
    "serialport",
    "sha2",
    "statrs",
    "strsim",
    "terminal_size",
    "thiserror",
    "tokio",
    "toml",
];

/// The crates that tests use beside them.
const AGREED_FOR_TESTS: &[&str] = &[
    "assert_cmd",
    "ellip",
    "insta",
    "proptest",
    "schemars",
    "tempfile",
    // Its paused clock.
    "tokio",
];

/// Licences that need nothing but their text to be kept.
const LICENCES: &[&str] = &[
    "MIT",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "MPL-2.0",
    "Zlib",
    "Unicode-3.0",
    "Unlicense",
    "ISC",
    "0BSD",
    "CC0-1.0",
    "MIT-0",
];

fn package_file(name: &str) -> toml::Table {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(name);
    std::fs::read_to_string(path)
        .expect("the file is there")
        .parse()
        .expect("it is TOML")
}

fn keys(table: &toml::Table, name: &str) -> BTreeSet<String> {
    table
        .get(name)
        .and_then(toml::Value::as_table)
        .map(|table| table.keys().cloned().collect())
        .unwrap_or_default()
}

fn agreed(list: &[&str]) -> BTreeSet<String> {
    list.iter().map(|name| (*name).to_owned()).collect()
}

#[test]
fn the_direct_dependencies_are_the_agreed_ones() {
    let manifest = package_file("Cargo.toml");
    assert_eq!(keys(&manifest, "dependencies"), agreed(AGREED));
    let extra: Vec<_> = keys(&manifest, "dev-dependencies")
        .difference(&agreed(AGREED_FOR_TESTS))
        .cloned()
        .collect();
    assert!(extra.is_empty(), "not agreed: {extra:?}");
}

#[test]
fn every_crate_comes_from_the_registry_with_its_checksum() {
    let lock = package_file("Cargo.lock");
    let packages = lock["package"].as_array().expect("packages");
    assert!(packages.len() > AGREED.len());
    for package in packages {
        let name = package["name"].as_str().expect("a name");
        if name == "sagtrace" {
            continue;
        }
        let source = package
            .get("source")
            .and_then(toml::Value::as_str)
            .unwrap_or("a path");
        assert!(
            source.starts_with("registry+"),
            "{name} comes from {source}"
        );
        assert!(package.get("checksum").is_some(), "{name} has no checksum");
    }
}

/// Whether an SPDX expression can be met with the licences above: every AND part has an allowed OR choice.
fn is_allowed(expression: &str) -> bool {
    let plain = expression.replace(['(', ')'], " ").replace('/', " OR ");
    plain.split(" AND ").all(|part| {
        part.split(" OR ")
            .any(|choice| LICENCES.contains(&choice.trim()))
    })
}

#[test]
fn every_licence_is_one_that_may_be_passed_on() {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--locked"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("cargo runs");
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let metadata: serde_json::Value =
        serde_json::from_slice(&output.stdout).expect("cargo prints JSON");
    let mut faults = Vec::new();
    for package in metadata["packages"].as_array().expect("packages") {
        let licence = package["license"].as_str().unwrap_or("none");
        if !is_allowed(licence) {
            faults.push(format!(
                "{} {}: {licence}",
                package["name"], package["version"]
            ));
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn a_licence_that_may_not_be_passed_on_is_found() {
    assert!(is_allowed("MIT/Apache-2.0"));
    assert!(is_allowed("(MIT OR GPL-3.0) AND Unicode-3.0"));
    assert!(!is_allowed("GPL-3.0-only"));
    assert!(!is_allowed("MIT AND GPL-2.0"));
}

/// The serial library's default features bring a C library that a bare machine lacks, and features unite: one other
/// crate that asks for it would bring it back.
#[test]
fn no_crate_brings_in_libudev() {
    let lock = package_file("Cargo.lock");
    let names: Vec<&str> = lock["package"]
        .as_array()
        .expect("packages")
        .iter()
        .filter_map(|one| one["name"].as_str())
        .collect();
    assert!(names.contains(&"serialport"));
    assert!(
        !names.iter().any(|name| name.contains("udev")),
        "libudev is back"
    );
}

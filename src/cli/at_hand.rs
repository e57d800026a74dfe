//! Sheets, sessions and instruments that are at hand: for the program without arguments, and for `record` without them.

use std::fs;
use std::path::{Path, PathBuf};

use super::exit::{Failure, INSTRUMENT, Outcome, USAGE};
use super::output;
use super::settings::Settings;
use crate::input;
use crate::instrument::Catalogue;
use crate::plain::Shown as _;
use crate::recording::{Address, Found, Place, identify};
use crate::report::at_hand::{AtHand, text};
use crate::report::layout::shell_word;
use crate::transport::usb_names;

/// Folders with more files than this are no bench's.
const MOST: usize = 10_000;

/// `sagtrace` alone: lists the contents of the current folder, and the next command for each.
pub(super) fn run(settings: &Settings) -> Result<Outcome, Failure> {
    let (_, mut sessions) = sheets_and_sessions(Path::new("."));
    let elsewhere = settings.sessions_dir.as_ref().filter(|dir| {
        let whole = |path: &Path| fs::canonicalize(path).ok();
        whole(dir) != whole(Path::new("."))
    });
    if let Some(dir) = elsewhere {
        let there = sheets_and_sessions(dir).1;
        sessions.extend(there.into_iter().map(|name| dir.join(name)));
        // Their names begin with their time.
        sessions.sort_by(|one, other| one.file_name().cmp(&other.file_name()));
    }
    let at_hand = AtHand {
        sheets: sheets_and_sessions(Path::new(".")).0,
        sessions,
        ports: usb_names(),
        are_instruments_set: !settings.instruments.is_empty(),
    };
    output::result(&text(&at_hand, output::width()))?;
    Ok(Outcome::DONE)
}

/// The build sheets and the session folders in a folder, by name.
fn sheets_and_sessions(dir: &Path) -> (Vec<PathBuf>, Vec<PathBuf>) {
    let (mut sheets, mut sessions) = (Vec::new(), Vec::new());
    let Ok(entries) = fs::read_dir(dir) else {
        return (sheets, sessions);
    };
    for entry in entries.take(MOST).flatten() {
        let (path, name) = (entry.path(), PathBuf::from(entry.file_name()));
        if path.join("session.toml").is_file() {
            sessions.push(name);
        } else if path.is_file() && is_sheet(&path) {
            sheets.push(name);
        }
    }
    sheets.sort();
    sessions.sort();
    (sheets, sessions)
}

/// Whether a file describes a build, with or without faults.
fn is_sheet(path: &Path) -> bool {
    path.extension().is_some_and(|end| end == "toml")
        && input::read_text(path)
            .ok()
            .and_then(|text| text.parse::<toml::Table>().ok())
            .is_some_and(|table| table.contains_key("coil"))
}

/// The one build sheet of the current folder, said on stderr; `None` where there is none, or more than one.
pub(super) fn one_sheet(is_quiet: bool) -> Option<PathBuf> {
    let note = |text: &str| {
        if !is_quiet {
            output::note(text);
        }
    };
    match sheets_and_sessions(Path::new(".")).0.as_slice() {
        [] => {
            note("no build sheet here: recording an unnamed build (name one with -b)");
            None
        }
        [one] => {
            note(&format!("build sheet: {}", one.shown()));
            Some(one.clone())
        }
        several => {
            note(&format!(
                "{} build sheets here: recording an unnamed build (name one with -b)",
                several.len()
            ));
            None
        }
    }
}

/// The one instrument that is plugged in and answers to a profile, said on stderr.
pub(super) fn one_instrument(catalogue: &Catalogue) -> Result<Address, Failure> {
    let ports = usb_names();
    if ports.is_empty() {
        return Err(
            Failure::new(USAGE, "no instrument is named and none is plugged in").hint(
                "plug one in, or name one: sagtrace record -i scpi-counter@serial:/dev/ttyUSB0",
            ),
        );
    }
    output::note(&format!("asking {}…", ports.join(", ")));
    let found = std::thread::scope(|scope| {
        let asked: Vec<_> = ports
            .iter()
            .map(|port| scope.spawn(|| answering(port, catalogue)))
            .collect();
        let answers = asked.into_iter().filter_map(|one| one.join().ok());
        answers.flatten().collect::<Vec<Address>>()
    });
    one_of(found, &ports)
}

/// The instrument on a port, by the first profile that it proves.
fn answering(port: &str, catalogue: &Catalogue) -> Option<Address> {
    let found = identify(port, catalogue).ok()?;
    let proved = found.into_iter().find(Found::is_proved)?;
    Some(Address {
        label: proved.profile.clone(),
        profile: proved.profile,
        place: Place::Serial {
            path: port.to_owned(),
            baud: None,
        },
    })
}

fn one_of(mut found: Vec<Address>, ports: &[String]) -> Result<Address, Failure> {
    match (found.pop(), found.is_empty()) {
        (Some(one), true) => {
            output::note(&format!("instrument: {one}"));
            Ok(one)
        }
        (Some(last), false) => {
            found.push(last);
            let each = found.iter().map(|one| shell_word(one.to_string().as_ref()));
            let each: Vec<String> = each.map(|one| format!("-i {one}")).collect();
            Err(
                Failure::new(USAGE, "several instruments answer: say which to record")
                    .hint(format!("sagtrace record {}", each.join(" "))),
            )
        }
        (None, _) => Err(Failure::new(
            INSTRUMENT,
            format!("nothing on {} answers to a known profile", ports.join(", ")),
        )
        .hint("is it switched on? see each answer with: sagtrace ports --identify")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counter(port: &str) -> Address {
        format!("scpi-counter@serial:{port}").parse().unwrap()
    }

    #[test]
    fn one_instrument_is_taken_and_of_several_none() {
        let ports = ["a".to_owned(), "b".to_owned()];
        assert_eq!(one_of(vec![counter("a")], &ports).unwrap(), counter("a"));
        let several = one_of(vec![counter("a"), counter("b")], &ports).unwrap_err();
        assert_eq!(
            several.hint.unwrap(),
            "sagtrace record -i scpi-counter@serial:a -i scpi-counter@serial:b"
        );
        let none = one_of(Vec::new(), &ports).unwrap_err();
        assert_eq!(none.code, INSTRUMENT);
        insta::assert_snapshot!(none.message, @"nothing on a, b answers to a known profile");
    }

    #[test]
    fn sheets_and_sessions_are_known_by_what_is_in_them() {
        let dir = tempfile::tempdir().unwrap();
        let sheet = include_str!("../../sample-data/glow-pillar.toml");
        fs::write(dir.path().join("b.toml"), sheet).unwrap();
        fs::write(dir.path().join("a.toml"), "[coil]\nturns = \"many\"\n").unwrap();
        fs::write(dir.path().join("other.toml"), "[package]\n").unwrap();
        fs::write(dir.path().join("broken.toml"), "[coil").unwrap();
        fs::write(dir.path().join("coil.txt"), sheet).unwrap();
        fs::create_dir(dir.path().join("evening")).unwrap();
        fs::write(dir.path().join("evening/session.toml"), "").unwrap();
        fs::create_dir(dir.path().join("pictures")).unwrap();
        let (sheets, sessions) = sheets_and_sessions(dir.path());
        assert_eq!(sheets, ["a.toml", "b.toml"].map(PathBuf::from));
        assert_eq!(sessions, [PathBuf::from("evening")]);
    }
}

//! Settings: a flag overrides an environment variable, which overrides the settings file, which overrides the default.
//!
//! Flags and environment are merged by the argument parser; this reads the file and the user's own profiles, once.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use etcetera::BaseStrategy as _;
use etcetera::base_strategy::Xdg;

use super::exit::{Failure, USAGE};
use crate::faults;
use crate::input;
use crate::instrument::Catalogue;
use crate::plain::{self, Shown as _};

/// The contents of the settings file and of the user's profile folder.
#[derive(Debug, Default)]
pub(super) struct Settings {
    pub(super) sessions_dir: Option<PathBuf>,
    pub(super) instruments: Vec<String>,
    pub(super) catalogue: Catalogue,
}

impl Settings {
    /// Reads the settings file, which must be there if it was named, and the profiles beside it.
    pub(super) fn load(named: Option<&Path>) -> Result<Self, Failure> {
        let usual = config_folder();
        let file = match (named, &usual) {
            (Some(path), _) => Some(path.to_owned()),
            (None, Some(folder)) => {
                Some(folder.join("config.toml")).filter(|path| path.symlink_metadata().is_ok())
            }
            (None, None) => None,
        };
        let mut settings = match file {
            Some(path) => parse(&path)?,
            None => Self::default(),
        };
        if let Some(folder) = usual {
            add_profiles(&mut settings.catalogue, &folder.join("devices"));
        }
        Ok(settings)
    }
}

impl Settings {
    /// The folder that holds the sessions: the one named, else that of the settings, else the current one.
    pub(super) fn sessions(&self, named: Option<&PathBuf>) -> PathBuf {
        let known = named.or(self.sessions_dir.as_ref());
        known.cloned().unwrap_or_else(|| PathBuf::from("."))
    }
}

/// The program's folder for settings, by the XDG base directory specification; `None` where nobody is at home.
fn config_folder() -> Option<PathBuf> {
    own(&Xdg::new().ok()?.config_dir())
}

/// Returns the program's folder for data that can be computed again.
pub(super) fn cache_folder() -> Option<PathBuf> {
    own(&Xdg::new().ok()?.cache_dir())
}

/// A home that is not absolute is none, as a folder named by the environment is.
fn own(folder: &Path) -> Option<PathBuf> {
    folder.is_absolute().then(|| folder.join("sagtrace"))
}

fn parse(path: &Path) -> Result<Settings, Failure> {
    let text = read_text(path)?;
    faults::read(&text, |top| {
        let sessions_dir = top
            .entry("sessions_dir")
            .and_then(|entry| entry.text().map(PathBuf::from));
        let instruments = top
            .entry("instruments")
            .map_or(Some(Vec::new()), |entry| entry.texts());
        Some(Settings {
            sessions_dir,
            instruments: instruments?,
            catalogue: Catalogue::default(),
        })
    })
    .map_err(|faults| {
        Failure::new(
            USAGE,
            format!("settings file {} has faults:\n{faults}", origin(path)),
        )
    })
}

/// Adds the profiles of a folder. One that can't be read is kept with the reason, and stands in no other's way.
fn add_profiles(catalogue: &mut Catalogue, folder: &Path) {
    let Ok(entries) = fs::read_dir(folder) else {
        return;
    };
    for entry in entries.flatten() {
        let path = entry.path();
        if path.extension().is_some_and(|end| end == "toml") {
            let stem = path.file_stem().unwrap_or_default().to_string_lossy();
            catalogue.add(&plain::line(&stem), &path.shown(), input::read_text(&path));
        }
    }
}

/// Reads a file that the person named; `-` is stdin.
pub(super) fn read_text(path: &Path) -> Result<String, Failure> {
    open_text(path)
        .map_err(|error| Failure::new(USAGE, format!("cannot read {}: {error}", origin(path))))
}

/// The same with the system's own error.
pub(super) fn open_text(path: &Path) -> io::Result<String> {
    if is_stdin(path) {
        input::text_of(io::stdin().lock())
    } else {
        input::read_named_text(path)
    }
}

/// A path in words for a message.
pub(super) fn origin(path: &Path) -> String {
    if is_stdin(path) {
        "stdin".to_owned()
    } else {
        path.shown()
    }
}

fn is_stdin(path: &Path) -> bool {
    path == Path::new("-")
}

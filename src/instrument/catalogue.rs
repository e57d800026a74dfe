//! The profiles at hand: those shipped with the program, and the user's own.

use std::io;
use std::sync::Arc;

use crate::faults::{Faults, nearest};
use crate::instrument::profile::Profile;

/// The shipped profiles, by name.
pub const fn shipped() -> [(&'static str, &'static str); 5] {
    [
        ("columns", include_str!("../../devices/columns.toml")),
        (
            "plain-lines",
            include_str!("../../devices/plain-lines.toml"),
        ),
        (
            "scpi-counter",
            include_str!("../../devices/scpi-counter.toml"),
        ),
        ("scpi-scope", include_str!("../../devices/scpi-scope.toml")),
        (
            "scpi-scope-wave",
            include_str!("../../devices/scpi-scope-wave.toml"),
        ),
    ]
}

/// A profile's text, or why it could not be read, and where it came from.
#[derive(Debug, Clone)]
struct Known {
    name: String,
    origin: String,
    text: Result<String, Arc<io::Error>>,
}

/// Why there is no such profile.
#[derive(Debug, thiserror::Error)]
pub enum CatalogueError {
    /// No profile has this name.
    #[error("no profile \"{name}\": known are {}", known.join(", "))]
    Unknown {
        /// The name asked for.
        name: String,
        /// The names there are.
        known: Vec<String>,
        /// The one of them that may be meant.
        near: Option<String>,
    },
    /// The profile has faults.
    #[error("profile {origin} has faults:\n{faults}")]
    Faulty {
        /// Its file, or `shipped`.
        origin: String,
        /// All of them.
        faults: Faults,
    },
    /// The profile's file could not be read.
    #[error("profile {origin} cannot be read: {why}")]
    Unreadable {
        /// Its file.
        origin: String,
        /// Why.
        why: Arc<io::Error>,
    },
}

/// All profiles at hand.
#[derive(Debug, Clone)]
pub struct Catalogue(Vec<Known>);

impl Default for Catalogue {
    fn default() -> Self {
        let known = |(name, text): (&str, &str)| Known {
            name: name.to_owned(),
            origin: format!("{name} (shipped)"),
            text: Ok(text.to_owned()),
        };
        Self(shipped().map(known).to_vec())
    }
}

impl Catalogue {
    /// Adds a profile of the user's own, which stands before a shipped one of the same name. `text` is its text, or why it could
    /// not be read.
    pub fn add(&mut self, name: &str, origin: &str, text: io::Result<String>) {
        self.0.insert(
            0,
            Known {
                name: name.to_owned(),
                origin: origin.to_owned(),
                text: text.map_err(Arc::new),
            },
        );
    }

    /// Files that could not be read, each with the reason: they stop nobody who records by another profile.
    pub fn unreadable(&self) -> impl Iterator<Item = (&str, &io::Error)> {
        self.0.iter().filter_map(|known| {
            let why = known.text.as_ref().err()?;
            Some((&*known.origin, &**why))
        })
    }

    /// The names, each once, in order.
    pub fn names(&self) -> Vec<String> {
        let mut names: Vec<String> = self.0.iter().map(|known| known.name.clone()).collect();
        names.sort();
        names.dedup();
        names
    }

    /// The profile of a name with the text it was read from.
    ///
    /// # Errors
    /// [`CatalogueError`] when there is none or it has faults.
    pub fn get(&self, name: &str) -> Result<(Profile, &str), CatalogueError> {
        let known = self
            .0
            .iter()
            .find(|known| known.name == name)
            .ok_or_else(|| {
                let known = self.names();
                CatalogueError::Unknown {
                    name: name.to_owned(),
                    near: nearest(name, known.iter().map(String::as_str)).map(str::to_owned),
                    known,
                }
            })?;
        let text = known
            .text
            .as_ref()
            .map_err(|why| CatalogueError::Unreadable {
                origin: known.origin.clone(),
                why: Arc::clone(why),
            })?;
        match Profile::parse(&known.name, text) {
            Ok(profile) => Ok((profile, text)),
            Err(faults) => Err(CatalogueError::Faulty {
                origin: known.origin.clone(),
                faults,
            }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_shipped_profile_is_sound_and_named_as_its_file() {
        let catalogue = Catalogue::default();
        for name in catalogue.names() {
            let (profile, _) = catalogue
                .get(&name)
                .unwrap_or_else(|error| panic!("{error}"));
            assert!(!profile.values.is_empty());
        }
    }

    #[test]
    fn a_profile_of_the_users_own_stands_before_a_shipped_one() {
        let mut catalogue = Catalogue::default();
        catalogue.add("columns", "mine/columns.toml", Ok("schema = 1".to_owned()));
        let error = catalogue.get("columns").unwrap_err().to_string();
        assert!(
            error.starts_with("profile mine/columns.toml has faults:\nline 1: name: missing"),
            "{error}"
        );
        catalogue.add(
            "plain-lines",
            "mine/plain-lines.toml",
            Err(io::Error::other("it is a pipe")),
        );
        assert_eq!(
            catalogue.get("plain-lines").unwrap_err().to_string(),
            "profile mine/plain-lines.toml cannot be read: it is a pipe"
        );
        assert_eq!(catalogue.unreadable().count(), 1);
        insta::assert_snapshot!(catalogue.get("counter").unwrap_err(),
            @r#"no profile "counter": known are columns, plain-lines, scpi-counter, scpi-scope, scpi-scope-wave"#);
    }
}

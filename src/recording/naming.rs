//! The instruments of a recording as they were named, each with its profile and its part of the connection.

use std::time::Duration;

use super::address::{Address, Place};
use crate::instrument::{Catalogue, CatalogueError, Manner, Multiplier, Profile};
use crate::reading::Channel;
use crate::session::{Clause, Connection, InstrumentMeta, LinkMeta};

/// An instrument with its profile, not yet open.
#[derive(Debug)]
pub struct Named {
    /// Its name and its place.
    pub address: Address,
    /// How it is asked and read, with the connection's factors.
    pub profile: Profile,
    /// The text of the profile.
    pub profile_text: String,
    /// The time from one row to the next.
    pub every: Duration,
}

/// Why instruments can't be recorded together as they were named.
#[derive(Debug, thiserror::Error)]
pub enum NamingError {
    /// Their rows could not be separated.
    #[error("two instruments have the label \"{0}\"")]
    OneLabel(String),
    /// A port has one reader.
    #[error("two instruments at one port: {0}")]
    OnePort(Place),
    /// A profile can't be had.
    #[error(transparent)]
    Profile(#[from] CatalogueError),
    /// The connection speaks of an input that no instrument has.
    #[error("no instrument has the input {input}: there are {}", .inputs.join(", "))]
    NoInput {
        /// That input.
        input: String,
        /// The inputs there are, with their labels.
        inputs: Vec<String>,
    },
    /// The connection speaks of an input that several instruments have.
    #[error("several instruments have an input {input}")]
    SeveralInputs {
        /// That input.
        input: String,
        /// The inputs there are, with their labels.
        inputs: Vec<String>,
    },
    /// The connection has a factor for an input whose values stay as they are.
    #[error("input {0} gives no voltage or current that a factor could apply to")]
    NoFactor(String),
}

/// Looks the profiles up and gives each its part of the connection.
///
/// # Errors
/// [`NamingError`] for the first that can't be had, or does not go with the others.
pub fn name_all(
    addresses: Vec<Address>,
    catalogue: &Catalogue,
    connection: &Connection,
    every: Option<Duration>,
) -> Result<(Vec<Named>, Vec<LinkMeta>), NamingError> {
    let mut named: Vec<Named> = Vec::new();
    for address in addresses {
        if named
            .iter()
            .any(|other| other.address.label == address.label)
        {
            return Err(NamingError::OneLabel(address.label));
        }
        let is_same_port = |other: &Named| match (&other.address.place, &address.place) {
            (Place::Serial { path, .. }, Place::Serial { path: other, .. }) => path == other,
            _ => false,
        };
        if named.iter().any(is_same_port) {
            return Err(NamingError::OnePort(address.place));
        }
        let (profile, text) = catalogue.get(&address.profile)?;
        let every = every.unwrap_or(profile.timing.every);
        named.push(Named {
            profile_text: text.to_owned(),
            profile,
            every,
            address,
        });
    }
    let clauses = connection.clauses.iter();
    let links: Result<_, _> = clauses.map(|clause| join(clause, &mut named)).collect();
    links.map(|links| (named, links))
}

/// Puts a clause's factor into the profile of the instrument that has the input.
fn join(clause: &Clause, named: &mut [Named]) -> Result<LinkMeta, NamingError> {
    let mut inputs = Vec::new();
    for one in named.iter() {
        for rule in &one.profile.values {
            let name = format!("{}:{}", one.address.label, rule.input);
            if !inputs.contains(&name) {
                inputs.push(name);
            }
        }
    }
    let input = clause.input.clone();
    let has_it = |one: &&mut Named| {
        let label = clause.label.as_ref();
        label.is_none_or(|label| *label == one.address.label)
            && one.profile.values.iter().any(|rule| rule.input == input)
    };
    let mut having = named.iter_mut().filter(has_it);
    let instrument = match (having.next(), having.next()) {
        (Some(instrument), None) => instrument,
        (None, _) => return Err(NamingError::NoInput { input, inputs }),
        (Some(_), Some(_)) => return Err(NamingError::SeveralInputs { input, inputs }),
    };
    let mut scaled_columns = Vec::new();
    let rules = instrument.profile.values.iter_mut();
    for rule in rules.filter(|rule| rule.input == input) {
        // A divider changes a voltage; it leaves a frequency as it is.
        if matches!(
            rule.channel,
            Channel::BatteryV | Channel::AmplitudeV | Channel::CurrentA
        ) {
            rule.number.multiplier = rule.number.multiplier.and(Multiplier::new(clause.factor));
            scaled_columns.push(rule.channel.column().to_owned());
        }
    }
    if scaled_columns.is_empty() && clause.factor.to_bits() != 1.0_f64.to_bits() {
        return Err(NamingError::NoFactor(input));
    }
    Ok(LinkMeta {
        instrument: instrument.address.label.clone(),
        input,
        sees: clause.sees.clone(),
        factor: clause.factor,
        scaled_columns,
    })
}

impl Named {
    /// Returns its entry in `session.toml`.
    pub fn meta(&self) -> InstrumentMeta {
        let asked = self.profile.manner == Manner::Asked;
        InstrumentMeta {
            label: self.address.label.clone(),
            profile: self.profile.name.clone(),
            address: self.address.place.to_string(),
            identity: None,
            every_s: asked.then_some(self.every.as_secs_f64()),
            gate_time: self.profile.gate_time.clone(),
            averaging: self.profile.averaging.clone(),
            clock: None,
        }
    }
}

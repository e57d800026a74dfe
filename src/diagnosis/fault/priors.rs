//! How often each fault is met before anything is read: an estimate of ours, no source, in a file that anyone may change.

use crate::faults::{self, Faults, Table};

use crate::diagnosis::evidence::History;
use crate::diagnosis::fault::{CATALOGUE, FaultId};

/// The shipped file.
pub const SHIPPED: &str = include_str!("priors.toml");

/// Weight of a fault the file does not name.
const UNNAMED: f64 = 0.005;

/// Weights of all faults in the catalogue's order; they need not add up to 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Priors {
    /// At the first switching-on.
    first: Vec<f64>,
    /// On a build that ran before.
    later: Vec<f64>,
}

impl Priors {
    /// Returns the shipped weights.
    ///
    /// # Errors
    /// [`Faults`] of the shipped file; a test holds that it has none.
    pub fn shipped() -> Result<Self, Faults> {
        let blank = Self {
            first: vec![UNNAMED; CATALOGUE.len()],
            later: vec![UNNAMED; CATALOGUE.len()],
        };
        blank.changed_by(SHIPPED)
    }

    /// Returns these weights with those that a file names in their place.
    ///
    /// # Errors
    /// [`Faults`] with every fault of the file at once.
    pub fn changed_by(&self, text: &str) -> Result<Self, Faults> {
        faults::read(text, |top| {
            let mut changed = self.clone();
            let read = |table: Option<Table<'_>>, weights: &mut [f64]| {
                let Some(table) = table else {
                    return;
                };
                for (fault, weight) in CATALOGUE.iter().zip(&mut *weights) {
                    let entry = table.entry(fault.key);
                    if let Some(found) = entry.and_then(|entry| entry.number(0.0..=1000.0)) {
                        *weight = found;
                    }
                }
                if weights.iter().all(|weight| *weight <= 0.0) {
                    let allowed = "at least one fault must have a weight above 0";
                    table.fault("no fault is left", allowed);
                }
                table.close();
            };
            read(top.table("first"), &mut changed.first);
            read(top.table("later"), &mut changed.later);
            Some(changed)
        })
    }

    /// Returns the weight of a fault.
    pub fn weight(&self, fault: FaultId, history: History) -> f64 {
        let of = |weights: &[f64]| {
            let sum: f64 = weights.iter().sum();
            weights
                .get(fault as usize)
                .map_or(0.0, |weight| weight / sum)
        };
        match history {
            History::Never => of(&self.first),
            History::Ran => of(&self.later),
            History::Unknown => 0.5 * (of(&self.first) + of(&self.later)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnosis::fault::Family;

    #[test]
    fn the_shipped_weights_are_those_of_the_estimate_by_part() {
        let priors = Priors::shipped().unwrap();
        let of = |wanted: &[&str]| -> f64 {
            CATALOGUE
                .iter()
                .filter(|fault| wanted.contains(&fault.key))
                .map(|fault| priors.weight(fault.id, History::Never))
                .sum()
        };
        let reversed = of(&["primary-reversed"]);
        let pinout = of(&["legs-ce", "legs-bc", "legs-be", "legs-bec", "legs-ecb"]);
        let enamel = of(&["foot-enamel"]);
        assert!((reversed / enamel - 0.35 / 0.20).abs() < 1e-9);
        assert!((pinout / enamel - 0.12 / 0.20).abs() < 1e-9);
        let sum: f64 = CATALOGUE
            .iter()
            .map(|fault| priors.weight(fault.id, History::Unknown))
            .sum();
        assert!((sum - 1.0).abs() < 1e-9);
        assert!(CATALOGUE[0].family == Family::Sound);
    }

    #[test]
    fn a_file_of_ones_own_changes_what_it_names_and_unknown_names_are_told() {
        let priors = Priors::shipped().unwrap();
        let mine = priors
            .changed_by("[first]\nprimary-reversed = 0\n")
            .unwrap();
        let ran = |priors: &Priors| priors.weight(FaultId::PrimaryReversed, History::Ran);
        assert!(mine.weight(FaultId::PrimaryReversed, History::Never) < 1e-12);
        assert!((ran(&mine) - ran(&priors)).abs() < 1e-12);
        let mut none = "[later]\n".to_owned();
        for fault in CATALOGUE {
            none += fault.key;
            none += " = 0\n";
        }
        let told = priors.changed_by(&none).unwrap_err();
        assert!(
            told.to_string()
                .contains("line 1: later: no fault is left: at least one fault must have"),
            "{told}"
        );
        let told = priors.changed_by("[first]\ngremlin = 1\n").unwrap_err();
        assert!(
            told.to_string()
                .contains("line 2: first.gremlin: unknown key"),
            "{told}"
        );
    }
}

//! Evidence weighed against a library: ranked causes, the readings for and against each, and those that can't be separated.

pub mod advice;
pub mod check;
pub mod checks;
pub mod concern;
pub mod likelihood;
mod repeated;
mod unknown;
mod weigh;
mod weighed;

use crate::diagnosis::evidence::{Evidence, Observation};
use crate::diagnosis::fault::Fault;
use crate::diagnosis::fault::priors::Priors;
use crate::diagnosis::library::Library;
use crate::diagnosis::quantity::{Quantity, Reading, Row};
use crate::diagnosis::situation::Situation;
pub use check::NextCheck;
use check::next_checks;
use concern::{Danger, danger};
use likelihood::{MULTIPLES, WRONG, as_multiples, likelihood, most_probable};
use unknown::odd;
use weigh::{reads, weigh};
use weighed::{NEGLIGIBLE, Weighed, picked, visible};

/// A cause in words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Belief {
    /// At least four in ten.
    Likely,
    /// At least five in a hundred.
    Possible,
    /// Less.
    Unlikely,
}

impl Belief {
    /// Creates a probability in a word.
    pub fn of(probability: f64) -> Self {
        if probability >= 0.4 {
            Self::Likely
        } else if probability >= 0.05 {
            Self::Possible
        } else {
            Self::Unlikely
        }
    }

    /// Returns the word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Likely => "likely",
            Self::Possible => "possible",
            Self::Unlikely => "unlikely",
        }
    }
}

/// The weight of a reading for or against a cause.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Support {
    /// The reading.
    pub observation: Observation,
    /// How much better than on all causes together it fits, in bits; against the cause if negative.
    pub bits: f64,
}

/// A cause with its probability.
#[derive(Debug, Clone)]
pub struct Cause {
    /// The fault.
    pub fault: &'static Fault,
    /// Its probability with all that was read.
    pub probability: f64,
    /// Its probability before.
    pub prior: f64,
    /// The readings that speak for it and against it, the weightiest first.
    pub support: Vec<Support>,
}

/// Causes that no reading of the running or dead circuit can separate.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// Places in [`Answer::causes`], the most probable first.
    pub members: Vec<usize>,
    /// Their probability together.
    pub probability: f64,
}

/// The answer.
#[derive(Debug, Clone)]
pub struct Answer {
    /// All causes, the most probable first.
    pub causes: Vec<Cause>,
    /// The same in groups, the most probable first; a cause that stands alone is a group of one.
    pub groups: Vec<Group>,
    /// The next checks, the most useful for its trouble first.
    pub next: Vec<NextCheck>,
    /// Whether the build as drawn, without any fault, is dead in most of its computed circuits.
    pub is_design_dead: bool,
    /// A frequency reading that is more probably a multiple of the circuit's own.
    pub multiple: Option<Multiple>,
    /// Whether the build has an LED to look at.
    pub has_led: bool,
    /// Why the circuit is to be switched off before anything else, if it is.
    pub danger: Option<Danger>,
}

/// A frequency read as a multiple of its true value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Multiple {
    /// The reading.
    pub observation: Observation,
    /// How many times the frequency it shows.
    pub times: f64,
    /// How probable that is.
    pub probability: f64,
}

/// How often one cause has to be taken for the other, at even odds, to be called the same: at half they can't be separated.
const ALIKE: f64 = 0.3;
/// Evidence that favours one cause by more has already separated it.
const TOLD_APART: f64 = 4.0;
/// Draws compared between two causes.
const COMPARED: usize = 24;
/// The quantities that a person can read without taking anything apart.
const POWERED: [Quantity; 7] = [
    Quantity::Current,
    Quantity::Battery,
    Quantity::Base,
    Quantity::Collector,
    Quantity::Led,
    Quantity::Lamp,
    Quantity::Frequency,
];

impl Answer {
    /// Weighs evidence against a library.
    pub fn of(library: &Library, priors: &Priors, evidence: &Evidence) -> Self {
        Self::weighed(library, priors, evidence, next_checks)
    }

    /// Returns the causes and groups alone: the next checks take longest by far.
    pub fn without_next(library: &Library, priors: &Priors, evidence: &Evidence) -> Self {
        Self::weighed(library, priors, evidence, |_, _, _| Vec::new())
    }

    fn weighed(
        library: &Library,
        priors: &Priors,
        evidence: &Evidence,
        next: fn(&Library, &Evidence, &[Weighed]) -> Vec<NextCheck>,
    ) -> Self {
        let observations = visible(library, evidence);
        let mut weighed = weigh(library, priors, evidence, &observations);
        weighed.sort_by(|a, b| b.probability.total_cmp(&a.probability));
        let next = next(library, evidence, &weighed);
        let groups = groups(library, &weighed);
        let all = reference(library, &weighed, &observations);
        let odd = odd(library, &weighed, &observations);
        let causes = weighed
            .iter()
            .map(|cause| Cause {
                fault: cause.fault,
                probability: cause.probability,
                prior: cause.prior,
                support: support(library, cause, &observations, &all, &odd),
            })
            .collect();
        Self {
            causes,
            groups,
            next,
            is_design_dead: library.dead_share() > 0.5,
            multiple: multiple(library, &weighed, &observations),
            has_led: library.has_led(),
            danger: danger(evidence, library.usual_open_v()),
        }
    }

    /// Returns the cause of that name with its place.
    pub fn cause(&self, key: &str) -> Option<(usize, &Cause)> {
        let mut found = self.causes.iter().enumerate();
        found.find(|(_, cause)| cause.fault.key == key)
    }
}

/// Returns the most probable reading of a multiple, if it is more probable than all else.
fn multiple(
    library: &Library,
    weighed: &[Weighed],
    observations: &[Observation],
) -> Option<Multiple> {
    let read = observations.iter().filter_map(|seen| match seen.reading {
        Reading::Value { value, tolerance } if seen.quantity == Quantity::Frequency => {
            Some((seen, value, tolerance))
        }
        _ => None,
    });
    let all = read.flat_map(|(seen, value, tolerance)| {
        let mut sums = [0.0; MULTIPLES.len()];
        for cause in weighed {
            let rows = library.rows(cause.place, seen.situation);
            for (row, weight) in rows.iter().zip(&cause.draws) {
                let whole = likelihood(seen.quantity, seen.reading, row);
                let shares = as_multiples(value, tolerance, row);
                for (sum, share) in sums.iter_mut().zip(shares) {
                    *sum += cause.probability * weight * (1.0 - WRONG) * share / whole;
                }
            }
        }
        MULTIPLES
            .into_iter()
            .zip(sums)
            .map(|((times, _), probability)| Multiple {
                observation: *seen,
                times,
                probability,
            })
    });
    all.filter(|one| one.probability > 0.5)
        .max_by(|a, b| a.probability.total_cmp(&b.probability))
}

/// Returns the mean likelihood of each reading over all causes as they stood before.
fn reference(library: &Library, weighed: &[Weighed], observations: &[Observation]) -> Vec<f64> {
    let mut sums = vec![0.0; observations.len()];
    for cause in weighed.iter().filter(|cause| !cause.draws.is_empty()) {
        let reads = reads(library, cause.place, observations);
        for (sum, read) in sums.iter_mut().zip(reads) {
            *sum += cause.prior * read.mean();
        }
    }
    sums
}

fn support(
    library: &Library,
    cause: &Weighed,
    observations: &[Observation],
    all: &[f64],
    odd: &[f64],
) -> Vec<Support> {
    let reads = reads(library, cause.place, observations);
    let mut support: Vec<Support> = reads
        .iter()
        .zip(all)
        .zip(odd)
        .map(|((read, all), odd)| Support {
            observation: *read.seen,
            bits: if cause.draws.is_empty() {
                odd.max(f64::MIN_POSITIVE).log2()
            } else {
                (read.mean() / all.max(f64::MIN_POSITIVE)).log2()
            },
        })
        .collect();
    support.sort_by(|a, b| b.bits.abs().total_cmp(&a.bits.abs()));
    support
}

/// Returns causes joined to the first more probable one that can't be separated from them.
fn groups(library: &Library, weighed: &[Weighed]) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    for (place, cause) in weighed.iter().enumerate() {
        let joined = groups.iter_mut().find(|group| {
            let leader = group.members.first().and_then(|&first| weighed.get(first));
            cause.probability > NEGLIGIBLE
                && leader.is_some_and(|leader| is_alike(library, leader, cause))
        });
        match joined {
            Some(group) => {
                group.members.push(place);
                group.probability += cause.probability;
            }
            None => groups.push(Group {
                members: vec![place],
                probability: cause.probability,
            }),
        }
    }
    groups.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    groups
}

/// Whether neither the evidence nor any reading of the powered circuit separates two causes.
fn is_alike(library: &Library, a: &Weighed, b: &Weighed) -> bool {
    let ratio = a.likelihood / b.likelihood.max(f64::MIN_POSITIVE);
    if !(1.0 / TOLD_APART..=TOLD_APART).contains(&ratio) {
        return false;
    }
    let rows = |cause: &Weighed| -> Vec<Row> {
        picked(&cause.draws, COMPARED)
            .into_iter()
            .filter_map(|draw| {
                library
                    .rows(cause.place, Situation::AsFound)
                    .get(draw)
                    .copied()
            })
            .collect()
    };
    let (of_a, of_b) = (rows(a), rows(b));
    f64::midpoint(taken_for(&of_a, &of_b), taken_for(&of_b, &of_a)) > ALIKE
}

/// Returns how often a circuit of the first cause is taken for one of the second, both at even odds.
fn taken_for(own: &[Row], other: &[Row]) -> f64 {
    let of = |rows: &[Row], readings: &[(Quantity, Reading)]| -> f64 {
        rows.iter()
            .map(|row| {
                readings
                    .iter()
                    .map(|(quantity, reading)| likelihood(*quantity, *reading, row))
                    .product::<f64>()
            })
            .sum::<f64>()
            / rows.len().max(1) as f64
    };
    let sum: f64 = own
        .iter()
        .enumerate()
        .map(|(left_out, row)| {
            let readings: Vec<_> = POWERED
                .into_iter()
                .filter_map(|quantity| Some((quantity, most_probable(quantity, row)?)))
                .collect();
            // A circuit always fits itself: it is left out of its own cause.
            let rest: Vec<Row> = own
                .iter()
                .enumerate()
                .filter(|(index, _)| *index != left_out)
                .map(|(_, row)| *row)
                .collect();
            let (same, others) = (of(&rest, &readings), of(other, &readings));
            others / (same + others).max(f64::MIN_POSITIVE)
        })
        .sum();
    sum / own.len().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn draws_are_picked_in_proportion_to_their_weights() {
        assert_eq!(picked(&[0.5, 0.0, 0.25, 0.25], 4), [0, 0, 2, 3]);
    }
}

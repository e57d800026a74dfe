//! Every fault of the library weighed by the readings, draw by draw.

use super::repeated::Read;
use super::unknown::Unknown;
use super::weighed::Weighed;
use crate::diagnosis::evidence::{Evidence, History, Observation, SoundLed};
use crate::diagnosis::fault::priors::Priors;
use crate::diagnosis::fault::{CATALOGUE, Family, Fault, FaultId, fault};
use crate::diagnosis::library::Library;
use crate::diagnosis::situation::Situation;

/// How often somebody whose design can't start has made no fault besides, over how often one has (chosen).
const DESIGN_ALONE: f64 = 2.0;

/// Returns the gain in weight of a build without a fault, in weights of all faults together, if most of its computed circuits are
/// dead. Such a build stays dark without any fault, which the shipped weights are not made for. A build that ran is none of
/// these.
fn design_weight(library: &Library, history: History) -> f64 {
    let dead = (2.0 * library.dead_share() - 1.0).max(0.0);
    match history {
        History::Never => DESIGN_ALONE * dead,
        History::Unknown => 0.5 * DESIGN_ALONE * dead,
        History::Ran => 0.0,
    }
}

/// Returns every fault of the library with its probability.
pub(super) fn weigh(
    library: &Library,
    priors: &Priors,
    evidence: &Evidence,
    observations: &[Observation],
) -> Vec<Weighed> {
    let mut weighed: Vec<Weighed> = Vec::new();
    let mut unknown = Unknown::new(observations);
    let usual = usual_draws(library, evidence);
    for (place, shown) in library.shown.iter().enumerate() {
        let Some(fault) = fault(&shown.key) else {
            continue;
        };
        let mut prior = priors.weight(fault.id, evidence.history);
        if fault.family == Family::Sound {
            prior += design_weight(library, evidence.history);
        }
        let mut draws = usual.clone();
        let reads = reads(library, place, observations);
        for (draw, weight) in draws.iter_mut().enumerate() {
            let each: Vec<f64> = reads.iter().map(|read| read.likelihood(draw)).collect();
            let own = prior * *weight;
            *weight *= each.iter().product::<f64>();
            unknown.add(own, &each);
        }
        let sum: f64 = draws.iter().sum();
        for weight in &mut draws {
            *weight /= sum.max(f64::MIN_POSITIVE);
        }
        weighed.push(Weighed {
            place,
            fault,
            prior,
            probability: prior * sum,
            likelihood: sum,
            draws,
        });
    }
    weighed.extend(none_of_these(priors, evidence.history, &unknown));
    if evidence.supply_step_v.is_some() {
        for one in &mut weighed {
            one.probability *= step_likelihood(one.fault);
            one.likelihood *= step_likelihood(one.fault);
        }
    }
    let (all, prior): (f64, f64) = weighed.iter().fold((0.0, 0.0), |(p, q), one| {
        (p + one.probability, q + one.prior)
    });
    for one in &mut weighed {
        one.probability /= all.max(f64::MIN_POSITIVE);
        one.prior /= prior.max(f64::MIN_POSITIVE);
    }
    weighed
}

/// Returns how probable a step down of the battery's voltage within a run is: a converter's output steps, once before its end; a
/// battery without one sags, and a fault in the circuit ends the run (common practice, no source; the weights are assumed).
fn step_likelihood(fault: &Fault) -> f64 {
    if fault.id.is_of_converter() {
        0.5
    } else if fault.family == Family::Unknown {
        0.1
    } else {
        0.02
    }
}

/// How often a build whose sound circuit would stay dark is met, over one whose circuit runs as such builds do (chosen). It
/// counts where nothing is known, and never where the build ran.
const DARK_BY_DESIGN: f64 = 0.1;

/// Returns the weight of each draw before anything was read, adding up to 1. Draws whose parts make a sound circuit that runs as
/// such builds do, with its LED lit, count; the others hardly do. All count alike where hardly any draw does, or where there is
/// no LED.
fn usual_draws(library: &Library, evidence: &Evidence) -> Vec<f64> {
    let count = library.rows(0, Situation::AsFound).len();
    let even = vec![1.0 / count.max(1) as f64; count];
    let lit = library.lit_draws();
    let fits: Vec<f64> = match evidence.sound_led {
        SoundLed::Lit => lit,
        SoundLed::Dark => lit.iter().map(|lit| 1.0 - lit).collect(),
        SoundLed::Usual if evidence.history == History::Ran => lit,
        SoundLed::Usual => lit
            .iter()
            .map(|lit| DARK_BY_DESIGN + (1.0 - DARK_BY_DESIGN) * lit)
            .collect(),
    };
    let all: f64 = fits.iter().sum();
    if fits.len() != count || all < LEAST_FIT * count as f64 {
        return even;
    }
    fits.iter().map(|fit| fit / all).collect()
}

/// Share of draws that have to be as said, below which the statement is not used: the model has such circuits hardly ever
/// (chosen).
const LEAST_FIT: f64 = 0.02;

/// Returns the readings of a case on the draws of a fault.
pub(super) fn reads<'a>(
    library: &'a Library,
    place: usize,
    observations: &'a [Observation],
) -> Vec<Read<'a>> {
    observations
        .iter()
        .map(|seen| Read::of(library, place, seen, observations))
        .collect()
}

/// Returns the cause that is none of the library's.
fn none_of_these(priors: &Priors, history: History, unknown: &Unknown) -> Option<Weighed> {
    let fault = CATALOGUE.get(FaultId::NoneOfThese as usize)?;
    let prior = priors.weight(fault.id, history);
    let likelihood = unknown.likelihood();
    Some(Weighed {
        place: usize::MAX,
        fault,
        prior,
        probability: prior * likelihood,
        likelihood,
        draws: Vec::new(),
    })
}

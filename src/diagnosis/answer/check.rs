//! The next check: the one that narrows the list most for its trouble.

use super::advice::runs_in;
use super::checks::{CHECKS, Check, CheckId, WITHOUT_LED};
use super::concern::danger;
use super::likelihood::{likelihood, most_probable};
use super::repeated::{again, before, most_probable_again, rows_of};
use super::weighed::{NEGLIGIBLE, Weighed, picked, visible};
use crate::diagnosis::evidence::{Evidence, History, Observation};
use crate::diagnosis::fault::FaultId;
use crate::diagnosis::library::Library;
use crate::diagnosis::quantity::{Quantity, Reading, Row, Seen};
use crate::diagnosis::situation::Situation;

/// A check with the amount by which it is expected to narrow the list.
#[derive(Debug, Clone, Copy)]
pub struct NextCheck {
    /// The check.
    pub check: &'static Check,
    /// Expected fall of the entropy of the causes, in bits.
    pub gain_bits: f64,
}

impl NextCheck {
    /// Returns its worth for the trouble.
    pub fn worth(&self) -> f64 {
        self.gain_bits / self.check.trouble
    }
}

/// Among this many first checks a dark build is to have its primary's wires swapped.
const SWAP_AMONG: usize = 2;
/// The swap is the first check while a reversed primary is at least this probable: it needs no meter, and it is the cure
/// (chosen).
const SWAP_CURES: f64 = 0.25;

/// Returns every check of a build, with an LED to look at or without.
pub const fn checks(has_led: bool) -> &'static [Check] {
    if has_led { CHECKS } else { WITHOUT_LED }
}

/// Returns that check for a build with an LED to look at or without.
pub fn check(id: CheckId, has_led: bool) -> Option<&'static Check> {
    checks(has_led).iter().find(|check| check.id == id)
}

/// Draws of a cause that stand for all of them.
const STAND_FOR: usize = 24;
/// Outcomes of a check tried for each cause.
const OUTCOMES: usize = 8;
/// A check that is worth less is not proposed, in bits.
const LEAST_BITS: f64 = 0.01;

/// A quantity of a check on a cause: its rows, and its reading in another situation.
struct Reads<'a> {
    quantity: Quantity,
    rows: &'a [Row],
    before: Option<(Reading, &'a [Row])>,
}

impl Reads<'_> {
    fn before(&self, draw: usize) -> Option<(Reading, &Row)> {
        let (reading, rows) = self.before?;
        Some((reading, rows.get(draw)?))
    }

    /// Returns the reading that a draw would most probably give.
    fn most_probable(&self, draw: usize) -> Option<Reading> {
        let row = self.rows.get(draw)?;
        match self.before(draw) {
            Some(first) => most_probable_again(self.quantity, first, row),
            None => most_probable(self.quantity, row),
        }
    }

    fn likelihood(&self, reading: Reading, draw: usize) -> f64 {
        let Some(row) = self.rows.get(draw) else {
            return 1.0;
        };
        match self.before(draw) {
            Some(first) => again(self.quantity, first, (reading, row)),
            None => likelihood(self.quantity, reading, row),
        }
    }
}

/// A cause with the draws that stand for it in a check.
struct Standing<'a> {
    probability: f64,
    draws: Vec<usize>,
    reads: Vec<Reads<'a>>,
}

/// Returns all checks not made yet that are worth something, the most for their trouble first.
pub(super) fn next_checks(
    library: &Library,
    evidence: &Evidence,
    weighed: &[Weighed],
) -> Vec<NextCheck> {
    let open: Vec<&Weighed> = weighed
        .iter()
        // A cause outside the catalogue has no circuit to try a check on.
        .filter(|cause| cause.probability > NEGLIGIBLE && !cause.draws.is_empty())
        .collect();
    let has_led = library.has_led();
    let is_dangerous = danger(evidence, library.usual_open_v()).is_some();
    let is_allowed = |check: &&Check| {
        let is_put_back = check.id == CheckId::SwappedCurrent && evidence.steps.is_put_back;
        let is_too_early = check.unsolders() && evidence.asks_history();
        !(is_put_back || is_too_early || is_dangerous && !check.is_unpowered())
    };
    let seen = visible(library, evidence);
    let mut next: Vec<NextCheck> = checks(has_led)
        .iter()
        .filter(is_allowed)
        .filter_map(|check| {
            let reads: Vec<Quantity> = check
                .reads
                .iter()
                .copied()
                .filter(|&quantity| evidence.reading(check.situation, quantity).is_none())
                .collect();
            let was_tried =
                check.situation != Situation::AsFound && tried(evidence, check.situation);
            if reads.is_empty() || was_tried != (check.id == CheckId::SwappedCurrent) {
                return None;
            }
            let gain_bits = gain_bits(library, &seen, (check.situation, &reads), &open);
            (gain_bits > LEAST_BITS).then_some(NextCheck { check, gain_bits })
        })
        .collect();
    next.sort_by(|a, b| b.worth().total_cmp(&a.worth()));
    if wants_swap(evidence, has_led) && !is_dangerous {
        let reversed = open
            .iter()
            .find(|cause| cause.fault.id == FaultId::PrimaryReversed);
        let cures = reversed.is_some_and(|cause| cause.probability >= SWAP_CURES);
        let among = if cures { 1 } else { SWAP_AMONG };
        bring_first(&mut next, (CheckId::SwapLeads, has_led, among), |check| {
            gain_bits(library, &seen, (check.situation, check.reads), &open)
        });
    }
    if is_something_near(evidence) && !is_dangerous {
        bring_first(&mut next, (CheckId::HandsAway, has_led, 1), |check| {
            gain_bits(library, &seen, (check.situation, check.reads), &open)
        });
    }
    next
}

/// Whether anything was read in a situation.
pub fn tried(evidence: &Evidence, situation: Situation) -> bool {
    let mut seen = evidence.observations.iter();
    seen.any(|seen| seen.situation == situation && !seen.quantity.is_unpowered())
}

/// Whether the primary's wires are to be swapped before all else (common practice, no source). That is so if the LED is dark, or
/// a lamp where there is no LED. The wires were not swapped, and nothing says that the build ran or oscillates now.
fn wants_swap(evidence: &Evidence, has_led: bool) -> bool {
    let light = if has_led {
        Quantity::Led
    } else {
        Quantity::Lamp
    };
    let found = Situation::AsFound;
    evidence.reading(found, light) == Some(Reading::Seen(Seen::Dark))
        && !runs_in(evidence, found)
        && evidence.history != History::Ran
        && !tried(evidence, Situation::LeadsSwapped)
}

/// Whether something was said to be near and was not taken away yet: that comes before all else (common practice, no source).
fn is_something_near(evidence: &Evidence) -> bool {
    let near = evidence.reading(Situation::AsFound, Quantity::Near);
    matches!(near, Some(Reading::Seen(seen)) if seen != Seen::Nothing)
        && !tried(evidence, Situation::HandsAway)
}

/// Brings a check among this many first ones, however little it narrows.
fn bring_first(
    next: &mut Vec<NextCheck>,
    (id, has_led, among): (CheckId, bool, usize),
    gain_bits: impl Fn(&Check) -> f64,
) {
    let Some(check) = check(id, has_led) else {
        return;
    };
    let place = next.iter().position(|one| one.check.id == id);
    let first = match place {
        Some(place) if place < among => return,
        Some(place) => next.remove(place),
        None => NextCheck {
            check,
            gain_bits: gain_bits(check).max(0.0),
        },
    };
    next.insert(next.len().min(among - 1), first);
}

/// Returns the expected fall of the entropy of the causes by reading quantities in a situation, beside the readings so far, in
/// bits.
fn gain_bits(
    library: &Library,
    seen: &[Observation],
    (situation, quantities): (Situation, &[Quantity]),
    open: &[&Weighed],
) -> f64 {
    let all: f64 = open.iter().map(|cause| cause.probability).sum();
    let reads = |cause: &Weighed, quantity: Quantity| {
        let rows = |situation| library.rows(cause.place, rows_of(quantity, situation));
        let own = rows(situation);
        let before = before(quantity, situation, own, seen, |known| {
            rows(known.situation)
        });
        Reads {
            quantity,
            rows: own,
            before: before.map(|(known, rows)| (known.reading, rows)),
        }
    };
    let standing: Vec<Standing<'_>> = open
        .iter()
        .map(|cause| Standing {
            probability: cause.probability / all,
            draws: picked(&cause.draws, STAND_FOR),
            reads: quantities.iter().map(|&q| reads(cause, q)).collect(),
        })
        .collect();
    let before = entropy_bits(standing.iter().map(|cause| cause.probability));
    let mut after = 0.0;
    for cause in &standing {
        let each = (cause.draws.len() / OUTCOMES).max(1);
        let outcomes: Vec<usize> = cause.draws.iter().copied().step_by(each).collect();
        for &outcome in &outcomes {
            let readings: Vec<Option<Reading>> = cause
                .reads
                .iter()
                .map(|read| read.most_probable(outcome))
                .collect();
            let share = cause.probability / outcomes.len() as f64;
            after += share * remaining_bits(&standing, &readings);
        }
    }
    before - after
}

/// Returns the entropy of the causes once a check came out so.
fn remaining_bits(standing: &[Standing<'_>], readings: &[Option<Reading>]) -> f64 {
    let weights: Vec<f64> = standing
        .iter()
        .map(|cause| {
            let sum: f64 = cause
                .draws
                .iter()
                .map(|&draw| {
                    let each = cause.reads.iter().zip(readings);
                    each.filter_map(|(read, reading)| Some(read.likelihood((*reading)?, draw)))
                        .product::<f64>()
                })
                .sum();
            cause.probability * sum / cause.draws.len().max(1) as f64
        })
        .collect();
    let all: f64 = weights.iter().sum();
    entropy_bits(
        weights
            .iter()
            .map(|weight| weight / all.max(f64::MIN_POSITIVE)),
    )
}

fn entropy_bits(probabilities: impl Iterator<Item = f64>) -> f64 {
    probabilities
        .filter(|p| *p > 0.0)
        .map(|p| -p * p.log2())
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn even_odds_are_one_bit_and_certainty_is_none() {
        assert!((entropy_bits([0.5, 0.5].into_iter()) - 1.0).abs() < 1e-12);
        assert!(entropy_bits([1.0, 0.0].into_iter()).abs() < 1e-12);
    }
}

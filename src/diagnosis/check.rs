//! What to look at next: the check that is expected to tell the most for its trouble.

use super::answer::{NEGLIGIBLE, Weighed, picked};
use super::evidence::{Evidence, History, Observation};
use super::library::Library;
use super::likelihood::{likelihood, most_probable};
use super::quantity::{Quantity, Reading, Row, Seen};
use super::repeated::{again, before, most_probable_again, rows_of};
use super::situation::Situation;

/// A check that can be made.
#[derive(Debug, Clone, Copy)]
pub struct Check {
    /// Its name in files.
    pub key: &'static str,
    /// In words, as a thing to do.
    pub words: &'static str,
    /// How, and what to mind.
    pub how: &'static str,
    /// The caution that goes with it; empty where none does.
    pub caution: &'static str,
    /// How the circuit stands.
    pub situation: Situation,
    /// What is read.
    pub reads: &'static [Quantity],
    /// Trouble, swapping two wires being 1 (own estimate).
    pub trouble: f64,
}

/// A check with what it is expected to tell.
#[derive(Debug, Clone, Copy)]
pub struct NextCheck {
    /// The check.
    pub check: &'static Check,
    /// Expected fall of the entropy of the causes, in bits.
    pub gain_bits: f64,
}

impl NextCheck {
    /// What it tells for its trouble.
    pub fn worth(&self) -> f64 {
        self.gain_bits / self.check.trouble
    }
}

const POWER_OFF: &str = "battery out before ohms and diode tests";
const LIMITED: &str =
    "a supply that limits to 0.5 A, or a fresh battery for a moment; never a hand on the coil";
const OFF_FIRST: &str = "battery out before a wire is moved";
const NOT_AT_TOP: &str =
    "never a probe or finger on the top; a loop three coil lengths away picks up enough";

/// The first thing to try with a dark LED.
const SWAP: &str = "swap-leads";
/// What is read once the wires are swapped and the LED has said little.
const SWAPPED_ALREADY: &str = "swapped-current";
/// Among so many first checks a dark LED is told to swap the primary's wires.
const SWAP_AMONG: usize = 2;

/// Every check that is known here.
#[rustfmt::skip]
pub const CHECKS: &[Check] = {
    use Quantity as Q;
    use Situation as S;
    const fn check(
        (key, trouble): (&'static str, f64), situation: Situation, reads: &'static [Quantity],
        words: &'static str, how: &'static str, caution: &'static str,
    ) -> Check {
        Check { key, words, how, caution, situation, reads, trouble }
    }
    &[
        check(("look-led", 0.3), S::AsFound, &[Q::Led], "look at the LED",
            "switch on for a second and look: dark, faint or lit", ""),
        check(("look-lamp", 0.5), S::AsFound, &[Q::Lamp], "hold a neon lamp or tube beside the top",
            "by its glass, at arm's length of the rest; dark, lit only touching the glass to the wire's side, or lit beside it",
            "never nearer than the lamp's own length"),
        check(("swap-leads", 1.0), S::LeadsSwapped, &[Q::Led], "swap the two primary wires",
            "the wire at the collector goes to plus and the one at plus to the collector; switch on and look at the LED",
            OFF_FIRST),
        check((SWAPPED_ALREADY, 1.2), S::LeadsSwapped, &[Q::Current, Q::Lamp],
            "with the wires as they are now, swapped: the supply current and a neon beside the top",
            "where a lit LED may be too faint to see, these say whether it runs; meter in the plus lead, the lamp by its glass",
            LIMITED),
        check(("hands-away", 0.4), S::HandsAway, &[Q::Led, Q::Frequency], "hands, lamps and metal away",
            "nothing within three coil lengths of the top, the battery on the table and not in a hand", ""),
        check(("what-is-near", 0.4), S::AsFound, &[Q::Near], "what touches it or stands near",
            "a hand on the battery's case, a finger on the base's wire, somebody, a lamp or metal beside the top: as it is when it fails",
            "from a metre away; let nobody touch the base's wire or the top to try it: RF burns"),
        check(("battery-open", 0.4), S::AsFound, &[Q::BatteryOpen], "the battery's voltage, nothing joined",
            "at its clips, circuit unplugged", ""),
        check(("battery-loaded", 0.7), S::AsFound, &[Q::Battery], "the battery's voltage while it is switched on",
            "meter at the battery's clips, its leads away from the coil", ""),
        check(("current", 1.0), S::AsFound, &[Q::Current], "the supply current",
            "meter in the plus lead, on its ampere range first; ten seconds on at most", LIMITED),
        check(("heat", 0.5), S::AsFound, &[Q::Heat], "whether the transistor becomes hot",
            "ten seconds on, switch off, battery out; never a finger. Hot: it smells, has discoloured, or a drop of water on its case hisses or \
             is gone within seconds. With an infrared thermometer on a spot of dull tape: cold below 40 °C, hot above 90 °C, warm between. \
             Neither to hand: unknown",
            "it may be hot enough to burn; a metal case or tab is the collector"),
        check(("base-collector", 0.9), S::AsFound, &[Q::Base, Q::Collector], "base and collector against minus",
            "with the secondary's foot in place, ten seconds on at most; of use only while nothing oscillates", NOT_AT_TOP),
        check(("frequency", 1.5), S::AsFound, &[Q::Frequency], "the frequency, or that there is none",
            "a loop of wire three coil lengths away on a counter or scope", NOT_AT_TOP),
        check(("foot-ohms", 0.7), S::AsFound, &[Q::FootToTop], "ohms from the base's joint to the top's wire end",
            "one lead on the solder at the base, one on the bare end at the top", POWER_OFF),
        check(("wire-ohms", 0.8), S::AsFound, &[Q::WireToTop], "ohms from the bared wire behind the foot joint to the top",
            "bare the enamel 5 mm further along the wire and touch there, not on the solder", POWER_OFF),
        check(("base-diodes", 0.9), S::AsFound, &[Q::BaseTest, Q::BaseTestBack], "diode test from base to minus, both ways",
            "red on base shows the transistor, black on base the diode beside it", POWER_OFF),
        check(("transistor-diodes", 1.0), S::AsFound, &[Q::CollectorTest, Q::AcrossTest],
            "diode test from base to collector and from collector to minus",
            "about 0.65 V and nothing in a sound one", POWER_OFF),
        check(("led-out", 1.5), S::AsFound, &[Q::LedTest], "diode test of the LED lifted out",
            "unsolder one of its legs; red on the anode, the longer leg: a red one shows about 1.6 V and glows", POWER_OFF),
        check(("primary-ohms", 0.7), S::AsFound, &[Q::Primary], "ohms across the primary",
            "less than half an ohm if it is whole", POWER_OFF),
        check(("bias-ohms", 0.7), S::AsFound, &[Q::Bias], "ohms from plus to base",
            "red on plus; about the bias resistor's value", POWER_OFF),
        check(("ring", 3.0), S::AsFound, &[Q::RingFrequency, Q::RingQ], "ring test of the secondary",
            "ping it through a loop with a square wave, look with another loop: its frequency and how fast it dies away", POWER_OFF),
        check(("fresh-battery", 1.0), S::FreshBattery, &[Q::Led, Q::Battery], "a fresh battery",
            "look at the LED and read its voltage switched on", ""),
        check(("primary-on-foot", 1.0), S::PrimaryOnFoot, &[Q::Led], "push the primary onto the foot",
            "as low and as close round the secondary as it goes, then look at the LED", OFF_FIRST),
        check(("ball-on-top", 1.2), S::BallOnTop, &[Q::Led], "a 10-20 mm metal ball on the top",
            "set it on with the battery out; the coil then resonates lower, where the transistor is quicker",
            "hands off it once the battery is in: it burns"),
        check(("nudge", 1.2), S::Nudged, &[Q::Led], "10 kΩ beside the bias resistor for a second",
            "bridge the bias resistor with it, on two insulated test leads, and take it away: if the LED stays lit, the circuit is marginal, not faulty",
            "one hand, insulated lead, nothing near the coil"),
        check(("other-transistor", 5.0), S::OtherTransistor, &[Q::Led], "another transistor of the same type",
            "the same pinout", OFF_FIRST),
    ]
};

/// The check of that name.
pub fn check(key: &str) -> Option<&'static Check> {
    CHECKS.iter().find(|check| check.key == key)
}

/// Draws of a cause that stand for all of them.
const STAND_FOR: usize = 24;
/// Outcomes of a check tried for each cause.
const OUTCOMES: usize = 8;
/// A check that tells less is not proposed, in bits.
const LEAST_BITS: f64 = 0.01;

/// A quantity of a check on a cause: its rows, and what was read of it in another situation.
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

    /// The reading that a draw would most probably give.
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

/// All checks not made yet that tell something, the most telling for their trouble first.
pub(super) fn next_checks(
    library: &Library,
    evidence: &Evidence,
    weighed: &[Weighed],
) -> Vec<NextCheck> {
    let open: Vec<&Weighed> = weighed
        .iter()
        // What is not in the catalogue has no circuit to try a check on.
        .filter(|cause| cause.probability > NEGLIGIBLE && !cause.draws.is_empty())
        .collect();
    let seen = evidence.weighed();
    let mut next: Vec<NextCheck> = CHECKS
        .iter()
        .filter_map(|check| {
            let reads: Vec<Quantity> = check
                .reads
                .iter()
                .copied()
                .filter(|&quantity| evidence.reading(check.situation, quantity).is_none())
                .collect();
            let was_tried =
                check.situation != Situation::AsFound && tried(evidence, check.situation);
            if reads.is_empty() || was_tried != (check.key == SWAPPED_ALREADY) {
                return None;
            }
            let gain_bits = gain_bits(library, &seen, (check.situation, &reads), &open);
            (gain_bits > LEAST_BITS).then_some(NextCheck { check, gain_bits })
        })
        .collect();
    next.sort_by(|a, b| b.worth().total_cmp(&a.worth()));
    if wants_swap(evidence) {
        swap_first(&mut next, |check| {
            gain_bits(library, &seen, (check.situation, check.reads), &open)
        });
    }
    next
}

/// Whether anything was read in a situation.
pub(super) fn tried(evidence: &Evidence, situation: Situation) -> bool {
    let mut seen = evidence.observations.iter();
    seen.any(|seen| seen.situation == situation && !seen.quantity.is_unpowered())
}

/// Whether the primary's wires are to be swapped before all else: the LED is dark, they were not swapped, and nothing says
/// that the build ran or oscillates now (common practice, no source).
fn wants_swap(evidence: &Evidence) -> bool {
    let is = |quantity, seen| {
        evidence.reading(Situation::AsFound, quantity) == Some(Reading::Seen(seen))
    };
    let value = |quantity| {
        matches!(
            evidence.reading(Situation::AsFound, quantity),
            Some(Reading::Value { .. })
        )
    };
    let oscillates = is(Quantity::Lamp, Seen::Near)
        || is(Quantity::Lamp, Seen::Touching)
        || value(Quantity::Frequency)
        || value(Quantity::FrequencyRatio);
    is(Quantity::Led, Seen::Dark)
        && !oscillates
        && evidence.history != History::Ran
        && !tried(evidence, Situation::LeadsSwapped)
}

/// Brings the swap among the first checks, however little it tells.
fn swap_first(next: &mut Vec<NextCheck>, gain_bits: impl Fn(&Check) -> f64) {
    let Some(check) = check(SWAP) else { return };
    let place = next.iter().position(|one| one.check.key == SWAP);
    let swap = match place {
        Some(place) if place < SWAP_AMONG => return,
        Some(place) => next.remove(place),
        None => NextCheck {
            check,
            gain_bits: gain_bits(check).max(0.0),
        },
    };
    next.insert(next.len().min(SWAP_AMONG - 1), swap);
}

/// Expected fall of the entropy of the causes by reading quantities in a situation, beside what was read, in bits.
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

/// Entropy of the causes once a check came out so.
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

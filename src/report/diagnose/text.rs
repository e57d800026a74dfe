//! A diagnosis as text: ranked causes, the readings for and against them, the next best check.

use std::fmt::Write as _;

use crate::caution::Caution;
use crate::diagnosis::advice::{self};
use crate::diagnosis::answer::{Answer, Belief, Cause, Group, Multiple, Support};
use crate::diagnosis::check::NextCheck;
use crate::diagnosis::checks::CheckId;
use crate::diagnosis::concern::Concern;
use crate::diagnosis::evidence::{Evidence, Observation};
use crate::diagnosis::fault::Family;
use crate::diagnosis::quantity::{Quantity, Reading};
use crate::diagnosis::situation::Situation;
use crate::units::{Unit, rounded};

use super::session;
use super::told::Told;
use crate::report::hazards;
use crate::report::layout::{line, told, under, wrapped};

/// The answer where somebody reports how a diode glows that does not.
const NO_LED: &str = "the diode at this sheet's base never glows, so how it looks is not weighed: hold a neon beside the top, or set base_diode in \
     the sheet";
/// The answer where a circuit was touched that runs without.
const TOUCHED_RUNNING: &str = "a hand on the circuit stops most builds that run (common practice, no source), so what it did is not weighed";
/// The question before anything is unsoldered.
const HISTORY: &str = "say whether this build has ever run: --ran-before yes, or --ran-before never; nothing is unsoldered before that";
/// The advice once the primary's wires were swapped in vain.
const PUT_BACK: &str = "put the two primary wires back as they were, battery out: swapped they did not help. What is read then is as found again, \
     so its name has no swapped. before it";
/// The note once it runs with them swapped.
const SWAPPED_NOW: &str = "the wires stay swapped, so readings from now on have swapped. before their name: -r swapped.current=300mA";

/// Causes shown with their evidence at most, and in all.
const SHOWN: (usize, usize) = (4, 8);
/// Causes below this are summed up.
const LEAST: f64 = 0.01;
/// Causes of a group that are named however improbable each is.
const NAMED_AT_LEAST: usize = 3;
/// A reading that is worth less is not named, in bits.
const TELLING_BITS: f64 = 0.5;
/// Readings named for or against a cause.
const NAMED: usize = 4;
/// Checks proposed.
const PROPOSED: usize = 4;

/// A diagnosis as it is read at a bench.
pub fn text(told_of: &Told<'_>) -> String {
    let Told {
        build,
        evidence,
        answer,
        is_reversed,
        starts,
        run,
        hazards,
        ..
    } = *told_of;
    let mut out = String::new();
    if let Some(danger) = &answer.danger {
        wrapped(&mut out, 0, &hazards::switch_off(danger));
        out.push('\n');
    }
    // Writing to a String cannot fail.
    writeln!(out, "{build}\n").ok();
    hazards::section(&mut out, hazards);
    if is_reversed {
        wrapped(
            &mut out,
            0,
            "As the sheet has it, the primary works against the base: look at its senses and its collector end first.",
        );
        out.push('\n');
    }
    if !starts {
        wrapped(
            &mut out,
            0,
            "With typical parts this build is not expected to start as drawn: sagtrace predict says what it lacks.",
        );
        out.push('\n');
    }
    if let Some((findings, thresholds)) = run {
        if let Some(words) = told_of.other_battery {
            told(&mut out, "battery", words);
        }
        out.push_str(&session::text(findings, *thresholds));
    }
    readings(&mut out, evidence, answer);
    findings(&mut out, &told_of.concerns());
    causes(&mut out, told_of);
    next(&mut out, evidence, answer);
    priors(&mut out, answer);
    out.push_str("\nto mind\n");
    for caution in CAUTIONS {
        wrapped(&mut out, 2, caution.words());
    }
    wrapped(&mut out, 2, MODELLED);
    out
}

/// The dangers at such a bench.
const CAUTIONS: [Caution; 9] = [
    Caution::Touch,
    Caution::Probe,
    Caution::Stub,
    Caution::FirstPower,
    Caution::Unplug,
    Caution::HotParts,
    Caution::Implants,
    Caution::Toy,
    Caution::CodesFirst,
];

/// The basis of the answer.
const MODELLED: &str =
    "modelled, not measured: parts as builds of this kind leave them (common practice, no source)";

/// A reading as a person would say it.
pub(super) fn reading_words(seen: &Observation) -> String {
    let form = seen.quantity.form();
    let value = match seen.reading {
        Reading::Seen(word) => word.word().to_owned(),
        Reading::Value { value, tolerance } => {
            let number = |value: f64| {
                form.unit
                    .map_or_else(|| format!("{value:.3}"), |unit| rounded(value, unit, 4))
            };
            let shown = if seen.quantity.is_change() {
                format!("{:+.1} %", 100.0 * (value - 1.0))
            } else {
                number(value)
            };
            match tolerance {
                Some(off) if !seen.quantity.is_change() => format!("{shown} ± {}", number(off)),
                _ => shown,
            }
        }
    };
    let how = if seen.situation == Situation::AsFound || seen.quantity.is_unpowered() {
        String::new()
    } else {
        format!(" ({})", seen.situation.words())
    };
    format!("{} {value}{how}", form.words)
}

fn readings(out: &mut String, evidence: &Evidence, answer: &Answer) {
    if evidence.observations.is_empty() {
        line(out, "read", "nothing yet: what follows is what is usual");
    }
    for (index, seen) in evidence.observations.iter().enumerate() {
        let name = if index == 0 { "read" } else { "" };
        told(out, name, &reading_words(seen));
        if seen.quantity == Quantity::WeakestBattery {
            each_battery(out, evidence);
        }
    }
    let ohm = evidence
        .weighed()
        .into_iter()
        .filter(|seen| seen.quantity == Quantity::BatteryOhm);
    for seen in ohm {
        if let Reading::Value { value, .. } = seen.reading {
            let ohm = rounded(value, Unit::Ohm, 2);
            under(out, &format!("so the battery and its clips have {ohm}"));
        }
    }
    if let Some(step_v) = evidence.supply_step_v {
        let step = rounded(step_v, Unit::Volt, 2);
        let words = format!(
            "the battery's voltage stepped down by {step} while it ran on, which hints at a converter"
        );
        told(out, "", &words);
    }
    for clash in evidence.clashes() {
        told(out, "note", clash);
    }
    let is_led = |seen: &Observation| matches!(seen.quantity, Quantity::Led | Quantity::Blinking);
    if !answer.has_led && evidence.observations.iter().any(is_led) {
        told(out, "note", NO_LED);
    }
    let runs = advice::runs_in(evidence, Situation::AsFound);
    let is_touched = |seen: &Observation| seen.situation == Situation::Touched;
    if runs && evidence.observations.iter().any(is_touched) {
        told(out, "note", TOUCHED_RUNNING);
    }
    if let Some(Multiple {
        observation,
        times,
        probability,
    }) = answer.multiple
        && let Reading::Value { value, .. } = observation.reading
    {
        let own = rounded(value / times, Unit::Hertz, 4);
        let times = if times < 2.5 { "twice" } else { "three times" };
        under(
            out,
            &format!(
                "the counter probably read {times} the frequency, a harmonic: {own} fits ({})",
                per_cent(probability)
            ),
        );
    }
    out.push('\n');
}

/// The own voltages of which the lowest is weighed.
fn each_battery(out: &mut String, evidence: &Evidence) {
    let each: Vec<String> = evidence
        .battery_each_v
        .iter()
        .map(|each_v| rounded(*each_v, Unit::Volt, 3))
        .collect();
    if !each.is_empty() {
        under(out, &format!("the lowest of {}", each.join(", ")));
    }
}

pub(super) fn per_cent(probability: f64) -> String {
    let hundred = 100.0 * probability;
    if hundred < 0.5 {
        "below 1 %".to_owned()
    } else if hundred > 99.0 {
        // No model is sure.
        "above 99 %".to_owned()
    } else {
        format!("{hundred:.0} %")
    }
}

/// Writes the readings that call for a change at once, before any cause.
fn findings(out: &mut String, concerns: &[Concern]) {
    for concern in concerns {
        told(out, "finding", &hazards::concern(concern));
    }
    if !concerns.is_empty() {
        out.push('\n');
    }
}

fn causes(out: &mut String, told_of: &Told<'_>) {
    let answer = told_of.answer;
    let (in_full, in_all) = SHOWN;
    let mut rest = 0.0;
    for (rank, group) in answer.groups.iter().enumerate() {
        if rank >= in_all || (group.probability < LEAST && rank > 0) {
            rest += group.probability;
            continue;
        }
        one_group(out, told_of, group, rank < in_full);
    }
    if rest >= 0.005 {
        line(out, "the rest", &format!("{} together", per_cent(rest)));
    }
}

fn one_group(out: &mut String, told_of: &Told<'_>, group: &Group, in_full: bool) {
    let Told { answer, .. } = *told_of;
    let words = |cause: &Cause| told_of.words(cause);
    let belief = Belief::of(group.probability).word();
    let members: Vec<&Cause> = group
        .members
        .iter()
        .filter_map(|&member| answer.causes.get(member))
        .collect();
    let Some(first) = members.first() else {
        return;
    };
    if members.len() == 1 {
        told(
            out,
            belief,
            &format!("{} ({})", words(first), per_cent(group.probability)),
        );
    } else {
        told(
            out,
            belief,
            &format!(
                "one of these, which no reading separates ({} together)",
                per_cent(group.probability)
            ),
        );
        let is_named = |cause: &&&Cause| cause.probability >= LEAST;
        let named = members.iter().filter(is_named).count().max(NAMED_AT_LEAST);
        for cause in members.iter().take(named) {
            under(
                out,
                &format!("- {} ({})", words(cause), per_cent(cause.probability)),
            );
        }
        if let Some(others) = members.get(named..).filter(|others| !others.is_empty()) {
            let together: f64 = others.iter().map(|cause| cause.probability).sum();
            let words = format!("- {} more ({} together)", others.len(), per_cent(together));
            under(out, &words);
        }
    }
    if !in_full {
        return;
    }
    let advice = told_of.advice(first);
    let is_one_cure = members.iter().all(|one| told_of.advice(one) == advice);
    under(
        out,
        &if is_one_cure {
            format!("then: {advice}")
        } else {
            format!("tell them apart first; for the first of them: {advice}")
        },
    );
    if first.fault.family == Family::Unknown {
        evidence_words(out, "fits nothing known", &first.support, 1.0);
        return;
    }
    evidence_words(out, "for", &first.support, 1.0);
    evidence_words(out, "against", &first.support, -1.0);
}

/// The readings that speak for a cause, or against it.
fn evidence_words(out: &mut String, name: &str, support: &[Support], sign: f64) {
    let words: Vec<String> = support
        .iter()
        .filter(|one| sign * one.bits > TELLING_BITS)
        .take(NAMED)
        .map(|one| reading_words(&one.observation))
        .collect();
    if !words.is_empty() {
        under(out, &format!("{name}: {}", words.join("; ")));
    }
}

/// Writes the next step: the one that has to come before any check first.
fn next(out: &mut String, evidence: &Evidence, answer: &Answer) {
    out.push('\n');
    let is_swapped_first = answer
        .next
        .first()
        .is_some_and(|one| one.check.id == CheckId::SwappedCurrent);
    let is_to_put_back = advice::is_to_put_back(evidence);
    let before = [
        (evidence.asks_history(), HISTORY),
        (is_to_put_back && !is_swapped_first, PUT_BACK),
    ];
    let mut names = ["next"].into_iter().chain(std::iter::repeat("then"));
    for (_, words) in before.into_iter().filter(|(is_so, _)| *is_so) {
        told(out, names.next().unwrap_or(""), words);
    }
    if answer.next.is_empty() {
        let words = "no check known here would narrow the list";
        line(out, names.next().unwrap_or(""), words);
    }
    for (index, one) in answer.next.iter().take(PROPOSED).enumerate() {
        if index > 0 {
            told(out, "or", one.check.words);
            continue;
        }
        first_check(out, names.next().unwrap_or(""), one);
        if is_to_put_back && is_swapped_first {
            under(out, &format!("if it does not run so: {PUT_BACK}"));
        }
    }
    if advice::runs_in(evidence, Situation::LeadsSwapped) {
        told(out, "note", SWAPPED_NOW);
    }
}

fn first_check(out: &mut String, name: &str, one: &NextCheck) {
    told(
        out,
        name,
        &format!("{}: {}", one.check.words, one.check.how),
    );
    if !one.check.caution.is_empty() {
        under(out, &format!("mind: {}", one.check.caution));
    }
    under(out, "narrows the list most for its trouble");
}

/// Writes the probabilities before anything was read.
fn priors(out: &mut String, answer: &Answer) {
    let mut causes: Vec<&Cause> = answer.causes.iter().collect();
    causes.sort_by(|a, b| b.prior.total_cmp(&a.prior));
    let words: Vec<String> = causes
        .iter()
        .take(SHOWN.1)
        .map(|cause| format!("{} {}", cause.fault.key, per_cent(cause.prior)))
        .collect();
    // Writing to a String cannot fail.
    writeln!(
        out,
        "\nbefore anything was read, an estimate of ours, no source (--priors changes it)"
    )
    .ok();
    wrapped(out, 2, &words.join(", "));
}

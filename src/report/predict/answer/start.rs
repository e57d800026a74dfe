//! Whether it starts, its current and how warm it gets, in a few sentences.

use crate::circuit::hazards::Hazards;
use crate::circuit::heat::Heat;
use crate::circuit::margin::{Margin, Margins};
use crate::circuit::outlook::Outlook;
use crate::circuit::practice::Spread;
use crate::circuit::running::Envelope;
use crate::circuit::verdict::{Answer, Deciding, Judged, Lamp, State, Verdict};
use crate::units::{Unit, rounded};

use super::range::to;
use crate::report::hazards::about_celsius;
use crate::report::layout::kept;
use crate::report::predict::start::{Start, spread_word};

pub(super) fn is_reversed(outlook: &Outlook) -> bool {
    let typical = outlook.verdict.set(Spread::Typical);
    typical.spec.resonator.coupling < 0.0
}

/// Returns whether it starts; where it may not, the deciding part and the change to make.
pub(super) fn begins(outlook: &Outlook) -> String {
    let verdict = &outlook.verdict;
    let typical = verdict.set(Spread::Typical);
    let swap = "As the sheet has it, the primary works against the base: swap its two wires.";
    match verdict.answer {
        Answer::Starts => {
            let lit = match Lamp::of(&typical.spec) {
                Lamp::Led => " and lights its LED",
                Lamp::Silicon | Lamp::None => "",
            };
            format!("Starts with any parts of its class{lit}.")
        }
        Answer::No if is_reversed(outlook) => format!("Does not start. {swap}"),
        Answer::No => format!(
            "Does not start, not even with the best parts of its class. {}",
            lacks(&outlook.margins)
        ),
        Answer::Marginal => {
            let mut parts = vec![format!("May not start every time: {}.", sets(verdict))];
            if is_reversed(outlook) {
                parts.push(swap.to_owned());
            } else {
                parts.push(depends(verdict));
            }
            if typical.state == State::Dead && !is_reversed(outlook) {
                parts.push(lacks(&outlook.margins));
            }
            parts.join(" ")
        }
    }
}

/// How each set of parts starts, sets that do alike named together.
fn sets(verdict: &Verdict) -> String {
    let mut groups: Vec<(Vec<&str>, &Judged)> = Vec::new();
    for (spread, set) in Spread::ALL.iter().zip(&verdict.sets) {
        let word = spread_word(*spread);
        match groups.last_mut() {
            Some((words, known)) if known.state == set.state => words.push(word),
            _ => groups.push((vec![word], set)),
        }
    }
    let each = groups.iter().map(|(words, set)| {
        let state = match (set.state, Lamp::of(&set.spec)) {
            (State::Dead, _) => "not at all",
            (State::Weak, Lamp::Led) => "weakly, LED dark",
            (State::Weak, _) => "weakly",
            (State::FullOnceRunning, Lamp::Led) => "weakly at first, LED dark",
            (State::FullOnceRunning, _) => "weakly at first",
            (State::Full, _) => "fully",
        };
        format!("{} parts {state}", words.join(" and "))
    });
    each.collect::<Vec<String>>().join("; ")
}

/// Returns the part that decides between the sets, as a change to make.
fn depends(verdict: &Verdict) -> String {
    let change = |one: &Deciding| match one {
        Deciding::Speed => "a faster transistor",
        Deciding::Gain => "more gain",
        Deciding::Q => "a top clear of hands, lamps and metal",
        Deciding::Coupling => "a closer primary",
    };
    let changes: Vec<_> = verdict.deciding.iter().map(change).collect();
    if changes.is_empty() {
        return "No single quantity decides.".to_owned();
    }
    format!("To be sure: {}.", listed(&changes))
}

/// `a, b or c`.
fn listed(words: &[&str]) -> String {
    match words.split_last() {
        Some((last, others)) if !others.is_empty() => {
            format!("{} or {last}", others.join(", "))
        }
        _ => words.concat(),
    }
}

/// Returns by how much typical parts miss the values that starting needs.
fn lacks(margins: &Margins) -> String {
    let short = |name: &str, margin: &Margin| {
        let times = 1.0
            / margin
                .ratio()
                .filter(|ratio| *ratio > 0.0 && *ratio < 1.0)?;
        Some(kept(&format!("{times:.1} times the {name}")))
    };
    let parts = [
        short("coupling", &margins.coupling),
        short("Q", &margins.q),
        short("transistor speed", &margins.transition_hz),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    let parts: Vec<&str> = parts.iter().map(String::as_str).collect();
    if parts.is_empty() {
        "No change of the coupling, the Q or the transistor's speed alone starts typical parts."
            .to_owned()
    } else {
        format!("Typical parts need {} to start.", listed(&parts))
    }
}

/// Returns its current, how far it runs on as the battery drains, the top's voltage and the transistor's warmth.
pub(super) fn figures(start: &Start<'_>, found: &Hazards) -> Vec<String> {
    let mut out = Vec::new();
    let verdict = &start.outlook.verdict;
    let typical = verdict.set(Spread::Typical);
    let volt = |value_v| rounded(value_v, Unit::Volt, 2);
    let ampere = |value_a| rounded(value_a, Unit::Ampere, 2);
    if let Some(supply) = &found.supply {
        let range = to(&ampere(supply.low_a), &ampere(supply.high_a));
        let usual = supply.typical_a.map_or_else(String::new, |typical_a| {
            format!(", typically {}", kept(&ampere(typical_a)))
        });
        let open = kept(&volt(typical.spec.supply.open_v));
        let keeps = start
            .outlook
            .descent
            .keeps_running_v
            .map_or_else(String::new, |keeps_v| {
                format!(", and keeps running to {} (open)", kept(&volt(keeps_v)))
            });
        out.push(format!("Draws {range} at {open}{usual}{keeps}."));
    }
    let Some(running) = typical.running() else {
        return out;
    };
    let sink = start.sheet.known.heat_sink_k_per_w;
    let heat = Heat::at(running.transistor_w, &start.class.case(), sink);
    let most = if found.hottest.case_c > 1.1 * heat.case_c {
        format!(", up to {}", about_celsius(found.hottest.case_c))
    } else {
        String::new()
    };
    let bursts = match running.envelope {
        Envelope::Settled => "",
        Envelope::NotSettled => " It may come in bursts.",
    };
    out.push(format!(
        "The top has about {}. The transistor's case gets to about {}{most}.{bursts}",
        kept(&volt(running.top_v)),
        about_celsius(heat.case_c)
    ));
    out
}

//! Whether a build starts and how it runs, as text: a part of a prediction.

use crate::circuit::margin::{Margin, Margins};
use crate::circuit::outlook::Outlook;
use crate::circuit::practice::Spread;
use crate::circuit::running::{Envelope, Running};
use crate::circuit::verdict::{Answer, Judged, Lamp, RECTIFIED_A, State, Verdict};
use crate::units::{Unit, rounded};

use crate::report::compare::pushing::slope_words;
use crate::report::hazards;
use crate::report::layout::{line, list, told, under};
use crate::report::predict::start::parts;
use crate::report::predict::start::subject::{Start, beyond, deciding_word, spread_word};

/// The lines of a prediction about hazards, the start and running.
pub fn text(start: &Start<'_>) -> String {
    let verdict = &start.outlook.verdict;
    let found = start.hazards();
    let mut out = String::new();
    hazards::section(&mut out, Some(&found));
    line(&mut out, "start", answer(verdict.answer));
    for (spread, set) in Spread::ALL.iter().zip(&verdict.sets) {
        let figures = set.running().map(|running| brief(set, running));
        let words = [
            Some(state(set.state, Lamp::of(&set.spec)).to_owned()),
            figures,
            beyond(set).map(|_| "a junction at its breakdown, uncertain".to_owned()),
        ];
        let words: Vec<_> = words.into_iter().flatten().collect();
        let words = format!("{} parts: {}", spread_word(*spread), words.join("; "));
        under(&mut out, &words);
    }
    let typical = verdict.set(Spread::Typical);
    if verdict.sets.iter().any(|set| set.state > State::Dead) {
        under(&mut out, &parts::full_means(Lamp::of(&typical.spec)));
    }
    if let Some(words) = deciding(verdict) {
        under(&mut out, &words);
    }
    let is_reversed = typical.spec.resonator.coupling < 0.0;
    if is_reversed {
        under(
            &mut out,
            "as the sheet has it, the primary works against the base: swap its two wires, or look at the senses",
        );
    }
    under(
        &mut out,
        &format!("figures of the parts: {}", start.class.source()),
    );
    if let Some(supply) = &found.supply {
        told(&mut out, "supply", &hazards::supply_words(supply));
        parts::weighed(&mut out, start);
    }
    speed(&mut out, verdict);
    parts::shown(&mut out, start);
    if !is_reversed {
        margins(&mut out, &start.outlook.margins, typical);
    }
    if let Some(running) = typical.running() {
        figures(&mut out, start, typical, running);
        voltages(&mut out, start.outlook);
    }
    list(&mut out, "to try", &advice(verdict, is_reversed));
    list(&mut out, "assumed about the circuit", start.assumptions);
    out
}

/// The line that stands where the circuit could not be computed.
pub fn not_computed(reason: &str) -> String {
    let mut out = String::new();
    hazards::section(&mut out, None);
    line(&mut out, "start", "not computed");
    under(&mut out, reason);
    out
}

fn answer(answer: Answer) -> &'static str {
    match answer {
        Answer::Starts => "starts, with the worst parts of its class too",
        Answer::Marginal => "marginal: it depends on the parts",
        Answer::No => "no, not with the best parts of its class either",
    }
}

const fn state(state: State, lamp: Lamp) -> &'static str {
    match (state, lamp) {
        (State::Dead, _) => "does not start",
        (State::Weak, Lamp::Led) => "starts weakly and stays so, LED dark",
        (State::Weak, _) => "starts weakly and stays so",
        (State::FullOnceRunning, Lamp::Led) => {
            "starts weakly, LED dark; once it has been brought there it runs fully, LED lit: it may run on and not start again"
        }
        (State::FullOnceRunning, _) => {
            "starts weakly, runs fully once it has been brought there: it may run on and not start again"
        }
        (State::Full, Lamp::Led) => "starts and runs fully, LED lit",
        (State::Full, _) => "starts and runs fully",
    }
}

/// Returns the deciding part, in a sentence.
fn deciding(verdict: &Verdict) -> Option<String> {
    if verdict.answer != Answer::Marginal {
        return None;
    }
    let words: Vec<_> = verdict.deciding.iter().map(|d| deciding_word(*d)).collect();
    let is_full = verdict.set(Spread::Typical).state == State::Full;
    let does = if is_full {
        "is as in the set that does not run fully, the others as usual, it does not either"
    } else {
        "is as in the set that runs fully, the others as usual, it does, too"
    };
    Some(match words.split_last() {
        None => "no single quantity decides".to_owned(),
        Some((only, [])) => format!("{only} decides: where that {does}"),
        Some((last, others)) => {
            format!(
                "{} or {last} decides: where one of them {does}",
                others.join(", ")
            )
        }
    })
}

/// The speed that is needed, never a verdict on a data sheet's least one.
fn speed(out: &mut String, verdict: &Verdict) {
    let hertz = |value_hz| rounded(value_hz, Unit::Hertz, 2);
    let (Some(start_hz), Some(full_hz)) = (verdict.start_needs_hz, verdict.full_needs_hz) else {
        return;
    };
    let words = format!(
        "fT of {} at the bias current starts it; at {} about half of such builds run fully",
        hertz(start_hz),
        hertz(full_hz)
    );
    told(out, "speed needed", &words);
    under(
        out,
        "a data sheet's least fT says little: real parts are often faster",
    );
}

fn margins(out: &mut String, margins: &Margins, typical: &Judged) {
    let times = |name: &str, margin: &Margin| {
        let ratio = margin.ratio()?;
        Some(format!("{name} {ratio:.2}"))
    };
    let parts = [
        times("coupling", &margins.coupling),
        times("Q", &margins.q),
        times("speed", &margins.transition_hz),
    ];
    let parts: Vec<_> = parts.into_iter().flatten().collect();
    if !parts.is_empty() {
        let words = format!("{} times what starting needs", parts.join(", "));
        line(out, "to spare", &words);
    }
    if let (true, Some(ohm)) = (typical.rest.startup.starts(), margins.bias_ohm.threshold) {
        let ohm = rounded(ohm, Unit::Ohm, 2);
        under(out, &format!("starts with a bias resistor of up to {ohm}"));
    }
    let gain = &typical.gain;
    let words = format!(
        "{:.2}, {:.2} without what the collector's capacitance takes; above 1 starts",
        gain.with_feedback, gain.plain
    );
    line(out, "loop gain", &words);
}

/// Current, top voltage and diode in a few words.
fn brief(set: &Judged, running: &Running) -> String {
    let current = rounded(running.supply_a, Unit::Ampere, 2);
    let top = rounded(running.top_v, Unit::Volt, 2);
    let diode_a = rounded(running.diode_a, Unit::Ampere, 2);
    let diode = match Lamp::of(&set.spec) {
        Lamp::Led if running.is_lit() => format!(", LED {diode_a}"),
        Lamp::Silicon if running.diode_a > RECTIFIED_A => format!(", diode {diode_a}"),
        Lamp::Led | Lamp::Silicon | Lamp::None => String::new(),
    };
    format!("{current}, top {top}{diode}")
}

fn figures(out: &mut String, start: &Start<'_>, typical: &Judged, running: &Running) {
    let frequency = rounded(running.frequency_hz, Unit::Hertz, 4);
    let current = rounded(running.supply_a, Unit::Ampere, 2);
    let battery = rounded(running.battery_v, Unit::Volt, 3);
    let top = rounded(running.top_v, Unit::Volt, 2);
    let words = format!("{frequency}, {current}, battery at {battery}, top {top}");
    line(out, "running", &words);
    let diode_a = rounded(running.diode_a, Unit::Ampere, 2);
    match Lamp::of(&typical.spec) {
        Lamp::Led if running.is_lit() => {
            under(out, &format!("LED lit, average current {diode_a}"));
        }
        Lamp::Led => under(out, "LED dark"),
        Lamp::Silicon if running.diode_a > RECTIFIED_A => {
            under(out, &format!("average diode current {diode_a}"));
        }
        Lamp::Silicon | Lamp::None => {}
    }
    parts::power(out, typical, running);
    if let Some(junctions) = beyond(typical) {
        under(out, &parts::breakdown(&junctions, typical));
    }
    parts::warmth(out, start, running.transistor_w);
    if running.envelope == Envelope::NotSettled {
        under(
            out,
            "still changing where it was left: it grows slowly or comes in bursts",
        );
    }
    under(out, "modelled with typical parts");
}

fn voltages(out: &mut String, outlook: &Outlook) {
    let volt = |value_v| rounded(value_v, Unit::Volt, 2);
    let descent = &outlook.descent;
    if let Some(curve) = &outlook.pushing {
        told(out, "pushing", &slope_words(curve));
    }
    if let Some(start_v) = outlook.margins.supply_v.threshold {
        let words = format!(
            "{} of battery, open, to begin to oscillate, weakly at first; fully takes more",
            volt(start_v)
        );
        line(out, "lowest", &words);
    }
    if let Some(keeps_v) = descent.keeps_running_v {
        under(
            out,
            &format!("{} to keep running fully once it does", volt(keeps_v)),
        );
    }
}

/// Returns the advice for a weak or marginal build.
fn advice(verdict: &Verdict, is_reversed: bool) -> Vec<&'static str> {
    if verdict.answer == Answer::Starts {
        return Vec::new();
    }
    if is_reversed {
        return vec!["swap the two primary wires"];
    }
    let oscillates = verdict.sets.iter().any(|set| set.state > State::Dead);
    let mut tips = Vec::new();
    if oscillates {
        tips.push("a dark diode does not say that nothing runs: look with a stub, or a neon lamp near the top, before a wire is moved");
    }
    tips.push(
        "if nothing oscillates: hold both windings beside the picture of sagtrace predict --card; swap the two primary wires only where \
         they differ from it",
    );
    if verdict.answer == Answer::Marginal {
        tips.push("10 kΩ beside the bias resistor for a second: if the diode then stays lit, the circuit is marginal, not faulty");
        tips.push("hands, lamps and metal away from the top; the primary closer to the foot; a faster transistor");
    }
    tips
}

#[cfg(test)]
pub(in crate::report::predict) mod tests;

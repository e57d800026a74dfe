//! Whether a build starts and how it runs, as text and as JSON: a part of a prediction.

use serde::Serialize;

use crate::circuit::damage::Damage;
use crate::circuit::margin::{Margin, Margins};
use crate::circuit::parts::TransistorClass;
use crate::circuit::running::{Envelope, Running};
use crate::circuit::sets::Spread;
use crate::circuit::verdict::{Answer, Deciding, Judged, State, Verdict};
use crate::units::{Unit, rounded};

use super::digits::nine_digits;
use super::layout::{line, list, under};

/// What is told of a build's start.
#[derive(Debug, Clone, Copy)]
pub struct Start<'a> {
    /// The transistor's class.
    pub class: TransistorClass,
    /// The verdict over the class's parts.
    pub verdict: &'a Verdict,
    /// What the typical set has to spare.
    pub margins: &'a Margins,
    /// The lowest open voltage at which the typical set keeps running, in volt, if that was followed.
    pub keeps_running_v: Option<f64>,
}

/// The lines of a prediction that tell of the start and of running.
pub fn text(start: &Start<'_>) -> String {
    let verdict = start.verdict;
    let mut out = String::new();
    line(&mut out, "start", answer(verdict.answer));
    for (spread, set) in Spread::ALL.iter().zip(&verdict.sets) {
        under(
            &mut out,
            &format!("{} parts: {}", spread_word(*spread), state(set.state)),
        );
    }
    if let Some(words) = deciding(verdict) {
        under(&mut out, &words);
    }
    under(&mut out, &format!("parts: {}", start.class.source()));
    speed(&mut out, verdict);
    let typical = verdict.set(Spread::Typical);
    margins(&mut out, start.margins, typical);
    if let Some(running) = typical.running() {
        figures(&mut out, typical, running);
        voltages(&mut out, start);
    }
    let damages: Vec<String> = typical
        .damage(&start.class.ratings())
        .iter()
        .map(damage)
        .collect();
    list(&mut out, "harm to parts, typical set", &damages);
    list(&mut out, "to try", &advice(verdict));
    out
}

fn answer(answer: Answer) -> &'static str {
    match answer {
        Answer::Starts => "starts, with the worst parts of its class too",
        Answer::Marginal => "marginal: it hangs on the parts",
        Answer::No => "no, not with the best parts of its class either",
    }
}

const fn answer_word(answer: Answer) -> &'static str {
    match answer {
        Answer::Starts => "starts",
        Answer::Marginal => "marginal",
        Answer::No => "no",
    }
}

const fn spread_word(spread: Spread) -> &'static str {
    match spread {
        Spread::Worst => "worst",
        Spread::Typical => "typical",
        Spread::Best => "best",
    }
}

fn state(state: State) -> &'static str {
    match state {
        State::Dead => "does not start",
        State::Weak => {
            "starts weakly and stays so, its current limited by the bias resistor, the diode dark"
        }
        State::FullOnceRunning => {
            "starts weakly, runs fully once it has been brought there: it may run on and not start again"
        }
        State::Full => "starts and runs fully",
    }
}

const fn state_word(state: State) -> &'static str {
    match state {
        State::Dead => "dead",
        State::Weak => "weak",
        State::FullOnceRunning => "full-once-running",
        State::Full => "full",
    }
}

const fn deciding_word(deciding: Deciding) -> &'static str {
    match deciding {
        Deciding::Speed => "the transistor's speed",
        Deciding::Gain => "the transistor's gain",
        Deciding::Q => "the coil's Q",
        Deciding::Coupling => "the coupling",
    }
}

/// What decides, in a sentence.
fn deciding(verdict: &Verdict) -> Option<String> {
    if verdict.answer != Answer::Marginal {
        return None;
    }
    let words: Vec<_> = verdict.deciding.iter().map(|d| deciding_word(*d)).collect();
    let is_full = verdict.set(Spread::Typical).state == State::Full;
    let does = if is_full {
        "is at its worst, the others as usual, it does not run fully"
    } else {
        "is at its best, the others as usual, it runs fully"
    };
    Some(match words.split_last() {
        None => "no single quantity decides".to_owned(),
        Some((only, [])) => format!("{only} decides: where that {does}"),
        Some((last, others)) => {
            format!("what decides: where {} or {last} {does}", others.join(", "))
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
        "fT of {} at the bias current starts it, {} runs it fully",
        hertz(start_hz),
        hertz(full_hz)
    );
    line(out, "speed needed", &words);
    under(
        out,
        "a data sheet's least fT says little: real parts are often faster",
    );
}

fn margins(out: &mut String, margins: &Margins, typical: &Judged) {
    let times = |name: &str, margin: &Margin| {
        margin
            .ratio()
            .map(|ratio| format!("{name} {ratio:.2} times what starting needs"))
    };
    let parts = [
        times("coupling", &margins.coupling),
        times("Q", &margins.q),
        times("speed", &margins.transition_hz),
    ];
    let parts: Vec<_> = parts.into_iter().flatten().collect();
    if !parts.is_empty() {
        line(out, "to spare", &parts.join(", "));
    }
    let gain = &typical.gain;
    let words = format!(
        "{:.2}, {:.2} without what the collector's capacitance takes; above 1 starts",
        gain.with_feedback, gain.plain
    );
    line(out, "loop gain", &words);
}

fn figures(out: &mut String, typical: &Judged, running: &Running) {
    let frequency = rounded(running.frequency_hz, Unit::Hertz, 4);
    let current = rounded(running.supply_a, Unit::Ampere, 2);
    let battery = rounded(running.battery_v, Unit::Volt, 3);
    let top = rounded(running.top_v, Unit::Volt, 2);
    let words = format!("{frequency}, {current}, battery at {battery}, top {top}");
    line(out, "running", &words);
    if typical.spec.base_diode.is_some() {
        let diode = rounded(running.diode_a, Unit::Ampere, 2);
        under(out, &format!("diode {diode} in the mean"));
    }
    let heat = rounded(running.collector_w, Unit::Watt, 2);
    under(out, &format!("transistor {heat}"));
    if running.envelope == Envelope::NotSettled {
        under(
            out,
            "still changing where it was left: it grows slowly or comes in bursts",
        );
    }
    under(
        out,
        "modelled with typical parts; current and top voltage within 30 % at best, an estimate of ours",
    );
}

fn voltages(out: &mut String, start: &Start<'_>) {
    let volt = |value_v| rounded(value_v, Unit::Volt, 2);
    if let Some(start_v) = start.margins.supply_v.threshold {
        line(
            out,
            "lowest",
            &format!("{} of battery to start", volt(start_v)),
        );
    }
    if let Some(keeps_v) = start.keeps_running_v {
        under(out, &format!("{} to keep running fully", volt(keeps_v)));
    }
}

fn damage(damage: &Damage) -> String {
    let volt = |value_v| rounded(value_v, Unit::Volt, 2);
    let ampere = |value_a| rounded(value_a, Unit::Ampere, 2);
    match *damage {
        Damage::ReverseBase { lowest_v, rated_v } => format!(
            "base: driven to {}, data sheets promise {}; a diode at the base, cathode to the base, stops that",
            volt(lowest_v),
            volt(-rated_v)
        ),
        Damage::Collector { highest_v, rated_v } => format!(
            "collector: swings to {}, rated {}",
            volt(highest_v),
            volt(rated_v)
        ),
        Damage::Supply { supply_a } => format!(
            "battery: {} is more than such a battery and its wires are made for",
            ampere(supply_a)
        ),
        Damage::Diode { diode_a, rated_a } => format!(
            "diode: {} in the mean, data sheets of small ones allow {}",
            ampere(diode_a),
            ampere(rated_a)
        ),
    }
}

/// What helps a weak or marginal build.
fn advice(verdict: &Verdict) -> Vec<&'static str> {
    if verdict.answer == Answer::Starts {
        return Vec::new();
    }
    let mut tips = vec!["if it stays dark: swap the two primary wires"];
    if verdict.answer == Answer::Marginal {
        tips.push("10 kΩ beside the bias resistor for a second: if the diode then stays lit, the circuit is marginal, not faulty");
        tips.push("hands, lamps and metal away from the top; the primary closer to the foot; a faster transistor");
    }
    tips
}

#[derive(Debug, Serialize)]
struct Part {
    answer: &'static str,
    sets: [SetPart; 3],
    deciding: Vec<&'static str>,
    start_needs_transition_hz: Option<f64>,
    full_needs_transition_hz: Option<f64>,
    coupling_over_threshold: Option<f64>,
    q_over_threshold: Option<f64>,
    transition_over_threshold: Option<f64>,
    lowest_start_v: Option<f64>,
    largest_bias_ohm: Option<f64>,
    keeps_running_v: Option<f64>,
    parts_source: &'static str,
}

#[derive(Debug, Serialize)]
struct SetPart {
    parts: &'static str,
    state: &'static str,
    growth_per_s: f64,
    loop_gain: f64,
    rest_supply_a: f64,
    running: Option<RunningPart>,
}

#[derive(Debug, Serialize)]
struct RunningPart {
    frequency_hz: f64,
    supply_a: f64,
    battery_v: f64,
    top_v: f64,
    base_v: f64,
    base_lowest_v: f64,
    collector_highest_v: f64,
    diode_a: f64,
    collector_w: f64,
    settled: bool,
}

/// The same as JSON, to stand in a prediction under `start`.
///
/// # Errors
/// What `serde_json` says, which for numbers and words is nothing.
pub fn json(start: &Start<'_>) -> Result<serde_json::Value, serde_json::Error> {
    let verdict = start.verdict;
    let ratio = |margin: &Margin| margin.ratio().map(nine_digits);
    let margins = start.margins;
    serde_json::to_value(Part {
        answer: answer_word(verdict.answer),
        sets: Spread::ALL.map(|spread| set_part(spread, verdict.set(spread))),
        deciding: verdict.deciding.iter().map(|d| deciding_word(*d)).collect(),
        start_needs_transition_hz: verdict.start_needs_hz.map(nine_digits),
        full_needs_transition_hz: verdict.full_needs_hz.map(nine_digits),
        coupling_over_threshold: ratio(&margins.coupling),
        q_over_threshold: ratio(&margins.q),
        transition_over_threshold: ratio(&margins.transition_hz),
        lowest_start_v: margins.supply_v.threshold.map(nine_digits),
        largest_bias_ohm: margins.bias_ohm.threshold.map(nine_digits),
        keeps_running_v: start.keeps_running_v.map(nine_digits),
        parts_source: start.class.source(),
    })
}

fn set_part(spread: Spread, set: &Judged) -> SetPart {
    SetPart {
        parts: spread_word(spread),
        state: state_word(set.state),
        growth_per_s: nine_digits(set.rest.startup.growth_per_s),
        loop_gain: nine_digits(set.gain.with_feedback),
        rest_supply_a: nine_digits(set.rest_a),
        running: set.running().map(|running| RunningPart {
            frequency_hz: nine_digits(running.frequency_hz),
            supply_a: nine_digits(running.supply_a),
            battery_v: nine_digits(running.battery_v),
            top_v: nine_digits(running.top_v),
            base_v: nine_digits(running.base_v),
            base_lowest_v: nine_digits(running.base_lowest_v),
            collector_highest_v: nine_digits(running.collector_highest_v),
            diode_a: nine_digits(running.diode_a),
            collector_w: nine_digits(running.collector_w),
            settled: running.envelope == Envelope::Settled,
        }),
    }
}

//! Whether a build starts and how it runs, as JSON: a part of a prediction.

use serde::Serialize;

use crate::circuit::damage::GivesWay;
use crate::circuit::margin::Margin;
use crate::circuit::outlook::Outlook;
use crate::circuit::practice::Spread;
use crate::circuit::pushing::{Curve, Pushed};
use crate::circuit::running::{Envelope, Running};
use crate::circuit::verdict::{Answer, Judged, Lamp, State};

use super::parts;
use super::subject::{Start, beyond, deciding_word, spread_word};
use crate::report::digits::nine_digits;
use crate::report::hazards;
use crate::report::predict::assumption::{AssumptionPart, assumption};

const fn answer_word(answer: Answer) -> &'static str {
    match answer {
        Answer::Starts => "starts",
        Answer::Marginal => "marginal",
        Answer::No => "no",
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

#[derive(Debug, Serialize)]
struct Part<'a> {
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
    pushing: Vec<PushedPart>,
    pushing_hz_per_v: Option<f64>,
    pushing_from_v: Option<f64>,
    pushing_to_v: Option<f64>,
    heat: serde_json::Value,
    hazards: serde_json::Value,
    supply: serde_json::Value,
    shown: serde_json::Value,
    parts_source: &'static str,
    assumptions: Vec<AssumptionPart<'a>>,
}

#[derive(Debug, Serialize)]
struct PushedPart {
    open_v: f64,
    battery_v: f64,
    frequency_hz: f64,
    supply_a: f64,
    top_v: f64,
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

/// In watts; with the transistor's they add up to what is given.
#[derive(Debug, Serialize)]
struct PowerPart {
    given: f64,
    battery: f64,
    coil: f64,
    transistor: f64,
    diode: f64,
    others: f64,
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
    led: Option<&'static str>,
    power_w: PowerPart,
    transistor_w: f64,
    breaks_down: Vec<&'static str>,
    settled: bool,
}

/// The same as JSON, to stand in a prediction under `start`.
///
/// # Errors
/// What `serde_json` says, which for numbers and words is nothing.
pub fn json(start: &Start<'_>) -> Result<serde_json::Value, serde_json::Error> {
    let Outlook {
        verdict,
        margins,
        descent,
        pushing,
    } = start.outlook;
    let reach_v = pushing.as_ref().map(Curve::reach_v);
    let found = start.hazards();
    let ratio = |margin: &Margin| margin.ratio().map(nine_digits);
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
        keeps_running_v: descent.keeps_running_v.map(nine_digits),
        pushing: descent.points.iter().map(pushed_part).collect(),
        pushing_hz_per_v: pushing
            .as_ref()
            .map(|curve| nine_digits(curve.slope_hz_per_v())),
        pushing_from_v: reach_v.map(|(low_v, _)| nine_digits(low_v)),
        pushing_to_v: reach_v.map(|(_, high_v)| nine_digits(high_v)),
        heat: parts::heat_json(start, verdict),
        hazards: hazards::json(&found),
        supply: hazards::supply_json(found.supply.as_ref()),
        shown: parts::shown_json(start),
        parts_source: start.class.source(),
        assumptions: start.assumptions.iter().map(assumption).collect(),
    })
}

fn pushed_part(point: &Pushed) -> PushedPart {
    PushedPart {
        open_v: nine_digits(point.open_v),
        battery_v: nine_digits(point.running.battery_v),
        frequency_hz: nine_digits(point.running.frequency_hz),
        supply_a: nine_digits(point.running.supply_a),
        top_v: nine_digits(point.running.top_v),
    }
}

fn set_part(spread: Spread, set: &Judged) -> SetPart {
    SetPart {
        parts: spread_word(spread),
        state: state_word(set.state),
        growth_per_s: nine_digits(set.rest.startup.growth_per_s),
        loop_gain: nine_digits(set.gain.with_feedback),
        rest_supply_a: nine_digits(set.rest_a),
        running: set.running().map(|running| running_part(set, running)),
    }
}

fn running_part(set: &Judged, running: &Running) -> RunningPart {
    let led = if running.is_lit() { "lit" } else { "dark" };
    let power = &running.power;
    let junctions = beyond(set).unwrap_or_default();
    RunningPart {
        frequency_hz: nine_digits(running.frequency_hz),
        supply_a: nine_digits(running.supply_a),
        battery_v: nine_digits(running.battery_v),
        top_v: nine_digits(running.top_v),
        base_v: nine_digits(running.base_v),
        base_lowest_v: nine_digits(running.base_lowest_v),
        collector_highest_v: nine_digits(running.collector_highest_v),
        diode_a: nine_digits(running.diode_a),
        led: (Lamp::of(&set.spec) == Lamp::Led).then_some(led),
        power_w: PowerPart {
            given: nine_digits(power.given_w),
            battery: nine_digits(power.battery_w),
            coil: nine_digits(power.coil_w),
            transistor: nine_digits(running.transistor_w),
            diode: nine_digits(power.diode_w),
            others: nine_digits(power.others_w),
        },
        transistor_w: nine_digits(running.transistor_w),
        breaks_down: junctions.into_iter().map(junction_word).collect(),
        settled: running.envelope == Envelope::Settled,
    }
}

const fn junction_word(junction: GivesWay) -> &'static str {
    match junction {
        GivesWay::Collector => "collector",
        GivesWay::Base => "base",
    }
}

#[cfg(test)]
mod tests {
    use super::super::text::tests::{MEASURED, marginal, told};
    use super::*;

    #[test]
    fn the_json_has_a_word_for_each_set_and_units_in_its_keys() {
        let of = |sheet: &str| -> serde_json::Value {
            let document = told(sheet, |start| json(start).unwrap().to_string());
            serde_json::from_str(&document).unwrap()
        };
        let value = of(&marginal());
        assert_eq!(value["answer"], "marginal");
        assert_eq!(value["sets"][0]["parts"], "worst");
        assert_eq!(value["sets"][0]["state"], "full-once-running");
        assert_eq!(value["sets"][1]["state"], "full");
        assert!(value["sets"][1]["running"]["supply_a"].is_number());
        assert!(value["pushing"].as_array().unwrap().len() > 3);
        assert!(value["keeps_running_v"].is_number());
        let slow = MEASURED.replace("power-to220", "power-to3");
        let value = of(&slow);
        assert_eq!(value["answer"], "marginal");
        assert_eq!(value["sets"][0]["state"], "dead");
        assert!(value["sets"][0]["running"].is_null());
        assert_eq!(value["sets"][2]["state"], "weak");
    }
}

//! Whether a build starts and how it runs, as JSON: a part of a prediction.

use crate::circuit::damage::GivesWay;
use crate::circuit::outlook::Outlook;
use crate::circuit::practice::Spread;
use crate::circuit::pushing::{Curve, Pushed};
use crate::circuit::running::{Envelope, Running};
use crate::circuit::verdict::{Answer, Judged, Lamp, State};

use super::parts::{HeatPart, ShownPart};
use super::subject::{Start, beyond, deciding_word, spread_word};
use crate::report::form::part;
use crate::report::hazards::{self, HazardPart, SupplyPart};
use crate::report::predict::assumption::AssumptionPart;

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

part! {
    /// What stands in a prediction under `start`.
    pub struct StartPart<'a>(start: &'a Start<'a>) with {
        let Outlook { verdict, margins, descent, pushing: slope } = start.outlook;
        let reach_v = slope.as_ref().map(Curve::reach_v);
        let found = start.hazards();
    } {
        answer: &'static str = answer_word(verdict.answer),
        sets: [SetPart; 3] = Spread::ALL.map(|spread| SetPart::new(spread, verdict.set(spread))),
        deciding: Vec<&'static str> = verdict.deciding.iter().map(|one| deciding_word(*one)).collect(),
        start_needs_transition_hz: Option<f64> = verdict.start_needs_hz,
        full_needs_transition_hz: Option<f64> = verdict.full_needs_hz,
        coupling_over_threshold: Option<f64> = margins.coupling.ratio(),
        q_over_threshold: Option<f64> = margins.q.ratio(),
        transition_over_threshold: Option<f64> = margins.transition_hz.ratio(),
        lowest_start_v: Option<f64> = margins.supply_v.threshold,
        largest_bias_ohm: Option<f64> = margins.bias_ohm.threshold,
        keeps_running_v: Option<f64> = descent.keeps_running_v,
        pushing: Vec<PushedPart> = descent.points.iter().map(PushedPart::new).collect(),
        pushing_hz_per_v: Option<f64> = slope.as_ref().map(Curve::slope_hz_per_v),
        pushing_from_v: Option<f64> = reach_v.map(|reach_v| reach_v.low),
        pushing_to_v: Option<f64> = reach_v.map(|reach_v| reach_v.high),
        heat: HeatPart = HeatPart::new(start, verdict),
        hazards: Vec<HazardPart> = hazards::parts(&found),
        supply: Option<SupplyPart> = found.supply.as_ref().map(SupplyPart::new),
        shown: Option<ShownPart> = start.shown.map(ShownPart::new),
        parts_source: &'static str = start.class.source(),
        assumptions: Vec<AssumptionPart<'a>> = start.assumptions.iter().map(AssumptionPart::new).collect(),
    }
}

part! {
    struct PushedPart(point: &Pushed) {
        open_v: f64 = point.open_v,
        battery_v: f64 = point.running.battery_v,
        frequency_hz: f64 = point.running.frequency_hz,
        supply_a: f64 = point.running.supply_a,
        top_v: f64 = point.running.top_v,
    }
}

part! {
    struct SetPart(spread: Spread, set: &Judged) {
        parts: &'static str = spread_word(spread),
        state: &'static str = state_word(set.state),
        growth_per_s: f64 = set.rest.startup.growth_per_s,
        loop_gain: f64 = set.gain.with_feedback,
        rest_supply_a: f64 = set.rest_a,
        running: Option<RunningPart> = set.running().map(|running| RunningPart::new(set, running)),
    }
}

part! {
    struct RunningPart(set: &Judged, running: &Running) {
        frequency_hz: f64 = running.frequency_hz,
        supply_a: f64 = running.supply_a,
        battery_v: f64 = running.battery_v,
        top_v: f64 = running.top_v,
        base_v: f64 = running.base_v,
        base_lowest_v: f64 = running.base_lowest_v,
        collector_highest_v: f64 = running.collector_highest_v,
        diode_a: f64 = running.diode_a,
        led: Option<&'static str> =
            (Lamp::of(&set.spec) == Lamp::Led).then_some(if running.is_lit() { "lit" } else { "dark" }),
        power_w: PowerPart = PowerPart::new(running),
        transistor_w: f64 = running.transistor_w,
        breaks_down: Vec<&'static str> = beyond(set).unwrap_or_default().into_iter().map(junction_word).collect(),
        settled: bool = running.envelope == Envelope::Settled,
    }
}

part! {
    /// In watts; with the transistor's they add up to what is given.
    struct PowerPart(running: &Running) with {
        let power = &running.power;
    } {
        given: f64 = power.given_w,
        battery: f64 = power.battery_w,
        coil: f64 = power.coil_w,
        transistor: f64 = running.transistor_w,
        diode: f64 = power.diode_w,
        others: f64 = power.others_w,
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
            let document = told(sheet, |start| {
                serde_json::to_string(&StartPart::new(start)).unwrap()
            });
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

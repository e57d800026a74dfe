//! An evening's plan for other programs.

use super::evenings::{ESTIMATED, Evenings, to_narrow, word};
use super::supply::SupplyPart;
use crate::battery::evening::Evening;

use crate::battery::plan::{Plan, Range, Share};
use crate::battery::price::Cost;
use crate::battery::worth::Held;
use crate::report::form::{Form, part};
use crate::report::hazards::{self, HazardPart};

part! {
    /// A plan: SI numbers and ampere hours under keys that name their unit, null for what is not known.
    pub struct Json<'a>(all: &'a Evenings<'a>) with {
        let names = |known: Vec<(String, f64)>| known.into_iter().map(|(name, _)| name).collect();
        let kind = |plan| KindPart::new(plan, all.evening, all.cost(plan));
    } {
        build: &'a str = all.build,
        estimated: bool = true,
        evening: EveningPart = EveningPart::new(all.evening),
        hazards: Option<Vec<HazardPart>> = all.hazards.map(hazards::parts),
        supply: SupplyPart = SupplyPart::new(all.supply),
        supply_notes: &'a [String] = all.supply_notes,
        kinds: Vec<KindPart<'a>> = all.plans.iter().map(kind).collect(),
        by_minutes: Vec<String> = names(all.by_minutes()),
        by_left: Vec<String> = names(all.by_left()),
        by_cost: Vec<String> = names(all.by_cost()),
        to_narrow: Vec<String> = to_narrow(all),
        ranges: &'static str = ESTIMATED,
    }
}

impl Form for Json<'_> {}

part! {
    struct EveningPart(evening: &Evening) {
        runs: u32 = evening.runs,
        run_s: f64 = evening.run_s,
        every_s: f64 = evening.every_s,
        running_s: f64 = evening.running_s(),
        lasts_s: f64 = evening.lasts_s(),
    }
}

part! {
    struct KindPart<'a>(plan: &'a Plan, evening: &Evening, cost: Option<Cost>) with {
        let share = plan.stops_early.and_then(|stop| stop.share);
    } {
        kind: &'static str = plan.kind.name(),
        battery: Option<&'a str> = plan.own.as_deref(),
        simulated: bool = plan.is_simulated,
        answer: String = word(plan.answer).replace(' ', "-"),
        nominal_v: f64 = plan.nominal_v,
        current_a: Option<f64> = plan.current.map(|current| current.middle_a),
        charge_low_ah: Option<f64> = plan.given.map(|given| given.low_ah),
        charge_high_ah: Option<f64> = plan.given.map(|given| given.high_ah),
        charge_source: Option<&'static str> = plan.given.map(|given| given.source),
        charge_range: Option<&'static str> = plan.given.map(|given| given.worth.word()),
        charge_replayed: Option<HeldPart> =
            plan.given.and_then(|given| given.worth.held()).map(HeldPart::new),
        rated_at_a: Option<f64> = plan.rating.map(|rating| rating.current_a),
        running: SecondsPart = SecondsPart::new(plan.running_s),
        left: SecondsPart = SecondsPart::new(plan.left_s(evening)),
        left_share: RatioPart = RatioPart::new(plan.left_share(evening)),
        sure_runs: u32 = plan.sure_runs(evening),
        stops_at_loaded_v: Option<f64> = plan.stops_early.map(|stop| stop.loaded_v),
        share_above_stop: Option<SharePart> = share.map(SharePart::new),
        cost_per_run_low: Option<f64> = cost.map(|cost| cost.low),
        cost_per_run_middle: Option<f64> = cost.and_then(|cost| cost.middle),
        cost_per_run_high: Option<f64> = cost.and_then(|cost| cost.high),
        dim: bool = plan.is_dim,
    }
}

part! {
    struct SecondsPart(range: Option<Range>) {
        low_s: Option<f64> = range.map(|range| range.low),
        middle_s: Option<f64> = range.and_then(|range| range.middle),
        high_s: Option<f64> = range.map(|range| range.high),
    }
}

part! {
    struct RatioPart(range: Option<Range>) {
        low_ratio: Option<f64> = range.map(|range| range.low),
        middle_ratio: Option<f64> = range.and_then(|range| range.middle),
        high_ratio: Option<f64> = range.map(|range| range.high),
    }
}

part! {
    struct SharePart(share: Share) {
        low_ratio: f64 = share.low,
        middle_ratio: f64 = share.middle,
        high_ratio: f64 = share.high,
        widened_by: f64 = share.widening,
        replayed: HeldPart = HeldPart::new(share.held),
    }
}

part! {
    /// How often a range held the truth in replays.
    struct HeldPart(replayed: Held) {
        held: usize = replayed.held,
        of: usize = replayed.of,
    }
}

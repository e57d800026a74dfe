//! An evening and the result for each kind of battery: the part that text and JSON share.

use crate::battery::evening::Evening;
use crate::battery::plan::{Answer, Plan, Supply};
use crate::battery::price::{Cost, Price, cost_per_run};
use crate::circuit::hazards::Hazards;

/// The meaning of the ranges.
pub(super) const ESTIMATED: &str = "All of this is estimated. A range that was replayed held the truth as often as it says, the run itself, \
                         its load rate or its type left out; sagtrace battery --backtest has the tables. A span holds \
                         what published figures span, and no run was known to put it to the test: how often it holds is not \
                         known.";

/// An evening and the result for each kind of battery.
#[derive(Debug, Clone, Copy)]
pub struct Evenings<'a> {
    /// Name of the build.
    pub build: &'a str,
    /// The evening.
    pub evening: &'a Evening,
    /// The coil's current.
    pub supply: &'a Supply,
    /// Why the current is a range, or what it leaves out.
    pub supply_notes: &'a [String],
    /// The hazards by the build's own figures; `None` where they could not be computed.
    pub hazards: Option<&'a Hazards>,
    /// The kinds asked for.
    pub plans: &'a [Plan],
    /// How many batteries stand in series.
    pub series: u32,
    /// Their prices.
    pub prices: &'a [Price],
}

impl Evenings<'_> {
    pub(super) fn cost(&self, plan: &Plan) -> Option<Cost> {
        let price = self.prices.iter().find(|price| price.kind == plan.kind)?;
        cost_per_run(plan, self.evening, self.series, price)
    }

    /// The kinds whose value is known, sorted by it.
    fn sorted(&self, value: impl Fn(&Plan) -> Option<f64>) -> Vec<(String, f64)> {
        let known = self
            .plans
            .iter()
            .filter_map(|plan| Some((plan.name(), value(plan)?)));
        let mut known: Vec<(String, f64)> = known.collect();
        known.sort_by(|a, b| a.1.total_cmp(&b.1));
        known
    }

    pub(super) fn by_minutes(&self) -> Vec<(String, f64)> {
        let mut known = self.sorted(|plan| plan.running_s?.middle);
        known.reverse();
        known
    }

    pub(super) fn by_left(&self) -> Vec<(String, f64)> {
        let mut known = self.sorted(|plan| plan.left_share(self.evening)?.middle);
        known.reverse();
        known
    }

    pub(super) fn by_cost(&self) -> Vec<(String, f64)> {
        self.sorted(|plan| self.cost(plan)?.middle)
    }
}

pub(super) const fn word(answer: Answer) -> &'static str {
    match answer {
        Answer::Covered => "covered",
        Answer::Depends => "depends",
        Answer::NotCovered => "not covered",
        Answer::TooFewVolts => "does not run",
        Answer::NotKnown => "not known",
    }
}

pub(super) fn to_narrow(all: &Evenings<'_>) -> Vec<String> {
    let mut items = Vec::new();
    if matches!(all.supply, Supply::Predicted { .. }) {
        items.push(
            "measure the supply current once and type it, like --load 0.3A: the spread of the parts goes".to_owned(),
        );
    }
    let kind = match all.plans {
        [plan] => plan.kind.name(),
        _ => "KIND",
    };
    items.push(format!(
        "record one run from full to the end voltage, like: sagtrace record -b SHEET --battery N2 --battery-kind {kind} \
         --battery-start full; its next run is then predicted within about a tenth (sagtrace battery N2), and --own N2 plans by it here"
    ));
    items.push(
        "record with the evening's own pauses, and the battery's logbook has what rest gives back"
            .to_owned(),
    );
    items
}

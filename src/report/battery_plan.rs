//! Whether one charge covers an evening, as text and as JSON (schema 1).

use std::fmt::Write as _;

use serde_json::{Value, json};

use super::battery::{minutes, span};
use super::battery_plan_supply::{supply_json, supply_words};
use super::digits::nine_digits;
use super::hazards;
use super::layout::{list, told, under, wrapped};
use crate::battery::evening::Evening;
use crate::battery::kind::{Kind, Rating};
use crate::battery::plan::{Answer, Current, DIM_V, LEAST_SAID_S, Plan, Range, StopsEarly, Supply};
use crate::battery::price::{Cost, Price, cost_per_run};
use crate::battery::worth::{Held, Worth};
use crate::circuit::hazards::Hazards;
use crate::units::{Unit, rounded};

/// The form of the JSON.
const SCHEMA: u32 = 1;
/// Cautions that belong to every plan.
const CAUTIONS: &str = "No charging of alkaline, zinc-carbon or lithium primary batteries; others on their own charger only. \
                        Never short a battery. Stop at the end voltage, and when it gets hot.";

/// What the ranges are.
const ESTIMATED: &str = "All of this is estimated. A range that was replayed held the truth as often as it says, the run itself, \
                         its load rate or its type left out; sagtrace battery --backtest has the tables. A span holds \
                         what published figures span, and no run was known to put it to the test: how often it holds is not \
                         known.";

/// An evening and what each kind of battery makes of it.
#[derive(Debug, Clone, Copy)]
pub struct Evenings<'a> {
    /// Name of the build.
    pub build: &'a str,
    /// The evening.
    pub evening: &'a Evening,
    /// What the coil draws.
    pub supply: &'a Supply,
    /// Why the current is a range, or what it leaves out.
    pub supply_notes: &'a [String],
    /// What the build's own figures say of hazards; `None` where they could not be computed.
    pub hazards: Option<&'a Hazards>,
    /// The kinds asked for.
    pub plans: &'a [Plan],
    /// How many batteries stand in series.
    pub series: u32,
    /// What they cost.
    pub prices: &'a [Price],
}

impl Evenings<'_> {
    fn cost(&self, plan: &Plan) -> Option<Cost> {
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

    fn by_minutes(&self) -> Vec<(String, f64)> {
        let mut known = self.sorted(|plan| plan.running_s?.middle);
        known.reverse();
        known
    }

    fn by_left(&self) -> Vec<(String, f64)> {
        let mut known = self.sorted(|plan| plan.left_share(self.evening)?.middle);
        known.reverse();
        known
    }

    fn by_cost(&self) -> Vec<(String, f64)> {
        self.sorted(|plan| self.cost(plan)?.middle)
    }
}

/// As lines of text.
pub fn text(all: &Evenings<'_>) -> String {
    let evening = all.evening;
    let mut out = String::new();
    hazards::section(&mut out, all.hazards);
    told(&mut out, "evening", &pattern(evening));
    if let Some(first) = all.hazards.and_then(hazards::before_switching_on) {
        told(
            &mut out,
            "first",
            &format!("{first} What follows is of the batteries alone."),
        );
    }
    told(&mut out, "supply", &supply_words(all));
    for note in all.supply_notes {
        under(&mut out, note);
    }
    let rest = "a resting battery is taken to lose nothing and to win nothing: its voltage comes back in a pause, its \
                charge hardly; that errs on the short side";
    told(&mut out, "rest", rest);
    out.push('\n');
    table(&mut out, all);
    compared(&mut out, all);
    let why: Vec<String> = all.plans.iter().map(|plan| reason(plan, evening)).collect();
    list(&mut out, "why", &why);
    list(&mut out, "to narrow it", &to_narrow(all));
    out.push('\n');
    wrapped(&mut out, 0, ESTIMATED);
    wrapped(&mut out, 0, CAUTIONS);
    out
}

fn pattern(evening: &Evening) -> String {
    let running = minutes(evening.running_s());
    let run = exact_minutes(evening.run_s);
    if evening.runs == 1 {
        return format!("one run of {run}");
    }
    format!(
        "{} runs of {run}, one every {}: {running} of running, over after {}",
        evening.runs,
        exact_minutes(evening.every_s),
        minutes(evening.lasts_s())
    )
}

/// Minutes without a needless digit.
fn exact_minutes(time_s: f64) -> String {
    let minutes = time_s / 60.0;
    if (minutes - minutes.round()).abs() < 1e-9 {
        format!("{minutes:.0} min")
    } else {
        format!("{minutes:.1} min")
    }
}

fn table(out: &mut String, all: &Evenings<'_>) {
    let mut row = |cells: [&str; 6]| {
        let [kind, current, running, middle, answer, left] = cells;
        let line = format!("{kind:17}{current:>8}  {running:16} {middle:9}{answer:14}{left}");
        // Writing to a String cannot fail.
        writeln!(out, "{}", line.trim_end()).ok();
    };
    row([
        "battery",
        "draws",
        "runs",
        "middle",
        "evening",
        "left at the end",
    ]);
    for plan in all.plans {
        let current = plan.current.map_or_else(
            || "-".to_owned(),
            |current| rounded(current.middle_a, Unit::Ampere, 2),
        );
        let running = plan.running_s.map_or_else(|| "-".to_owned(), time);
        let middle_s = plan.running_s.and_then(|range| range.middle);
        let middle = middle_s.map_or_else(|| "-".to_owned(), minutes);
        let left = match plan.answer {
            Answer::Covered | Answer::Depends => left(plan, all.evening),
            _ => "-".to_owned(),
        };
        let answer = word(plan.answer);
        row([&plan.name(), &current, &running, &middle, answer, &left]);
    }
}

/// `20 to 75 min`; a foot of less than half a minute says nothing.
fn time(range_s: Range) -> String {
    if range_s.low >= LEAST_SAID_S {
        span(range_s.low, range_s.high)
    } else {
        format!("up to {}", minutes(range_s.high))
    }
}

fn left(plan: &Plan, evening: &Evening) -> String {
    let Some((left_s, share)) = plan.left_s(evening).zip(plan.left_share(evening)) else {
        return "-".to_owned();
    };
    if left_s.low <= 0.0 {
        return format!(
            "up to {} ({:.0} %)",
            minutes(left_s.high),
            100.0 * share.high
        );
    }
    format!(
        "{} ({:.0} to {:.0} %)",
        span(left_s.low, left_s.high),
        100.0 * share.low,
        100.0 * share.high
    )
}

const fn word(answer: Answer) -> &'static str {
    match answer {
        Answer::Covered => "covered",
        Answer::Depends => "depends",
        Answer::NotCovered => "not covered",
        Answer::TooFewVolts => "does not run",
        Answer::NotKnown => "not known",
    }
}

/// The kinds beside each other, best first.
fn compared(out: &mut String, all: &Evenings<'_>) {
    let listed = |known: &[(String, f64)], words: &dyn Fn(f64) -> String| {
        let each = known
            .iter()
            .map(|(name, value)| format!("{name} {}", words(*value)));
        each.collect::<Vec<_>>().join(", ")
    };
    if all.plans.len() > 1 && !all.by_minutes().is_empty() {
        out.push_str("\nbest first, by the middles of ranges that overlap\n");
        told(out, "  by minutes", &listed(&all.by_minutes(), &minutes));
        let share = |share: f64| format!("{:.0} %", 100.0 * share);
        told(out, "  left over", &listed(&all.by_left(), &share));
        if !all.by_cost().is_empty() {
            told(out, "  by cost", &listed(&all.by_cost(), &money));
        }
    }
    let costs: Vec<String> = all
        .plans
        .iter()
        .filter_map(|plan| Some(cost(plan, all.cost(plan)?)))
        .collect();
    let heading =
        "cost of one run by the prices typed, what is left used another time; no charger counted";
    list(out, heading, &costs);
}

fn cost(plan: &Plan, cost: Cost) -> String {
    let name = plan.name();
    match (cost.middle, cost.high) {
        (Some(middle), Some(high)) => format!(
            "{name}: {} to {}, middle {}",
            money(cost.low),
            money(high),
            money(middle)
        ),
        _ => format!("{name}: at least {}", money(cost.low)),
    }
}

/// An amount of money, in no coin, to two digits.
fn money(amount: f64) -> String {
    if amount >= 10.0 {
        return format!("{amount:.0}");
    }
    let mut places = 1;
    let mut least = 1.0;
    while amount < least && places < 8 {
        places += 1;
        least /= 10.0;
    }
    format!("{amount:.places$}")
}

/// Why a kind is judged so.
fn reason(plan: &Plan, evening: &Evening) -> String {
    let mut parts = vec![match (plan.answer, plan.given) {
        (Answer::TooFewVolts, _) => format!(
            "the coil is not predicted to run fully from {}",
            rounded(plan.nominal_v, Unit::Volt, 2)
        ),
        (_, Some(given)) if given.low_ah > 0.0 => format!(
            "{:.0} to {:.0} mAh, {}; {}",
            1000.0 * given.low_ah,
            1000.0 * given.high_ah,
            worth(given.worth),
            given.source
        ),
        (_, Some(given)) => given.source.to_owned(),
        (_, None) => "no published figure is known at this current".to_owned(),
    }];
    parts.extend(plan.rating.map(|rating| rated(rating, plan.current)));
    if plan.answer == Answer::Depends {
        parts.push(format!(
            "the foot covers {} of {} runs, take a second battery along",
            plan.sure_runs(evening),
            evening.runs
        ));
    }
    if plan.kind == Kind::UsbConverter {
        parts.push("it holds its voltage until it stops, and may not warn".to_owned());
    } else if plan.kind.end_point().is_none() && plan.running_s.is_some() {
        parts.push("no end point is known for it".to_owned());
    }
    parts.extend(plan.stops_early.map(stops));
    if plan.is_dim {
        parts.push(format!(
            "lamps disappoint below {DIM_V} V under load (common practice, no source)"
        ));
    }
    format!("{}: {}", plan.name(), parts.join("; "))
}

/// What a range of charge is worth.
fn worth(worth: Worth) -> String {
    match worth {
        Worth::Replayed { held, on } => {
            format!("replayed: held {} of {} {on}", held.held, held.of)
        }
        Worth::OwnRuns(runs @ ..5) => {
            let run = if runs == 1 { "run" } else { "runs" };
            format!("a tenth to either side of the last of its {runs} full {run}")
        }
        Worth::OwnRuns(runs) => {
            format!("its last full run, as far off as 90 % of its {runs} were from the run before")
        }
        Worth::Span => "a span".to_owned(),
        Worth::TopOnly => "a top alone".to_owned(),
    }
}

/// How the printed charge was measured, beside what the coil draws.
fn rated(rating: Rating, current: Option<Current>) -> String {
    let drawn = current.map_or_else(String::new, |current| {
        let times = current.middle_a / rating.current_a;
        format!("; the coil draws {times:.1} times that")
    });
    format!(
        "a printed charge counts at {} for {} or more down to {}{drawn}",
        rounded(rating.current_a, Unit::Ampere, 2),
        minutes(rating.least_s),
        rounded(rating.end_v, Unit::Volt, 2)
    )
}

/// Where the coil stops, and what lies above.
fn stops(stop: StopsEarly) -> String {
    let volts = rounded(stop.loaded_v, Unit::Volt, 2);
    let had = stop.share.map_or_else(
        || "no curve of this kind is known that tells how much of its charge lies above".to_owned(),
        |share| {
            format!(
                "{:.0} to {:.0} % of a run lie above on the curves that ship with the program, none of them measured \
                 (made {} times as wide as they span, so that it held {} of {} with the run's own load rate left out)",
                100.0 * share.low,
                100.0 * share.high,
                share.widening,
                share.held.held,
                share.held.of
            )
        },
    );
    format!("with typical parts the coil is predicted to stop at {volts} under load: {had}")
}

fn to_narrow(all: &Evenings<'_>) -> Vec<String> {
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
         --battery-start full; its next run is then foretold within about a tenth (sagtrace battery N2), and --own N2 plans by it here"
    ));
    items.push(
        "record with the evening's own pauses, and the battery's logbook has what rest gives back"
            .to_owned(),
    );
    items
}

/// As JSON: SI numbers and ampere hours under keys that name their unit, null for what is not known.
pub fn json(all: &Evenings<'_>) -> Value {
    let evening = all.evening;
    let kinds: Vec<Value> = all
        .plans
        .iter()
        .map(|plan| kind(plan, evening, all.cost(plan)))
        .collect();
    let names = |known: Vec<(String, f64)>| -> Vec<String> {
        known.into_iter().map(|(name, _)| name).collect()
    };
    json!({
        "schema": SCHEMA,
        "build": all.build,
        "estimated": true,
        "evening": {
            "runs": evening.runs,
            "run_s": evening.run_s,
            "every_s": evening.every_s,
            "running_s": evening.running_s(),
            "lasts_s": evening.lasts_s(),
        },
        "hazards": all.hazards.map(hazards::json),
        "supply": supply_json(all.supply),
        "supply_notes": all.supply_notes,
        "kinds": kinds,
        "by_minutes": names(all.by_minutes()),
        "by_left": names(all.by_left()),
        "by_cost": names(all.by_cost()),
        "to_narrow": to_narrow(all),
        "ranges": ESTIMATED,
    })
}

fn kind(plan: &Plan, evening: &Evening, cost: Option<Cost>) -> Value {
    let range = |range: Option<Range>, unit: &str| {
        let value =
            |pick: fn(&Range) -> Option<f64>| range.as_ref().and_then(pick).map(nine_digits);
        let mut of_unit = serde_json::Map::new();
        of_unit.insert(format!("low_{unit}"), json!(value(|range| Some(range.low))));
        of_unit.insert(format!("middle_{unit}"), json!(value(|range| range.middle)));
        of_unit.insert(
            format!("high_{unit}"),
            json!(value(|range| Some(range.high))),
        );
        Value::Object(of_unit)
    };
    let share = plan.stops_early.and_then(|stop| stop.share);
    let held = |held: Option<Held>| held.map(|held| json!({ "held": held.held, "of": held.of }));
    json!({
        "kind": plan.kind.name(),
        "battery": plan.own,
        "simulated": plan.is_simulated,
        "answer": word(plan.answer).replace(' ', "-"),
        "nominal_v": nine_digits(plan.nominal_v),
        "current_a": plan.current.map(|current| nine_digits(current.middle_a)),
        "charge_low_ah": plan.given.map(|given| nine_digits(given.low_ah)),
        "charge_high_ah": plan.given.map(|given| nine_digits(given.high_ah)),
        "charge_source": plan.given.map(|given| given.source),
        "charge_range": plan.given.map(|given| given.worth.word()),
        "charge_replayed": held(plan.given.and_then(|given| given.worth.held())),
        "rated_at_a": plan.rating.map(|rating| nine_digits(rating.current_a)),
        "running": range(plan.running_s, "s"),
        "left": range(plan.left_s(evening), "s"),
        "left_share": range(plan.left_share(evening), "ratio"),
        "sure_runs": plan.sure_runs(evening),
        "stops_at_loaded_v": plan.stops_early.map(|stop| nine_digits(stop.loaded_v)),
        "share_above_stop": share.map(|share| json!({
            "low_ratio": nine_digits(share.low),
            "middle_ratio": nine_digits(share.middle),
            "high_ratio": nine_digits(share.high),
            "widened_by": share.widening,
            "replayed": held(Some(share.held)),
        })),
        "cost_per_run_low": cost.map(|cost| nine_digits(cost.low)),
        "cost_per_run_middle": cost.and_then(|cost| cost.middle).map(nine_digits),
        "cost_per_run_high": cost.and_then(|cost| cost.high).map(nine_digits),
        "dim": plan.is_dim,
    })
}

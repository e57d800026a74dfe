//! Whether one charge covers an evening, as text and as JSON (schema 1).

use std::fmt::Write as _;

use super::evenings::{ESTIMATED, Evenings, to_narrow, word};
use super::supply::supply_words;
use crate::battery::evening::Evening;
use crate::battery::kind::Rating;
use crate::battery::plan::{Answer, Current, DIM_V, LEAST_SAID_S, Plan, Range, StopsEarly};
use crate::battery::price::Cost;
use crate::battery::worth::Worth;
use crate::caution::Caution;
use crate::report::battery::words::{minutes, span};
use crate::report::hazards;
use crate::report::layout::{list, told, under, wrapped};
use crate::units::{Unit, rounded};

/// Cautions that belong to every plan.
const CAUTIONS: [Caution; 5] = [
    Caution::ChargePrimary,
    Caution::ChargeOwn,
    Caution::ShortCircuit,
    Caution::EndVoltage,
    Caution::HotBattery,
];

/// Returns the evenings as lines of text.
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
    wrapped(&mut out, 0, &Caution::together(&CAUTIONS));
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
pub(super) fn exact_minutes(time_s: f64) -> String {
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
pub(super) fn time(range_s: Range) -> String {
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
pub(super) fn money(amount: f64) -> String {
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
    if plan.kind.has_converter() {
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

/// Returns the worth of a range of charge.
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

/// Returns how the printed charge was measured, beside the coil's current.
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

/// Returns where the coil stops, and the charge that lies above.
fn stops(stop: StopsEarly) -> String {
    let volts = rounded(stop.loaded_v, Unit::Volt, 2);
    let had = stop.share.map_or_else(
        || "no curve of this kind is known that shows how much of its charge lies above".to_owned(),
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

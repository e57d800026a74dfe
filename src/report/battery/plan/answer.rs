//! The short answer of a plan: which batteries cover the evening, how sure that is, and in which order they cost.

use super::evenings::Evenings;
use super::supply::drawn;
use super::text::{exact_minutes, money, time};
use crate::battery::plan::{Answer, Plan, Supply};
use crate::battery::worth::{Held, Worth};
use crate::report::hazards;
use crate::report::layout::kept;
use crate::report::predict::answer::Commands;
use crate::report::short::Short;

/// The current that a person types as measured: an example.
const MEASURED: &str = "--load 0.3A";

/// A plan in at most twelve lines.
pub fn answer(all: &Evenings<'_>, commands: &Commands, width: usize) -> String {
    let mut short = Short::default();
    let mut first = vec![evening(all)];
    first.extend(hazards::gravest(all.hazards));
    short.warn(first.join(" "));
    let covers = named(all, Answer::Covered, |plan| {
        let range_s = plan.running_s?;
        Some(format!("{} ({})", plan.name(), kept(&time(range_s))))
    });
    let mut second = vec![if covers.is_empty() {
        "No battery here is sure to cover it with one charge.".to_owned()
    } else {
        format!("One charge covers it: {}.", covers.join(", "))
    }];
    let may = may_cover(all);
    if !may.is_empty() {
        second.push(format!(
            "It may cover it: {}. Take a spare battery.",
            may.join(", ")
        ));
    }
    short.say(second.join(" "));
    if !all.by_cost().is_empty() {
        short.say(format!("Cheapest run first: {}.", costs(all).join(", ")));
    }
    let mut third = others(all);
    third.push(how_sure(all));
    short.say(third.join(" "));
    let (why, command) = next(all, commands);
    short.next(why, &command);
    short.more(commands.detail());
    short.printed(width)
}

/// Returns the evening, and the coil's current on it.
fn evening(all: &Evenings<'_>) -> String {
    let (evening, drawn) = (all.evening, drawn(all));
    let run = kept(&exact_minutes(evening.run_s));
    let weakly = match all.hazards.and_then(|hazards| hazards.supply) {
        Some(supply) if supply.weak > 0 => " (weakly with some parts, and lamps light little)",
        _ => "",
    };
    if evening.runs == 1 {
        return format!("One run of {run} at {drawn}{weakly}.");
    }
    format!(
        "{} of {run}, one every {}, at {drawn}{weakly}.",
        kept(&format!("{} runs", evening.runs)),
        kept(&exact_minutes(evening.every_s))
    )
}

/// The batteries with this answer, each in words.
fn named(
    all: &Evenings<'_>,
    answer: Answer,
    words: impl Fn(&Plan) -> Option<String>,
) -> Vec<String> {
    let some = all.plans.iter().filter(|plan| plan.answer == answer);
    some.filter_map(words).collect()
}

/// Those that may cover it, by the runs that even the least of them covers.
fn may_cover(all: &Evenings<'_>) -> Vec<String> {
    let is_so = |plan: &&Plan| plan.answer == Answer::Depends;
    let sure = |plan: &Plan| plan.sure_runs(all.evening);
    let mut plans: Vec<&Plan> = all.plans.iter().filter(is_so).collect();
    plans.sort_by_key(|plan| std::cmp::Reverse(sure(plan)));
    let each = plans.chunk_by(|a, b| sure(a) == sure(b)).map(|alike| {
        let names: Vec<String> = alike.iter().map(|plan| plan.name()).collect();
        let runs = match alike.first().map_or(0, |plan| sure(plan)) {
            0 => "no run sure".to_owned(),
            runs => format!("{runs} of {} sure", all.evening.runs),
        };
        format!("{} ({})", names.join(", "), kept(&runs))
    });
    each.collect()
}

/// Those that do not cover it, do not run the coil, or are not known.
fn others(all: &Evenings<'_>) -> Vec<String> {
    let kinds = [
        (Answer::NotCovered, "Too little charge"),
        (Answer::TooFewVolts, "Too few volts"),
        (Answer::NotKnown, "Not known"),
    ];
    let each = kinds.into_iter().filter_map(|(answer, words)| {
        let names = named(all, answer, |plan| Some(plan.name()));
        (!names.is_empty()).then(|| format!("{words}: {}.", names.join(", ")))
    });
    each.collect()
}

/// Which of the ranges were ever put to the test.
fn how_sure(all: &Evenings<'_>) -> String {
    let with_worth = |is_so: fn(Worth) -> bool| -> Vec<String> {
        let known = all.plans.iter().filter(|plan| plan.running_s.is_some());
        let some = known.filter(|plan| plan.given.is_some_and(|given| is_so(given.worth)));
        some.map(Plan::name).collect()
    };
    let tested = with_worth(|worth| worth.held().is_some_and(Held::is_enough));
    let own = with_worth(|worth| matches!(worth, Worth::OwnRuns(_)));
    let mut parts = vec![if tested.is_empty() {
        "All are estimates, none of them tested.".to_owned()
    } else {
        format!("All are estimates; tested: {}.", tested.join(", "))
    }];
    if !own.is_empty() {
        parts.push(format!("By its own runs: {}.", own.join(", ")));
    }
    parts.join(" ")
}

/// The batteries by the cost of one run, those of one cost together.
fn costs(all: &Evenings<'_>) -> Vec<String> {
    let mut groups: Vec<(Vec<String>, String)> = Vec::new();
    for (name, cost) in all.by_cost() {
        let cost = money(cost);
        match groups.last_mut() {
            Some((names, known)) if *known == cost => names.push(name),
            _ => groups.push((vec![name], cost)),
        }
    }
    let each = groups
        .into_iter()
        .map(|(names, cost)| format!("{} {cost}", names.join(" or ")));
    each.collect()
}

fn next(all: &Evenings<'_>, commands: &Commands) -> (&'static str, String) {
    match all.supply {
        Supply::Predicted { .. } => ("with the measured current", commands.with(MEASURED)),
        Supply::Typed(_) => (
            "for a narrower range, record one full run",
            format!(
                "sagtrace record -b {} --battery N2 --battery-start full",
                commands.sheet
            ),
        ),
    }
}

//! `predict --evening`: whether one charge covers an evening.

use crate::battery::charge::Load;
use crate::battery::evening::Evening;
use crate::battery::kind::Kind;
use crate::battery::logbook::Logbook;
use crate::battery::plan::{OfSheet, Plan, Supply};
use crate::cli::args::{Format, PlanArgs, PredictArgs};
use crate::cli::exit::{Failure, Outcome, USAGE};
use crate::cli::settings::Settings;
use crate::cli::{battery, output};
use crate::logbook::{Loading, Rule};
use crate::report::battery::plan::{
    self as battery_plan, Evenings, predicted_notes, stops_otherwise,
};
use crate::report::predict::answer::Commands;
use crate::sheet::Sheet;

pub(super) fn run(
    sheet: &Sheet,
    evening: &Evening,
    args: &PredictArgs,
    commands: &Commands,
    settings: &Settings,
) -> Result<Outcome, Failure> {
    let (is_detailed, format, args) = (args.detail, args.format, &args.plan);
    let (supply, mut supply_notes, hazards) = match args.load {
        Some(Loading::As(load)) => (Supply::Typed(load), Vec::new(), sheet.hazards()),
        Some(Loading::Build) | None => {
            let predicted = sheet.predicted_supply()?;
            (
                predicted.supply,
                predicted_notes(&predicted),
                Some(predicted.hazards),
            )
        }
    };
    let of_sheet = OfSheet {
        kind: sheet.battery.kind,
        series: sheet.battery.series,
        printed_ah: sheet.battery.capacity_ah,
    };
    let kinds = if args.kinds.is_empty() {
        Kind::WORDS.map(|(_, kind)| kind).to_vec()
    } else {
        args.kinds.clone()
    };
    let mut plans = Vec::new();
    for book in own(args, settings)? {
        supply_notes.extend(stops_otherwise(&book, &sheet.name, &supply));
        plans.push(
            Plan::of_own(&book, evening, &supply, &of_sheet)
                .ok_or_else(|| no_full_run(&book.battery))?,
        );
    }
    let by_kind = kinds.into_iter();
    plans.extend(by_kind.map(|kind| Plan::of(kind, evening, &supply, &of_sheet)));
    let prices = args.prices.as_ref().map_or(&[][..], |prices| &prices.0);
    let all = Evenings {
        build: &sheet.name,
        evening,
        supply: &supply,
        supply_notes: &supply_notes,
        hazards: hazards.as_ref(),
        plans: &plans,
        series: sheet.battery.series,
        prices,
    };
    output::result(&match format {
        Format::Text if is_detailed => output::account(battery_plan::text(&all)),
        Format::Text => battery_plan::answer(&all, commands, output::width()),
        Format::Json => output::json(&battery_plan::Json::new(&all))?,
    })?;
    Ok(Outcome::DONE)
}

/// The logbooks of the batteries asked for, in that order.
fn own(args: &PlanArgs, settings: &Settings) -> Result<Vec<Logbook>, Failure> {
    if args.own.is_empty() {
        return Ok(Vec::new());
    }
    let dir = settings.sessions(args.sessions.as_ref());
    let rule = Rule {
        end_v: None,
        kind: None,
        load: args.load.unwrap_or(Loading::As(Load::Measured)),
    };
    let books = battery::books(&dir, &rule)?;
    let found = |label: &String| battery::known(&books, label, &dir).cloned();
    args.own.iter().map(found).collect()
}

fn no_full_run(label: &str) -> Failure {
    Failure::new(
        USAGE,
        format!(
            "battery {label}: no run from full to the end without gaps and with a known current and kind, its own runs give no charge"
        ),
    )
    .hint(format!(
        "record one with --battery {label} --battery-start full and the current measured, or say what the coil draws \
         with --load; sagtrace battery {label} lists its runs"
    ))
}

//! `battery`: the logbook, one battery with its time left, a test of two readings, and the back-test of forecasts.

mod books;
mod several;

use std::path::Path;

use books::unknown;
pub(super) use books::{books, known, refuse_above};

use crate::analysis::figures::battery::runs;
use crate::battery::backtest::{Knowledge, replay, replay_on};
use crate::battery::charge::Load;
use crate::battery::kind::Kind;
use crate::battery::last_run;
use crate::battery::logbook::{Entry, Logbook};
use crate::battery::resistance::{Level, two_level};
use crate::battery::shipped;
use crate::cli::args::{BatteryArgs, Format};
use crate::cli::command_line::typed;
use crate::cli::exit::{Failure, Outcome, USAGE};
use crate::cli::settings::Settings;
use crate::cli::{output, pictures};
use crate::logbook::{self, Loading, Rule, finished, reread};
use crate::plain::Shown as _;
use crate::report;
use crate::report::battery::backtest::{ByLog, Table};
use crate::report::battery::test::Test;
use crate::report::battery::{Page, answer};

pub(super) fn run(args: &BatteryArgs, settings: &Settings) -> Result<Outcome, Failure> {
    if let (Some(open_v), Some(loaded_v), Some(current_a)) = (args.open, args.loaded, args.current)
    {
        return test(args, open_v, loaded_v, current_a);
    }
    let dir = settings.sessions(args.sessions.as_ref());
    let rule = Rule {
        end_v: args.end,
        kind: args.kind,
        load: args.load.unwrap_or(Loading::As(Load::Measured)),
    };
    let books = books(&dir, &rule)?;
    let named = books
        .iter()
        .filter(|book| args.labels.contains(&book.battery));
    for entry in named.flat_map(|book| &book.entries) {
        refuse_above("--end", args.end, entry.kind, entry.series)?;
    }
    let text = if args.backtest {
        backtest(args, &dir, &rule, &books)?
    } else if let [label] = args.labels.as_slice() {
        return one(args, label, &dir, &rule, &books);
    } else if !args.labels.is_empty() {
        return several::run(args, &dir, &rule, &books);
    } else {
        match args.format {
            Format::Text if args.detail => {
                output::account(report::battery::list(&books, &dir.shown()))
            }
            Format::Text => answer::list(&books, &dir.shown(), &typed(&[]), false, output::width()),
            Format::Json => output::json(&report::battery::json::List::new(&books))?,
        }
    };
    output::result(&text)?;
    Ok(Outcome::DONE)
}

fn test(
    args: &BatteryArgs,
    open_v: f64,
    loaded_v: f64,
    current_a: f64,
) -> Result<Outcome, Failure> {
    let light = Level {
        volts_v: open_v,
        current_a: args.light_current.unwrap_or(0.0),
    };
    let heavy = Level {
        volts_v: loaded_v,
        current_a,
    };
    let pulse_s = args.pulse.map(|pulse| pulse.as_secs_f64());
    let resistance = two_level(light, heavy, pulse_s, args.digit).map_err(|error| {
        Failure::from_error(USAGE, &error)
            .hint("read the voltage once with the load off and once with it on")
    })?;
    let test = Test {
        light,
        heavy,
        resistance,
        kind: args.kind,
    };
    let text = match args.format {
        Format::Text if args.detail => output::account(report::battery::test::text(&test)),
        Format::Text => answer::test(&test, &typed(&[]), output::width()),
        Format::Json => output::json(&report::battery::test::Json::new(&test))?,
    };
    output::result(&text)?;
    Ok(Outcome::DONE)
}

fn backtest(
    args: &BatteryArgs,
    dir: &Path,
    rule: &Rule,
    books: &[Logbook],
) -> Result<String, Failure> {
    let mut tables = Vec::new();
    for kind in [Kind::LiIon2s, Kind::Alkaline] {
        let known = shipped::finished(kind);
        let runs = shipped::trials(kind);
        let label = shipped::all().find(|one| one.kind == kind);
        let label = label.map_or("", |one| one.label);
        let mut tried = vec![("voltage only", Knowledge::VoltageOnly)];
        if kind == Kind::LiIon2s {
            let rated = Knowledge::RatedCharge(shipped::LI_ION_RATED_AH);
            tried.push(("voltage, current and printed charge", rated));
        }
        for (words, knowledge) in tried {
            let heading = format!("{}: {} runs of {label}, {words}", kind.name(), runs.len());
            tables.push(Table::new(heading, &replay_on(&runs, &known, knowledge)));
        }
    }
    for book in books {
        let runs = finished(dir, book, rule)?;
        if runs.len() > 1 {
            let heading = format!("{}: its own {} full runs", book.battery, runs.len());
            let table = Table::new(heading, &replay(&runs, Knowledge::LastRun));
            tables.push(table.beside(by_log(book)));
        }
    }
    let plans = crate::battery::plan::replay::all();
    Ok(match args.format {
        Format::Text if args.detail => {
            output::account(report::battery::backtest::text(&tables, &plans))
        }
        Format::Text => answer::backtest(&tables, &typed(&[]), output::width()),
        Format::Json => output::json(&report::battery::backtest::Json::new(&tables, &plans))?,
    })
}

/// How well a battery's logbook alone predicts its full runs; the printed charge is held against the charge given.
fn by_log(book: &Logbook) -> ByLog {
    let lengths_s = book.full_runs_s();
    let charges_ah: Vec<f64> = book.entries.iter().filter_map(Entry::full_ah).collect();
    let printed_ah = book.entries.iter().rev().find_map(|entry| entry.rated_ah);
    ByLog {
        last: last_run::error(&lengths_s, 1, last_run::Rule::Last),
        median_of_three: last_run::error(&lengths_s, 3, last_run::Rule::MedianOfThree),
        printed: printed_ah.and_then(|printed_ah| {
            last_run::error(&charges_ah, 0, last_run::Rule::Printed(printed_ah))
        }),
    }
}

fn one(
    args: &BatteryArgs,
    label: &str,
    dir: &Path,
    rule: &Rule,
    books: &[Logbook],
) -> Result<Outcome, Failure> {
    let book = known(books, label, dir)?;
    let Some(last) = book.last() else {
        return Err(unknown(label, dir));
    };
    let now = reread(dir, last, rule.load)?;
    let looked = if last.ended_s().is_none() {
        logbook::look(dir, rule, books, book, &now)?
    } else {
        None
    };
    let peukert = args.at.map(|current_a| (current_a, book.peukert()));
    let page = Page {
        book,
        gaps: &now.meter.gaps,
        looked: looked.as_ref(),
        peukert,
    };
    let text = match args.format {
        // Whoever asks for a current asks for the table that it stands in.
        Format::Text if args.detail || peukert.is_some() => {
            output::account(report::battery::one(&page))
        }
        Format::Text => answer::one(&page, &typed(&[]), output::width()),
        Format::Json => output::json(&report::battery::json::One::new(book, looked.as_ref()))?,
    };
    output::result(&text)?;
    if !args.no_plots {
        let usual = dir.join(&last.folder).join("plots");
        let plots = args.plots.clone().unwrap_or(usual);
        let stop_v = if args.coil_stop {
            Some(logbook::stop_v(dir, &last.folder)?)
        } else {
            None
        };
        let overlays = logbook::last_runs(dir, rule, book, &now)?;
        let figure = runs(book, &overlays, looked.as_ref(), stop_v);
        let figures = [("battery-runs", figure)];
        pictures::tell(&pictures::draw(&figures, &plots, pictures::PLOTS)?);
    }
    Ok(Outcome::DONE)
}

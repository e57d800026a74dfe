//! `battery`: the logbook, one battery with its time left, a test of two readings, and the back-test of forecasts.

use std::path::{Path, PathBuf};

use super::args::{BatteryArgs, Format};
use super::ends::{self, Sources};
use super::exit::{CANNOT_WRITE, Failure, Outcome, USAGE};
use super::load::Loading;
use super::logbook::{self, Rule as Reading, finished, reread};
use super::settings::Settings;
use super::{battery_several, output};
use crate::analysis::discharge::Discharge;
use crate::analysis::figures::battery::{Overlay, runs};
use crate::battery::backtest::{Knowledge, replay, replay_on};
use crate::battery::charge::Load;
use crate::battery::end;
use crate::battery::kind::Kind;
use crate::battery::last_run::{self, Rule};
use crate::battery::logbook::{Entry, Logbook};
use crate::battery::outlook::{Outlook, Run, outlook};
use crate::battery::resistance::{Level, two_level};
use crate::battery::shipped;
use crate::figure::Figure;
use crate::plain::{self, Shown as _};
use crate::plot;
use crate::report;
use crate::report::battery::Page;
use crate::report::battery::backtest::{ByLog, Table};
use crate::report::battery::test::Test;
use crate::session::{Session, replace_file};
use crate::sheet;

/// Runs drawn behind the last one.
const DRAWN: usize = 4;

pub(super) fn run(args: &BatteryArgs, settings: &Settings) -> Result<Outcome, Failure> {
    if let (Some(open_v), Some(loaded_v), Some(current_a)) = (args.open, args.loaded, args.current)
    {
        return test(args, open_v, loaded_v, current_a);
    }
    let dir = logbook::dir(args.sessions.as_ref(), settings);
    let rule = Reading {
        end_v: args.end,
        kind: args.kind,
        load: args.load.unwrap_or(Loading::As(Load::Measured)),
    };
    let (entries, left_out) = logbook::entries(&dir, &rule)?;
    for why in left_out {
        output::note(&format!("left out: {why}"));
    }
    let books = Logbook::by_battery(entries);
    let text = if args.backtest {
        backtest(args, &dir, &rule, &books)?
    } else if let [label] = args.labels.as_slice() {
        return one(args, label, &dir, &rule, &books);
    } else if !args.labels.is_empty() {
        return battery_several::run(args, &dir, &rule, &books);
    } else {
        match args.format {
            Format::Text => report::battery::list(&books, &dir.shown()),
            Format::Json => format!("{:#}\n", report::battery::json::list(&books)),
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
        Format::Text => report::battery::test::text(&test),
        Format::Json => format!("{:#}\n", report::battery::test::json(&test)),
    };
    output::result(&text)?;
    Ok(Outcome::DONE)
}

fn backtest(
    args: &BatteryArgs,
    dir: &Path,
    rule: &Reading,
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
        Format::Text => report::battery::backtest::text(&tables, &plans),
        Format::Json => format!("{:#}\n", report::battery::backtest::json(&tables, &plans)),
    })
}

/// How well a battery's full runs are foretold by its logbook alone; the printed charge is held against the charge given.
fn by_log(book: &Logbook) -> ByLog {
    let lengths_s = book.full_runs_s();
    let charges_ah: Vec<f64> = book.entries.iter().filter_map(Entry::full_ah).collect();
    let printed_ah = book.entries.iter().rev().find_map(|entry| entry.rated_ah);
    ByLog {
        last: last_run::error(&lengths_s, 1, Rule::Last),
        median_of_three: last_run::error(&lengths_s, 3, Rule::MedianOfThree),
        printed: printed_ah
            .and_then(|printed_ah| last_run::error(&charges_ah, 0, Rule::Printed(printed_ah))),
    }
}

fn one(
    args: &BatteryArgs,
    label: &str,
    dir: &Path,
    rule: &Reading,
    books: &[Logbook],
) -> Result<Outcome, Failure> {
    let book = known(books, label, dir)?;
    let Some(last) = book.last() else {
        return Err(unknown(label, dir));
    };
    let now = reread(dir, last, rule.load)?;
    let looked = if last.ended_s().is_none() {
        look(dir, rule, books, book, &now)?
    } else {
        None
    };
    let peukert = args.at.map(|current_a| (current_a, book.peukert()));
    let text = match args.format {
        Format::Text => report::battery::one(&Page {
            book,
            gaps: &now.meter.gaps,
            looked: looked.as_ref(),
            peukert,
        }),
        Format::Json => format!("{:#}\n", report::battery::json::one(book, looked.as_ref())),
    };
    output::result(&text)?;
    if !args.no_plots {
        let usual = dir.join(&last.folder).join("plots");
        let plots = args.plots.clone().unwrap_or(usual);
        let stop_v = if args.coil_stop {
            Some(coil_stop_v(dir, &last.folder)?)
        } else {
            None
        };
        let overlays = overlays(dir, rule, book, &now)?;
        let figure = runs(book, &overlays, looked.as_ref(), stop_v);
        let path = draw(&figure, &plots, "battery-runs.png")?;
        output::note(&format!("drawn to {}", path.shown()));
    }
    Ok(Outcome::DONE)
}

/// The logbook with a label.
pub(super) fn known<'a>(
    books: &'a [Logbook],
    label: &str,
    dir: &Path,
) -> Result<&'a Logbook, Failure> {
    let found = books.iter().find(|book| book.battery == label);
    found.ok_or_else(|| unknown(label, dir))
}

fn unknown(label: &str, dir: &Path) -> Failure {
    Failure::new(
        USAGE,
        format!("no session in {} names the battery {label}", dir.shown()),
    )
    .hint(format!(
        "name it when you record: sagtrace record --battery {label}"
    ))
}

/// The voltage under load at which the coil of a session's build is predicted to stop, in volt.
fn coil_stop_v(dir: &Path, folder: &str) -> Result<f64, Failure> {
    let cannot = |why: &str| {
        Failure::new(
            USAGE,
            format!(
                "voltage at which the coil of {} stops: not predicted, {why}",
                plain::line(folder)
            ),
        )
        .hint("draw without --coil-stop, or record with a build sheet: sagtrace record -b SHEET")
    };
    let session =
        Session::open(&dir.join(folder)).map_err(|error| Failure::from_error(USAGE, &error))?;
    let text = session
        .build_sheet
        .ok_or_else(|| cannot("the session has no build sheet"))?;
    let sheet = sheet::parse(&text).map_err(|_| cannot("its build sheet has faults"))?;
    sheet
        .stop_v()?
        .ok_or_else(|| cannot("its circuit does not run fully with typical parts"))
}

/// What is said of the battery's last session; `None` where no end voltage is known.
fn look(
    dir: &Path,
    rule: &Reading,
    books: &[Logbook],
    book: &Logbook,
    now: &Discharge,
) -> Result<Option<Outlook>, Failure> {
    let Some(last) = book.last() else {
        return Ok(None);
    };
    let samples = now.samples();
    let own = finished(dir, book, rule)?;
    let of_kind: Vec<&Logbook> = books
        .iter()
        .filter(|other| {
            other.battery != book.battery
                && other.is_simulated == book.is_simulated
                && other.kind() == last.kind
        })
        .collect();
    let mut others = Vec::new();
    if own.is_empty() {
        for other in of_kind {
            others.extend(logbook::of_another(dir, other, rule)?);
        }
    }
    let sheet = Session::open(&dir.join(&last.folder))
        .ok()
        .and_then(|session| sheet::parse(&session.build_sheet?).ok());
    let sources = Sources {
        asked_v: last.asked_v,
        empty_v: last.end_v,
        kind: last.kind,
        book: Some(book),
    };
    let run = Run {
        so_far: &samples,
        start: last.start,
        kind: last.kind,
        series: last.series,
        end: ends::of(sources, sheet.as_ref()).first(end::run_down_to_v(&samples)),
        rated_ah: last.rated_ah,
        resistance_ohm: last.resistance_ohm,
    };
    Ok(Some(outlook(&run, &own, &others)))
}

/// The last runs of a battery, the newest first.
fn overlays(
    dir: &Path,
    rule: &Reading,
    book: &Logbook,
    now: &Discharge,
) -> Result<Vec<Overlay>, Failure> {
    let label = |entry: &Entry| {
        let to_minute = |entry: &Entry| entry.started.get(..16).map(str::to_owned);
        let same = book
            .entries
            .iter()
            .filter(|one| to_minute(one) == to_minute(entry));
        // Two runs that began in one minute are told apart by their seconds.
        let length = if same.count() > 1 { 19 } else { 16 };
        let day = entry.started.get(..length).unwrap_or(&entry.started);
        day.replace('T', " ")
    };
    let mut made = Vec::new();
    for (age, entry) in book.entries.iter().rev().take(1 + DRAWN).enumerate() {
        made.push(if age == 0 {
            Overlay::new(label(entry), now)
        } else {
            Overlay::new(label(entry), &reread(dir, entry, rule.load)?)
        });
    }
    Ok(made)
}

/// Draws a figure into a folder under a name.
pub(super) fn draw(figure: &Figure, dir: &Path, name: &str) -> Result<PathBuf, Failure> {
    let cannot_write = |error: &dyn std::error::Error| {
        Failure::from_error(CANNOT_WRITE, error)
            .hint("name a folder for the plot with --plots, or draw none with --no-plots")
    };
    std::fs::create_dir_all(dir).map_err(|error| cannot_write(&error))?;
    let path = dir.join(name);
    let png = plot::png(figure, plot::usual_size(figure)).map_err(|error| cannot_write(&error))?;
    replace_file(&path, &png).map_err(|error| cannot_write(&error))?;
    Ok(path)
}

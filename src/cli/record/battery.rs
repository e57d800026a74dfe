//! The battery in use, from the arguments, and its earlier runs, from the session folders.

use std::path::{Path, PathBuf};

use crate::battery::charge::Load;
use crate::battery::finished::Start;
use crate::battery::logbook::Logbook;
use crate::battery::series;
use crate::battery::watch::Limits;
use crate::cli::args::{BatteryInUse, BatteryStart};
use crate::cli::battery::refuse_above;
use crate::cli::exit::{Failure, USAGE};
use crate::logbook::{self, Loading, Rule, Sources};
use crate::recording::{Battery, Earlier, EarlierRuns, Forecast};
use crate::session::Session;
use crate::sheet::Sheet;

/// Returns the forecast that these arguments ask for; `None` where no battery is named.
pub(crate) fn forecast(
    args: &BatteryInUse,
    sheet: Option<&Sheet>,
    sessions: PathBuf,
    is_simulated: bool,
) -> Result<Option<Forecast>, Failure> {
    if args.battery.is_none() && args.battery_kind.is_none() {
        let asked = [
            (args.warn_left.is_some(), "--warn-left"),
            (args.until_forecast.is_some(), "--until-forecast"),
        ];
        return match asked.into_iter().find(|(is_asked, _)| *is_asked) {
            Some((_, option)) => Err(Failure::new(USAGE, format!("{option} needs a battery"))
                .hint("name its label with --battery N2 or its kind with --battery-kind nimh-7")),
            None => Ok(None),
        };
    }
    let of_build = sheet.map(|sheet| sheet.battery);
    let each_v = args.battery_each.as_ref().map_or(&[][..], |each| &each.0);
    let series = in_series(each_v, of_build.map(|battery| battery.series))?;
    let kind = args
        .battery_kind
        .or_else(|| of_build.map(|battery| battery.kind));
    refuse_above("--battery-end", args.battery_end, kind, series)?;
    let of_kind = || logbook::end_v(kind?, series, each_v);
    let seconds = |time: Option<std::time::Duration>| time.map(|time| time.as_secs_f64());
    let battery = Battery {
        kind,
        series,
        end_v: args.battery_end.or_else(of_kind),
        // The charge printed in the sheet is that of the sheet's kind.
        rated_ah: of_build
            .filter(|battery| Some(battery.kind) == kind)
            .and_then(|battery| battery.capacity_ah),
        start: start(args.battery_start),
        load: load(args.load, sheet)?,
        limits: Limits {
            warn_s: seconds(args.warn_left),
            end_s: seconds(args.until_forecast),
        },
        weakest: series::weakest(each_v),
        is_masked: false,
        is_simulated,
    };
    let earlier = InFolders {
        dir: sessions,
        label: args.battery.clone(),
        asked_v: args.battery_end,
        is_own_end: args.battery_end.is_some() || !each_v.is_empty(),
        sheet: sheet.cloned(),
        battery: battery.clone(),
    };
    Ok(Some(Forecast {
        battery,
        earlier: Box::new(earlier),
    }))
}

/// How many batteries stand in series.
fn in_series(each_v: &[f64], of_build: Option<u32>) -> Result<u32, Failure> {
    match (u32::try_from(each_v.len()), of_build) {
        (Ok(count @ 1..), Some(series)) if count != series => Err(Failure::new(
            USAGE,
            format!("--battery-each: {count} voltages, the build sheet has {series} in series"),
        )
        .hint("give the voltage of each battery, or mend series in the sheet")),
        (Ok(count @ 1..), _) => Ok(count),
        (_, series) => Ok(series.unwrap_or(1)),
    }
}

fn load(named: Option<Loading>, sheet: Option<&Sheet>) -> Result<Load, Failure> {
    match (named, sheet) {
        (None, _) => Ok(Load::Measured),
        (Some(Loading::As(load)), _) => Ok(load),
        (Some(Loading::Build), Some(sheet)) => Ok(sheet.predicted_load()?),
        (Some(Loading::Build), None) => {
            Err(Failure::new(USAGE, "--load build wants a build sheet")
                .hint("name it with --build, or type the load, like --load 0.3A"))
        }
    }
}

/// The word for it in `session.toml`.
pub(crate) const fn start_word(typed: BatteryStart) -> &'static str {
    match typed {
        BatteryStart::Full => "full",
        BatteryStart::Unknown => "unknown",
    }
}

/// How the battery is at the start.
const fn start(typed: BatteryStart) -> Start {
    match typed {
        BatteryStart::Full => Start::Full,
        BatteryStart::Unknown => Start::Unknown,
    }
}

/// Earlier sessions, in the folders below one.
#[derive(Debug)]
struct InFolders {
    dir: PathBuf,
    /// The battery's label.
    label: Option<String>,
    /// The end that was asked for, in volts.
    asked_v: Option<f64>,
    /// Whether the battery's end was asked for, and not the kind's.
    is_own_end: bool,
    /// The build that it runs.
    sheet: Option<Sheet>,
    battery: Battery,
}

impl EarlierRuns for InFolders {
    /// A folder that can't be read is as one without sessions: the recording goes on.
    fn read(&self, own: &Path) -> Earlier {
        let battery = &self.battery;
        let rule = Rule {
            end_v: battery.end_v.filter(|_| self.is_own_end),
            kind: None,
            load: Loading::As(battery.load),
        };
        let mut books = self.books(&rule, own);
        let mine = books
            .iter()
            .position(|book| Some(&book.battery) == self.label.as_ref());
        let book = mine.map(|at| books.remove(at));
        let own = book
            .as_ref()
            .and_then(|book| logbook::finished(&self.dir, book, &rule).ok())
            .unwrap_or_default();
        let of_kind = books
            .iter()
            .filter(|book| own.is_empty() && battery.kind.is_some() && book.kind() == battery.kind);
        let others = of_kind
            .flat_map(|book| logbook::of_another(&self.dir, book, &rule).unwrap_or_default())
            .collect();
        let sources = Sources {
            asked_v: self.asked_v,
            empty_v: battery.end_v,
            kind: battery.kind,
            book: book.as_ref(),
        };
        Earlier {
            ends: logbook::ends(sources, self.sheet.as_ref()),
            own,
            others,
        }
    }
}

impl InFolders {
    /// The logbooks of all batteries, without the session that is recorded to the folder `own`.
    fn books(&self, rule: &Rule, own: &Path) -> Vec<Logbook> {
        let dir = &self.dir;
        // A folder named without a path has an empty parent, which is the current folder.
        let beside = own.parent().map(|at| {
            if at.as_os_str().is_empty() {
                ".".as_ref()
            } else {
                at
            }
        });
        let is_here = beside.and_then(|at| at.canonicalize().ok()) == dir.canonicalize().ok();
        let own_name = own.file_name().filter(|_| is_here);
        let (mut entries, _) = logbook::entries_but(dir, rule, own_name).unwrap_or_default();
        // An invented run says nothing of a real battery, nor a real one of an invented battery.
        entries.retain(|entry| entry.simulated == self.battery.is_simulated);
        // A log played again is no earlier run of its own session.
        if let Ok(session) = Session::open(own) {
            entries.retain(|entry| !entry.is_of_session(&session.meta.started));
        }
        Logbook::by_battery(entries)
    }
}

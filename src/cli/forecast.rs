//! Time left while recording: the same analysis as afterwards, on the rows so far, in a thread of its own. The recording
//! never waits for it: while it is at work, the next question is left out.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};

use tokio::sync::mpsc;

use super::args::{BatteryInUse, BatteryStart};
use super::exit::{CANNOT_WRITE, Failure, USAGE};
use crate::analysis::discharge::Discharge;
use crate::battery::charge::Load;
use crate::battery::curve::Sample;
use crate::battery::end::{self, End};
use crate::battery::finished::{Finished, Start};
use crate::battery::kind::Kind;
use crate::battery::logbook::Logbook;
use crate::battery::outlook::{Known, Outlook, Run};
use crate::battery::series;
use crate::battery::watch::{Limits, Watch};
use crate::logbook::{self, Loading, Rule, Sources};
use crate::reading::{Row, Stamp};
use crate::report::battery::live as battery_live;
use crate::session::{ForecastWriter, Foretold, Session, Writer};
use crate::sheet::Sheet;

/// From one forecast to the next, in second of the session's own time.
const EVERY_S: f64 = 10.0;
/// So many readings below the end in a row are no slip.
const BELOW_IN_A_ROW: usize = 3;

/// What is to be foretold.
#[derive(Debug, Clone)]
pub(super) struct Battery {
    pub(super) label: Option<String>,
    pub(super) kind: Option<Kind>,
    pub(super) series: u32,
    /// For all in series, in volt; `None` where none is known.
    pub(super) end_v: Option<f64>,
    /// Whether the end was asked for, and not the kind's.
    pub(super) is_own_end: bool,
    /// The end that was asked for explicitly, in volts.
    asked_v: Option<f64>,
    /// The build that it runs.
    sheet: Option<Arc<Sheet>>,
    pub(super) rated_ah: Option<f64>,
    pub(super) start: Start,
    pub(super) load: Load,
    pub(super) limits: Limits,
    pub(super) weakest: Option<series::Weakest>,
    /// Whether a line that is not the coil's is masked.
    pub(super) is_masked: bool,
    /// Whether what is recorded is invented.
    pub(super) is_simulated: bool,
    /// Where earlier sessions are.
    pub(super) sessions: PathBuf,
}

impl Battery {
    /// What is to be foretold with these arguments; `None` where no battery is named.
    pub(super) fn of(
        args: &BatteryInUse,
        sheet: Option<&Sheet>,
        sessions: PathBuf,
        is_simulated: bool,
    ) -> Result<Option<Self>, Failure> {
        if args.battery.is_none() && args.battery_kind.is_none() {
            let asked = [
                (args.warn_left.is_some(), "--warn-left"),
                (args.until_forecast.is_some(), "--until-forecast"),
            ];
            return match asked.into_iter().find(|(is_asked, _)| *is_asked) {
                Some((_, option)) => Err(Failure::new(
                    USAGE,
                    format!("{option} wants to know the battery"),
                )
                .hint("name its label with --battery N2 or its kind with --battery-kind nimh-7")),
                None => Ok(None),
            };
        }
        let of_build = sheet.map(|sheet| sheet.battery);
        let each_v = args.battery_each.as_ref().map_or(&[][..], |each| &each.0);
        let series = of_build.map_or(1, |battery| battery.series);
        let series = match u32::try_from(each_v.len()) {
            Ok(count @ 1..) if of_build.is_some() && count != series => {
                return Err(Failure::new(
                    USAGE,
                    format!(
                        "--battery-each: {count} voltages, the build sheet has {series} in series"
                    ),
                )
                .hint("give the voltage of each battery, or mend series in the sheet"));
            }
            Ok(count @ 1..) => count,
            _ => series,
        };
        let kind = args
            .battery_kind
            .or_else(|| of_build.map(|battery| battery.kind));
        let load = match args.load {
            None => Load::Measured,
            Some(Loading::As(load)) => load,
            Some(Loading::Build) => sheet
                .ok_or_else(|| {
                    Failure::new(USAGE, "--load build wants a build sheet")
                        .hint("name it with --build, or type the load, like --load 0.3A")
                })?
                .predicted_load()?,
        };
        let of_kind = || logbook::end_v(kind?, series, each_v);
        let seconds = |time: Option<std::time::Duration>| time.map(|time| time.as_secs_f64());
        Ok(Some(Self {
            label: args.battery.clone(),
            kind,
            series,
            end_v: args.battery_end.or_else(of_kind),
            is_own_end: args.battery_end.is_some() || !each_v.is_empty(),
            asked_v: args.battery_end,
            sheet: sheet.map(|sheet| Arc::new(sheet.clone())),
            // The charge printed in the sheet is that of the sheet's kind.
            rated_ah: of_build
                .filter(|battery| Some(battery.kind) == kind)
                .and_then(|battery| battery.capacity_ah),
            start: match args.battery_start {
                BatteryStart::Full => Start::Full,
                BatteryStart::Unknown => Start::Unknown,
            },
            load,
            limits: Limits {
                warn_s: seconds(args.warn_left),
                end_s: seconds(args.until_forecast),
            },
            weakest: series::weakest(each_v),
            is_masked: false,
            is_simulated,
            sessions,
        }))
    }
}

/// The run so far, as it is looked at.
#[derive(Debug)]
struct Snapshot {
    stamp: Stamp,
    samples: Vec<Sample>,
    resistance_ohm: Option<f64>,
    charge_ah: Option<f64>,
    is_estimated: bool,
}

/// What came out.
#[derive(Debug)]
pub(super) struct Answer {
    pub(super) stamp: Stamp,
    pub(super) last: Option<Sample>,
    pub(super) charge_ah: Option<f64>,
    pub(super) is_estimated: bool,
    pub(super) is_below_end: bool,
    pub(super) looked: Outlook,
}

/// The way back from the thread that foretells.
pub(super) type Answers = mpsc::Receiver<Answer>;

/// Asks for forecasts as rows come in.
#[derive(Debug)]
pub(super) struct Foreteller {
    discharge: Discharge,
    questions: Sender<Snapshot>,
    is_busy: bool,
    due_s: f64,
}

impl Foreteller {
    /// Starts the thread, which reads the battery's earlier sessions first; the session in the folder `own` is not one.
    pub(super) fn start(battery: Battery, own: PathBuf) -> std::io::Result<(Self, Answers)> {
        let (questions, asked) = channel();
        let (answer, answers) = mpsc::channel(1);
        let discharge = Discharge::new(battery.load);
        std::thread::Builder::new()
            .name("forecast".to_owned())
            .spawn(move || work(&battery, &own, &asked, &answer))?;
        let foreteller = Self {
            discharge,
            questions,
            is_busy: false,
            due_s: EVERY_S,
        };
        Ok((foreteller, answers))
    }

    /// Takes in rows that were written.
    pub(super) fn push(&mut self, rows: &[Row]) {
        self.discharge.push(rows);
        let Some(last) = rows.last() else { return };
        if self.is_busy || last.stamp.elapsed_s() < self.due_s {
            return;
        }
        self.due_s = last.stamp.elapsed_s() + EVERY_S;
        let snapshot = Snapshot {
            stamp: last.stamp,
            samples: self.discharge.samples(),
            resistance_ohm: self.discharge.resistance().map(|one| one.ohm),
            charge_ah: self.discharge.meter.charge_ah(),
            is_estimated: self.discharge.is_estimated,
        };
        self.is_busy = self.questions.send(snapshot).is_ok();
    }

    /// An answer has come, so another question may be asked.
    pub(super) fn answered(&mut self) {
        self.is_busy = false;
    }
}

/// Answers questions until nobody asks or listens any more.
fn work(
    battery: &Battery,
    own: &std::path::Path,
    asked: &Receiver<Snapshot>,
    answer: &mpsc::Sender<Answer>,
) {
    let earlier = Earlier::read(battery, own);
    let sources = Sources {
        asked_v: battery.asked_v,
        empty_v: battery.end_v,
        kind: battery.kind,
        book: earlier.book.as_ref(),
    };
    let ends = logbook::ends(sources, battery.sheet.as_deref());
    let known_to = |end| {
        let run = run(battery, &[], None, end);
        Known::of(&run, &earlier.own, &earlier.others)
    };
    let mut end = ends.first(None);
    let mut known = known_to(end);
    for snapshot in asked {
        let samples = &snapshot.samples;
        let now = ends.first(end::run_down_to_v(samples));
        if now != end {
            end = now;
            known = known_to(end);
        }
        let looked = known.look(&run(battery, samples, snapshot.resistance_ohm, end));
        let newest = samples.iter().rev().take(BELOW_IN_A_ROW);
        let below = newest.filter(|one| battery.end_v.is_some_and(|end_v| one.volts_v < end_v));
        let answered = answer.blocking_send(Answer {
            stamp: snapshot.stamp,
            last: samples.last().copied(),
            charge_ah: snapshot.charge_ah,
            is_estimated: snapshot.is_estimated,
            is_below_end: below.count() == BELOW_IN_A_ROW,
            looked,
        });
        if answered.is_err() {
            return;
        }
    }
}

fn run<'a>(
    battery: &Battery,
    so_far: &'a [Sample],
    resistance_ohm: Option<f64>,
    end: Option<End>,
) -> Run<'a> {
    Run {
        so_far,
        start: battery.start,
        kind: battery.kind,
        series: battery.series,
        end,
        rated_ah: battery.rated_ah,
        resistance_ohm,
    }
}

/// What earlier sessions hold.
#[derive(Debug, Default)]
struct Earlier {
    /// The battery's logbook.
    book: Option<Logbook>,
    /// Its finished runs.
    own: Vec<Finished>,
    /// Those of others of its kind, where it has none.
    others: Vec<Finished>,
}

impl Earlier {
    /// Reads the sessions; the one in the folder `now` is none of them. A folder that can't be read is as one without sessions:
    /// the recording goes on.
    fn read(battery: &Battery, now: &std::path::Path) -> Self {
        let rule = Rule {
            end_v: battery.end_v.filter(|_| battery.is_own_end),
            kind: None,
            load: Loading::As(battery.load),
        };
        let dir = &battery.sessions;
        // A folder named without a path has an empty parent, which is the current folder.
        let beside = now.parent().map(|at| {
            if at.as_os_str().is_empty() {
                ".".as_ref()
            } else {
                at
            }
        });
        let is_here = beside.and_then(|at| at.canonicalize().ok()) == dir.canonicalize().ok();
        let own_name = now.file_name().filter(|_| is_here);
        let (mut entries, _) = logbook::entries_but(dir, &rule, own_name).unwrap_or_default();
        // An invented run says nothing of a real battery, nor a real one of an invented battery.
        entries.retain(|entry| entry.simulated == battery.is_simulated);
        // A log played again is no earlier run of its own session.
        if let Ok(session) = Session::open(now) {
            entries.retain(|entry| !entry.is_of_session(&session.meta.started));
        }
        let mut books = Logbook::by_battery(entries);
        let label = battery.label.as_ref();
        let mine = books.iter().position(|book| Some(&book.battery) == label);
        let book = mine.map(|at| books.remove(at));
        let own = book
            .as_ref()
            .and_then(|book| logbook::finished(dir, book, &rule).ok())
            .unwrap_or_default();
        let of_kind = books
            .iter()
            .filter(|book| own.is_empty() && battery.kind.is_some() && book.kind() == battery.kind);
        let others = of_kind
            .flat_map(|book| logbook::of_another(dir, book, &rule).unwrap_or_default())
            .collect();
        Self { book, own, others }
    }
}

/// Keeps the forecasts of a recording, and says of them what a person must know.
#[derive(Debug)]
pub(super) struct Lookout {
    foreteller: Foreteller,
    file: ForecastWriter,
    /// Whether it was told that forecasts can't be written.
    is_told: bool,
    watch: Watch,
    battery: Battery,
}

/// What is to be said and done after a forecast.
#[derive(Debug, Default)]
pub(super) struct Told {
    /// For the progress line.
    pub(super) left: String,
    /// To be said now.
    pub(super) lines: Vec<String>,
    /// Why the recording is to end.
    pub(super) ends: Option<String>,
}

impl Lookout {
    /// Makes the table in the session's folder and begins.
    pub(super) fn start(battery: Battery, writer: &Writer) -> Result<(Self, Answers), Failure> {
        let file = ForecastWriter::create(writer.dir(), writer.meta())
            .map_err(|error| Failure::from_error(CANNOT_WRITE, &error))?;
        let (foreteller, answers) = Foreteller::start(battery.clone(), writer.dir().to_owned())
            .map_err(|error| {
                Failure::new(CANNOT_WRITE, format!("cannot start foretelling: {error}"))
            })?;
        let lookout = Self {
            foreteller,
            file,
            is_told: false,
            watch: Watch::new(battery.limits),
            battery,
        };
        Ok((lookout, answers))
    }

    /// What must be known before the battery runs.
    pub(super) fn cautions(&self) -> Vec<String> {
        let battery = &self.battery;
        let behind = battery_live::behind(battery.weakest, battery.end_v);
        let unmasked = battery.kind.filter(|_| !battery.is_masked);
        let ripple = battery_live::ripple(unmasked).map(str::to_owned);
        behind.into_iter().chain(ripple).collect()
    }

    /// Takes in rows that were written.
    pub(super) fn push(&mut self, rows: &[Row]) {
        self.foreteller.push(rows);
    }

    /// Whether an answer is on its way.
    pub(super) const fn is_busy(&self) -> bool {
        self.foreteller.is_busy
    }

    /// Takes in an answer: it is written down, and said where it must be.
    pub(super) fn take(&mut self, answer: &Answer) -> Told {
        self.foreteller.answered();
        let looked = &answer.looked;
        let seen = self.watch.take(looked, answer.is_below_end);
        let mut lines: Vec<String> = seen
            .refused
            .map(|refused| battery_live::refused(refused, looked, self.battery.kind))
            .into_iter()
            .collect();
        let alarms = seen.new.iter();
        lines.extend(alarms.map(|alarm| battery_live::alarm(*alarm, looked, self.battery.end_v)));
        let foretold = Foretold {
            stamp: answer.stamp,
            running_s: answer.last.map_or(0.0, |last| last.running_s),
            battery_v: answer.last.map(|last| last.volts_v),
            charge_ah: answer.charge_ah,
            is_estimated: answer.is_estimated,
            said: looked
                .said
                .as_ref()
                .err()
                .map_or("forecast", |no| no.word()),
            left_s: looked
                .said
                .as_ref()
                .ok()
                .map(|said| (said.low_s, said.middle_said_s(), said.high_s)),
            by_log_s: looked.by_log_s,
            basis: battery_live::basis(looked.basis, self.battery.is_simulated),
            alarm: seen.standing.last().map(|alarm| alarm.word()),
        };
        // Readings come first: without room for forecasts the recording goes on as long as there is room for rows.
        match self.file.append(&foretold) {
            Err(error) if !self.is_told => {
                self.is_told = true;
                let why = Failure::from_error(CANNOT_WRITE, &error).message;
                lines.push(format!(
                    "{why}; recording goes on, forecasts are only shown"
                ));
            }
            Ok(()) | Err(_) => {}
        }
        Told {
            left: battery_live::left(looked),
            lines,
            ends: seen.ends.then(|| battery_live::end(looked)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::{Channel, Readings, Status};

    fn row(second: i64) -> Row {
        let mut readings = Readings::default();
        readings.set(Channel::BatteryV, 9.0);
        readings.set(Channel::FrequencyHz, 6.23e6);
        Row {
            stamp: Stamp {
                elapsed_us: second * 1_000_000,
                wall_ms: second * 1000,
            },
            source: "board".into(),
            readings,
            status: Status::Ok,
            note: String::new(),
        }
    }

    #[test]
    fn nothing_waits_for_a_forecast_that_takes_its_time() {
        let (questions, asked) = channel();
        let mut foreteller = Foreteller {
            discharge: Discharge::new(Load::Measured),
            questions,
            is_busy: false,
            due_s: EVERY_S,
        };
        for second in 0..1000 {
            foreteller.push(&[row(second)]);
        }
        // Nobody answered the first question, so there was no second one.
        let first: Vec<Snapshot> = asked.try_iter().collect();
        assert_eq!(first.len(), 1);
        assert_eq!(first[0].samples.len(), 11);
        foreteller.answered();
        foreteller.push(&[row(1000)]);
        foreteller.push(&[row(1001)]);
        let second: Vec<Snapshot> = asked.try_iter().collect();
        assert_eq!(second.len(), 1);
        assert_eq!(second[0].samples.len(), 1001);
    }
}

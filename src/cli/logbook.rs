//! The logbook of all batteries, made from the session folders; an index beside them saves reading unchanged ones again.
//!
//! The folders are the only truth: the index may be deleted at any time, and is made anew where anything differs.

use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;

use serde::{Deserialize, Serialize};

use super::exit::{Failure, USAGE};
use super::load::Loading;
use super::settings::Settings;
use crate::analysis::discharge::Discharge;
use crate::battery::curve::{self, Sample};
use crate::battery::finished::{Finished, Start};
use crate::battery::kind::Kind;
use crate::battery::logbook::{Entry, Logbook};
use crate::battery::{level, series};
use crate::input;
use crate::plain::Shown as _;
use crate::session::{Session, SessionError, State, replace_file};
use crate::sheet;

/// The index, in the folder of the sessions.
const INDEX: &str = ".sagtrace-batteries.json";
/// Its form; another one is made anew.
const SCHEMA: u32 = 4;
/// Full runs that a forecast is laid on; older ones tell of a younger battery.
const LAID_ON: usize = 20;
/// A converter whose output fell below this share of its first voltage has cut off. Chosen.
const CUT_OFF: f64 = 0.5;

/// What decides how a session is read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rule {
    pub(super) end_v: Option<f64>,
    pub(super) kind: Option<Kind>,
    pub(super) load: Loading,
}

#[derive(Debug, Default, Serialize, Deserialize)]
struct Index {
    schema: u32,
    program: String,
    rule: String,
    sessions: BTreeMap<String, Known>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
struct Known {
    /// Length and time of change of what was read.
    stamp: Vec<(u64, u128)>,
    /// `None` for a session without a battery.
    entry: Option<EntryFile>,
}

/// An [`Entry`] as it stands in the index.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct EntryFile {
    started: String,
    battery: String,
    kind: Option<String>,
    series: u32,
    rated_ah: Option<f64>,
    start: String,
    simulated: bool,
    closed: bool,
    end_v: Option<f64>,
    running_s: f64,
    reached_s: Option<f64>,
    asked_v: Option<f64>,
    build: Option<String>,
    stopped: Option<(f64, f64)>,
    first_v: Option<f64>,
    last_v: Option<f64>,
    least_v: Option<f64>,
    charge_ah: Option<f64>,
    energy_wh: Option<f64>,
    current_a: Option<f64>,
    estimated: bool,
    missing_s: f64,
    resistance_ohm: Option<f64>,
    pulse_s: Option<f64>,
}

/// The folder that holds the sessions: the one named, else that of the settings, else the current one.
pub(super) fn dir(named: Option<&PathBuf>, settings: &Settings) -> PathBuf {
    let known = named.or(settings.sessions_dir.as_ref());
    known.cloned().unwrap_or_else(|| PathBuf::from("."))
}

/// Every session below `dir` that names a battery, in no order, and why some could not be read.
pub(super) fn entries(dir: &Path, rule: &Rule) -> Result<(Vec<Entry>, Vec<String>), Failure> {
    entries_but(dir, rule, None)
}

/// [`entries`], without the folder of that name: the one that is being recorded to says nothing of earlier runs.
pub(super) fn entries_but(
    dir: &Path,
    rule: &Rule,
    recorded_to: Option<&OsStr>,
) -> Result<(Vec<Entry>, Vec<String>), Failure> {
    let path = dir.join(INDEX);
    let fresh = Index {
        schema: SCHEMA,
        program: concat!("sagtrace ", env!("CARGO_PKG_VERSION")).to_owned(),
        rule: format!("{rule:?}"),
        sessions: BTreeMap::new(),
    };
    let old = input::read(&path)
        .ok()
        .and_then(|bytes| serde_json::from_slice::<Index>(&bytes).ok())
        .filter(|old| {
            (old.schema, &old.program, &old.rule) == (fresh.schema, &fresh.program, &fresh.rule)
        })
        .unwrap_or_default();
    let mut new = fresh;
    let mut has_changed = false;
    let mut left_out = Vec::new();
    let cannot_read = |error: std::io::Error| {
        Failure::new(USAGE, format!("cannot read {}: {error}", dir.shown()))
    };
    for place in fs::read_dir(dir).map_err(cannot_read)? {
        let place = place.map_err(cannot_read)?;
        if recorded_to.is_some_and(|name| name == place.file_name()) {
            continue;
        }
        let (folder, path) = (
            place.file_name().to_string_lossy().into_owned(),
            place.path(),
        );
        let Some(stamp) = stamp(&path) else { continue };
        let known = old
            .sessions
            .get(&folder)
            .filter(|known| known.stamp == stamp);
        let known = if let Some(known) = known {
            known.clone()
        } else {
            has_changed = true;
            match read(&path, rule) {
                Ok(entry) => Known { stamp, entry },
                Err(error) => {
                    left_out.push(Failure::from_error(USAGE, &error).message);
                    continue;
                }
            }
        };
        new.sessions.insert(folder, known);
    }
    has_changed |= new.sessions.len() != old.sessions.len();
    if has_changed && let Ok(bytes) = serde_json::to_vec(&new) {
        // A folder that can't be written to is only read more slowly next time.
        replace_file(&path, &bytes).ok();
    }
    let all = new.sessions.into_iter();
    let entries = all.filter_map(|(folder, known)| Some(known.entry?.entry(folder)));
    Ok((entries.collect(), left_out))
}

/// Length and time of change of the files that an entry is made from; `None` where it is no session.
fn stamp(session: &Path) -> Option<Vec<(u64, u128)>> {
    ["session.toml", "samples.csv"]
        .into_iter()
        .map(|name| {
            let data = fs::metadata(session.join(name)).ok()?;
            let changed = data.modified().ok()?.duration_since(UNIX_EPOCH).ok()?;
            Some((data.len(), changed.as_nanos()))
        })
        .collect()
}

/// The discharge of a session.
pub(super) fn discharge(session: &Session, load: Loading) -> Result<Discharge, SessionError> {
    let mut reader = session.rows()?;
    let mut discharge = Discharge::new(load.in_session(session));
    let mut rows = Vec::new();
    while reader.next_chunk(&mut rows)? {
        discharge.push(&rows);
    }
    Ok(discharge)
}

/// The end point of batteries of a kind together; `None` where the kind has none.
pub(super) fn end_v(kind: Kind, series: u32, each_v: &[f64]) -> Option<f64> {
    let one_end_v = kind.end_point()?.value_v;
    Some(if each_v.is_empty() {
        f64::from(series) * one_end_v
    } else {
        series::end_together_v(each_v, one_end_v)
    })
}

/// When a converter stepped down, or cut off and took the coil with it.
fn converter_end_s(discharge: &Discharge, samples: &[Sample]) -> Option<f64> {
    let cut_off = || {
        let first_v = samples.first()?.volts_v;
        let has_cut_off = discharge.least_v? < CUT_OFF * first_v;
        samples.last().filter(|_| has_cut_off)
    };
    level::step_down_s(samples).or_else(|| cut_off().map(|last| last.running_s))
}

/// A session of a battery, read again.
pub(super) fn reread(dir: &Path, entry: &Entry, load: Loading) -> Result<Discharge, Failure> {
    Session::open(&dir.join(&entry.folder))
        .and_then(|session| discharge(&session, load))
        .map_err(|error| Failure::from_error(USAGE, &error))
}

/// The last full runs of a logbook with their samples.
pub(super) fn finished(dir: &Path, book: &Logbook, rule: &Rule) -> Result<Vec<Finished>, Failure> {
    let full: Vec<&Entry> = book.full_runs().collect();
    let mut runs = Vec::new();
    for entry in full.iter().skip(full.len().saturating_sub(LAID_ON)) {
        let Some(run_s) = entry.full_s() else {
            continue;
        };
        let mut samples = reread(dir, entry, rule.load)?.samples();
        samples.retain(|sample| sample.running_s <= run_s);
        let last_v = samples.last().map_or(0.0, |last| last.volts_v);
        runs.push(Finished {
            samples,
            run_s,
            // A converter has no end voltage, and what it stood at is as good: no forecast is laid on it.
            end_v: match (entry.reached_s, entry.stopped) {
                (None, Some((_, stop_v))) => stop_v,
                _ => entry.end_v.unwrap_or(last_v),
            },
            start: entry.start,
            group: entry.folder.clone(),
        });
    }
    Ok(runs)
}

/// The same of another battery of the kind: a back-test leaves all its runs out together.
pub(super) fn of_another(
    dir: &Path,
    book: &Logbook,
    rule: &Rule,
) -> Result<Vec<Finished>, Failure> {
    // Where another battery's coil stopped is no end of this one's.
    let mut emptied = book.clone();
    emptied.entries.retain(|entry| entry.reached_s.is_some());
    let mut runs = finished(dir, &emptied, rule)?;
    for run in &mut runs {
        run.group.clone_from(&book.battery);
    }
    Ok(runs)
}

fn read(dir: &Path, rule: &Rule) -> Result<Option<EntryFile>, SessionError> {
    let session = Session::open(dir)?;
    let meta = &session.meta;
    let Some(battery) = meta.battery.clone() else {
        return Ok(None);
    };
    let sheet = session
        .build_sheet
        .as_deref()
        .and_then(|text| sheet::parse(text).ok());
    let build = sheet.as_ref().map(|sheet| sheet.name.clone());
    let of_build = sheet.map(|sheet| sheet.battery);
    let kind = rule
        .kind
        .or_else(|| meta.battery_kind.as_deref().and_then(Kind::of_word))
        .or_else(|| of_build.map(|battery| battery.kind));
    let each_v = &meta.battery_each_v;
    let series = match (u32::try_from(each_v.len()), of_build) {
        (Ok(count @ 1..), _) => count,
        (_, battery) => battery.map_or(1, |battery| battery.series),
    };
    let end_v = rule
        .end_v
        .or(meta.battery_end_v)
        .or_else(|| end_v(kind?, series, each_v));
    let discharge = discharge(&session, rule.load)?;
    let samples = discharge.samples();
    let reached_s = match end_v {
        Some(end_v) => curve::reached_s(&samples, end_v),
        None if kind == Some(Kind::UsbConverter) => converter_end_s(&discharge, &samples),
        None => None,
    };
    let stopped = discharge
        .repeated_stop()
        .filter(|_| reached_s.is_none())
        .map(|stop| (stop.running_s, stop.volts_v));
    let ended_s = reached_s.or_else(|| stopped.map(|(running_s, _)| running_s));
    let to_end = discharge
        .points()
        .iter()
        .rfind(|point| ended_s.is_none_or(|ended_s| point.sample.running_s <= ended_s));
    let resistance = discharge.resistance();
    Ok(Some(EntryFile {
        started: meta.started.clone(),
        battery,
        kind: kind.map(|kind| kind.name().to_owned()),
        series,
        rated_ah: of_build.and_then(|battery| battery.capacity_ah),
        start: meta.battery_start.clone(),
        simulated: meta.simulated,
        closed: meta.state == State::Closed,
        end_v,
        running_s: samples.last().map_or(0.0, |last| last.running_s),
        reached_s,
        asked_v: rule.end_v.or(meta.battery_end_v),
        build,
        stopped,
        first_v: samples.first().map(|first| first.volts_v),
        last_v: samples.last().map(|last| last.volts_v),
        least_v: discharge.least_v,
        charge_ah: to_end.and_then(|point| point.charge_ah),
        energy_wh: to_end.and_then(|point| point.energy_wh),
        current_a: discharge.meter.mean_current_a(),
        estimated: discharge.is_estimated,
        missing_s: discharge.meter.missing_s,
        resistance_ohm: resistance.map(|one| one.ohm),
        pulse_s: resistance.and_then(|one| one.pulse_s),
    }))
}

impl EntryFile {
    fn entry(self, folder: String) -> Entry {
        let word = self.kind;
        Entry {
            folder,
            started: self.started,
            battery: self.battery,
            kind: word.as_deref().and_then(Kind::of_word),
            series: self.series,
            rated_ah: self.rated_ah,
            start: if self.start == "full" {
                Start::Full
            } else {
                Start::Unknown
            },
            simulated: self.simulated,
            closed: self.closed,
            end_v: self.end_v,
            running_s: self.running_s,
            reached_s: self.reached_s,
            asked_v: self.asked_v,
            build: self.build,
            stopped: self.stopped,
            first_v: self.first_v,
            last_v: self.last_v,
            least_v: self.least_v,
            charge_ah: self.charge_ah,
            energy_wh: self.energy_wh,
            current_a: self.current_a,
            estimated: self.estimated,
            missing_s: self.missing_s,
            resistance_ohm: self.resistance_ohm,
            pulse_s: self.pulse_s,
        }
    }
}

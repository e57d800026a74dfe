//! The logbook of all batteries, made from the session folders; an index beside them saves reading unchanged ones again.
//!
//! The folders are the only truth: the index may be deleted at any time, and is rebuilt where anything differs.

use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::fs;
use std::path::Path;
use std::time::UNIX_EPOCH;

use serde::{Deserialize, Serialize};

use super::error::{LogbookError, NoStop};
use super::runs::{Rule, discharge, end_v};
use crate::analysis::discharge::Discharge;
use crate::battery::curve::{self, Sample};
use crate::battery::finished::Start;
use crate::battery::kind::Kind;
use crate::battery::level;
use crate::battery::logbook::{Entry, Stop};
use crate::session::{Session, SessionError, State, replace_file};
use crate::{input, plain, sheet};

/// The index, in the folder of the sessions.
const INDEX: &str = ".sagtrace-batteries.json";
/// Its form; another one is replaced.
const SCHEMA: u32 = 4;
/// A converter whose output fell below this share of its first voltage has cut off. Chosen.
const CUT_OFF: f64 = 0.5;

#[derive(Debug, Default, Serialize, Deserialize)]
struct Index {
    schema: u32,
    program: String,
    rule: String,
    sessions: BTreeMap<String, Known>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
struct Known {
    /// Length and time of change of each file that was read.
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

/// The sessions of batteries, and why others could not be read.
type Entries = (Vec<Entry>, Vec<SessionError>);

/// Every session below `dir` that names a battery, in no order, and why some could not be read.
///
/// # Errors
/// [`SessionError::Read`] if the folder can't be read.
pub fn entries(dir: &Path, rule: &Rule) -> Result<Entries, SessionError> {
    entries_but(dir, rule, None)
}

/// [`entries`], without the folder of that name: the one that is being recorded to says nothing of earlier runs.
///
/// # Errors
/// The errors of [`entries`].
pub fn entries_but(
    dir: &Path,
    rule: &Rule,
    recorded_to: Option<&OsStr>,
) -> Result<Entries, SessionError> {
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
    let cannot_read = |source| SessionError::Read {
        path: dir.to_owned(),
        source,
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
                    left_out.push(error);
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

/// Length and time of change of the files that an entry is made from; `None` where it is not a session.
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

/// Returns when a converter stepped down, or cut off and took the coil with it.
fn converter_end_s(discharge: &Discharge, samples: &[Sample]) -> Option<f64> {
    let cut_off = || {
        let first_v = samples.first()?.volts_v;
        let has_cut_off = discharge.least_v? < CUT_OFF * first_v;
        samples.last().filter(|_| has_cut_off)
    };
    level::step_down_s(samples).or_else(|| cut_off().map(|last| last.running_s))
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
        None if kind.is_some_and(Kind::has_converter) => converter_end_s(&discharge, &samples),
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
            stopped: self
                .stopped
                .map(|(running_s, volts_v)| Stop { running_s, volts_v }),
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

/// The voltage under load at which the coil of a session's build is predicted to stop, in volts.
///
/// # Errors
/// [`LogbookError`] where the session can't be read or its build gives none.
pub fn stop_v(dir: &Path, folder: &str) -> Result<f64, LogbookError> {
    let no_stop = |why| LogbookError::NoStop {
        session: plain::line(folder).into_owned(),
        why,
    };
    let session = Session::open(&dir.join(folder))?;
    let text = session
        .build_sheet
        .ok_or_else(|| no_stop(NoStop::NoSheet))?;
    let sheet = sheet::parse(&text).map_err(|_| no_stop(NoStop::Faults))?;
    sheet.stop_v()?.ok_or_else(|| no_stop(NoStop::NotRunning))
}

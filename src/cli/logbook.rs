//! The logbook of all batteries, made from the session folders; an index beside them saves reading unchanged ones again.
//!
//! The folders are the only truth: the index may be deleted at any time, and is made anew where anything differs.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::time::UNIX_EPOCH;

use serde::{Deserialize, Serialize};

use super::exit::{Failure, USAGE};
use super::output;
use crate::analysis::discharge::Discharge;
use crate::battery::charge::Load;
use crate::battery::curve;
use crate::battery::forecast::Start;
use crate::battery::kind::Kind;
use crate::battery::logbook::Entry;
use crate::session::{Session, SessionError, State, replace_file};
use crate::sheet;

/// The index, in the folder of the sessions.
const INDEX: &str = ".sagtrace-batteries.json";
/// Its form; another one is made anew.
const SCHEMA: u32 = 1;

/// What decides how a session is read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rule {
    pub(super) end_v: Option<f64>,
    pub(super) kind: Option<Kind>,
    pub(super) load: Load,
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

/// Every session below `dir` that names a battery, in no order.
pub(super) fn entries(dir: &Path, rule: &Rule) -> Result<Vec<Entry>, Failure> {
    let path = dir.join(INDEX);
    let fresh = Index {
        schema: SCHEMA,
        program: concat!("sagtrace ", env!("CARGO_PKG_VERSION")).to_owned(),
        rule: format!("{rule:?}"),
        sessions: BTreeMap::new(),
    };
    let old = fs::read(&path)
        .ok()
        .and_then(|bytes| serde_json::from_slice::<Index>(&bytes).ok())
        .filter(|old| {
            (old.schema, &old.program, &old.rule) == (fresh.schema, &fresh.program, &fresh.rule)
        })
        .unwrap_or_default();
    let mut new = fresh;
    let mut has_changed = false;
    let cannot_read = |error: std::io::Error| {
        Failure::new(USAGE, format!("cannot read {}: {error}", dir.display()))
    };
    for place in fs::read_dir(dir).map_err(cannot_read)? {
        let place = place.map_err(cannot_read)?;
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
                    output::note(&format!(
                        "left out: {}",
                        Failure::from_error(USAGE, &error).message
                    ));
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
    Ok(all
        .filter_map(|(folder, known)| Some(known.entry?.entry(folder)))
        .collect())
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
pub(super) fn discharge(session: &Session, load: Load) -> Result<Discharge, SessionError> {
    let mut reader = session.rows()?;
    let mut discharge = Discharge::new(load);
    let mut rows = Vec::new();
    while reader.next_chunk(&mut rows)? {
        discharge.push(&rows);
    }
    Ok(discharge)
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
    let of_build = sheet.map(|sheet| sheet.battery);
    let kind = rule.kind.or_else(|| of_build.map(|battery| battery.kind));
    let series = of_build.map_or(1, |battery| battery.series);
    let end_point_v = kind
        .and_then(Kind::end_point)
        .map(|end| end.value_v * f64::from(series));
    let end_v = rule.end_v.or(end_point_v);
    let discharge = discharge(&session, rule.load)?;
    let samples = discharge.samples();
    let reached_s = end_v.and_then(|end_v| curve::reached_s(&samples, end_v));
    let to_end = discharge
        .points()
        .iter()
        .rfind(|point| reached_s.is_none_or(|reached_s| point.sample.running_s <= reached_s));
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
            kind: Kind::WORDS
                .into_iter()
                .find(|(known, _)| word.as_deref() == Some(*known))
                .map(|(_, kind)| kind),
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

//! `record`: a test session from one or more instruments.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde_json::json;

use super::address::{Address, Place};
use super::args::{BatteryStart, Format, RecordArgs, Show};
use super::exit::{CANNOT_WRITE, Failure, INSTRUMENT, Outcome, USAGE};
use super::forecast::Battery;
use super::open::{self, Named};
use super::recording::{self, End, Plan, Recorded};
use super::settings::Settings;
use super::{marks, output, proof_text, prove, sheet};
use crate::acquire::Source;
use crate::battery::kind::Kind;
use crate::clock::{Clock, rfc3339_ms};
use crate::coil::surroundings::EarthState;
use crate::instrument::Mask;
use crate::plain::Shown as _;
use crate::reading::Channel;
use crate::report::hazards;
use crate::session::{
    self, Clause, Connection, Contents, LinkMeta, Meta, SCHEMA, State, Summary, Writer,
};
use crate::transport::{self, Keeper, KeptBytes, Speed, Unwritten, began_ms};
use crate::units::{self, Unit};

pub(super) fn run(args: RecordArgs, settings: &Settings) -> Result<Outcome, Failure> {
    let build = args.build.as_deref().map(sheet::read).transpose()?;
    let addresses = addresses(args.instruments, settings)?;
    let connection = Connection::parse(args.connected.as_deref().unwrap_or(""))
        .map_err(|error| Failure::from_error(USAGE, &error))?;
    let earth = args
        .earth
        .map(super::args::Earth::word)
        .or_else(|| build.as_ref().map(|(sheet, _)| sheet.earth.name()));
    warn(&connection, earth);
    let (named, links) = open::name_all(addresses, &settings.catalogue, &connection, args.every)?;
    tell_passed_over(settings);
    if args.bytes.dry_run {
        return dry_run(named, args.format);
    }
    let is_log = |one: &Named| matches!(one.address.place, Place::Log(_));
    let is_replay = named.iter().all(is_log);
    let clock = Clock::scaled(f64::from(args.time_scale));
    let folder = Folder {
        out: args.out,
        parent: args.sessions.or_else(|| settings.sessions_dir.clone()),
        replace: args.force,
        bytes: if args.bytes.keep_bytes {
            Bytes::Kept
        } else {
            Bytes::Dropped
        },
        speed: args.bytes.replay_speed.map_or(Speed::AtOnce, Speed::Times),
    };
    let (battery, sheet) = (&args.battery, build.as_ref().map(|(sheet, _)| sheet));
    let mut foretold = Battery::of(battery, sheet, folder.earlier(), args.simulated)?;
    if let Some(foretold) = &mut foretold {
        foretold.is_masked = !args.masks.is_empty();
    }
    let (name, build_sheet) = match build {
        Some((sheet, text)) => (sheet.name, Some(text)),
        None => ("unnamed build".to_owned(), None),
    };
    let about = About {
        build: name,
        build_sheet,
        earth: earth.map(str::to_owned),
        battery: battery.battery.clone(),
        battery_start: battery.battery_start,
        battery_kind: battery.battery_kind,
        battery_end_v: battery.battery_end,
        battery_each_v: battery
            .battery_each
            .as_ref()
            .map_or_else(Vec::new, |each| each.0.clone()),
        masks: args.masks.clone(),
        note: args.note,
        simulated: args.simulated,
    };
    let (sources, writer, kept) = begin(named, links, about, &folder, &clock)?;
    let noted = marks::read_marks(clock.clone());
    let plan = Plan {
        clock,
        duration: args.duration,
        until_below_v: args.until_below,
        give_up_after: args.give_up_after,
        masks: args.masks,
        battery: foretold,
        is_replay,
        wait_for_room: args.wait_for_room,
        show: args.show,
        quiet: args.quiet,
        kept,
    };
    let recorded = recording::record(sources, writer, noted, plan)?;
    // With the rows on stdout, the table stands there and nothing else; session.toml has the summary.
    if args.show == Show::Summary {
        output::result(&match args.format {
            Format::Text => summary_text(&recorded),
            Format::Json => format!("{:#}\n", summary_json(&recorded)),
        })?;
    }
    judge(&recorded, args.duration.is_some())
}

fn dry_run(named: Vec<Named>, format: Format) -> Result<Outcome, Failure> {
    let proofs = prove::prove_all(named)?;
    output::result(&match format {
        Format::Text => proof_text::text(&proofs),
        Format::Json => format!("{:#}\n", proof_text::json(&proofs)),
    })?;
    prove::judge(&proofs)
}

/// Profiles that could not be read stop no recording by another.
fn tell_passed_over(settings: &Settings) {
    for (origin, why) in settings.catalogue.unreadable() {
        output::note(&format!("profile {origin} is passed over: {why}"));
    }
}

/// What could hurt by the way that the instruments are joined; a recording goes on all the same.
fn warn(connection: &Connection, earth: Option<&str>) {
    let on_secondary = connection
        .clauses
        .iter()
        .filter(|one| one.is_on_secondary());
    for Clause { input, sees, .. } in on_secondary {
        output::note(&hazards::probe_on_secondary(input, sees));
    }
    if earth == Some(EarthState::Clipped.name()) {
        output::note(hazards::EARTH_CLIPPED);
    }
}

fn addresses(named: Vec<Address>, settings: &Settings) -> Result<Vec<Address>, Failure> {
    if !named.is_empty() {
        return Ok(named);
    }
    let usual = settings.instruments.iter().map(|text| {
        text.parse().map_err(|error| {
            Failure::new(USAGE, format!("instruments in the settings file: {error}"))
        })
    });
    let usual = usual.collect::<Result<Vec<_>, _>>()?;
    if usual.is_empty() {
        return Err(Failure::new(USAGE, "no instrument is named").hint(
            "name one with -i scpi-counter@serial:/dev/ttyUSB0; see the ports with: sagtrace ports",
        ));
    }
    Ok(usual)
}

/// What a session is about.
#[derive(Debug)]
pub(super) struct About {
    pub(super) build: String,
    pub(super) build_sheet: Option<String>,
    pub(super) earth: Option<String>,
    pub(super) battery: Option<String>,
    pub(super) battery_start: BatteryStart,
    /// Where it is not the sheet's.
    pub(super) battery_kind: Option<Kind>,
    pub(super) battery_end_v: Option<f64>,
    pub(super) battery_each_v: Vec<f64>,
    pub(super) masks: Vec<Mask>,
    pub(super) note: Option<String>,
    pub(super) simulated: bool,
}

/// Where the session goes.
#[derive(Debug)]
pub(super) struct Folder {
    pub(super) out: Option<PathBuf>,
    pub(super) parent: Option<PathBuf>,
    pub(super) replace: bool,
    pub(super) bytes: Bytes,
    pub(super) speed: Speed,
}

/// What becomes of the bytes that instruments send.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Bytes {
    /// They are kept in a log, one an instrument.
    Kept,
    /// They are dropped once they are read.
    Dropped,
}

/// The byte logs of a recording, each with its instrument.
pub(super) type KeptLogs = Vec<(String, KeptBytes)>;

impl Folder {
    /// Where earlier sessions are: beside this one.
    pub(super) fn earlier(&self) -> PathBuf {
        let beside = self.out.as_deref().and_then(Path::parent);
        let dir = self
            .parent
            .as_deref()
            .or(beside)
            .unwrap_or_else(|| ".".as_ref());
        if dir.as_os_str().is_empty() {
            PathBuf::from(".")
        } else {
            dir.to_owned()
        }
    }
}

/// Opens the instruments, then makes the folder: a port that can't be opened leaves no half-made folder.
pub(super) fn begin(
    named: Vec<Named>,
    links: Vec<LinkMeta>,
    about: About,
    folder: &Folder,
    clock: &Clock,
) -> Result<(Vec<Source>, Writer, KeptLogs), Failure> {
    let instruments = named.iter().map(Named::meta).collect();
    let mut channels: Vec<Channel> = named
        .iter()
        .flat_map(|one| &one.profile.values)
        .map(|rule| rule.channel)
        .collect();
    channels.sort_unstable();
    channels.dedup();
    let profiles = named
        .iter()
        .map(|one| (one.address.label.clone(), one.profile_text.clone()))
        .collect();
    let wall_ms = logged_ms(&named).unwrap_or_else(|| clock.now().wall_ms);
    let (sources, unwritten) = open_all(named, folder, clock)?;
    let dir = folder.out.clone().unwrap_or_else(|| {
        let name = session::folder_name(wall_ms, &about.build);
        // Two recordings can begin in one second.
        session::unused(&folder.parent.clone().unwrap_or_default().join(name))
    });
    let aside = session::prepare_folder(&dir, folder.replace, wall_ms)
        .map_err(|error| cannot_write(&error))?;
    if let Some(aside) = aside {
        output::note(&format!("moved what was there to {}", aside.shown()));
    }
    let meta = Meta {
        schema: SCHEMA,
        state: State::Recording,
        program: concat!("sagtrace ", env!("CARGO_PKG_VERSION")).to_owned(),
        started: rfc3339_ms(wall_ms),
        ended: None,
        end_reason: None,
        build: about.build,
        earth: about.earth,
        battery: about.battery,
        battery_kind: about.battery_kind.map(|kind| kind.name().to_owned()),
        battery_end_v: about.battery_end_v,
        battery_each_v: about.battery_each_v,
        masked_hz: about
            .masks
            .iter()
            .map(|mask| (mask.from_hz, mask.to_hz))
            .collect(),
        battery_start: match about.battery_start {
            BatteryStart::Full => "full".to_owned(),
            BatteryStart::Unknown => "unknown".to_owned(),
        },
        note: about.note,
        simulated: about.simulated,
        time_scale: clock.scale(),
        columns: Vec::new(),
        instruments,
        connection: links,
        checksums: BTreeMap::new(),
        summary: None,
    };
    let contents = Contents {
        build_sheet: about.build_sheet,
        profiles,
    };
    let writer =
        Writer::create(&dir, meta, &channels, &contents).map_err(|error| cannot_write(&error))?;
    let kept = write_bytes(unwritten, writer.dir())?;
    Ok((sources, writer, kept))
}

/// When the logs began, if every instrument is one: a session that is played again is of that day.
fn logged_ms(named: &[Named]) -> Option<i64> {
    let began = named.iter().map(|one| match &one.address.place {
        Place::Log(path) => began_ms(path),
        _ => None,
    });
    began.collect::<Option<Vec<_>>>()?.into_iter().min()
}

/// A session folder that can't be written, with what to do about it.
fn cannot_write(error: &session::SessionError) -> Failure {
    let failure = Failure::from_error(CANNOT_WRITE, error);
    match error {
        session::SessionError::Exists { .. } => {
            failure.hint("name another folder with --out, or move this one aside with --force")
        }
        _ => failure.hint("name a folder that can be written to with --out"),
    }
}

/// The byte logs that have no file yet, each with its instrument.
type UnwrittenLogs = Vec<(String, Unwritten)>;

fn open_all(
    named: Vec<Named>,
    folder: &Folder,
    clock: &Clock,
) -> Result<(Vec<Source>, UnwrittenLogs), Failure> {
    let (mut sources, mut unwritten) = (Vec::new(), Vec::new());
    for one in named {
        let is_log = matches!(one.address.place, Place::Log(_));
        let keeper = if folder.bytes == Bytes::Kept && !is_log {
            let (keeper, log) = transport::keep_bytes();
            unwritten.push((one.address.label.clone(), log));
            keeper
        } else {
            Keeper::default()
        };
        sources.push(one.open(clock, folder.speed, keeper)?);
    }
    Ok((sources, unwritten))
}

/// Gives each byte log its file, `bytes/LABEL.log` in the session folder.
fn write_bytes(unwritten: UnwrittenLogs, dir: &Path) -> Result<KeptLogs, Failure> {
    let dir = dir.join("bytes");
    let cannot = |path: &Path, error: &std::io::Error| {
        Failure::new(
            CANNOT_WRITE,
            format!("cannot write {}: {error}", path.shown()),
        )
    };
    if !unwritten.is_empty() {
        std::fs::create_dir_all(&dir).map_err(|error| cannot(&dir, &error))?;
    }
    let mut kept = Vec::new();
    for (label, log) in unwritten {
        let path = dir.join(format!("{label}.log"));
        let log = log.write_to(&path).map_err(|error| cannot(&path, &error))?;
        kept.push((label, log));
    }
    Ok(kept)
}

/// What a finished recording means for the exit code.
pub(super) fn judge(recorded: &Recorded, was_timed: bool) -> Result<Outcome, Failure> {
    let names = |labels: &[std::sync::Arc<str>]| labels.join(", ");
    if let Some(message) = &recorded.not_shown {
        return Err(Failure::new(CANNOT_WRITE, message.clone())
            .hint(format!("all rows are safe in {}", recorded.dir.shown())));
    }
    if let End::OtherTime(_, scale) = &recorded.end {
        return Err(Failure::new(USAGE, recorded.reason.clone()).hint(format!(
            "record this virtual instrument with --simulated --time-scale {scale}"
        )));
    }
    if !recorded.lost.is_empty() {
        let message = format!(
            "the line to {} was lost and did not come back",
            names(&recorded.lost)
        );
        let look = if recorded.is_on_port(&recorded.lost) {
            "see what is plugged in with: sagtrace ports"
        } else {
            "is it on, and on the network?"
        };
        return Err(Failure::new(INSTRUMENT, message).hint(format!(
            "what came before is in {}; {look}",
            recorded.dir.shown()
        )));
    }
    if !recorded.mute.is_empty() {
        let message = format!("{} gave nothing that could be read", names(&recorded.mute));
        let rejected = recorded.dir.join("rejected.log");
        let rejected = rejected.shown();
        return Err(Failure::new(INSTRUMENT, message).hint(
            if recorded.is_on_port(&recorded.mute) {
                format!("is it the right profile and speed? see {rejected} and: sagtrace ports --identify")
            } else {
                format!("is it the right profile? see {rejected}")
            },
        ));
    }
    match recorded.end {
        End::Signal(signal) if was_timed => Ok(Outcome(signal.exit_code())),
        _ => Ok(Outcome::DONE),
    }
}

/// A recording in a few lines.
pub(super) fn summary_text(recorded: &Recorded) -> String {
    let Summary {
        rows,
        good_rows,
        gaps,
        duration_s,
        battery_v,
        frequency_hz,
        ..
    } = &recorded.summary;
    let mut lines = vec![format!(
        "{rows} rows in {duration_s:.1} s, {good_rows} good, {gaps} gaps; it ended because {}",
        recorded.reason
    )];
    lines.extend(frequency_hz.map(|extent| {
        let hertz = |value| units::rounded(value, Unit::Hertz, 7);
        format!(
            "frequency  {} to {}",
            hertz(extent.first),
            hertz(extent.last)
        )
    }));
    lines.extend(battery_v.map(|extent| {
        // As many digits as the comparison that often follows.
        let volts = |value| units::rounded(value, Unit::Volt, 3);
        format!(
            "battery    {} at first, {} at last, lowest {}",
            volts(extent.first),
            volts(extent.last),
            volts(extent.min)
        )
    }));
    lines.push(format!("written to {}", recorded.dir.shown()));
    lines.join("\n") + "\n"
}

fn summary_json(recorded: &Recorded) -> serde_json::Value {
    let extent = |extent: &Option<session::Extent>| {
        extent.map_or(
            serde_json::Value::Null,
            |one| json!({"first": one.first, "last": one.last, "min": one.min, "max": one.max}),
        )
    };
    json!({
        "schema": 1,
        "session": recorded.dir.to_string_lossy(),
        "end_reason": recorded.reason,
        "rows": recorded.summary.rows,
        "good_rows": recorded.summary.good_rows,
        "gaps": recorded.summary.gaps,
        "duration_s": recorded.summary.duration_s,
        "frequency_hz": extent(&recorded.summary.frequency_hz),
        "battery_v": extent(&recorded.summary.battery_v),
    })
}

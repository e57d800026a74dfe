//! `record`: a test session from one or more instruments.

mod battery;
mod outcome;
mod progress;
mod teller;
mod typed;

use std::io::{self, IsTerminal as _};

use super::args::{Earth, Format, RecordArgs, Show};
use super::exit::{Failure, Outcome, USAGE};
use super::settings::Settings;
use super::{at_hand, instruments, output, sheet, signal};
use crate::clock::Clock;
use crate::coil::surroundings::EarthState;
use crate::recording::{
    self, About, Address, Folder, Named, Place, Plan, Ready, Recorded, name_all, proof,
};
use crate::report::ports::{ProofsJson, proofs_text};
use crate::report::{self, hazards};
use crate::session::{Clause, Connection, Meta};
use crate::transport::{self, Keeper, Speed, began_ms};

pub(super) use battery::{forecast, start_word};
pub(super) use outcome::judge;
pub(super) use teller::teller;

pub(super) fn run(args: RecordArgs, settings: &Settings) -> Result<Outcome, Failure> {
    let at_hand = if args.build.is_none() && args.instruments.is_empty() {
        at_hand::one_sheet(args.quiet)
    } else {
        None
    };
    let build = args.build.as_deref().or(at_hand.as_deref());
    let build = build.map(sheet::read).transpose()?;
    let addresses = addresses(&args.instruments, settings)?;
    let connection = Connection::parse(args.connected.as_deref().unwrap_or(""))
        .map_err(|error| Failure::from_error(USAGE, &error))?;
    let earth = args
        .earth
        .map(Earth::word)
        .or_else(|| build.as_ref().map(|(sheet, _)| sheet.earth.name()));
    warn(&connection, earth);
    let (named, links) = name_all(addresses, &settings.catalogue, &connection, args.every)?;
    tell_passed_over(settings);
    if args.bytes.dry_run {
        return dry_run(named, args.format);
    }
    let clock = Clock::scaled(f64::from(args.time_scale));
    let folder = Folder {
        out: args.out.clone(),
        parent: args
            .sessions
            .clone()
            .or_else(|| settings.sessions_dir.clone()),
        replace: args.force,
    };
    let sheet = build.as_ref().map(|(sheet, _)| sheet);
    let mut forecast = forecast(&args.battery, sheet, folder.earlier(), args.simulated)?;
    if let Some(forecast) = &mut forecast {
        forecast.battery.is_masked = !args.masks.is_empty();
    }
    let began_ms = logged_ms(&named).unwrap_or_else(|| clock.now().wall_ms);
    let (name, build_sheet) = match build {
        Some((sheet, text)) => (sheet.name, Some(text)),
        None => ("unnamed build".to_owned(), None),
    };
    let about = About {
        began_ms,
        build_sheet,
        meta: Meta {
            earth: earth.map(str::to_owned),
            connection: links,
            ..meta(&args, Meta::new(began_ms, name))
        },
    };
    let bytes = if args.bytes.keep_bytes {
        Bytes::Kept
    } else {
        Bytes::Dropped
    };
    let speed = args.bytes.replay_speed.map_or(Speed::AtOnce, Speed::Times);
    let ready = open_all(named, bytes, speed, &clock)?;
    let (mut hear, not_shown) = teller(args.show, args.quiet);
    let begun = recording::begin(ready, about, &folder, &mut hear)?;
    if io::stdin().is_terminal() && !args.quiet {
        output::note("a line and Enter notes a moment; Ctrl-C ends the recording");
    }
    let marks = typed::marks(clock.clone());
    let plan = Plan {
        clock,
        duration: args.duration,
        until_below_v: args.until_below,
        give_up_after: args.give_up_after,
        masks: args.masks,
        forecast,
        wait_for_room: args.wait_for_room,
        end_words: report::record::end,
    };
    let recorded = recording::record(begun, marks, signal::first(), plan, hear)?;
    // With the rows on stdout, the table stands there and nothing else; session.toml has the summary.
    if args.show == Show::Summary {
        output::result(&summary(&recorded, args.format)?)?;
    }
    match not_shown.get() {
        Some(why) => Err(outcome::not_shown(&recorded, why)),
        None => judge(&recorded, args.duration.is_some()),
    }
}

fn summary(recorded: &Recorded, format: Format) -> Result<String, Failure> {
    match format {
        Format::Text => Ok(report::record::text(recorded, output::width())),
        Format::Json => output::json(&report::record::Json::new(recorded)),
    }
}

/// Returns the description with the arguments' facts about the session.
fn meta(args: &RecordArgs, new: Meta) -> Meta {
    let battery = &args.battery;
    let masks = args.masks.iter();
    Meta {
        battery: battery.battery.clone(),
        battery_start: start_word(battery.battery_start).to_owned(),
        battery_kind: battery.battery_kind.map(|kind| kind.name().to_owned()),
        battery_end_v: battery.battery_end,
        battery_each_v: battery
            .battery_each
            .as_ref()
            .map_or_else(Vec::new, |each| each.0.clone()),
        masked_hz: masks.map(|mask| (mask.from_hz, mask.to_hz)).collect(),
        note: args.note.clone(),
        simulated: args.simulated,
        time_scale: f64::from(args.time_scale),
        ..new
    }
}

fn dry_run(named: Vec<Named>, format: Format) -> Result<Outcome, Failure> {
    let prove = |one| proof::prove(one, &mut instruments::tell);
    let proofs = named
        .into_iter()
        .map(prove)
        .collect::<Result<Vec<_>, _>>()?;
    output::result(&match format {
        Format::Text => proofs_text(&proofs),
        Format::Json => output::json(&ProofsJson::new(&proofs))?,
    })?;
    instruments::judge(&proofs)
}

/// Profiles that could not be read stop no recording by another.
fn tell_passed_over(settings: &Settings) {
    for (origin, why) in settings.catalogue.unreadable() {
        output::note(&format!("profile {origin} is passed over: {why}"));
    }
}

/// Warns of dangers in the way that the instruments are joined; a recording goes on all the same.
fn warn(connection: &Connection, earth: Option<&str>) {
    let on_secondary = connection
        .clauses
        .iter()
        .filter(|one| one.is_on_secondary());
    for Clause { input, sees, .. } in on_secondary {
        output::note(&hazards::probe_on_secondary(input, sees));
    }
    if earth == Some(EarthState::Clipped.name()) {
        output::note(&hazards::earth_clipped());
    }
}

fn addresses(named: &[Address], settings: &Settings) -> Result<Vec<Address>, Failure> {
    if !named.is_empty() {
        return Ok(named.to_vec());
    }
    let usual = settings.instruments.iter().map(|text| {
        text.parse().map_err(|error| {
            Failure::new(USAGE, format!("instruments in the settings file: {error}"))
        })
    });
    let usual = usual.collect::<Result<Vec<_>, _>>()?;
    if usual.is_empty() {
        return Ok(vec![at_hand::one_instrument(&settings.catalogue)?]);
    }
    Ok(usual)
}

/// The place of the bytes that instruments send.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Bytes {
    /// They are kept in a log, one an instrument.
    Kept,
    /// They are dropped once they are read.
    Dropped,
}

/// Returns when the logs began, if every instrument is one: a session that is played again is of that day.
fn logged_ms(named: &[Named]) -> Option<i64> {
    let began = named.iter().map(|one| match &one.address.place {
        Place::Log(path) => began_ms(path),
        _ => None,
    });
    began.collect::<Option<Vec<_>>>()?.into_iter().min()
}

/// Opens the instruments.
pub(super) fn open_all(
    named: Vec<Named>,
    bytes: Bytes,
    speed: Speed,
    clock: &Clock,
) -> Result<Vec<Ready>, Failure> {
    let open = |one: Named| {
        let is_log = matches!(one.address.place, Place::Log(_));
        let (keeper, bytes) = if bytes == Bytes::Kept && !is_log {
            let (keeper, log) = transport::keep_bytes();
            (keeper, Some(log))
        } else {
            (Keeper::default(), None)
        };
        Ok(Ready {
            meta: one.meta(),
            profile_text: one.profile_text.clone(),
            source: one.open(clock, speed, keeper, &mut instruments::tell)?,
            bytes,
        })
    };
    named.into_iter().map(open).collect()
}

//! `simulate`: the whole job with no hardware, through the same code as with it.

use std::sync::Arc;

use super::args::{BatteryInUse, BatteryStart, DemoBattery, Device, Show, SimulateArgs};
use super::exit::{Failure, INSTRUMENT, Outcome};
use super::record::{self, Bytes};
use super::settings::Settings;
use super::{compare, output, pictures, sheet, signal};
use crate::analysis::figures::RatioUnit;
use crate::battery::kind::Kind;
use crate::bench::evening::{self, ALKALINE, Battery, CONVERTER, NIMH};
use crate::bench::faults::Script;
use crate::bench::lines::{Lines, LinesError};
use crate::bench::pty;
use crate::bench::scpi::Scpi;
use crate::bench::{Instrument, world::World};
use crate::clock::Clock;
use crate::instrument::Catalogue;
use crate::logbook::{self, Compared};
use crate::plain::Shown as _;
use crate::recording::{self, About, Address, Folder, Place, Plan, name_all};
use crate::report;
use crate::report::compare::answer::{Of, answer};
use crate::session::{Connection, Meta};
use crate::transport::Speed;

/// How many times faster than real the evening runs.
const TIME_SCALE: u32 = 240;

/// The time from one row to the next, in the evening's own time.
const EVERY: std::time::Duration = std::time::Duration::from_secs(1);

pub(super) fn run(args: &SimulateArgs, settings: &Settings) -> Result<Outcome, Failure> {
    let build_text = match &args.build {
        Some(path) => sheet::read(path)?.1,
        None => evening::SHEET.to_owned(),
    };
    let build = sheet::parse(&build_text, "of the simulation")?;
    let modelled_hz = build.prediction()?.resonance.value_hz;
    let length_s = args.duration.as_secs_f64();
    let battery = args.battery.on_the_bench();
    let evening = evening::evening(args.seed, modelled_hz, length_s, battery)
        .map_err(|error| Failure::from_error(super::exit::USAGE, &error))?;
    let scale = args
        .time_scale
        .unwrap_or(if args.port_only { 1 } else { TIME_SCALE });
    let clock = Clock::scaled(f64::from(scale));
    let device = open_device(args.device, Arc::new(evening.world), &clock, scale)?;
    if args.port_only {
        return serve(args.device, &device, scale);
    }
    let path = device.path().shown();
    let profile = profile_name(args.device);
    output::note(&format!(
        "a virtual {profile} answers on {path}; seed {}, {scale} times faster than real",
        args.seed
    ));
    let address = address(profile, path);
    let (mut named, links) = name_all(
        vec![address],
        &Catalogue::default(),
        &Connection::default(),
        Some(EVERY),
    )?;
    for one in &mut named {
        // The virtual board does not restart when its port is opened.
        one.profile.timing.settle = std::time::Duration::ZERO;
    }
    let folder = folder(args, settings);
    let in_use = in_use(args);
    let forecast = record::forecast(&in_use, Some(&build), folder.earlier(), true)?;
    let began_ms = clock.now().wall_ms;
    let about = About {
        began_ms,
        build_sheet: Some(build_text),
        meta: Meta {
            earth: Some(build.earth.name().to_owned()),
            battery: in_use.battery,
            battery_start: record::start_word(in_use.battery_start).to_owned(),
            battery_kind: in_use.battery_kind.map(|kind| kind.name().to_owned()),
            note: Some(format!("invented evening, seed {}", args.seed)),
            simulated: true,
            time_scale: clock.scale(),
            connection: links,
            ..Meta::new(began_ms, build.name)
        },
    };
    let ready = record::open_all(named, Bytes::Dropped, Speed::AtOnce, &clock)?;
    let (mut hear, _) = record::teller(Show::Summary, false);
    let begun = recording::begin(ready, about, &folder, &mut hear)?;
    let noted = recording::scripted(clock.clone(), evening.marks);
    let plan = Plan {
        clock,
        duration: Some(args.duration),
        until_below_v: None,
        give_up_after: None,
        masks: Vec::new(),
        forecast,
        wait_for_room: false,
        end_words: report::record::end,
    };
    let recorded = recording::record(begun, noted, signal::first(), plan, hear)?;
    drop(device);
    output::result(&report::record::without_next(&recorded, output::width()))?;
    tell(&recorded.dir)?;
    record::judge(&recorded, true)
}

fn folder(args: &SimulateArgs, settings: &Settings) -> Folder {
    let parent = args.sessions.clone();
    Folder {
        out: args.out.clone(),
        parent: parent.or_else(|| settings.sessions_dir.clone()),
        replace: args.force,
    }
}

/// The virtual instrument's address.
fn address(profile: &str, path: String) -> Address {
    Address {
        label: profile.to_owned(),
        profile: profile.to_owned(),
        place: Place::Serial { path, baud: None },
    }
}

/// The battery on the bench, as `record` would be given it.
fn in_use(args: &SimulateArgs) -> BatteryInUse {
    BatteryInUse {
        battery: Some(args.battery.on_the_bench().label.to_owned()),
        battery_start: BatteryStart::Full,
        battery_kind: Some(args.battery.kind()),
        battery_end: None,
        battery_each: None,
        load: None,
        warn_left: None,
        until_forecast: None,
    }
}

impl DemoBattery {
    const fn kind(self) -> Kind {
        match self {
            Self::Alkaline => Kind::Alkaline,
            Self::Nimh7 => Kind::Nimh7,
            Self::UsbRechargeable => Kind::UsbConverter,
        }
    }

    const fn on_the_bench(self) -> &'static Battery {
        match self {
            Self::Alkaline => &ALKALINE,
            Self::Nimh7 => &NIMH,
            Self::UsbRechargeable => &CONVERTER,
        }
    }
}

/// Compares, draws, and says where everything is, and how to remove it.
fn tell(dir: &std::path::Path) -> Result<(), Failure> {
    let session = compare::open(dir)?;
    let sheet = logbook::sheet_in_force(&session, None)?;
    let planned = logbook::planned(&session, sheet.as_ref(), None)?;
    let compared = Compared::of(&session, planned.stretches, sheet.as_ref())?;
    let figures = logbook::pictures(&session, &compared, RatioUnit::Percent)?;
    let plots = pictures::draw(&figures, &dir.join("plots"), pictures::PLOTS)?;
    let of = Of {
        meta: &session.meta,
        dir,
        is_sheet_changed: false,
        has_good_day: false,
    };
    let answer = answer(of, &compared, None, output::width());
    output::result(&report::simulate::text(dir, &answer, plots.len()))?;
    for warning in report::compare::session::warnings(&session, &compared) {
        output::note(&warning);
    }
    Ok(())
}

const fn profile_name(device: Device) -> &'static str {
    match device {
        Device::ScpiCounter => "scpi-counter",
        Device::ScpiScope => "scpi-scope",
        Device::ScpiScopeWave => "scpi-scope-wave",
        Device::PlainLines => "plain-lines",
        Device::Columns => "columns",
    }
}

fn open_device(
    device: Device,
    world: Arc<World>,
    clock: &Clock,
    scale: u32,
) -> Result<pty::Device, Failure> {
    let period_s = EVERY.as_secs_f64();
    let unusable = |error| Failure::from_error(INSTRUMENT, &error as &LinesError);
    let instrument: Box<dyn Instrument> = match device {
        Device::ScpiCounter => Box::new(Scpi::counter().in_time(scale)),
        Device::ScpiScope | Device::ScpiScopeWave => Box::new(Scpi::scope().in_time(scale)),
        Device::PlainLines => Box::new(Lines::plain(period_s).map_err(unusable)?.introduced(scale)),
        Device::Columns => Box::new(
            Lines::columns(period_s)
                .map_err(unusable)?
                .introduced(scale),
        ),
    };
    let script = Script::new(0, Vec::new());
    pty::Device::open(instrument, world, clock.clone(), script)
        .map_err(|error| Failure::from_error(INSTRUMENT, &error))
}

/// Leaves the bench running to practise on.
fn serve(kind: Device, device: &pty::Device, scale: u32) -> Result<Outcome, Failure> {
    let path = device.path().shown();
    output::result(&format!("{path}\n"))?;
    let profile = profile_name(kind);
    let time_scale = match scale {
        1 => String::new(),
        _ => format!(" --time-scale {scale}"),
    };
    output::note(&format!(
        "a virtual {profile} answers there until Ctrl-C; in another window:\n  sagtrace record -i {profile}@serial:{path} \
         --simulated{time_scale} --for 30s"
    ));
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|error| Failure::new(INSTRUMENT, format!("cannot wait for Ctrl-C: {error}")))?;
    runtime.block_on(signal::first());
    Ok(Outcome::DONE)
}

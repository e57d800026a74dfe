//! Recordings through bad days: seeded mixtures of everything that goes wrong between an instrument and its recorder, held
//! against what the device itself says it sent, byte by byte. In memory on a paused clock, and on real pseudo-terminals.
#![expect(
    clippy::string_slice,
    clippy::too_many_lines,
    reason = "the instruments speak ASCII; a table of faults is read in one piece"
)]

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use sagtrace::acquire::{self, Source};
use sagtrace::clock::Clock;
use sagtrace::frame::LineEnd;
use sagtrace::instrument::{Catalogue, Profile};
use sagtrace::reading::{Channel, Event, Status};
use sagtrace::session::{Contents, Meta, State, Writer};
use sagtrace::transport::{
    Cut, Keeper, KeptBytes, Link, Manner, SerialSettings, Speed, keep_bytes, link_kept,
    memory_link, open_serial, replay,
};
use serialport::{DataBits, FlowControl, Parity, StopBits};
use tokio::sync::{mpsc, watch};
use tokio::task::LocalSet;
use tokio::time::sleep;

mod board;
mod check;
mod counter;
mod names;
mod scripted;
mod scripts;
mod truth;
mod wire;

use self::board::Board;
use self::check::{Rules, Tally, check_board, check_counter, rejected, table};
use self::counter::Counter;
use self::scripted::*;
use self::truth::Truth;
use self::wire::{MemoryWire, PtyWire, Wire};

/// On a terminal lines that were not read yet go with a hang-up, and the machine may be slow.
const ON_A_LINE: Rules = Rules {
    limit: 4096,
    hands_all_over: false,
    same_clock: false,
};

const IN_MEMORY: Rules = Rules {
    limit: 4096,
    hands_all_over: true,
    same_clock: true,
};

fn profile(name: &str) -> Profile {
    let mut profile = Catalogue::default().get(name).unwrap().0;
    profile.timing.timeout = Duration::from_millis(500);
    profile.timing.silence = Duration::from_millis(500);
    profile.timing.settle = Duration::ZERO;
    profile.timing.every = Duration::from_millis(100);
    assert_eq!(profile.port.longest_line, IN_MEMORY.limit);
    profile
}

fn writer(dir: &Path) -> Writer {
    let meta = Meta {
        schema: 1,
        state: State::Recording,
        program: "sagtrace 0".to_owned(),
        started: "2026-01-31T19:00:00.000Z".to_owned(),
        ended: None,
        end_reason: None,
        build: "mixes".to_owned(),
        earth: None,
        battery: None,
        battery_kind: None,
        battery_each_v: Vec::new(),
        battery_end_v: None,
        masked_hz: Vec::new(),
        battery_start: "unknown".to_owned(),
        note: None,
        simulated: true,
        time_scale: 1.0,
        columns: Vec::new(),
        instruments: Vec::new(),
        connection: Vec::new(),
        checksums: std::collections::BTreeMap::new(),
        summary: None,
    };
    Writer::create(dir, meta, &[], &Contents::default()).unwrap()
}

/// How a mix's instruments are joined to the recorder.
trait Joint: Wire {
    fn link(&self, manner: Manner, cut: Cut, clock: &Clock, keeper: Keeper) -> Link;
}

impl Joint for MemoryWire {
    fn link(&self, manner: Manner, cut: Cut, clock: &Clock, keeper: Keeper) -> Link {
        let (link, far) = memory_link(manner, &self.socket, cut, clock.clone(), keeper).unwrap();
        tokio::spawn(far);
        link
    }
}

impl Joint for PtyWire {
    fn link(&self, manner: Manner, cut: Cut, clock: &Clock, keeper: Keeper) -> Link {
        let path = self.path().to_str().unwrap().to_owned();
        let settings = SerialSettings {
            baud: 115_200,
            data_bits: DataBits::Eight,
            parity: Parity::None,
            stop_bits: StopBits::One,
            flow: FlowControl::None,
            dtr: true,
            rts: true,
        };
        let pipe = open_serial(&path, &settings).unwrap();
        let opener = Box::new(move || open_serial(&path, &settings));
        link_kept(manner, pipe, opener, cut, clock.clone(), keeper).unwrap()
    }
}

/// Where its lines are cut, and whether it is asked.
fn manners(profile: &Profile) -> (Manner, Cut) {
    let cut = Cut {
        end: LineEnd::Any,
        limit: profile.port.longest_line,
    };
    match profile.manner {
        sagtrace::instrument::Manner::Asked => (Manner::Asked, cut),
        sagtrace::instrument::Manner::Unasked => (Manner::Unasked, cut),
    }
}

fn source(label: &str, profile: Profile, wire: &impl Joint, clock: &Clock) -> Source {
    source_kept(label, profile, wire, clock, Keeper::default())
}

fn source_kept(
    label: &str,
    profile: Profile,
    wire: &impl Joint,
    clock: &Clock,
    keeper: Keeper,
) -> Source {
    let (manner, cut) = manners(&profile);
    let link = wire.link(manner, cut, clock, keeper);
    joined(label, profile, link, clock)
}

fn joined(label: &str, profile: Profile, link: Link, clock: &Clock) -> Source {
    Source {
        label: Arc::from(label),
        link,
        every: profile.timing.every,
        profile,
        clock: clock.clone(),
    }
}

/// Writes what comes, as a recording does.
async fn write(mut inbox: mpsc::Receiver<Event>, mut writer: Writer) {
    while let Some(event) = inbox.recv().await {
        match event {
            Event::Rows(rows, _) => drop(writer.append(rows).unwrap()),
            Event::Rejected(rejected) => writer.reject(&rejected).unwrap(),
            _ => {}
        }
    }
}

/// The profiles of a bad day's instruments, by label.
fn profiles(seed: u64) -> [(&'static str, Profile); 2] {
    let mut counter = profile("scpi-counter");
    if !has_resync(seed) {
        // Where there is no synchronising question, quiet must do.
        (counter.resync, counter.errors) = (None, None);
    }
    if seed % 8 == 2 {
        // Of the others it is learnt.
        counter.port.prompt = Some(truth::PROMPT.to_owned());
    }
    [("board", profile("plain-lines")), ("counter", counter)]
}

const fn has_resync(seed: u64) -> bool {
    !seed.is_multiple_of(3)
}

/// Records a board and a counter through one bad day.
async fn day<W: Joint>(
    seed: u64,
    dir: &Path,
    clock: Clock,
    [mut board_wire, mut counter_wire]: [W; 2],
    keepers: [Keeper; 2],
) -> (Truth, Truth) {
    let (events, inbox) = mpsc::channel(256);
    let (stop, stopped) = watch::channel(false);
    let wires = [&board_wire, &counter_wire];
    for (((label, profile), wire), keeper) in profiles(seed).into_iter().zip(wires).zip(keepers) {
        let source = source_kept(label, profile, wire, &clock, keeper);
        tokio::spawn(acquire::run(source, events.clone(), stopped.clone()));
    }
    drop((events, stopped));
    let recording = tokio::task::spawn_local(write(inbox, writer(dir)));
    let mut counter = Counter::new(&mut counter_wire, &clock, seed, Duration::from_secs(8));
    if !has_resync(seed) {
        counter.latest_ms = 900;
    }
    let board = Board::new(&mut board_wire, &clock, seed, 60);
    let truths = tokio::join!(board.speak(), counter.answer());
    sleep(Duration::from_secs(1)).await;
    stop.send(true).unwrap();
    recording.await.unwrap();
    truths
}

fn mix_in_memory(seed: u64) -> Tally {
    fastrand::seed(seed);
    let dir = tempfile::tempdir().unwrap();
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .start_paused(true)
        .build()
        .unwrap();
    let logs = ["board", "counter"].map(|label| dir.path().join(label).with_extension("log"));
    let kept = [keep_bytes(), keep_bytes()];
    let [(board, board_log), (counter, counter_log)] = kept;
    let written = [(board_log, &logs[0]), (counter_log, &logs[1])]
        .map(|(log, path)| log.write_to(path).unwrap());
    let (board, counter) = LocalSet::new().block_on(&runtime, async {
        let wires = [MemoryWire::new(), MemoryWire::new()];
        day(
            seed,
            dir.path(),
            Clock::of_runtime(),
            wires,
            [board, counter],
        )
        .await
    });
    drop(runtime);
    written.iter().for_each(KeptBytes::finish);
    assert_played_alike(seed, dir.path(), &logs);
    let mut tally = check_board(dir.path(), "board", &board, IN_MEMORY);
    tally.add(&check_counter(dir.path(), "counter", &counter, IN_MEMORY));
    tally
}

/// The bytes of a day played again give the rows and refusals that were recorded, whatever the order of writing was.
fn assert_played_alike(seed: u64, dir: &Path, logs: &[PathBuf; 2]) {
    let again = tempfile::tempdir().unwrap();
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .build()
        .unwrap();
    LocalSet::new().block_on(&runtime, async {
        let (events, inbox) = mpsc::channel(256);
        let (_stop, stopped) = watch::channel(false);
        for ((label, profile), log) in profiles(seed).into_iter().zip(logs) {
            let (manner, cut) = manners(&profile);
            let link = replay(manner, log, cut, Speed::AtOnce).unwrap().link;
            let source = joined(label, profile, link, &Clock::real());
            tokio::spawn(acquire::run(source, events.clone(), stopped.clone()));
        }
        drop(events);
        write(inbox, writer(again.path())).await;
    });
    for (label, log) in ["board", "counter"].into_iter().zip(logs) {
        let bytes = || std::fs::read_to_string(log).unwrap();
        for (one, other) in table(dir, label)
            .iter()
            .zip(table(again.path(), label).iter())
        {
            assert_eq!(
                one,
                other,
                "{label} of seed {seed} played again:\n{}",
                bytes()
            );
        }
        let counts = [dir, again.path()].map(|dir| (table(dir, label).len(), rejected(dir, label)));
        assert!(
            counts[0] == counts[1],
            "{label} of seed {seed}: {counts:#?}\n{}",
            bytes()
        );
    }
}

/// All seeds from 0 on; a failure names its seed.
fn mixes_in_memory(count: u64) -> Tally {
    let (mut all, mut failed) = (Tally::default(), Vec::new());
    for seed in 0..count {
        match std::panic::catch_unwind(|| mix_in_memory(seed)) {
            Ok(tally) => all.add(&tally),
            Err(_) => failed.push(seed),
        }
    }
    assert!(
        failed.is_empty(),
        "the mixes of these seeds failed: {failed:?}"
    );
    println!("{count} mixes: {all:#?}");
    all
}

#[test]
fn bad_days_lose_and_invent_nothing() {
    let all = mixes_in_memory(200);
    assert!(
        all.clean > 10_000 && all.refused > 2_000 && all.gaps > 100,
        "{all:?}"
    );
    assert!(all.faults.len() >= 22, "{all:?}");
}

/// Days on which something rare happens: half an answer in front of the next question, a noise that ends in a line which is
/// then said again, a bit that makes an exponent a prefix.
#[test]
fn rare_bad_days_lose_and_invent_nothing() {
    for seed in [2361, 4000, 7616, 14162, 17390, 19281] {
        mix_in_memory(seed);
    }
}

/// Mixes on real lines, several at a time: they wait most of theirs.
fn mixes_on_lines(count: u64, at_once: usize) -> Tally {
    let mut all = Tally::default();
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .build()
        .unwrap();
    let seeds: Vec<u64> = (0..count).collect();
    for seeds in seeds.chunks(at_once) {
        let days = seeds.iter().map(|&seed| {
            let dir = tempfile::tempdir().unwrap();
            let wires = ["board", "counter"].map(|name| PtyWire::new(dir.path().join(name)));
            async move {
                let out = dir.path().join("out");
                std::fs::create_dir(&out).unwrap();
                let keepers = [Keeper::default(), Keeper::default()];
                let truths = day(seed, &out, Clock::real(), wires, keepers).await;
                (seed, dir, out, truths)
            }
        });
        let days: Vec<_> = LocalSet::new().block_on(&runtime, async {
            let days: Vec<_> = days.map(tokio::task::spawn_local).collect();
            let mut ended = Vec::new();
            for day in days {
                ended.push(day.await.unwrap());
            }
            ended
        });
        for (seed, _dir, out, (board, counter)) in days {
            let tally = std::panic::catch_unwind(|| {
                let mut tally = check_board(&out, "board", &board, ON_A_LINE);
                tally.add(&check_counter(&out, "counter", &counter, ON_A_LINE));
                tally
            });
            all.add(&tally.unwrap_or_else(|_| panic!("the mix of seed {seed} failed")));
        }
    }
    println!("{count} mixes on lines: {all:#?}");
    all
}

#[test]
fn bad_days_on_real_lines_lose_and_invent_nothing() {
    let all = mixes_on_lines(6, 6);
    assert!(all.clean > 300 && all.refused > 60, "{all:?}");
}

#[test]
#[cfg(feature = "long")]
fn twenty_thousand_bad_days_lose_and_invent_nothing() {
    mixes_in_memory(20_000);
}

#[test]
#[cfg(feature = "long")]
fn five_hundred_bad_days_on_real_lines_lose_and_invent_nothing() {
    mixes_on_lines(500, 25);
}

/// A board at a thousand lines a second with its troubles for half an hour, or as many seconds as `SAGTRACE_SOAK_S` says.
#[test]
#[cfg(feature = "long")]
fn half_an_hour_at_full_pace_loses_and_invents_nothing() {
    let seconds = std::env::var("SAGTRACE_SOAK_S").map_or(1800, |text| text.parse().unwrap());
    let tally = soak(Duration::from_secs(seconds));
    println!("soak of {seconds} s: {tally:#?}");
    assert!(
        tally.clean > usize::try_from(seconds * 500).unwrap(),
        "{tally:?}"
    );
}

/// The same for a few seconds, so that it is known to run.
#[test]
#[cfg(not(feature = "long"))]
fn some_seconds_at_full_pace_lose_and_invent_nothing() {
    let tally = soak(Duration::from_secs(3));
    assert!(tally.clean > 300, "{tally:?}");
}

fn soak(lasts: Duration) -> Tally {
    let dir = tempfile::tempdir().unwrap();
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .build()
        .unwrap();
    let out = dir.path().join("out");
    std::fs::create_dir(&out).unwrap();
    let truth = LocalSet::new().block_on(&runtime, async {
        let clock = Clock::real();
        let mut wire = PtyWire::new(dir.path().join("board"));
        let (stop, stopped) = watch::channel(false);
        let (events, inbox) = mpsc::channel(256);
        let source = source("board", profile("plain-lines"), &wire, &clock);
        tokio::spawn(acquire::run(source, events, stopped));
        let recording = tokio::task::spawn_local(write(inbox, writer(&out)));
        let truth = Board::new(&mut wire, &clock, 1, 0)
            .at_full_pace(lasts)
            .await;
        sleep(Duration::from_secs(1)).await;
        stop.send(true).unwrap();
        recording.await.unwrap();
        truth
    });
    // So much is refused that its log is full before the end; the table alone is held against the truth.
    check_board(&out, "board", &truth, ON_A_LINE)
}

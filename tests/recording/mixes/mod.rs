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
mod truth;
mod wire;

use self::board::Board;
use self::check::{Rules, Tally, check_board, check_counter, rejected, table};
use self::counter::Counter;
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

/// What a scripted instrument does with a question that it hears for the so-manieth time: waits in milliseconds, and texts,
/// each a line unless it ends in `~`.
type Script = fn(&str, usize) -> Vec<(u64, &'static str)>;

/// Records an instrument that follows a script for some seconds: what the recording is told.
fn scripted(profile: Profile, script: Script) -> Vec<Event> {
    scripted_runs(profile, [script])
}

/// The same with a script for each run, six seconds from plug to unplug.
fn scripted_runs<const RUNS: usize>(profile: Profile, scripts: [Script; RUNS]) -> Vec<Event> {
    let told = scripted_for(Duration::from_secs(6), profile, scripts);
    told.into_iter().map(|(_, event)| event).collect()
}

/// The same, each run so long; what the recording is told, and when.
fn scripted_for<const RUNS: usize>(
    lasts: Duration,
    profile: Profile,
    scripts: [Script; RUNS],
) -> Vec<(i64, Event)> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .start_paused(true)
        .build()
        .unwrap();
    LocalSet::new().block_on(&runtime, async move {
        let (clock, mut wire) = (Clock::of_runtime(), MemoryWire::new());
        let (events, mut inbox) = mpsc::channel(4096);
        let (stop, stopped) = watch::channel(false);
        let source = source("counter", profile, &wire, &clock);
        tokio::spawn(acquire::run(source, events, stopped));
        let now = clock.clone();
        let listening = tokio::task::spawn_local(async move {
            let mut told = Vec::new();
            while let Some(event) = inbox.recv().await {
                told.push((now.now().elapsed_us, event));
            }
            told
        });
        for (number, script) in scripts.iter().enumerate() {
            if number > 0 {
                wire.unplug().await;
                wire.plug().await;
            }
            let deadline = clock.deadline(lasts);
            let mut counts = std::collections::BTreeMap::<String, usize>::new();
            while !deadline.is_over() {
                let bytes = wire.heard(deadline.left()).await.unwrap_or_default();
                for question in String::from_utf8_lossy(&bytes).lines().map(str::trim) {
                    let count = counts.entry(question.to_owned()).or_default();
                    *count += 1;
                    for (wait_ms, text) in script(question, *count) {
                        sleep(Duration::from_millis(wait_ms)).await;
                        let text = match text.strip_suffix('~') {
                            Some(half) => half.to_owned(),
                            None => format!("{text}\n"),
                        };
                        wire.send(text.as_bytes()).await;
                    }
                }
            }
        }
        stop.send(true).unwrap();
        listening.await.unwrap()
    })
}

/// When each row was told, and its own time, in microseconds.
fn times(told: &[(i64, Event)]) -> Vec<(i64, i64)> {
    let rows = told.iter().filter_map(|(told_us, event)| match event {
        Event::Rows(rows, _) => Some((*told_us, rows)),
        _ => None,
    });
    rows.flat_map(|(told_us, rows)| rows.iter().map(move |row| (told_us, row.stamp.elapsed_us)))
        .collect()
}

/// With the shipped counter, whose time-out is 3 s: three of them passed before a row said so.
#[test]
fn an_answer_cut_off_without_its_end_is_told_after_its_time_out() {
    // The last answer of a row, and one with a question behind it.
    let last: Script = |question, count| match (question, count) {
        ("MEAS:VOLT:DC?", 5) => vec![(1, "9.~")],
        _ => plain_answer(question),
    };
    let first: Script = |question, count| match (question, count) {
        ("MEAS:FREQ?", 5) => vec![(1, "6.~")],
        _ => plain_answer(question),
    };
    for script in [last, first] {
        assert_told_after_its_time_out(script);
    }
}

fn assert_told_after_its_time_out(script: Script) {
    let shipped = Catalogue::default().get("scpi-counter").unwrap().0;
    let timeout_us = 3_000_000;
    assert_eq!(shipped.timing.timeout.as_micros(), 3_000_000);
    let told = scripted_for(Duration::from_secs(30), shipped, [script]);
    let times = times(&told);
    for pair in times.windows(2) {
        let wait_us = pair[1].0 - pair[0].0;
        assert!(
            wait_us < timeout_us + 1_500_000,
            "{wait_us} us without a row: {times:?}"
        );
    }
    let silent = told.iter().find_map(|(told_us, event)| match event {
        Event::Rows(rows, _) => {
            let row = rows.iter().find(|row| row.status == Status::Silent)?;
            Some((*told_us, row.stamp.elapsed_us))
        }
        _ => None,
    });
    let (told_us, at_us) = silent.expect("the silence is a row");
    assert!(
        (0..=500_000).contains(&(told_us - at_us)),
        "{told_us} {at_us}"
    );
    // The 5th row is asked for 4 s after the first.
    assert!((7_000_000..7_100_000).contains(&at_us), "{at_us}");
    assert!(times.len() > 20, "{times:?}");
}

#[test]
fn the_second_row_comes_a_full_interval_behind_the_first() {
    let mut slow = without_resync();
    slow.timing.every = Duration::from_secs(1);
    slow.timing.timeout = Duration::from_millis(990);
    let told = scripted_for(
        Duration::from_secs(6),
        slow,
        [|question, _| plain_answer(question)],
    );
    let times = times(&told);
    assert!(times.len() >= 4, "{times:?}");
    for pair in times.windows(2) {
        let every_us = pair[1].1 - pair[0].1;
        assert!((990_000..1_010_000).contains(&every_us), "{times:?}");
    }
}

/// Every value is its own question's, there are some, and nobody else's words are taken for who it is.
fn assert_in_step(told: &[Event]) {
    let mut count = 0;
    for event in told {
        match event {
            Event::Rows(rows, _) => {
                for row in rows {
                    let frequency = row.readings.get(Channel::FrequencyHz);
                    let battery = row.readings.get(Channel::BatteryV);
                    assert!(
                        frequency.is_none_or(|value| (value - 6.2e6).abs() < 1e-3),
                        "{row:?}"
                    );
                    assert!(
                        battery.is_none_or(|value| (value - 9.0).abs() < 1e-9),
                        "{row:?}"
                    );
                    count += usize::from(frequency.is_some() && battery.is_some());
                }
            }
            Event::Identity { text, .. } => assert_eq!(text, "glow pillar,counter,0,1"),
            _ => {}
        }
    }
    assert!(count >= 10, "{count} whole rows: {told:?}");
}

fn plain_answer(question: &str) -> Vec<(u64, &'static str)> {
    match question {
        "*IDN?" => vec![(1, "glow pillar,counter,0,1")],
        "*OPC?" => vec![(1, "1")],
        "SYST:ERR?" => vec![(1, "0,\"No error\"")],
        "MEAS:FREQ?" => vec![(1, "6.2E+06")],
        "MEAS:VOLT:DC?" => vec![(1, "9.0")],
        _ => Vec::new(),
    }
}

#[test]
fn a_synchronising_answer_later_than_quiet_is_no_reading() {
    let script: Script = |question, count| match (question, count) {
        ("*OPC?", 1 | 2) => vec![(900, "1")],
        _ => plain_answer(question),
    };
    assert_in_step(&scripted(profile("scpi-counter"), script));
    let mut nameless = profile("scpi-counter");
    nameless.identity = None;
    assert_in_step(&scripted(nameless, script));
}

/// The rows with a frequency behind the first gap, and the reasons for which the line was lost.
fn behind_gap(told: &[Event]) -> (usize, Vec<&str>) {
    let rows = told.iter().filter_map(|event| match event {
        Event::Rows(rows, _) => Some(rows),
        _ => None,
    });
    let behind = rows
        .flatten()
        .skip_while(|row| row.status != Status::Gap)
        .filter(|row| row.readings.get(Channel::FrequencyHz).is_some());
    let reasons = told.iter().filter_map(|event| match event {
        Event::Lost { reason, .. } => Some(reason.as_str()),
        _ => None,
    });
    (behind.count(), reasons.collect())
}

#[test]
fn a_flipped_bit_in_its_name_makes_no_other_instrument() {
    let told = scripted_runs(
        profile("scpi-counter"),
        [
            |question, _| plain_answer(question),
            |question, count| match (question, count) {
                ("*IDN?", 1) => vec![(1, "glow pillar,countes,0,1")],
                ("*IDN?", 2) => vec![(1, "glow pillar,counter,0,3")],
                _ => plain_answer(question),
            },
        ],
    );
    assert_in_step(&told);
    let (rows, reasons) = behind_gap(&told);
    assert!(rows >= 10, "{rows} rows");
    assert_eq!(reasons, ["the port went away"]);
}

#[test]
fn an_instrument_that_says_another_name_twice_is_another() {
    let told = scripted_runs(
        profile("scpi-counter"),
        [
            |question, _| plain_answer(question),
            |question, _| match question {
                "*IDN?" => vec![(1, "glow pillar,counter,0,2")],
                _ => plain_answer(question),
            },
        ],
    );
    let (rows, reasons) = behind_gap(&told);
    assert_eq!(rows, 0);
    let other = "glow pillar,counter,0,2 answers there instead of glow pillar,counter,0,1";
    assert_eq!(reasons, ["the port went away", other]);
}

#[test]
fn a_flipped_bit_in_its_first_name_makes_it_no_stranger_later() {
    let told = scripted_runs(
        profile("scpi-counter"),
        [
            |question, count| match (question, count) {
                ("*IDN?", 1) => vec![(1, "glow pillar,countes,0,1")],
                _ => plain_answer(question),
            },
            |question, _| plain_answer(question),
        ],
    );
    assert_in_step(&told);
    let (rows, reasons) = behind_gap(&told);
    assert!(rows >= 10, "{rows} rows");
    assert_eq!(reasons, ["the port went away"]);
}

#[test]
fn what_comes_back_without_a_name_is_not_read_until_it_says_it() {
    let told = scripted_runs(
        profile("scpi-counter"),
        [
            |question, _| plain_answer(question),
            |question, _| match question {
                "*IDN?" => vec![],
                _ => plain_answer(question),
            },
            |question, count| match (question, count) {
                ("*IDN?", 1) => vec![],
                _ => plain_answer(question),
            },
        ],
    );
    let mut values = vec![0];
    for event in &told {
        match event {
            Event::Back { .. } => values.push(0),
            Event::Rows(rows, _) => {
                let read = rows.iter().filter(|row| !row.readings.is_empty());
                *values.last_mut().unwrap() += read.count();
            }
            _ => {}
        }
    }
    let [before, 0, after] = values[..] else {
        panic!("{values:?}");
    };
    assert!(before >= 10 && after >= 10, "{values:?}");
}

#[test]
fn a_name_that_changes_with_each_answer_is_as_good_as_none() {
    let told = scripted_runs(
        profile("scpi-counter"),
        [|question: &str, count: usize| match question {
            "*IDN?" => vec![(1, ["up 1 s", "up 2 s", "up 3 s", "up 4 s"][count % 4])],
            _ => plain_answer(question),
        }],
    );
    let read = |event: &Event| match event {
        Event::Rows(rows, _) => rows.iter().filter(|row| !row.readings.is_empty()).count(),
        _ => 0,
    };
    assert!(told.iter().map(read).sum::<usize>() >= 10, "{told:?}");
}

#[test]
fn the_rest_of_half_an_answer_is_none_to_the_next_question() {
    let told = scripted(profile("scpi-counter"), |question, count| {
        match (question, count) {
            ("MEAS:FREQ?", 3) => vec![(1, "6.2E+06"), (0, "8.9~")],
            ("MEAS:VOLT:DC?", 3) => vec![(1, "99989"), (1, "9.0")],
            _ => plain_answer(question),
        }
    });
    assert_in_step(&told);
}

/// A copy behind each answer, the packet with its beginning before the next question and the rest 10 ms later.
#[test]
fn the_copy_of_an_answer_that_began_before_the_question_is_no_reading_and_no_name() {
    let script: Script = |question, _| match question {
        "*IDN?" => vec![
            (1, "glow pillar,counter,0,1\nglow pil~"),
            (10, "lar,counter,0,1"),
        ],
        "*OPC?" => vec![(1, "1\n~"), (10, "")],
        "MEAS:FREQ?" => vec![(1, "6.2E+06\n6.2E~"), (10, "+06")],
        "MEAS:VOLT:DC?" => vec![(1, "9.0\n+~"), (10, "3.1")],
        _ => plain_answer(question),
    };
    for profile in [profile("scpi-counter"), without_resync()] {
        let told = scripted(profile, script);
        assert_in_step(&told);
        let silent = told.iter().filter(|event| {
            matches!(event, Event::Rows(rows, _) if rows.iter().any(|row| row.status != Status::Ok))
        });
        assert_eq!(silent.count(), 0, "{told:?}");
        let refused = told.iter().filter(
            |event| matches!(event, Event::Rejected(refused) if refused.bytes == b"6.2E+06"),
        );
        assert!(refused.count() >= 10, "copies are kept");
    }
}

#[test]
fn a_copy_of_a_complaint_is_no_reading() {
    let told = scripted(profile("scpi-counter"), |question, count| {
        match (question, count) {
            ("MEAS:VOLT:DC?", 3) => vec![],
            ("SYST:ERR?", _) => vec![(1, "0,\"No error\"\n0,\"No ~"), (10, "error\"")],
            _ => plain_answer(question),
        }
    });
    assert_in_step(&told);
}

/// The rows that are not whole.
fn lacking(told: &[Event]) -> usize {
    let rows = told.iter().filter_map(|event| match event {
        Event::Rows(rows, _) => Some(rows),
        _ => None,
    });
    rows.flatten()
        .filter(|row| row.status != Status::Ok)
        .count()
}

#[test]
fn a_prompt_behind_each_answer_is_learnt_and_costs_no_row() {
    for profile in [profile("scpi-counter"), without_resync()] {
        let told = scripted(profile, |question, _| {
            let mut texts = plain_answer(question);
            texts.push((0, "OK> ~"));
            texts
        });
        assert_in_step(&told);
        assert_eq!(lacking(&told), 0, "{told:?}");
    }
}

/// What could begin a number is never learnt as a prompt: the answer behind it is refused.
#[test]
fn a_sign_behind_each_answer_is_no_prompt() {
    let told = scripted(without_resync(), |question, _| {
        let mut texts = plain_answer(question);
        texts.push((0, "-~"));
        texts
    });
    let is_value = |event: &Event| matches!(event, Event::Rows(rows, _) if rows.iter().any(|row| row.readings.get(Channel::BatteryV).is_some()));
    assert!(!told.iter().any(is_value), "{told:?}");
}

#[test]
fn a_prompt_that_the_profile_names_is_cut_off_before_and_behind_answers() {
    let mut named = without_resync();
    named.port.prompt = Some("CH1: ".to_owned());
    named.port.skip = vec!["CR:Ack".to_owned()];
    let told = scripted(named, |question, _| match question {
        "*CLS" => vec![],
        "*IDN?" => vec![(1, "CH1: glow pillar,counter,0,1")],
        "MEAS:FREQ?" => vec![(1, "CR:Ack"), (0, "CH1: 6.2E+06\nCH1: ~")],
        _ => vec![(0, "CR:Ack"), (1, "9.0\nCH~"), (2, "1: ~")],
    });
    assert_in_step(&told);
    assert_eq!(lacking(&told), 0, "{told:?}");
}

/// The recording takes nothing while the line comes back, as when the disk is slow.
#[test]
fn a_set_up_that_a_loss_cut_short_begins_anew() {
    // So many that the loss comes in the midst of them.
    let texts: Vec<String> = (0..100).map(|number| format!("SET {number}")).collect();
    let length = texts.join(" ").len() + 1;
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .start_paused(true)
        .build()
        .unwrap();
    let heard = LocalSet::new().block_on(&runtime, async {
        let (clock, mut wire) = (Clock::of_runtime(), MemoryWire::new());
        let (events, mut inbox) = mpsc::channel(1);
        let (_stop, stopped) = watch::channel(false);
        let mut profile = profile("scpi-counter");
        profile.start.clone_from(&texts);
        let source = source("counter", profile, &wire, &clock);
        tokio::spawn(acquire::run(source, events, stopped));
        wire.heard(Duration::from_secs(1)).await.unwrap();
        wire.unplug().await;
        wire.plug().await;
        tokio::task::spawn_local(async move { while inbox.recv().await.is_some() {} });
        let mut heard = Vec::new();
        while heard.len() < length {
            heard.extend(wire.heard(Duration::from_secs(1)).await.unwrap());
        }
        heard
    });
    let heard = String::from_utf8_lossy(&heard[..length]);
    assert_eq!(heard, texts.join("\n") + "\n");
}

fn without_resync() -> Profile {
    let mut profile = profile("scpi-counter");
    (profile.resync, profile.errors) = (None, None);
    profile
}

#[test]
fn without_a_synchronising_question_an_echo_is_not_who_it_is() {
    let told = scripted(without_resync(), |question, _| match question {
        "*CLS" => vec![(2, "*CLS")],
        _ => plain_answer(question),
    });
    assert_in_step(&told);
}

#[test]
fn without_a_synchronising_question_an_answer_behind_a_banner_has_its_time_out() {
    let told = scripted(without_resync(), |question, count| {
        match (question, count) {
            ("MEAS:FREQ?", 3) => vec![(1, "ready"), (1, "6.2E+06")],
            ("MEAS:VOLT:DC?", 3) => vec![(750, "9.0")],
            _ => plain_answer(question),
        }
    });
    assert_in_step(&told);
    let is_banner =
        |event: &Event| matches!(event, Event::Rejected(refused) if refused.bytes == b"ready");
    assert!(told.iter().any(is_banner), "what was refused is kept");
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

//! An evening of ten hours on a paused clock: a counter ten times a second and a meter once, every answer in its row.

use std::path::Path;
use std::process::Command;
use std::sync::Arc;
use std::time::Duration;

use sagtrace::acquire::{self, Source};
use sagtrace::clock::Clock;
use sagtrace::frame::LineEnd;
use sagtrace::instrument::Catalogue;
use sagtrace::reading::{Channel, Event, Status};
use sagtrace::session::{Contents, RowReader, Session, Writer};
use sagtrace::transport::{Cut, Keeper, Manner, MemorySocket, memory_link};
use tokio::sync::{mpsc, watch};

/// An instrument without a fault: its n-th measurement is n.
async fn count(
    socket: MemorySocket,
    mut plug: sagtrace::transport::MemoryPlug,
    lasts: Duration,
) -> u64 {
    let deadline = tokio::time::Instant::now() + lasts;
    let mut measured = 0;
    while let Ok(Some(heard)) = tokio::time::timeout_at(deadline, plug.heard()).await {
        let question = String::from_utf8(heard).expect("a question is text");
        let answer = match question.trim() {
            "*IDN?" => "glow pillar,counter,0,1".to_owned(),
            "*OPC?" => "1".to_owned(),
            "*CLS" => continue,
            _ => {
                measured += 1;
                measured.to_string()
            }
        };
        tokio::time::sleep(Duration::from_millis(5)).await;
        plug.send(format!("{answer}\r\n").as_bytes());
    }
    drop(socket);
    measured
}

fn writer(dir: &Path) -> Writer {
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data/evening");
    let mut meta = Session::open(&sample).expect("a sample session").meta;
    meta.instruments.clear();
    meta.checksums.clear();
    Writer::create(dir, meta, &[], &Contents::default()).expect("a folder")
}

/// This process's memory now, in kilobytes.
fn resident_kb() -> u64 {
    let text = std::fs::read_to_string("/proc/self/status").expect("the system answers");
    let line = text
        .lines()
        .find(|line| line.starts_with("VmRSS"))
        .expect("the line");
    line.split_whitespace()
        .nth(1)
        .and_then(|text| text.parse().ok())
        .expect("a number")
}

/// Records for this time. Returns the measurements of both instruments, and the memory after a tenth of the time and at the end.
async fn evening(dir: &Path, lasts: Duration) -> ([u64; 2], [u64; 2]) {
    let clock = Clock::of_runtime();
    let (events, mut inbox) = mpsc::channel(256);
    let (stop, stopped) = watch::channel(false);
    let mut instruments = Vec::new();
    for (label, every_ms) in [("counter", 100), ("meter", 1000)] {
        let socket = MemorySocket::default();
        let plug = socket.plug();
        let (profile, _) = Catalogue::default()
            .get("scpi-counter")
            .expect("it is shipped");
        let cut = Cut {
            end: LineEnd::Any,
            limit: profile.port.longest_line,
        };
        let (link, far) = memory_link(
            Manner::Asked,
            &socket,
            cut,
            clock.clone(),
            Keeper::default(),
        )
        .expect("it is plugged in");
        tokio::spawn(far);
        let source = Source {
            label: Arc::from(label),
            profile,
            link,
            every: Duration::from_millis(every_ms),
            clock: clock.clone(),
        };
        tokio::spawn(acquire::run(source, events.clone(), stopped.clone()));
        instruments.push(tokio::spawn(count(socket, plug, lasts)));
    }
    drop((events, stopped));
    let mut writer = writer(dir);
    let tenth = tokio::time::Instant::now() + lasts / 10;
    let end = tokio::time::Instant::now() + lasts;
    let mut memory_kb = [0; 2];
    let mut stop = Some(stop);
    while let Some(event) = inbox.recv().await {
        if let Event::Rows(rows, _) = event {
            writer.append(rows).expect("the disk takes rows");
        }
        let now = tokio::time::Instant::now();
        if now >= tenth && memory_kb[0] == 0 {
            memory_kb[0] = resident_kb();
        }
        if now + Duration::from_secs(1) >= end
            && let Some(stop) = stop.take()
        {
            stop.send(true).expect("somebody records");
        }
    }
    memory_kb[1] = resident_kb();
    let mut measured = [0; 2];
    for (count, instrument) in measured.iter_mut().zip(instruments) {
        *count = instrument.await.expect("the instrument ends");
    }
    (measured, memory_kb)
}

fn record_for(lasts: Duration) {
    let dir = tempfile::tempdir().expect("a folder");
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .start_paused(true)
        .build()
        .expect("a runtime");
    let (measured, memory_kb) = runtime.block_on(evening(dir.path(), lasts));
    let mut reader = RowReader::open(&dir.path().join("samples.csv")).expect("the table");
    let (mut rows, mut next, mut last_us) = (Vec::new(), [1_u64; 2], [-1; 2]);
    while reader.next_chunk(&mut rows).expect("the table is read") {
        for row in &rows {
            let instrument = usize::from(&*row.source == "meter");
            assert_eq!(row.status, Status::Ok, "{row:?}");
            assert!(row.stamp.elapsed_us > last_us[instrument], "{row:?}");
            last_us[instrument] = row.stamp.elapsed_us;
            for channel in [Channel::FrequencyHz, Channel::BatteryV] {
                let value = row.readings.get(channel).expect("both are read");
                assert_eq!(
                    value.to_bits(),
                    (next[instrument] as f64).to_bits(),
                    "{row:?}"
                );
                next[instrument] += 1;
            }
        }
    }
    assert_eq!(
        next.map(|next| next - 1),
        measured,
        "every measurement is in a row"
    );
    let seconds = lasts.as_secs();
    assert!(
        measured[0] >= 2 * 10 * (seconds - 5) && measured[1] >= 2 * (seconds - 5),
        "{measured:?}"
    );
    println!("{seconds} s: {measured:?} measurements, {memory_kb:?} kB");
    assert!(memory_kb[1] < memory_kb[0] + 4096, "{memory_kb:?}");
}

/// The variable that is set where a test runs by itself.
const ALONE: &str = "SAGTRACE_TEST_ALONE";

/// Records in a process of its own: memory is a whole process's, and other tests run beside this one.
fn record_alone_for(test: &str, lasts: Duration) {
    if std::env::var_os(ALONE).is_some() {
        return record_for(lasts);
    }
    let module = module_path!().split_once("::").expect("a module").1;
    let ended = Command::new(std::env::current_exe().expect("this program"))
        .args(["--exact", &format!("{module}::{test}"), "--nocapture"])
        .env(ALONE, "1")
        .output()
        .expect("it runs");
    let said = String::from_utf8_lossy(&ended.stdout);
    print!("{said}");
    let errors = String::from_utf8_lossy(&ended.stderr);
    assert!(ended.status.success(), "{said}{errors}");
    assert!(said.contains("1 passed"), "{said}");
}

#[test]
#[cfg(not(feature = "long"))]
fn an_hour_of_two_instruments_loses_nothing_and_needs_no_more_memory() {
    let test = "an_hour_of_two_instruments_loses_nothing_and_needs_no_more_memory";
    record_alone_for(test, Duration::from_hours(1));
}

#[test]
#[cfg(feature = "long")]
fn ten_hours_of_two_instruments_lose_nothing_and_need_no_more_memory() {
    let test = "ten_hours_of_two_instruments_lose_nothing_and_need_no_more_memory";
    record_alone_for(test, Duration::from_hours(10));
}

//! A line that comes and goes under a running recording: set up anew each time, without a leak, and without a spin.

use std::fs;
use std::sync::Arc;
use std::time::Duration;

use rustix::process::Signal;
use sagtrace::bench::Instrument;
use sagtrace::bench::faults::{Fault, FaultKind};
use sagtrace::bench::lines::Lines;
use sagtrace::bench::pty::Device;
use sagtrace::bench::scpi::Scpi;
use sagtrace::clock::Clock;
use sagtrace::reading::Status;
use sagtrace::session::Session;

use crate::common::{Desk, Running, pause, wait_until};
use crate::line::device;
use crate::noted::Noted;

const PLAIN_LINES: &str = include_str!("../../devices/plain-lines.toml");
const SCPI_COUNTER: &str = include_str!("../../devices/scpi-counter.toml");

fn at(profile: &str, device: &Device) -> String {
    format!("{profile}@serial:{}", device.path().display())
}

fn count(desk: &Desk, status: Status) -> usize {
    let rows = desk.rows();
    rows.iter().filter(|row| row.status == status).count()
}

/// What a program holds and has used.
#[derive(Debug, Clone, Copy)]
struct Use {
    handles: usize,
    threads: usize,
    /// Processor time in seconds.
    busy_s: f64,
}

impl Use {
    fn of(running: &Running) -> Self {
        let process = format!("/proc/{}", running.pid().as_raw_nonzero());
        let entries = |name: &str| fs::read_dir(format!("{process}/{name}")).unwrap().count();
        // proc(5): behind the name in brackets, user and system time are the 12th and 13th field, in hundredths.
        let stat = fs::read_to_string(format!("{process}/stat")).unwrap();
        let (_, fields) = stat.rsplit_once(") ").unwrap();
        let ticks: f64 = fields
            .split(' ')
            .skip(11)
            .take(2)
            .map(|field| field.parse::<f64>().unwrap())
            .sum();
        Self {
            handles: entries("fd"),
            threads: entries("task"),
            busy_s: ticks / 100.0,
        }
    }
}

/// A share of one core that nobody minds.
const IDLE: f64 = 0.05;

#[test]
fn a_line_that_flaps_leaves_gaps_and_takes_neither_handles_nor_threads_nor_the_processor() {
    let (desk, counter) = (Desk::new(), device(Scpi::counter(), Vec::new()));
    let mut running = desk.start(&["-i", &at("quick-scpi-counter", &counter), "--every", "50ms"]);
    running.wait_for_rows(2);
    let (before, clock) = (Use::of(&running), Clock::real());
    let lost = |running: &Running| running.stderr().matches(" is lost: ").count();
    let back = |running: &Running| running.stderr().matches(" is back").count();
    for flap in 0..4 {
        counter.pull();
        wait_until("it is lost", || lost(&running) > flap);
        // For a moment it is there, and gone again: the recording may see that or not.
        counter.put_back();
        pause(Duration::from_millis(30));
        counter.pull();
        pause(Duration::from_millis(30));
        counter.put_back();
        running.wait_for("the loss", |line| line.contains(",gap,"));
        running.wait_for_rows(2);
    }
    wait_until("it is back for good", || back(&running) == lost(&running));
    let after = Use::of(&running);
    let passed_s = clock.elapsed_s();
    let times = lost(&running);
    assert_eq!(running.interrupt().code, Some(0));
    assert!(times >= 4, "lost {times} times");
    assert_eq!(count(&desk, Status::Gap), times, "each loss is a row");
    assert_eq!(
        (after.handles, after.threads),
        (before.handles, before.threads)
    );
    let share = (after.busy_s - before.busy_s) / passed_s;
    assert!(share < IDLE, "{share} of a core");
    let summary = Session::open(&desk.path().join("out"))
        .unwrap()
        .meta
        .summary;
    assert_eq!(summary.unwrap().gaps, times as u64);
}

#[test]
fn a_line_that_never_comes_back_costs_nothing_and_ctrl_c_ends_it() {
    let (desk, board) = (Desk::new(), device(Lines::plain(0.02).unwrap(), Vec::new()));
    let counter = device(Scpi::counter(), Vec::new());
    let (one, other) = (
        format!("f={}", at("quick-scpi-counter", &counter)),
        format!("v={}", at("quick-plain-lines", &board)),
    );
    let mut running = desk.start(&["-i", &one, "-i", &other, "--every", "50ms"]);
    running.wait_for_rows(5);
    drop((board, counter));
    for label in ["f", "v"] {
        wait_until("both are lost", || {
            running.stderr().contains(&format!("{label} is lost"))
        });
    }
    let (before, clock) = (Use::of(&running), Clock::real());
    pause(Duration::from_secs(5));
    let after = Use::of(&running);
    let share = (after.busy_s - before.busy_s) / clock.elapsed_s();
    assert!(share < IDLE, "{share} of a core");
    assert!(after.handles <= before.handles && after.threads <= before.threads);
    let ended = running.interrupt();
    assert_eq!(ended.code, Some(3), "{}", ended.stderr);
    assert_eq!(count(&desk, Status::Gap), 2);
    let session = Session::open(&desk.path().join("out")).unwrap();
    assert_eq!(session.meta.end_reason.as_deref(), Some("Ctrl-C"));
}

/// Pulls the plug until that is noticed, puts it back, and waits for rows.
fn lose_and_find(running: &mut Running, device: &Device) {
    device.pull();
    running.wait_for("a loss", |line| line.contains(",gap,"));
    device.put_back();
    running.wait_for_rows(3);
}

/// Records through two losses, each after the set-up with this end was heard; what the instrument heard after each opening.
fn heard_at_openings(
    profile: &str,
    inner: impl Instrument + 'static,
    set_up_end: &str,
) -> Vec<String> {
    let desk = Desk::new();
    let counter = SCPI_COUNTER
        .replacen("scpi-counter", "counter", 1)
        .replace("send = [\"*CLS\"]", "send = [\"*CLS\", \"CONF:FREQ\"]");
    desk.file("sagtrace/devices/counter.toml", &counter);
    let board = PLAIN_LINES
        .replacen("plain-lines", "board", 1)
        .replace("settle = \"2 s\"", "settle = \"0 s\"")
        + "\n[start]\nsend = [\"rate 50\", \"go\"]\n";
    desk.file("sagtrace/devices/board.toml", &board);
    let heard = Arc::default();
    let noted = Noted {
        inner,
        heard: Arc::clone(&heard),
    };
    let openings = || -> Vec<String> {
        let text = String::from_utf8(heard.lock().unwrap().clone()).unwrap();
        text.split("OPENED").skip(1).map(str::to_owned).collect()
    };
    let is_set_up = |times: usize| {
        let openings: Vec<String> = openings();
        openings.len() == times && openings[times - 1].contains(set_up_end)
    };
    let device = device(noted, Vec::new());
    let mut running = desk.start(&["-i", &at(profile, &device), "--every", "50ms"]);
    running.wait_for_rows(3);
    for times in 1..3 {
        // A board that speaks unasked has rows before it has heard anything.
        wait_until("it is set up", || is_set_up(times));
        lose_and_find(&mut running, &device);
    }
    wait_until("it is set up", || is_set_up(3));
    assert_eq!(running.interrupt().code, Some(0));
    openings()
}

#[test]
fn the_set_up_is_sent_again_after_each_return_before_anything_is_asked() {
    let openings = heard_at_openings("counter", Scpi::counter(), "*IDN?\n");
    assert_eq!(openings.len(), 3);
    for heard in openings {
        assert!(
            heard.starts_with("*CLS\nCONF:FREQ\n*OPC?\n*IDN?\n"),
            "{heard}"
        );
    }
    let openings = heard_at_openings("board", Lines::plain(0.02).unwrap(), "go\n");
    assert_eq!(openings, ["rate 50\ngo\n"; 3]);
}

/// What boards say when they start: words, and bytes of a loader at another speed. Invented.
const BANNER: &str = "\u{3}x\u{1c}rst:1 (power)\r\nloader 7\u{1}\u{2}\r\nready f=1Hz\r\n";

#[test]
fn a_board_that_starts_anew_at_each_opening_is_given_time_to_settle() {
    let desk = Desk::new();
    let board = PLAIN_LINES
        .replacen("plain-lines", "board", 1)
        .replace("settle = \"2 s\"", "settle = \"700 ms\"");
    desk.file("sagtrace/devices/board.toml", &board);
    let faults = vec![Fault::always(FaultKind::Banner(BANNER.to_owned()))];
    let board = device(Lines::plain(0.05).unwrap(), faults);
    let mut running = desk.start(&["-i", &at("board", &board)]);
    running.wait_for_rows(3);
    lose_and_find(&mut running, &board);
    assert_eq!(running.interrupt().code, Some(0));
    let wrong = desk
        .rows()
        .iter()
        .filter(|row| !matches!(row.status, Status::Ok | Status::Gap))
        .count();
    assert_eq!(wrong, 0, "{}", desk.read("out/samples.csv"));
    let rejected = desk.read("out/rejected.log");
    let starts = rejected
        .matches("(the board was starting): loader 7")
        .count();
    assert_eq!(starts, 2, "{rejected}");
}

#[test]
fn a_counter_that_starts_anew_at_each_opening_is_asked_once_it_has_settled() {
    let desk = Desk::new();
    let counter = SCPI_COUNTER.replacen("scpi-counter", "counter", 1).replace(
        "timeout = \"3 s\"",
        "timeout = \"500 ms\"\nsettle = \"700 ms\"",
    );
    desk.file("sagtrace/devices/counter.toml", &counter);
    let heard = Arc::default();
    let noted = Noted {
        inner: Scpi::counter(),
        heard: Arc::clone(&heard),
    };
    let faults = vec![Fault::always(FaultKind::Banner(BANNER.to_owned()))];
    let counter = device(noted, faults);
    let clock = Clock::real();
    let mut running = desk.start(&["-i", &at("counter", &counter), "--every", "50ms"]);
    wait_until("it is asked", || {
        heard.lock().unwrap().len() > "OPENED".len()
    });
    assert!(
        clock.elapsed_s() > 0.7,
        "asked after {} s",
        clock.elapsed_s()
    );
    running.wait_for_rows(3);
    lose_and_find(&mut running, &counter);
    assert_eq!(running.interrupt().code, Some(0));
    let wrong = desk
        .rows()
        .iter()
        .filter(|row| !matches!(row.status, Status::Ok | Status::Gap))
        .count();
    assert_eq!(wrong, 0, "{}", desk.read("out/samples.csv"));
    assert!(
        desk.read("out/rejected.log")
            .contains("late, or a banner): ")
    );
}

#[test]
fn a_recording_that_was_stopped_says_that_lines_may_be_missing() {
    let (desk, board) = (Desk::new(), device(Lines::plain(0.01).unwrap(), Vec::new()));
    let mut running = desk.start(&["-i", &at("quick-plain-lines", &board)]);
    running.wait_for_rows(5);
    running.signal(Signal::STOP);
    pause(Duration::from_millis(1500));
    running.signal(Signal::CONT);
    let gap = running.wait_for("a gap", |line| line.contains(",gap,"));
    assert!(
        gap.contains(",gap,lines may be missing: the recording was "),
        "{gap}"
    );
    running.wait_for_rows(5);
    assert_eq!(running.interrupt().code, Some(0));
}

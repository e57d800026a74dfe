//! What a reading is worth, from the line to the comparison: a damaged line that still reads, a hand, an instrument that hangs,
//! doubled lines, silence. In pseudo-terminals and replayed logs, through the whole program.

use std::fmt::Write as _;
use std::time::Duration;

use sagtrace::bench::faults::{Fault, FaultKind};
use sagtrace::bench::lines::Lines;
use sagtrace::bench::pty::Device;
use sagtrace::bench::world::{Hand, WorldSpec};
use sagtrace::clock::Clock;
use sagtrace::reading::{Channel, Row, Status};
use serde_json::Value;

use crate::common::{Desk, pause};
use crate::line::{device, device_in};
use crate::noise::Noise;

const DONE: Option<i32> = Some(0);

/// A byte log of a board that sends a line a second, each as `line` gives it.
fn log(seconds: i64, line: impl Fn(i64, f64) -> String) -> String {
    // What a port gives first may be the end of a line.
    let mut text = "0 2026-01-31T19:00:00.000Z < .1Hz v=8.1V\\n\n".to_owned();
    let mut noise = Noise(1234567890);
    for second in 0..seconds {
        let (minute, rest) = ((second + 1) / 60, (second + 1) % 60);
        writeln!(
            text,
            "{} 2026-01-31T19:{minute:02}:{rest:02}.000Z < {}",
            (second + 1) * 1_000_000,
            line(second, noise.unit())
        )
        .unwrap();
    }
    text
}

fn plain(second: i64, noise: f64, off_hz: f64) -> String {
    let hertz = 6_231_234.5 - 0.4 * second as f64 + 3.0 * noise + off_hz;
    let volts = 8.1 - 0.0002 * second as f64;
    format!(r"f={hertz:.1}Hz v={volts:.3}V\n")
}

/// Records a byte log of plain lines, and compares the session.
fn replayed(text: &str) -> (Desk, Vec<Row>, Value) {
    let desk = Desk::new();
    desk.file("bytes.log", text);
    desk.record(&["-i", "plain-lines@log:bytes.log"]).well();
    let rows = desk.rows();
    let told = desk
        .run(&["compare", "out", "--no-plots", "--format", "json"])
        .well();
    let value = serde_json::from_str(&told.stdout).unwrap();
    (desk, rows, value)
}

fn doubted(rows: &[Row]) -> Vec<(usize, Status, String)> {
    let rows = rows.iter().enumerate();
    rows.filter(|(_, row)| row.status != Status::Ok)
        .map(|(number, row)| (number + 1, row.status, row.note.to_string()))
        .collect()
}

fn events<'a>(value: &'a Value, kind: &str) -> Vec<&'a Value> {
    let all = value["events"].as_array().unwrap();
    all.iter().filter(|event| event["kind"] == kind).collect()
}

#[test]
fn a_damaged_line_that_still_reads_is_kept_suspect_and_left_out_of_the_figures() {
    let (desk, rows, value) = replayed(&log(600, |second, noise| {
        let line = plain(second, noise, 0.0);
        match second {
            // What was measured to come of damaged bytes: a voltage that lost its first digit.
            300 => line.replace("v=8.", "v=0."),
            // A digit far down, which nobody can tell from a hand when it is written.
            400 => line.replace("f=6231", "f=6239"),
            _ => line,
        }
    }));
    assert_eq!(
        doubted(&rows),
        [(
            301,
            Status::Suspect,
            "battery_v: 40.00 mV after 8.041 V".to_owned()
        )]
    );
    assert_eq!(rows[300].readings.get(Channel::BatteryV), Some(0.04));
    assert!(rows[300].good(Channel::FrequencyHz).is_some());
    let table = desk.read("out/samples.csv");
    let line = table.lines().nth(301).unwrap();
    assert!(
        line.ends_with(",0.04,,,,suspect,battery_v: 40.00 mV after 8.041 V"),
        "{line}"
    );
    // What it was read from is kept, and nothing else.
    let rejected = desk.read("out/rejected.log");
    let kept: Vec<&str> = rejected
        .lines()
        .filter(|line| line.contains("(its row is kept as suspect): f=62"))
        .collect();
    assert_eq!(kept.len(), 1, "{rejected}");
    assert!(kept[0].contains(" v=0.040V"), "{rejected}");
    let battery = &value["sources"][0]["channels"]["battery_v"];
    assert_eq!(
        (&battery["readings"], &battery["min"]),
        (&599.into(), &7.98.into())
    );
    let suspect = events(&value, "suspect");
    assert_eq!(suspect.len(), 1);
    assert_eq!(
        (&suspect[0]["first_row"], &suspect[0]["channel"]),
        (&301.into(), &"battery_v".into())
    );
    // The comparison, which sees both sides, finds the other.
    let found = events(&value, "excursion");
    assert_eq!(
        (found.len(), &found[0]["first_row"], &found[0]["last_row"]),
        (1, &401.into(), &401.into())
    );
}

#[test]
fn a_hand_that_takes_18_khz_off_is_data_and_a_step_and_bends_no_drift() {
    let (_desk, rows, value) = replayed(&log(1200, |second, noise| {
        plain(second, noise, if second < 500 { 0.0 } else { -18e3 })
    }));
    assert_eq!(doubted(&rows), []);
    let steps = events(&value, "step");
    assert_eq!(steps.len(), 1, "{value:#}");
    assert_eq!(
        (&steps[0]["first_row"], &steps[0]["last_row"]),
        (&500.into(), &501.into())
    );
    assert!((steps[0]["change_hz"].as_f64().unwrap() + 18e3).abs() < 6.0);
    let drift = &value["drift"]["on_time"];
    let slope = drift["slope_hz_per_s"].as_f64().unwrap();
    assert!((slope + 0.4).abs() < 0.005, "{drift}");
    assert_eq!(value["whole"]["readings"], 1200);
}

#[test]
fn doubled_lines_are_two_rows_with_rising_times_and_no_doubt() {
    let (_desk, rows, _) = replayed(&log(120, |second, noise| {
        plain(second, noise, 0.0).repeat(2)
    }));
    assert_eq!((rows.len(), doubted(&rows)), (240, Vec::new()));
    assert!(rows.is_sorted_by(|one, next| one.stamp.elapsed_us < next.stamp.elapsed_us));
    for pair in rows.chunks(2) {
        assert_eq!(pair[0].readings, pair[1].readings);
        assert_eq!(pair[1].stamp.elapsed_us - pair[0].stamp.elapsed_us, 1);
    }
}

/// A board whose clock is 0.3 % fast, and whose counter shows that two lines were lost.
#[test]
fn a_boards_clock_and_counter_are_told_and_kept() {
    let desk = Desk::new();
    let profile = desk.read("sagtrace/devices/quick-plain-lines.toml");
    let profile = profile
        .replace("name = \"quick-plain-lines\"", "name = \"clocked\"")
        .replace(
            "layout = \"fields\"\n",
            "layout = \"fields\"\ncounter = \"n\"\nclock = \"us\"\nclock_tick = \"1 us\"\n",
        );
    desk.file("sagtrace/devices/clocked.toml", &profile);
    let text = log(120, |second, noise| {
        let line = plain(second, noise, 0.0);
        let count = second + if second < 60 { 0 } else { 2 };
        // Its 32 bits come to their end on the way.
        let us = (4_294_000_000 + second * 1_003_000) % (1 << 32);
        line.replace(r"V\n", &format!(r"V n={count} us={us}\n"))
    });
    desk.file("bytes.log", &text);
    let ended = desk.record(&["-i", "clocked@log:bytes.log"]).well();
    let said = "clocked: the board's clock is 0.300";
    assert!(ended.stderr.contains(said), "{}", ended.stderr);
    assert!(ended.stderr.contains("factor = 1.003"), "{}", ended.stderr);
    let session: toml::Table = desk.read("out/session.toml").parse().unwrap();
    let clock = &session["instrument"][0]["clock"];
    let ratio = clock["ratio"].as_float().unwrap();
    assert!((ratio - 1.003).abs() < 1e-6, "{clock}");
    let rows = desk.rows();
    let missing = "2 lines missing: the line counter went from 59 to 62";
    assert_eq!(doubted(&rows), [(61 + 1, Status::Gap, missing.to_owned())]);
}

/// A board on a clock of its own that runs 50 times as fast, so that its noise of a second has its line.
fn board(spec: WorldSpec, faults: Vec<Fault>) -> (Device, String) {
    let lines = Lines::plain(1.0).unwrap();
    let device = device_in(spec, Clock::scaled(50.0), lines, faults);
    let address = format!("quick-plain-lines@serial:{}", device.path().display());
    (device, address)
}

#[test]
fn a_board_that_hangs_is_stale_from_the_tenth_line_until_it_goes_on() {
    let mut spec = WorldSpec::steady(6_231_234.5, 8.1);
    spec.noise.white_hz = 3.0;
    let (_board, address) = board(spec, vec![Fault::between(75.0, 125.0, FaultKind::Hang)]);
    let desk = Desk::new();
    let mut running = desk.start(&["-i", &address]);
    running.wait_for("a stale row", |line| line.contains(",stale,"));
    running.wait_for_rows(5);
    let ended = running.interrupt().well();
    let rows = desk.rows();
    let first = rows
        .iter()
        .position(|row| row.status == Status::Stale)
        .unwrap();
    let value = |row: &Row| row.readings.get(Channel::FrequencyHz);
    let hung = value(&rows[first]);
    assert!(
        rows[first]
            .note
            .to_string()
            .starts_with("frequency_hz: the same 10 times in a row"),
        "{:?}",
        rows[first]
    );
    assert!(
        rows[first - 9..first]
            .iter()
            .all(|row| value(row) == hung && row.status == Status::Ok)
    );
    assert_ne!(value(&rows[first - 10]), hung);
    assert!(
        rows.iter()
            .filter(|row| row.status == Status::Stale)
            .all(|row| value(row) == hung)
    );
    assert!(
        ended
            .stderr
            .contains("quick-plain-lines is stale: frequency_hz: the same 10 times"),
        "{}",
        ended.stderr
    );
}

#[test]
fn a_profile_may_say_after_how_many_a_value_is_stuck() {
    let spec = WorldSpec::steady(6_231_000.0, 8.1);
    let (board, _) = board(spec, Vec::new());
    let desk = Desk::new();
    let quick = desk.read("sagtrace/devices/quick-plain-lines.toml");
    let strict = quick
        .replace("name = \"quick-plain-lines\"", "name = \"strict\"")
        .replace("name = \"f\"", "name = \"f\"\nstale_after = 4");
    desk.file("sagtrace/devices/strict.toml", &strict);
    let mut running = desk.start(&["-i", &format!("strict@serial:{}", board.path().display())]);
    running.wait_for("a stale row", |line| {
        line.contains("the same 4 times in a row")
    });
    assert_eq!(running.interrupt().code, DONE);
}

#[test]
fn a_hand_before_a_board_is_not_doubted() {
    let mut spec = WorldSpec::steady(6_231_234.5, 8.1);
    spec.noise.white_hz = 3.0;
    spec.hands = [30.0, 60.0]
        .map(|from_s| Hand {
            from_s,
            to_s: from_s + 4.0,
            depth_relative: -0.04,
        })
        .to_vec();
    let (_board, address) = board(spec, Vec::new());
    let desk = Desk::new();
    let mut running = desk.start(&["-i", &address]);
    running.wait_for("the second hand", |line| {
        line.contains(",5.9") || line.contains(",598")
    });
    running.wait_for_rows(20);
    assert_eq!(running.interrupt().code, DONE);
    assert_eq!(doubted(&desk.rows()), []);
}

#[test]
fn a_board_that_falls_silent_leaves_rows_without_values_and_is_told_once() {
    let board = device(
        Lines::plain(0.05).unwrap(),
        vec![Fault::between(1.0, 3.0, FaultKind::Silent)],
    );
    let desk = Desk::new();
    let address = format!("quick-plain-lines@serial:{}", board.path().display());
    let mut running = desk.start(&["-i", &address]);
    running.wait_for("a silent row", |line| {
        line.ends_with(",silent,no line for 0.5 s")
    });
    running.wait_for_rows(3);
    pause(Duration::from_millis(50));
    let ended = running.interrupt();
    assert_eq!(ended.code, DONE);
    let rows = desk.rows();
    let silent: Vec<_> = rows
        .iter()
        .filter(|row| row.status == Status::Silent)
        .collect();
    assert!(!silent.is_empty() && silent.iter().all(|row| row.readings.is_empty()));
    let told = ended
        .stderr
        .matches("quick-plain-lines is silent: no line for 0.5 s")
        .count();
    assert_eq!(told, 1, "{}", ended.stderr);
}

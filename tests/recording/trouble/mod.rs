//! Bad input and trouble at the bench: each has its own message and exit code, and none loses a row already written.

use std::fs::{self, Permissions};
use std::os::unix::fs::PermissionsExt as _;
use std::path::Path;
use std::process::Command;
use std::time::Duration;

use sagtrace::bench::faults::{Fault, FaultKind};
use sagtrace::bench::lines::Lines;
use sagtrace::bench::pty::Device;
use sagtrace::bench::scpi::Scpi;
use sagtrace::reading::{Channel, Status};
use sagtrace::session::{Session, State};

use crate::common::{Desk, Ended, Running, wait_until};
use crate::line::{LINE, device};

mod garbled;
mod refused;

/// The exit codes that `--help` lists.
const DONE: Option<i32> = Some(0);
const USAGE: Option<i32> = Some(2);
const INSTRUMENT: Option<i32> = Some(3);
const CANNOT_WRITE: Option<i32> = Some(4);

fn counter(faults: Vec<Fault>) -> Device {
    device(Scpi::counter(), faults)
}

/// A counter's address on the line of a device, with short time-outs.
fn at(device: &Device) -> String {
    format!("quick-scpi-counter@serial:{}", device.path().display())
}

fn record_from(desk: &Desk, port: &str) -> Ended {
    desk.record(&["-i", &format!("scpi-counter@serial:{port}")])
}

/// A text with the test's folder and pseudo-terminals redacted, and what depends on where in an exchange a port went.
fn redact(desk: &Desk, text: &str) -> String {
    let text = text
        .replace(&*desk.path().to_string_lossy(), "DESK")
        .replace("the port went away;", "the port failed: I/O error;")
        .replace(LINE, "/dev/pts/");
    let is_cut_short = |line: &str| line.contains("the line was lost before the next answer");
    let text: String = text
        .split_inclusive('\n')
        .filter(|line| !is_cut_short(line))
        .collect();
    let mut parts = text.split("/dev/pts/");
    let mut redacted = parts.next().unwrap_or("").to_owned();
    for part in parts {
        redacted.push_str("PORT");
        redacted.push_str(part.trim_start_matches(|c: char| c.is_ascii_digit() || c == '-'));
    }
    redacted
}

/// How many rows of the session have this status.
fn count(desk: &Desk, status: Status) -> usize {
    let rows = desk.rows();
    rows.iter().filter(|row| row.status == status).count()
}

/// The ports that a machine has differ.
fn without_list(stderr: &str) -> String {
    let cut = |line: &str| match line.split_once("the machine has ") {
        Some((before, _)) => format!("{before}the machine has …\n"),
        None => format!("{line}\n"),
    };
    stderr.lines().map(cut).collect()
}

/// Makes a command run as an ordinary user, for whom permissions count.
fn as_ordinary_user(desk: &Desk, args: &[&str]) -> Command {
    let binary = env!("CARGO_BIN_EXE_sagtrace");
    let mut command = if rustix::process::geteuid().is_root() {
        fs::set_permissions(desk.path(), Permissions::from_mode(0o777)).unwrap();
        let mut command = Command::new("setpriv");
        command.args([
            "--reuid",
            "65534",
            "--regid",
            "65534",
            "--clear-groups",
            binary,
        ]);
        command
    } else {
        Command::new(binary)
    };
    command.args(args);
    desk.settle(&mut command);
    command
}

fn closed_well(desk: &Desk) -> bool {
    Session::open(&desk.path().join("out")).is_ok_and(|session| session.meta.state == State::Closed)
}

#[test]
fn a_missing_port_is_told_and_leaves_no_folder() {
    let desk = Desk::new();
    let ended = record_from(&desk, "nowhere");
    assert_eq!(ended.code, INSTRUMENT);
    insta::assert_snapshot!(without_list(&ended.stderr), @r"
    error: no port nowhere: the machine has …
    hint: plug it in and look with: sagtrace ports
    ");
    assert!(!desk.path().join("out").exists());
}

#[test]
fn a_port_without_permission_is_told_with_what_to_do() {
    let desk = Desk::new();
    let port = desk.file("port", "");
    fs::set_permissions(&port, Permissions::from_mode(0o000)).unwrap();
    let args = ["record", "-i", "scpi-counter@serial:port"];
    let ended = Running::start(&mut as_ordinary_user(&desk, &args)).end();
    assert_eq!(ended.code, INSTRUMENT);
    insta::assert_snapshot!(ended.stderr, @r"
    error: no permission to open port
    hint: serial ports belong to a group (see: ls -l port); on Debian: sudo usermod -aG dialout $USER, then log in again
    ");
}

#[test]
fn a_port_of_a_group_is_told_with_the_group() {
    let desk = Desk::new();
    let port = desk.file("port", "");
    if rustix::process::geteuid().is_root() {
        // The administrator's own group helps nobody; 20 is `dialout` on Debian, and some group elsewhere.
        std::os::unix::fs::chown(&port, None, Some(20)).unwrap();
    }
    fs::set_permissions(&port, Permissions::from_mode(0o060)).unwrap();
    let of = Command::new("stat")
        .args(["-c", "%G"])
        .arg(&port)
        .output()
        .unwrap();
    let group = String::from_utf8(of.stdout).unwrap();
    let group = group.trim();
    let args = ["record", "-i", "scpi-counter@serial:port"];
    let ended = Running::start(&mut as_ordinary_user(&desk, &args)).end();
    assert_eq!(ended.code, INSTRUMENT);
    let want = format!(
        "error: no permission to open port\nhint: port belongs to the group {group}: sudo usermod -aG {group} $USER, then log in again\n"
    );
    assert_eq!(ended.stderr, want);
}

#[test]
fn a_busy_port_is_tried_for_a_while_and_then_told() {
    let (desk, counter) = (Desk::new(), counter(Vec::new()));
    let held = serialport::new(counter.path().to_string_lossy(), 9600)
        .open()
        .unwrap();
    let ended = record_from(&desk, &counter.path().to_string_lossy());
    drop(held);
    assert_eq!(ended.code, INSTRUMENT);
    insta::assert_snapshot!(redact(&desk, &ended.stderr), @r"
    PORT is in use by another program, trying again for 10 s
    error: PORT is in use by another program
    hint: see who has it with: fuser PORT
    ");
}

#[test]
fn a_busy_port_that_is_let_go_is_recorded_from() {
    let (desk, counter) = (Desk::new(), counter(Vec::new()));
    let held = serialport::new(counter.path().to_string_lossy(), 9600)
        .open()
        .unwrap();
    let mut running = desk.start(&["-i", &at(&counter), "--every", "50ms"]);
    wait_until("the port is found busy", || {
        running.stderr().contains("in use")
    });
    drop(held);
    running.wait_for_rows(2);
    assert_eq!(running.interrupt().code, DONE);
}

#[test]
fn what_is_no_serial_port_is_told() {
    let desk = Desk::new();
    desk.file("letter.txt", "Dear coil");
    fs::create_dir(desk.path().join("folder")).unwrap();
    let mut told = String::new();
    for port in ["letter.txt", "folder", "/dev/null"] {
        let ended = record_from(&desk, port);
        assert_eq!(ended.code, INSTRUMENT, "{port}");
        told.push_str(&ended.stderr);
    }
    insta::assert_snapshot!(told, @r"
    error: letter.txt is not a serial port: it is a plain file
    hint: see the serial ports with: sagtrace ports
    error: folder is not a serial port: it is a folder
    hint: see the serial ports with: sagtrace ports
    error: /dev/null is not a serial port: it is a device of another kind
    hint: see the serial ports with: sagtrace ports
    ");
    assert_eq!(desk.read("letter.txt"), "Dear coil");
}

#[test]
fn a_port_that_vanishes_and_comes_back_leaves_one_gap() {
    let desk = Desk::new();
    let port = desk.path().join("port");
    let first = counter(Vec::new());
    first.link(&port).unwrap();
    let mut running = desk.start(&["-i", "quick-scpi-counter@serial:port", "--every", "50ms"]);
    running.wait_for_rows(3);
    drop(first);
    running.wait_for("a gap", |line| line.contains(",gap,"));
    let second = counter(Vec::new());
    second.link(&port).unwrap();
    running.wait_for_rows(3);
    let ended = running.interrupt();
    assert_eq!(ended.code, DONE);
    insta::assert_snapshot!(redact(&desk, &ended.stderr), @r"
    recording to out
    quick-scpi-counter is sagtrace,virtual counter,0,0.1.0
    quick-scpi-counter is lost: the port failed: I/O error; waiting for it
    quick-scpi-counter is back
    quick-scpi-counter is sagtrace,virtual counter,0,0.1.0
    ");
    assert_eq!(count(&desk, Status::Gap), 1);
    assert!(count(&desk, Status::Ok) >= 6 && closed_well(&desk));
    assert!(desk.read("out/session.toml").contains("\ngaps = 1\n"));
}

#[test]
fn a_port_that_never_comes_back_ends_with_the_duration_or_with_patience() {
    for end in [["--for", "3s"], ["--give-up-after", "300ms"]] {
        let (desk, counter) = (Desk::new(), counter(Vec::new()));
        let mut running = desk.start(&["-i", &at(&counter), "--every", "50ms", end[0], end[1]]);
        running.wait_for_rows(2);
        drop(counter);
        let ended = running.end();
        assert_eq!(ended.code, INSTRUMENT, "{end:?}");
        assert_eq!(count(&desk, Status::Gap), 1);
        assert!(count(&desk, Status::Ok) >= 2 && closed_well(&desk));
        insta::allow_duplicates! {
            insta::assert_snapshot!(redact(&desk, &ended.stderr), @r"
            recording to out
            quick-scpi-counter is sagtrace,virtual counter,0,0.1.0
            quick-scpi-counter is lost: the port failed: I/O error; waiting for it
            error: the line to quick-scpi-counter was lost and did not come back
            hint: what came before is in out; see what is plugged in with: sagtrace ports
            ");
        }
    }
}

#[test]
fn another_instrument_at_the_same_port_is_not_taken_for_the_first() {
    let desk = Desk::new();
    let port = desk.path().join("port");
    let first = counter(Vec::new());
    first.link(&port).unwrap();
    let mut running = desk.start(&[
        "-i",
        "quick-scpi-counter@serial:port",
        "--every",
        "50ms",
        "--keep-bytes",
    ]);
    running.wait_for_rows(2);
    drop(first);
    running.wait_for("a gap", |line| line.contains(",gap,"));
    let other = device(Scpi::scope(), Vec::new());
    other.link(&port).unwrap();
    running.wait_for("the other one is known", |line| {
        line.contains("answers there instead of")
    });
    let rows_before = count(&desk, Status::Ok);
    drop(other);
    let again = counter(Vec::new());
    again.link(&port).unwrap();
    running.wait_for_rows(2);
    assert_eq!(running.interrupt().code, DONE);
    // Asked twenty times a second, the other one would have left its readings here.
    assert!(rows_before <= count(&desk, Status::Ok) - 2);
    let session = Session::open(&desk.path().join("out")).unwrap();
    let identity = session.meta.instruments[0].identity.clone().unwrap();
    assert!(identity.contains("virtual counter"), "{identity}");
    // Its bytes show the same: the other one is waited out up to where it was unplugged.
    let log = "quick-scpi-counter@log:out/bytes/quick-scpi-counter.log";
    desk.run(&["record", "-i", log, "-o", "again"]).well();
    for file in ["samples.csv", "rejected.log"] {
        assert_eq!(
            desk.read(&format!("again/{file}")),
            desk.read(&format!("out/{file}"))
        );
    }
}

#[test]
fn silence_is_a_row_of_its_own_and_the_end_says_so() {
    let (desk, counter) = (Desk::new(), counter(vec![Fault::always(FaultKind::Silent)]));
    let mut running = desk.start(&["-i", &at(&counter), "--every", "50ms"]);
    running.wait_for("a silent row", |line| line.contains(",silent,"));
    let ended = running.interrupt();
    assert_eq!(ended.code, INSTRUMENT);
    insta::assert_snapshot!(redact(&desk, &ended.stderr), @r"
    recording to out
    quick-scpi-counter gives nothing that can be read yet: no answer, and not in step again
    error: quick-scpi-counter gave nothing that could be read
    hint: is it the right profile and speed? see out/rejected.log and: sagtrace ports --identify
    ");
    assert_eq!(count(&desk, Status::Silent), desk.rows().len());
    assert!(closed_well(&desk));
}

#[test]
fn a_board_that_says_nothing_is_silent_too() {
    let board = device(
        Lines::plain(0.05).unwrap(),
        vec![Fault::always(FaultKind::Silent)],
    );
    let desk = Desk::new();
    let address = format!("quick-plain-lines@serial:{}", board.path().display());
    let mut running = desk.start(&["-i", &address]);
    running.wait_for("a silent row", |line| {
        line.ends_with(",silent,no line for 0.5 s")
    });
    assert_eq!(running.interrupt().code, INSTRUMENT);
}

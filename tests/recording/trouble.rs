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
    // Its bytes tell the same: the other one is waited out up to where it was unplugged.
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

#[test]
fn garbage_is_refused_kept_and_told() {
    let (desk, counter) = (
        Desk::new(),
        counter(vec![Fault::always(FaultKind::Garbage)]),
    );
    let mut running = desk.start(&["-i", &at(&counter), "--every", "50ms"]);
    for _ in 0..2 {
        running.wait_for("a garbled row", |line| line.contains(",garbled,"));
    }
    let ended = running.interrupt();
    assert_eq!(ended.code, INSTRUMENT);
    assert!(
        ended.stderr.contains("gave nothing that could be read"),
        "{}",
        ended.stderr
    );
    assert!(
        ended
            .stderr
            .contains("hint: is it the right profile and speed?")
    );
    assert!(desk.read("out/rejected.log").lines().count() >= 2);
    assert_eq!(count(&desk, Status::Ok), 0);
}

#[test]
fn a_recording_finds_its_way_out_of_garbage() {
    let counter = counter(vec![Fault::first(12, FaultKind::Garbage)]);
    let desk = Desk::new();
    let mut running = desk.start(&["-i", &at(&counter), "--every", "50ms"]);
    running.wait_for_rows(5);
    assert_eq!(running.interrupt().code, DONE);
    assert_rows_are_answers(&desk, &counter);
}

/// Each good row's two values are neighbours in what the device sent, and were sent when the row says.
fn assert_rows_are_answers(desk: &Desk, device: &Device) {
    let sent: Vec<(f64, f64)> = device
        .sent()
        .into_iter()
        .filter_map(|sent| {
            let text = String::from_utf8(sent.bytes).ok()?;
            Some((sent.elapsed_s, text.trim().parse().ok()?))
        })
        .collect();
    let mut delays_s = Vec::new();
    for row in desk.rows().iter().filter(|row| row.status == Status::Ok) {
        let frequency_hz = row.readings.get(Channel::FrequencyHz).unwrap();
        let battery_v = row.readings.get(Channel::BatteryV).unwrap();
        let pair = sent
            .windows(2)
            .find(|pair| is_same(pair[0].1, frequency_hz) && is_same(pair[1].1, battery_v));
        let pair = pair.unwrap_or_else(|| panic!("{frequency_hz} Hz, {battery_v} V: {sent:?}"));
        delays_s.push(row.stamp.elapsed_s() - pair[0].0);
    }
    let earliest_s = delays_s.iter().copied().fold(f64::INFINITY, f64::min);
    // Clocks began at different moments; an answer of the question before would be late by more than the time-out.
    for delay_s in delays_s {
        assert!(
            delay_s - earliest_s < 0.9,
            "{delay_s} s, others {earliest_s} s"
        );
    }
}

fn is_same(one: f64, other: f64) -> bool {
    one.to_bits() == other.to_bits()
}

#[test]
fn a_late_answer_is_never_taken_for_the_next_one() {
    let late = |from_s: f64, wait_ms| Fault {
        from_s,
        to_s: f64::INFINITY,
        at_most: Some(1),
        kind: FaultKind::Late(Duration::from_millis(wait_ms)),
    };
    // Later than the time-out, and later than several synchronising questions.
    let counter = counter(vec![late(0.3, 900), late(2.0, 1800)]);
    let desk = Desk::new();
    let mut running = desk.start(&["-i", &at(&counter), "--every", "50ms"]);
    running.wait_for("the first miss", |line| {
        line.contains(",silent,no answer to")
    });
    running.wait_for_rows(2);
    running.wait_for("the second miss", |line| {
        line.contains(",silent,no answer to")
    });
    running.wait_for_rows(5);
    assert_eq!(running.interrupt().code, DONE);
    assert_rows_are_answers(&desk, &counter);
    let rejected = desk.read("out/rejected.log");
    assert!(rejected.contains("it belongs to no question"), "{rejected}");
    assert_eq!(
        count(&desk, Status::Garbled) + count(&desk, Status::Refused),
        0
    );
}

#[test]
fn an_echo_is_not_taken_for_an_answer() {
    let (desk, counter) = (Desk::new(), counter(vec![Fault::always(FaultKind::Echo)]));
    let mut running = desk.start(&["-i", &at(&counter), "--every", "50ms"]);
    running.wait_for_rows(5);
    assert_eq!(running.interrupt().code, DONE);
    assert_eq!(count(&desk, Status::Garbled), 0);
}

#[test]
fn words_for_no_reading_are_statuses_and_never_numbers() {
    for (word, status) in [
        ("9.9E37", Status::Overload),
        ("-9.9E37", Status::Overload),
        ("9.91E37", Status::NoSignal),
        ("nan", Status::NoSignal),
    ] {
        let counter = counter(vec![Fault::always(FaultKind::Says(word.to_owned()))]);
        let desk = Desk::new();
        let mut running = desk.start(&["-i", &at(&counter), "--every", "50ms"]);
        running.wait_for(word, |line| line.contains(&format!(",,,{status},")));
        assert_eq!(running.interrupt().code, DONE, "{word}");
        assert!(
            desk.rows().iter().all(|row| row.readings.is_empty()),
            "{word}"
        );
        assert!(
            !desk
                .read("out/samples.csv")
                .to_ascii_lowercase()
                .contains("e37")
        );
    }
}

#[test]
fn a_sheet_with_faults_is_refused_with_all_of_them() {
    let desk = Desk::new();
    desk.file(
        "bad.toml",
        "schema = 1\nname = 7\n\n[coil]\nshape = \"egg\"\nturns = -3\nbogus = 1\n",
    );
    for args in [
        ["predict", "bad.toml"].as_slice(),
        &["sheet", "check", "bad.toml"],
        &["record", "-b", "bad.toml"],
    ] {
        let ended = desk.run(args);
        assert_eq!(ended.code, USAGE, "{args:?}");
        insta::allow_duplicates! {
            insta::assert_snapshot!(ended.stderr, @r#"
            error: build sheet bad.toml has faults:
            line 1: primary: missing, a [primary] table is wanted
            line 1: circuit: missing, a [circuit] table is wanted
            line 1: battery: missing, a [battery] table is wanted
            line 1: usual: missing, a [usual] table is wanted
            line 2: name: found 7, a text in quotes is wanted
            line 4: coil.wire: missing, the bare wire is wanted, like "0.2 mm" or "32 AWG"
            line 5: coil.shape: found "egg", one of "cylinder", "cone", "flat-spiral" is wanted
            line 7: coil.bogus: unknown key, known here: shape, wire, film, over_enamel, sense, diameter_tolerance, length_tolerance, turns_tolerance, former, board_thickness, board_permittivity, foot_end, former_diameter, mean_diameter, foot_diameter, top_diameter, inner_diameter, outer_diameter, turns, winding_length, turn_pitch
            hint: see every key with: sagtrace sheet template
            "#);
        }
    }
}

#[test]
fn a_profile_with_faults_is_refused_with_all_of_them() {
    let desk = Desk::new();
    desk.file(
        "sagtrace/devices/mine.toml",
        "schema = 1\nname = \"mine\"\nmanner = \"sometimes\"\n[port]\nbaud = \"fast\"\n",
    );
    let ended = desk.record(&["-i", "mine@serial:/dev/null"]);
    assert_eq!(ended.code, USAGE);
    insta::assert_snapshot!(redact(&desk, &ended.stderr), @r#"
    error: profile DESK/sagtrace/devices/mine.toml has faults:
    line 1: about: missing, one line that says what it describes is wanted
    line 1: no [[value]], at least one value is wanted
    line 3: manner: found "sometimes", one of "asked", "unasked" is wanted
    line 5: port.baud: found "fast", a whole number from 50 to 12000000 is wanted
    hint: devices/README.md has every key
    "#);
    let ended = desk.record(&["-i", "yours@serial:/dev/null"]);
    assert_eq!(ended.code, USAGE);
    insta::assert_snapshot!(ended.stderr, @r#"
    error: no profile "yours": known are columns, mine, plain-lines, quick-columns, quick-plain-lines, quick-scpi-counter, scpi-counter, scpi-scope, scpi-scope-wave
    hint: a profile of your own goes to ~/.config/sagtrace/devices/NAME.toml; see devices/README.md
    "#);
}

#[test]
fn settings_with_faults_are_refused_with_all_of_them() {
    let desk = Desk::new();
    desk.file(
        "sagtrace/config.toml",
        "sessions_dir = 7\ncolour = \"red\"\n",
    );
    let ended = desk.record(&["-i", "scpi-counter@serial:/dev/null"]);
    assert_eq!(ended.code, USAGE);
    insta::assert_snapshot!(redact(&desk, &ended.stderr), @r"
    error: settings file DESK/sagtrace/config.toml has faults:
    line 1: sessions_dir: found 7, a text in quotes is wanted
    line 2: colour: unknown key, known here: sessions_dir, instruments
    ");
    let ended = desk.record(&[
        "-i",
        "scpi-counter@serial:/dev/null",
        "--config",
        "gone.toml",
    ]);
    assert_eq!(ended.code, USAGE);
    insta::assert_snapshot!(ended.stderr, @"error: cannot read gone.toml: No such file or directory (os error 2)");
}

#[test]
fn an_existing_folder_is_refused_or_moved_aside_with_all_that_is_in_it() {
    let (desk, counter) = (Desk::new(), counter(Vec::new()));
    desk.file("out/samples.csv", "precious");
    let address = at(&counter);
    let ended = desk.record(&["-i", &address, "--for", "200ms"]);
    assert_eq!(ended.code, CANNOT_WRITE);
    insta::assert_snapshot!(ended.stderr, @r"
    error: the folder out exists already
    hint: name another folder with --out, or move this one aside with --force
    ");
    assert_eq!(desk.read("out/samples.csv"), "precious");
    let mut running = desk.start(&["-i", &address, "--every", "50ms", "--force"]);
    running.wait_for_rows(1);
    assert_eq!(running.interrupt().code, DONE);
    let aside = fs::read_dir(desk.path())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .find(|path| path.to_string_lossy().contains("out.before-"))
        .unwrap();
    assert_eq!(
        fs::read_to_string(aside.join("samples.csv")).unwrap(),
        "precious"
    );
}

#[test]
fn a_full_disk_ends_the_recording_and_keeps_whole_rows() {
    let (desk, counter) = (Desk::new(), counter(Vec::new()));
    // A limit on the size of a file says "no" to a write as a full disk does; the shell ignores its signal for us.
    let script = "trap '' XFSZ; ulimit -f 8; exec \"$@\"";
    let binary = env!("CARGO_BIN_EXE_sagtrace");
    let mut command = Command::new("sh");
    command.args([
        "-c", script, "sh", binary, "record", "--show", "rows", "--out", "out",
    ]);
    command.args(["-i", &at(&counter), "--every", "10ms"]);
    desk.settle(&mut command);
    let ended = Running::start(&mut command).end();
    assert_eq!(ended.code, CANNOT_WRITE, "{}", ended.stderr);
    let rows = desk.rows().len();
    let message = redact(&desk, &ended.stderr).replace(&format!("{rows} rows"), "ALL rows");
    insta::assert_snapshot!(message, @r"
    recording to out
    quick-scpi-counter is sagtrace,virtual counter,0,0.1.0
    error: cannot write out/samples.csv: File too large (os error 27)
    hint: the disk is full; ALL rows are safe in out; to wait for room: --wait-for-room
    ");
    // Every row that was shown is there; the header was shown as well.
    assert_eq!(ended.stdout, desk.read("out/samples.csv"));
    assert!(rows > 20, "{rows} rows in 4 KiB");
}

#[test]
fn a_folder_that_cannot_be_written_to_is_told() {
    let (desk, counter) = (Desk::new(), counter(Vec::new()));
    let folder = desk.path().join("locked");
    fs::create_dir(&folder).unwrap();
    fs::set_permissions(&folder, Permissions::from_mode(0o555)).unwrap();
    fs::set_permissions(counter.path(), Permissions::from_mode(0o666)).unwrap();
    let address = at(&counter);
    let args = ["record", "-i", &address, "--out", "locked/session"];
    let ended = Running::start(&mut as_ordinary_user(&desk, &args)).end();
    assert_eq!(ended.code, CANNOT_WRITE);
    insta::assert_snapshot!(ended.stderr, @r"
    error: cannot write locked/session: Permission denied (os error 13)
    hint: name a folder that can be written to with --out
    ");
}

#[test]
fn a_recording_goes_on_when_nobody_reads_what_it_shows() {
    let (desk, counter) = (Desk::new(), counter(Vec::new()));
    let (reader, writer) = std::io::pipe().unwrap();
    drop(reader);
    let address = at(&counter);
    let args = [
        "record", "--show", "rows", "-o", "out", "-i", &address, "--every", "50ms", "--for", "1s",
    ];
    Running::start(desk.command(&args).stdout(writer))
        .end()
        .well();
    assert!(closed_well(&desk) && count(&desk, Status::Ok) >= 2);
}

#[test]
#[cfg(target_os = "linux")]
fn a_recording_goes_on_when_what_it_shows_cannot_be_written_and_the_end_says_so() {
    let (desk, counter) = (Desk::new(), counter(Vec::new()));
    let full = fs::OpenOptions::new()
        .write(true)
        .open("/dev/full")
        .unwrap();
    let address = at(&counter);
    let args = [
        "record", "--show", "rows", "-o", "out", "-i", &address, "--every", "50ms", "--for", "1s",
    ];
    let ended = Running::start(desk.command(&args).stdout(full)).end();
    assert_eq!(ended.code, CANNOT_WRITE);
    insta::assert_snapshot!(ended.stderr, @"
    recording to out
    cannot write to stdout: No space left on device (os error 28); recording goes on
    quick-scpi-counter is sagtrace,virtual counter,0,0.1.0
    error: cannot write to stdout: No space left on device (os error 28)
    hint: all rows are safe in out
    ");
    assert!(closed_well(&desk) && count(&desk, Status::Ok) >= 2);
}

#[test]
fn a_result_that_nobody_reads_is_no_fault() {
    let desk = Desk::new();
    let sheet = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data/glow-pillar.toml");
    for args in [
        ["predict", &*sheet.to_string_lossy()].as_slice(),
        &["--help"],
        &["completions", "bash"],
        &["man"],
    ] {
        let (reader, writer) = std::io::pipe().unwrap();
        drop(reader);
        let ended = Running::start(desk.command(args).stdout(writer)).end();
        assert_eq!((ended.code, ended.stderr.as_str()), (DONE, ""), "{args:?}");
    }
}

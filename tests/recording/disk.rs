//! A disk that fills up and a folder that goes away while it is recorded to: told, and nothing that was written is lost.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use rustix::process::{Resource, Rlimit, prlimit};
use sagtrace::bench::Instrument;
use sagtrace::bench::pty::Device;
use sagtrace::bench::scpi::Scpi;
use sagtrace::bench::world::World;
use sagtrace::reading::Status;
use sagtrace::session::{Session, State, check};

use crate::common::{Desk, Ended, Running, wait_until};
use crate::line::device;

const CANNOT_WRITE: Option<i32> = Some(4);

fn counter() -> Device {
    device(Scpi::counter(), Vec::new())
}

/// Starts a recording of about a hundred rows a second by way of a shell script that ends in `exec "$@"`.
fn start_by(desk: &Desk, script: &str, counter: &Device, args: &[&str]) -> Running {
    let mut command = Command::new("sh");
    command.args(["-c", script, "sh", env!("CARGO_BIN_EXE_sagtrace")]);
    command.args(["record", "--show", "rows", "--every", "10ms", "-i"]);
    command.arg(format!(
        "quick-scpi-counter@serial:{}",
        counter.path().display()
    ));
    command.args(args);
    desk.settle(&mut command);
    Running::start(&mut command)
}

fn told(running: &Running, what: &str) {
    wait_until(what, || running.stderr().contains(what));
}

/// How many rows the gap of a full disk says are missing.
fn missing(line: &str) -> u32 {
    let (_, note) = line.split_once("the disk was full: ").expect("its reason");
    note.split(' ').next().unwrap().parse().unwrap()
}

/// The size of a file is limited, which refuses a write as a full disk does; the limit can be lifted from outside.
const LIMITED: &str = "trap '' XFSZ; ulimit -S -f 8; exec \"$@\"";

#[test]
fn a_recording_that_waits_for_room_goes_on_and_says_what_is_missing() {
    let (desk, counter) = (Desk::new(), counter());
    let (reader, mut input) = std::io::pipe().unwrap();
    let mut command = Command::new("sh");
    command.args(["-c", LIMITED, "sh", env!("CARGO_BIN_EXE_sagtrace")]);
    command.args([
        "record", "--show", "rows", "--every", "10ms", "--out", "out",
    ]);
    command.args(["--wait-for-room", "-i"]);
    command.arg(format!(
        "quick-scpi-counter@serial:{}",
        counter.path().display()
    ));
    desk.settle(&mut command);
    let mut running = Running::start(command.stdin(reader));
    told(
        &running,
        "the disk is full: nothing is written until there is room again",
    );
    // Other files are below the limit: a mark is taken all the while.
    std::io::Write::write_all(&mut input, b"no room\n").unwrap();
    told(&running, "marked: no room");
    let full = fs::read_to_string(desk.path().join("out/samples.csv")).unwrap();
    assert!(
        full.ends_with('\n') && full.len() <= 4096,
        "{} bytes",
        full.len()
    );
    let none = Rlimit {
        current: None,
        maximum: None,
    };
    prlimit(Some(running.pid()), Resource::Fsize, none).unwrap();
    told(&running, "there is room again");
    let gap = running.wait_for("the gap", |line| line.contains(",gap,the disk was full: "));
    running.wait_for_rows(5);
    let ended = running.interrupt().well();
    assert!(missing(&gap) >= 1);
    assert_eq!(ended.stdout, desk.read("out/samples.csv"));
    // One row in ten milliseconds: the gap begins where the rows ended, and lasts as long as it says.
    let rows = desk.rows();
    let at = rows
        .iter()
        .position(|row| row.status == Status::Gap)
        .unwrap();
    let seconds = |row: usize| rows[row].stamp.elapsed_s();
    assert!(seconds(at) - seconds(at - 1) < 2.0, "{gap}");
    assert!(seconds(at + 1) > seconds(at));
    assert_eq!(check(&desk.path().join("out")).unwrap().findings, []);
    let summary = Session::open(&desk.path().join("out"))
        .unwrap()
        .meta
        .summary;
    assert_eq!(summary.unwrap().gaps, 1);
}

/// A board that says nothing that could be read, each line another.
#[derive(Debug)]
struct Junk(u32);

impl Instrument for Junk {
    fn hear(&mut self, _bytes: &[u8], _world: &World, _elapsed_s: f64) -> Vec<Vec<u8>> {
        Vec::new()
    }

    fn due_s(&self) -> Option<f64> {
        Some(f64::from(self.0) * 0.005)
    }

    fn speak(&mut self, _world: &World) -> Vec<u8> {
        self.0 += 1;
        format!("junk {}\r\n", self.0).into_bytes()
    }
}

#[test]
fn what_is_refused_while_the_disk_is_full_is_written_when_there_is_room() {
    let (desk, board) = (Desk::new(), device(Junk(0), Vec::new()));
    let mut command = Command::new("sh");
    command.args(["-c", LIMITED, "sh", env!("CARGO_BIN_EXE_sagtrace")]);
    command.args(["record", "--out", "out", "--wait-for-room", "-i"]);
    let port = board.path().display().to_string();
    command.arg(format!("quick-plain-lines@serial:{port}"));
    desk.settle(&mut command);
    let running = Running::start(&mut command);
    told(&running, "the disk is full");
    let numbers = || -> Vec<u32> {
        let log = desk.read("out/rejected.log");
        let texts = log.lines().filter_map(|line| line.split_once("): junk "));
        texts.map(|(_, number)| number.parse().unwrap()).collect()
    };
    let mut before = 0;
    // The table and the log have each their own limit.
    while numbers().len() > before {
        before = numbers().len();
        let heard = board.sent().len();
        wait_until("more is refused", || board.sent().len() > heard + 50);
    }
    let none = Rlimit {
        current: None,
        maximum: None,
    };
    prlimit(Some(running.pid()), Resource::Fsize, none).unwrap();
    wait_until("it is written", || numbers().len() > before + 60);
    let ended = running.interrupt();
    let numbers = numbers();
    let first = numbers[0];
    let all: Vec<u32> = (first..first + u32::try_from(numbers.len()).unwrap()).collect();
    assert_eq!(numbers, all, "{}", ended.stderr);
}

#[test]
fn a_recording_that_waited_in_vain_says_what_is_missing() {
    let (desk, counter) = (Desk::new(), counter());
    let running = start_by(
        &desk,
        LIMITED,
        &counter,
        &["--out", "out", "--wait-for-room"],
    );
    told(&running, "the disk is full");
    let ended = running.interrupt();
    assert_eq!(ended.code, CANNOT_WRITE, "{}", ended.stderr);
    assert!(
        ended.stderr.contains("error: the disk is still full: ")
            && ended.stderr.contains(" rows are missing\nhint: ")
            && ended.stderr.contains(" rows are safe in out"),
        "{}",
        ended.stderr
    );
    assert_eq!(ended.stdout, desk.read("out/samples.csv"));
    let meta = Session::open(&desk.path().join("out")).unwrap().meta;
    assert_eq!(meta.state, State::Closed);
    assert!(meta.end_reason.unwrap().contains("rows are missing"));
}

/// A shell's way to a disk of 128 KiB of its own below the test's folder, nearly filled; `None` where the system lets nobody
/// have one, as in some containers.
fn small_disk(desk: &Desk) -> Option<String> {
    let disk = desk.path().join("disk");
    fs::create_dir(&disk).unwrap();
    let mount = format!(
        "mount -t tmpfs -o size=128k none {0} && head -c 90000 /dev/zero > {0}/filler",
        disk.display()
    );
    let ways = ["unshare --map-root-user --mount", "unshare --mount"];
    ways.iter()
        .find(|way| {
            let test = format!("{way} sh -c '{mount}'");
            let output = Command::new("sh").args(["-c", &test]).output().unwrap();
            output.status.success()
        })
        .map(|way| format!("exec {way} sh -c '{mount} && exec \"$@\"' sh \"$@\""))
}

#[test]
fn a_real_disk_that_is_full_is_waited_for_or_ends_the_recording() {
    for waits in [true, false] {
        let (desk, counter) = (Desk::new(), counter());
        let Some(script) = small_disk(&desk) else {
            eprintln!(
                "no disk of our own to be had here: the limit on a file's size stands for it in the other tests"
            );
            return;
        };
        let mut args = vec!["--out", "disk/out"];
        args.extend(waits.then_some("--wait-for-room"));
        let mut running = start_by(&desk, &script, &counter, &args);
        if !waits {
            let ended = running.end();
            assert_eq!(ended.code, CANNOT_WRITE);
            assert!(
                ended.stderr.contains("No space left on device")
                    && ended.stderr.contains("hint: the disk is full; "),
                "{}",
                ended.stderr
            );
            continue;
        }
        told(&running, "the disk is full: nothing");
        // Its disk is seen by way of the program alone.
        let root = format!("/proc/{}/root", running.pid().as_raw_nonzero());
        let disk = Path::new(&root)
            .join(desk.path().strip_prefix("/").unwrap())
            .join("disk");
        let full = fs::read_to_string(disk.join("out/samples.csv")).unwrap();
        assert!(full.ends_with('\n'), "a half row was left");
        fs::remove_file(disk.join("filler")).unwrap();
        let gap = running.wait_for("the gap", |line| line.contains(",gap,the disk was full: "));
        assert!(missing(&gap) >= 1);
        running.wait_for_rows(5);
        let went_on = fs::read_to_string(disk.join("out/samples.csv")).unwrap();
        assert!(went_on.starts_with(&format!("{full}{gap}\n")));
        running.interrupt().well();
    }
}

/// Records a while, does something to the folder, and waits for the end.
fn disturbed(desk: &Desk, disturb: impl Fn(&Path)) -> Ended {
    let counter = counter();
    let args = ["--out", "out", "--battery-kind", "alkaline", "--keep-bytes"];
    let mut running = start_by(desk, "exec \"$@\"", &counter, &args);
    running.wait_for_rows(20);
    disturb(&desk.path().join("out"));
    running.end()
}

/// The error and the hint, without the machine's folder and what differs from run to run.
fn words(desk: &Desk, ended: &Ended, rows: usize) -> String {
    let text = ended
        .stderr
        .replace(
            &*desk.path().canonicalize().unwrap().to_string_lossy(),
            "DESK",
        )
        .replace(&format!("{rows} rows"), "ALL rows");
    text.lines()
        .skip_while(|line| !line.starts_with("error"))
        .map(|line| line.split(".rescued-").next().unwrap().to_owned() + "\n")
        .collect()
}

/// A folder holds all that was shown, is closed, and nothing is wrong with it.
fn assert_has_all(dir: &Path, ended: &Ended) -> usize {
    let table = fs::read_to_string(dir.join("samples.csv")).unwrap();
    assert!(
        table.starts_with(&ended.stdout),
        "a row that was shown is not there"
    );
    let checked = check(dir).unwrap();
    assert_eq!(checked.findings, []);
    assert!(checked.is_closed);
    table.lines().count() - 1
}

fn rescued(desk: &Desk) -> PathBuf {
    let entries = fs::read_dir(desk.path()).unwrap();
    let mut paths = entries.map(|entry| entry.unwrap().path());
    paths
        .find(|path| path.to_string_lossy().contains("out.rescued-"))
        .expect("a folder beside the one that went")
}

#[test]
fn a_folder_that_is_moved_while_it_is_recorded_to_is_closed_where_it_went() {
    let desk = Desk::new();
    let moved = desk.path().join("elsewhere");
    let ended = disturbed(&desk, |out| fs::rename(out, &moved).unwrap());
    assert_eq!(ended.code, CANNOT_WRITE);
    let rows = assert_has_all(&moved, &ended);
    insta::assert_snapshot!(words(&desk, &ended, rows), @r"
    error: the folder out was moved to DESK/elsewhere while it was recorded to
    hint: ALL rows are safe in DESK/elsewhere
    ");
    assert!(!desk.path().join("out").exists());
}

#[test]
fn of_a_folder_that_is_deleted_while_it_is_recorded_to_all_rows_are_copied_beside_it() {
    let desk = Desk::new();
    let ended = disturbed(&desk, |out| fs::remove_dir_all(out).unwrap());
    assert_eq!(ended.code, CANNOT_WRITE);
    let rows = assert_has_all(&rescued(&desk), &ended);
    assert!(rows >= 20);
    insta::assert_snapshot!(words(&desk, &ended, rows), @r"
    error: the folder out or its samples.csv was removed or replaced while it was recorded to
    hint: ALL rows are safe in out
    ");
    assert!(!desk.path().join("out").exists());
}

#[test]
fn a_table_that_another_program_saves_over_stays_as_saved_and_all_rows_are_copied_beside_it() {
    let desk = Desk::new();
    // As an editor saves: a new file takes the name.
    let ended = disturbed(&desk, |out| {
        fs::write(out.join("samples.csv~"), "edited").unwrap();
        fs::rename(out.join("samples.csv~"), out.join("samples.csv")).unwrap();
    });
    assert_eq!(ended.code, CANNOT_WRITE);
    assert!(assert_has_all(&rescued(&desk), &ended) >= 20);
    assert_eq!(
        desk.read("out/samples.csv"),
        "edited",
        "what was saved is not touched"
    );
}

#[test]
fn where_nothing_can_be_copied_the_rows_that_are_lost_are_counted() {
    let desk = Desk::new();
    fs::create_dir(desk.path().join("parent")).unwrap();
    let counter = counter();
    let mut running = start_by(&desk, "exec \"$@\"", &counter, &["--out", "parent/out"]);
    running.wait_for_rows(5);
    // Neither the folder nor the one above it is left, and a file stands in their way.
    fs::remove_dir_all(desk.path().join("parent")).unwrap();
    desk.file("parent", "in the way");
    let ended = running.end();
    assert_eq!(ended.code, CANNOT_WRITE);
    assert!(
        ended
            .stderr
            .contains("rows could not be saved: cannot write parent/out.rescued-"),
        "{}",
        ended.stderr
    );
}

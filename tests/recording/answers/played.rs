//! The bytes of a recording, kept and played again.

use super::*;

/// What a recording and the replay of its bytes must have in common.
fn assert_replays(desk: &Desk, profile: &str, what: &str) {
    let log = format!("{profile}@log:out/bytes/{profile}.log");
    let ended = desk.run(&["record", "-i", &log, "-o", "again"]);
    assert!(
        ended.code == DONE || ended.code == INSTRUMENT,
        "{what}: {}",
        ended.stderr
    );
    for file in ["samples.csv", "rejected.log"] {
        let (first, again) = (
            desk.read(&format!("out/{file}")),
            desk.read(&format!("again/{file}")),
        );
        assert!(
            first == again,
            "{what}, {file}:\n--- recorded\n{first}\n--- played\n{again}\n--- bytes\n{}",
            desk.read(&format!("out/bytes/{profile}.log"))
        );
    }
}

fn once(from_s: f64, kind: FaultKind) -> Fault {
    Fault {
        from_s,
        to_s: f64::INFINITY,
        at_most: Some(1),
        kind,
    }
}

#[test]
fn the_bytes_of_a_faulty_instrument_played_again_give_the_same_files() {
    let late = |from_s, wait_ms| once(from_s, FaultKind::Late(Duration::from_millis(wait_ms)));
    let mixes: Vec<(&str, Vec<Fault>)> = vec![
        ("no fault", Vec::new()),
        (
            "echo and banner",
            vec![
                Fault::always(FaultKind::Echo),
                Fault::always(FaultKind::Banner("\r\nready 1.2\r\n".to_owned())),
            ],
        ),
        (
            "garbage",
            vec![
                Fault::first(9, FaultKind::Garbage),
                once(0.9, FaultKind::Garbage),
            ],
        ),
        ("late answers", vec![late(0.3, 900), late(2.0, 1800)]),
        (
            "silence to the end",
            vec![Fault::between(0.6, f64::INFINITY, FaultKind::Silent)],
        ),
        ("silence", vec![Fault::always(FaultKind::Silent)]),
        (
            "a loss",
            vec![
                Fault::between(0.5, 1.0, FaultKind::Vanish),
                once(1.5, FaultKind::Garbage),
                Fault::between(2.0, 2.3, FaultKind::Vanish),
            ],
        ),
    ];
    for (what, faults) in mixes {
        let desk = Desk::new();
        let counter = device(Scpi::counter(), faults);
        let args = [
            "-i",
            &at("quick-scpi-counter", &counter),
            "--every",
            "20ms",
            "--for",
            "4s",
            "--keep-bytes",
        ];
        let ended = desk.record(&args);
        assert!(ended.stdout.lines().count() > 2, "{what}: {}", ended.stderr);
        assert_replays(&desk, "quick-scpi-counter", what);
    }
}

#[test]
fn the_bytes_of_a_board_of_bad_manners_played_again_give_the_same_files() {
    let mixes: Vec<(&str, Vec<Fault>)> = vec![
        ("no fault", Vec::new()),
        (
            "garbage and silence",
            vec![
                Fault::first(5, FaultKind::Garbage),
                Fault::between(0.5, 1.8, FaultKind::Silent),
                Fault::always(FaultKind::Banner("ready\r\n".to_owned())),
            ],
        ),
        (
            "a loss",
            vec![
                Fault::between(0.5, 1.0, FaultKind::Vanish),
                Fault::between(1.5, 1.7, FaultKind::Vanish),
                once(1.9, FaultKind::WrongDigit),
            ],
        ),
        ("silence", vec![Fault::always(FaultKind::Silent)]),
    ];
    for (what, faults) in mixes {
        for (profile, lines) in [
            ("quick-plain-lines", Lines::plain(0.01).unwrap()),
            ("quick-columns", Lines::columns(0.007).unwrap()),
        ] {
            let desk = Desk::new();
            let board = device(lines, faults.clone());
            let ended = desk.record(&["-i", &at(profile, &board), "--for", "3s", "--keep-bytes"]);
            assert!(ended.stdout.lines().count() > 2, "{what}: {}", ended.stderr);
            assert_replays(&desk, profile, &format!("{profile}, {what}"));
        }
    }
}

#[test]
fn bytes_cut_off_by_a_kill_are_played_to_their_last_whole_entry() {
    let desk = Desk::new();
    let board = device(Lines::plain(0.01).unwrap(), Vec::new());
    let mut running = desk.start(&["-i", &at("quick-plain-lines", &board), "--keep-bytes"]);
    running.wait_for_rows(20);
    running.signal(rustix::process::Signal::KILL);
    running.end();
    let log = desk.read("out/bytes/quick-plain-lines.log");
    let (whole, _) = log.rsplit_once('\n').unwrap();
    let torn = format!("{whole}\n12345");
    desk.file("torn.log", &torn);
    let ended = desk
        .run(&[
            "record",
            "-i",
            "quick-plain-lines@log:torn.log",
            "-o",
            "again",
        ])
        .well();
    assert!(
        ended
            .stderr
            .contains("the last line of torn.log is half a line and left out")
    );
    let (first, again) = (desk.read("out/samples.csv"), desk.read("again/samples.csv"));
    // The bytes are written by another thread than the rows; either may be ahead when both are killed.
    let common = first.len().min(again.len());
    assert_eq!(first.as_bytes()[..common], again.as_bytes()[..common]);
    assert!(again.lines().count() > 15);
}

/// Invented: two instruments whose logs take turns.
#[test]
fn two_byte_logs_are_merged_by_their_times() {
    let desk = Desk::new();
    let entry = |ms: i64, text: &str| {
        format!(
            "{} 2026-01-31T19:00:{:02}.{:03}Z < {text}\\n\n",
            ms * 1000,
            ms / 1000,
            ms % 1000
        )
    };
    let (mut one, mut other) = (String::new(), String::new());
    for n in 0..400 {
        let line = "f=6MHz v=8.9V";
        // The first has a burst, the second a steady pace: neither order is that of the files' lines.
        one.push_str(&entry(1000 + n, line));
        other.push_str(&entry(7 + n * 10, line));
    }
    desk.file("one.log", &one);
    desk.file("other.log", &other);
    let args = [
        "-i",
        "a=plain-lines@log:one.log",
        "-i",
        "b=plain-lines@log:other.log",
    ];
    desk.record(&args).well();
    let rows = desk.rows();
    assert_eq!(rows.len(), 798, "the first of each may be a fragment");
    for row in &rows {
        // Out of order, a row would have been moved to rise above the one before it, and its two times would differ.
        let wall_ms = row.stamp.wall_ms % 60_000;
        assert_eq!(wall_ms, row.stamp.elapsed_us.div_euclid(1000), "{row:?}");
    }
}

#[test]
fn a_byte_log_can_be_played_at_its_own_speed() {
    let desk = Desk::new();
    let lines = [(0, "0"), (100, "1"), (1000, "2"), (1500, "3")].map(|(ms, n)| {
        format!(
            "{} 2026-01-31T19:00:{:02}.{:03}Z < f=6MHz v={n}V\\n\n",
            ms * 1000,
            ms / 1000,
            ms % 1000
        )
    });
    desk.file("bytes.log", &lines.concat());
    let clock = sagtrace::clock::Clock::real();
    let args = ["-i", "plain-lines@log:bytes.log", "--replay-speed", "2"];
    assert_eq!(desk.record(&args).code, DONE);
    assert!(clock.elapsed_s() >= 0.75, "1.5 s at twice the speed");
    assert_eq!(desk.rows().len(), 3);
    for wrong in ["0", "-1", "fast", "nan", "inf"] {
        let ended = desk.run(&[
            "record",
            "-i",
            "plain-lines@log:bytes.log",
            "--replay-speed",
            wrong,
        ]);
        assert_eq!(ended.code, USAGE, "{wrong}");
    }
}

#[test]
fn a_disk_too_full_for_the_bytes_does_not_end_the_recording() {
    let (desk, counter) = (Desk::new(), device(Scpi::counter(), Vec::new()));
    // The byte log grows three times as fast as the rows, and meets the limit on a file's size first.
    let script = "trap '' XFSZ; ulimit -f 16; exec \"$@\"";
    let mut command = Command::new("sh");
    command.args(["-c", script, "sh", env!("CARGO_BIN_EXE_sagtrace")]);
    command.args([
        "record",
        "--show",
        "rows",
        "--out",
        "out",
        "--keep-bytes",
        "--every",
        "20ms",
    ]);
    command.args(["-i", &at("quick-scpi-counter", &counter)]);
    desk.settle(&mut command);
    let mut running = Running::start(&mut command);
    wait_until("the log is full", || {
        running.stderr().contains("the byte log of")
    });
    running.wait_for_rows(3);
    let ended = running.interrupt().well();
    assert!(
        ended.stderr.contains(
            "the byte log of quick-scpi-counter ends here: File too large (os error 27); the recording goes on"
        ),
        "{}",
        ended.stderr
    );
    let log = desk.read("out/bytes/quick-scpi-counter.log");
    assert!(log.ends_with('\n') && log.len() > 4000, "{}", log.len());
    let rows = desk.rows().len();
    desk.run(&[
        "record",
        "-i",
        "quick-scpi-counter@log:out/bytes/quick-scpi-counter.log",
        "-o",
        "again",
    ])
    .well();
    assert!(desk.read("again/samples.csv").lines().count() <= rows);
}

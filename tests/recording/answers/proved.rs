//! A profile tried on its instrument, and ports that are identified.

use super::*;

/// The text of a dry run without what differs from run to run.
fn without_times(text: &str) -> String {
    let mut lines = Vec::new();
    for line in text.lines() {
        let line = match line.split_once(" at serial:") {
            Some((before, _)) => format!("{before} at serial:PORT"),
            None => line.to_owned(),
        };
        let line = match (line.rsplit_once(" in "), line.trim_start()) {
            (Some((before, _)), trimmed) if trimmed.starts_with("asked ") => {
                format!("{before} in TIME")
            }
            (_, trimmed) if trimmed.starts_with("round trip") => "  round trip …".to_owned(),
            (_, trimmed) if trimmed.starts_with("rows") => "  rows …".to_owned(),
            _ => line,
        };
        lines.push(line);
    }
    lines.join("\n")
}

#[test]
fn a_profile_that_fits_is_proved_and_nothing_is_recorded() {
    let desk = Desk::new();
    asking(&desk, "both", BOTH, BOTH);
    let parrot = device(
        Parrot::new(&[(BOTH, ":MEAS:FREQ 4015 kHz;:MEAS:VOLT:DC 9.36")]),
        Vec::new(),
    );
    let ended = desk.run(&["record", "--dry-run", "-i", &at("both", &parrot)]);
    assert_eq!(ended.code, DONE, "{}{}", ended.stdout, ended.stderr);
    insta::assert_snapshot!(without_times(&ended.stdout), @r"
    both by both at serial:PORT
      identity     club,parrot,7,1
      asked        MEAS:FREQ?;:MEAS:VOLT:DC?: :MEAS:FREQ 4015 kHz;:MEAS:VOLT:DC 9.36 in TIME
                   frequency_hz (frequency_hz, value 1 of 2) is 4.015 MHz
                   battery_v (battery_v, value 2 of 2) is 9.36 V
      round trip …
      rows …
      the profile fits
    ");
    assert!(ended.stdout.contains("of 20 questions"), "{}", ended.stdout);
    let left: Vec<_> = std::fs::read_dir(desk.path()).unwrap().collect();
    assert_eq!(left.len(), 1, "only the profiles are there: {left:?}");

    let board = device(Lines::plain(0.02).unwrap(), Vec::new());
    let args = [
        "record",
        "--dry-run",
        "--format",
        "json",
        "-i",
        &at("quick-plain-lines", &board),
    ];
    let ended = desk.run(&args);
    assert_eq!(ended.code, DONE, "{}{}", ended.stdout, ended.stderr);
    let json: serde_json::Value = serde_json::from_str(&ended.stdout).unwrap();
    let one = &json["instruments"][0];
    assert_eq!(one["heard"][0]["values"][0]["field"], "field f");
    assert!(one["rows_per_s"].as_f64().unwrap() > 10.0, "{one}");
    assert_eq!(one["faults"].as_array().unwrap().len(), 0);
}

#[test]
fn what_a_profile_got_wrong_is_told_with_the_instruments_own_words() {
    let desk = Desk::new();
    asking(&desk, "bogus", "MEAS:BOGUS?", "MEAS:VOLT:DC?");
    let parrot = device(Parrot::new(&[("MEAS:VOLT:DC?", "9,36")]), Vec::new());
    let ended = desk.run(&["record", "--dry-run", "-i", &at("bogus", &parrot)]);
    assert_eq!(ended.code, INSTRUMENT);
    insta::assert_snapshot!(without_times(&format!("{}{}", ended.stdout, ended.stderr)), @r"
    bogus by bogus at serial:PORT
      identity     club,parrot,7,1
      asked        MEAS:VOLT:DC?: 9,36 in TIME
                   battery_v (battery_v, value 1 of 1) is no number
      wrong        MEAS:BOGUS? was not answered in 300 ms; it complains: -113, Undefined header;MEAS:BOGUS?;
      wrong        MEAS:VOLT:DC? gave 2 values where the profile says 1: 9,36
    error: the profile of bogus does not fit
    hint: devices/README.md has every key of a profile; sagtrace ports --identify tries all profiles
    ");

    let mute = device(Scpi::counter(), vec![Fault::always(FaultKind::Silent)]);
    let ended = desk.run(&[
        "record",
        "--dry-run",
        "-i",
        &at("quick-scpi-counter", &mute),
    ]);
    assert_eq!(ended.code, INSTRUMENT);
    assert!(
        ended
            .stdout
            .contains("[resync] *OPC? was not answered by 1 in 500 ms"),
        "{}",
        ended.stdout
    );

    let talker = device(Talker::new(&[b"x\n", b"f=4MHz v=8.9\n"], 1), Vec::new());
    let ended = desk.run(&[
        "record",
        "--dry-run",
        "-i",
        &at("quick-plain-lines", &talker),
    ]);
    assert_eq!(ended.code, INSTRUMENT);
    assert!(
        ended
            .stdout
            .contains("wrong        battery_v: a number without its unit: f=4MHz v=8.9"),
        "{}",
        ended.stdout
    );
    assert!(!desk.path().join("out").exists());
}

#[test]
fn what_is_missing_is_told_with_what_to_do() {
    let desk = Desk::new();
    let mut told = String::new();
    for args in [
        ["record", "-i", "scpi-conter@serial:/dev/null"].as_slice(),
        &["record", "-i", "scpi-counter@log:gone.log"],
        &["predict", "gone.toml"],
        &["record", "-i", "scpi-counter@log:gone.log", "--dry-run"],
    ] {
        let ended = desk.run(args);
        assert_eq!(ended.code, USAGE, "{args:?}");
        told.push_str(&ended.stderr);
    }
    insta::assert_snapshot!(told, @r#"
    error: no profile "scpi-conter": known are columns, plain-lines, quick-columns, quick-plain-lines, quick-scpi-counter, scpi-counter, scpi-scope, scpi-scope-wave
    hint: did you mean scpi-counter?
    error: cannot read the byte log gone.log: No such file or directory (os error 2)
    hint: record --keep-bytes makes byte logs, as bytes/LABEL.log in the session folder
    error: cannot read gone.toml: No such file or directory (os error 2)
    hint: begin one with: sagtrace sheet new
    error: gone.log is a byte log, not an instrument
    hint: leave --dry-run out to play it
    "#);
    desk.file(
        "bad.log",
        "10000 2026-01-31T19:00:00.010Z < a\\n\n20000 now < b\n",
    );
    let ended = desk.run(&["record", "-i", "scpi-counter@log:bad.log"]);
    assert_eq!(ended.code, USAGE);
    insta::assert_snapshot!(ended.stderr, @r"
    error: byte log bad.log, line 2: the time is not in RFC 3339, an entry is `elapsed_us time sign bytes`
    hint: sagtrace guide files describes the byte log, line by line
    ");
}

#[test]
fn ports_are_identified_by_who_answers_or_speaks() {
    let desk = Desk::new();
    let counter = device(Scpi::counter(), Vec::new());
    let board = device(Lines::plain(0.1).unwrap(), Vec::new());
    let mute = device(Scpi::counter(), vec![Fault::always(FaultKind::Silent)]);
    // It says the names of its columns once, when it is opened.
    let columns = device(Lines::columns(0.1).unwrap(), Vec::new());
    let paths: Vec<String> = [&counter, &board, &mute, &columns]
        .iter()
        .map(|device| device.path().display().to_string())
        .collect();
    let mut args = vec!["ports", "--identify", "--format", "json"];
    for path in &paths {
        args.extend(["--path", path]);
    }
    let ended = desk.run(&args).well();
    let json: serde_json::Value = serde_json::from_str(&ended.stdout).unwrap();
    let found = |path: &String| {
        let ports = json["ports"].as_array().unwrap();
        let port = ports
            .iter()
            .find(|port| port["name"] == path.as_str())
            .unwrap();
        let names = port["found"].as_array().unwrap().iter();
        names
            .map(|found| found["profile"].as_str().unwrap().to_owned())
            .collect::<Vec<_>>()
    };
    assert_eq!(found(&paths[0]), ["quick-scpi-counter", "scpi-counter"]);
    assert_eq!(found(&paths[1]), ["plain-lines", "quick-plain-lines"]);
    assert!(found(&paths[2]).is_empty());
    assert_eq!(found(&paths[3]), ["columns", "quick-columns"]);
}

//! Boards and logs line by line: every line is one row, with the digits that were sent.

use super::*;

/// Invented: an instrument that is asked, misses an answer, is lost and comes back.
const ASKED_LOG: &str = r"10000 2026-01-31T19:00:00.010Z > *CLS\n
20000 2026-01-31T19:00:00.020Z > MEAS:FREQ?\n
25000 2026-01-31T19:00:00.025Z < +6.2312345E+06\n
26000 2026-01-31T19:00:00.026Z > MEAS:VOLT:DC?\n
30000 2026-01-31T19:00:00.030Z < +8.91
31000 2026-01-31T19:00:00.031Z < 2E+00\r\n
1020000 2026-01-31T19:00:01.020Z > MEAS:FREQ?\n
4020000 2026-01-31T19:00:04.020Z ~
4025000 2026-01-31T19:00:04.025Z < late\n
4026000 2026-01-31T19:00:04.026Z > MEAS:VOLT:DC?\n
4030000 2026-01-31T19:00:04.030Z < +8.911E+00\n
5000000 2026-01-31T19:00:05.000Z ! the port went away
7000000 2026-01-31T19:00:07.000Z +
7010000 2026-01-31T19:00:07.010Z > *CLS\n
7020000 2026-01-31T19:00:07.020Z > MEAS:FREQ?\n
7025000 2026-01-31T19:00:07.025Z < 9.91E37\n
7026000 2026-01-31T19:00:07.026Z > MEAS:VOLT:DC?\n
7030000 2026-01-31T19:00:07.030Z < +6.1E+00\n
";

#[test]
fn a_log_with_a_loss_is_played_to_its_end_and_twice_alike() {
    let desk = Desk::new();
    desk.file("bytes.log", ASKED_LOG);
    let plain = include_str!("../../../devices/scpi-counter.toml")
        .replacen("scpi-counter", "nameless", 1)
        .replace("identity = \"*IDN?\"\n", "");
    desk.file("sagtrace/devices/nameless.toml", &plain);
    let mut results = Vec::new();
    for out in ["one", "two"] {
        desk.run(&["record", "-i", "nameless@log:bytes.log", "-o", out])
            .well();
        results.push((
            desk.read(&format!("{out}/samples.csv")),
            desk.read(&format!("{out}/rejected.log")),
        ));
    }
    assert_eq!(results[0], results[1]);
    insta::assert_snapshot!(results[0].0, @r"
    timestamp,elapsed_s,source,frequency_hz,battery_v,status,note
    2026-01-31T19:00:00.030Z,0.030000,nameless,6231234.5,8.912,ok,
    2026-01-31T19:00:04.020Z,4.020000,nameless,,,silent,no answer to MEAS:FREQ? in 3 s
    2026-01-31T19:00:04.030Z,4.030000,nameless,,8.911,ok,
    2026-01-31T19:00:05.000Z,5.000000,nameless,,,gap,the port went away
    2026-01-31T19:00:07.030Z,7.030000,nameless,,6.1,no-signal,frequency_hz: no signal
    ");
    insta::assert_snapshot!(results[0].1, @r"2026-01-31T19:00:04.025Z 4.025000 nameless (it belongs to no question: late, or a banner): late");
}

/// Invented: fragments, a wrong checksum, glued lines, bytes that are no text, all in one stream.
const SPOKEN_LOG: &str = r"10000 2026-01-31T19:00:00.010Z < 4.5Hz v=8.9V\nf=6231234.5Hz v=8.9
20000 2026-01-31T19:00:00.020Z < 12V\r\nf=6231234.6Hz v=8.911V *00\n
30000 2026-01-31T19:00:00.030Z < f=6231234.f=6231234.5Hz v=8.9V\n\xff\xfe\x00\nf=4MHz *10\n
40000 2026-01-31T19:00:00.040Z ! the port went away
50000 2026-01-31T19:00:00.050Z +
60000 2026-01-31T19:00:00.060Z < Hz v=8.8V\nf=none v=6.1V\n
";

#[test]
fn a_spoken_log_gives_every_whole_line_once_and_no_number_of_the_others() {
    let desk = Desk::new();
    desk.file("bytes.log", SPOKEN_LOG);
    desk.record(&["-i", "plain-lines@log:bytes.log"]).well();
    insta::assert_snapshot!(desk.read("out/samples.csv"), @r"
    timestamp,elapsed_s,source,frequency_hz,battery_v,current_a,amplitude_v,temperature_c,status,note
    2026-01-31T19:00:00.020Z,0.020000,plain-lines,6231234.5,8.912,,,,ok,
    2026-01-31T19:00:00.020Z,0.020001,plain-lines,,,,,,garbled,the checksum is wrong
    2026-01-31T19:00:00.030Z,0.030000,plain-lines,,8.9,,,,garbled,frequency_hz: a number with another unit or other text behind it
    2026-01-31T19:00:00.030Z,0.030001,plain-lines,,,,,,garbled,bytes that are no text
    2026-01-31T19:00:00.030Z,0.030002,plain-lines,4000000,,,,,ok,
    2026-01-31T19:00:00.040Z,0.040000,plain-lines,,,,,,gap,the port went away
    2026-01-31T19:00:00.060Z,0.060000,plain-lines,,6.1,,,,no-signal,frequency_hz: no signal
    ");
    insta::assert_snapshot!(desk.read("out/rejected.log"), @r"
    2026-01-31T19:00:00.010Z 0.010000 plain-lines (the first line after opening may be a fragment): 4.5Hz v=8.9V
    2026-01-31T19:00:00.020Z 0.020001 plain-lines (it could not be read): f=6231234.6Hz v=8.911V *00
    2026-01-31T19:00:00.030Z 0.030000 plain-lines (it could not be read): f=6231234.f=6231234.5Hz v=8.9V
    2026-01-31T19:00:00.030Z 0.030001 plain-lines (it could not be read): \xff\xfe\x00
    2026-01-31T19:00:00.060Z 0.060000 plain-lines (the first line after opening may be a fragment): Hz v=8.8V
    ");
}

/// The numbers of a line, in hertz and volts, by the test's own reading.
fn plain_numbers(line: &str) -> (Option<f64>, Option<f64>) {
    let field = |name: &str, unit: &str| {
        let word = line.split(' ').find_map(|word| word.strip_prefix(name))?;
        word.strip_suffix(unit)?.parse().ok()
    };
    (field("f=", "Hz"), field("v=", "V"))
}

fn column_numbers(line: &str) -> (Option<f64>, Option<f64>) {
    let mut cells = line.split(',').skip(1);
    let exact = |khz: &str| format!("{khz}e3").parse().ok();
    (
        cells.next().and_then(exact),
        cells.next().and_then(|volts| volts.parse().ok()),
    )
}

#[test]
fn every_line_that_was_sent_is_one_row_with_the_same_digits() {
    type Numbers = fn(&str) -> (Option<f64>, Option<f64>);
    let boards: [(&str, Lines, Numbers); 2] = [
        (
            "quick-plain-lines",
            Lines::plain(0.01).unwrap(),
            plain_numbers,
        ),
        (
            "quick-columns",
            Lines::columns(0.01).unwrap(),
            column_numbers,
        ),
    ];
    for (profile, lines, numbers) in boards {
        let bad = Fault {
            from_s: 0.5,
            to_s: f64::INFINITY,
            at_most: Some(5),
            kind: FaultKind::Garbage,
        };
        let (desk, board) = (Desk::new(), device(lines, vec![bad]));
        let mut running = desk.start(&["-i", &address(profile, &board)]);
        running.wait_for("garbage", |line| line.contains(",garbled,"));
        running.wait_for_rows(30);
        assert_eq!(running.interrupt().code, Some(0));
        let good: Vec<_> = desk
            .rows()
            .iter()
            .filter(|row| row.status == Status::Ok)
            .map(|row| {
                (
                    row.readings.get(Channel::FrequencyHz),
                    row.readings.get(Channel::BatteryV),
                )
            })
            .collect();
        let sent: Vec<_> = board
            .stop()
            .iter()
            .filter_map(|sent| {
                std::str::from_utf8(&sent.bytes)
                    .ok()
                    .map(|line| numbers(line.trim_end()))
            })
            .filter(|(frequency_hz, battery_v)| frequency_hz.is_some() && battery_v.is_some())
            .collect();
        // What was sent after the end of the recording was heard by nobody.
        assert_eq!(good, sent[..good.len()], "{profile}");
        assert!(
            sent.len() - good.len() < 30,
            "{profile}: {} sent, {} recorded",
            sent.len(),
            good.len()
        );
    }
}

#[test]
fn a_stopped_coil_is_told_apart_from_garbage_by_every_board() {
    for profile in ["plain-lines", "columns", "scpi-counter", "scpi-scope"] {
        let desk = Desk::new();
        // The battery of the evening stops the coil near its end.
        let args = [
            "simulate", "--device", profile, "--for", "6min", "--out", "out",
        ];
        desk.run(&args).well();
        let rows = desk.rows();
        let has = |status| rows.iter().any(|row| row.status == status);
        assert!(has(Status::NoSignal) && !has(Status::Garbled), "{profile}");
        let keeps_its_voltage = |row: &Row| row.readings.get(Channel::BatteryV).is_some();
        assert!(
            rows.iter()
                .filter(|row| row.status == Status::NoSignal)
                .all(keeps_its_voltage)
        );
    }
}

#[test]
fn a_board_in_shell_is_recorded_line_by_line() {
    let desk = Desk::new();
    let (master, port) = pseudo_terminal();
    let mut running = desk.start(&["-i", &format!("quick-plain-lines@serial:{port}")]);
    running.wait_for("the header", |line| line.starts_with("timestamp,"));
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/devices/lines.sh");
    let board = Command::new("sh")
        .args([script, "20"])
        .stdout(Stdio::from(master.try_clone().unwrap()))
        .spawn();
    running.wait_for("the last line", |line| line.contains(",8.981,"));
    // What is unread when the last hand releases a line is lost.
    drop(master);
    board.unwrap().wait().unwrap();
    running.interrupt();
    let rows: Vec<String> = desk
        .rows()
        .iter()
        .filter(|row| row.status != Status::Gap)
        .map(|row| {
            format!(
                "{:?} {:?}",
                row.readings.get(Channel::FrequencyHz),
                row.readings.get(Channel::BatteryV)
            )
        })
        .collect();
    let want: Vec<String> = (0..rows.len())
        .map(|n| {
            let frequency_hz = (n % 10 != 9).then_some(6_231_000.5 - 10.0 * n as f64);
            format!(
                "{frequency_hz:?} {:?}",
                format!("{}e-3", 9000 - n).parse::<f64>().ok()
            )
        })
        .collect();
    assert_eq!(rows, want);
    assert_eq!(rows.len(), 20);
}

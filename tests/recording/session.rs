//! A session folder, written and read back.

use std::path::Path;
use std::sync::Arc;

use sagtrace::analysis::compare::Compare;
use sagtrace::reading::{Channel, Note, Readings, Rejected, Row, Stamp, Status};
use sagtrace::session::{
    Contents, InstrumentMeta, Meta, RowReader, Session, State, Summary, Writer,
};

fn meta() -> Meta {
    Meta {
        schema: 1,
        state: State::Recording,
        program: "sagtrace 0".to_owned(),
        started: "2026-01-31T19:00:00.000Z".to_owned(),
        ended: None,
        end_reason: None,
        build: "test build".to_owned(),
        earth: Some("standing".to_owned()),
        battery: None,
        battery_start: "unknown".to_owned(),
        battery_kind: None,
        battery_end_v: None,
        battery_each_v: Vec::new(),
        masked_hz: Vec::new(),
        note: Some("a \"note\", with a comma".to_owned()),
        simulated: false,
        time_scale: 1.0,
        columns: Vec::new(),
        instruments: Vec::new(),
        connection: Vec::new(),
        checksums: std::collections::BTreeMap::new(),
        summary: None,
    }
}

fn row(elapsed_us: i64, wall_ms: i64, frequency_hz: f64) -> Row {
    let mut readings = Readings::default();
    readings.set(Channel::FrequencyHz, frequency_hz);
    readings.set(Channel::CurrentA, 0.1 + 0.2);
    let stamp = Stamp {
        elapsed_us,
        wall_ms,
    };
    Row {
        stamp,
        source: Arc::from("counter"),
        readings,
        status: Status::Ok,
        note: Note::default(),
    }
}

fn writer(dir: &Path) -> Writer {
    let contents = Contents {
        build_sheet: Some("name = \"x\"\n".to_owned()),
        profiles: vec![("counter".to_owned(), "p".to_owned())],
    };
    Writer::create(dir, meta(), &[Channel::CurrentA], &contents).expect("the folder is filled")
}

fn all_rows(dir: &Path) -> Vec<Row> {
    let mut reader = RowReader::open(&dir.join("samples.csv")).expect("the table opens");
    let mut rows = Vec::new();
    let mut all = Vec::new();
    while reader.next_chunk(&mut rows).expect("the table is read") {
        all.append(&mut rows);
    }
    all
}

#[test]
fn rows_read_back_to_the_same_bits_and_rising_times() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let mut writer = writer(dir.path());
    let mut noted = row(2_000_000, 2_000, 1.0 / 3.0);
    noted.note = "a, \"b\"\nc".into();
    noted.status = Status::Garbled;
    // The third row is of an earlier moment than the one before it.
    let rows = vec![
        row(1_000_000, 1_000, 6231234.5),
        noted,
        row(1_999_000, 1_999, 4e6),
    ];
    let text = writer.append(rows.clone()).expect("rows are taken").lines;
    let summary = writer.close(3_000, "test").expect("the folder is closed");
    assert_eq!((summary.rows, summary.good_rows, summary.gaps), (3, 2, 0));

    let read = all_rows(dir.path());
    assert_eq!(read.len(), 3);
    for (read, written) in read.iter().zip(&rows) {
        assert_eq!(read.readings, written.readings);
        assert_eq!(
            (read.status, read.stamp.wall_ms),
            (written.status, written.stamp.wall_ms)
        );
    }
    assert_eq!(read[1].note.to_string(), "a, \"b\" c");
    assert_eq!(
        read[2].stamp.elapsed_us, 2_000_001,
        "elapsed time rises by a microsecond at least"
    );
    let file = std::fs::read_to_string(dir.path().join("samples.csv")).expect("the table is there");
    assert!(
        file.ends_with(&text),
        "what append returns is what stands in the file"
    );
    assert!(!file.contains('\r'));
}

/// The row of a scope is whole eight seconds after its first byte, and a counter gave some meanwhile.
#[test]
fn a_row_that_was_whole_late_keeps_its_time_and_is_read_in_its_place() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let of = |label: &str| InstrumentMeta {
        label: label.to_owned(),
        profile: "p".to_owned(),
        address: "log:x".to_owned(),
        identity: None,
        every_s: None,
        gate_time: "unknown".to_owned(),
        averaging: "unknown".to_owned(),
        clock: None,
    };
    let mut meta = meta();
    meta.instruments = vec![of("counter"), of("scope")];
    let mut writer = Writer::create(dir.path(), meta, &[], &Contents::default()).expect("a folder");
    let scope = |elapsed_us: i64| {
        let mut row = row(elapsed_us, elapsed_us / 1000, 6e6);
        row.source = Arc::from("scope");
        row
    };
    for second in 1..=9 {
        writer
            .append(vec![row(second * 1_000_000, second * 1000, 6e6)])
            .expect("a row is taken");
    }
    let taken = writer.append(vec![scope(1_200_000)]).expect("it is taken");
    assert_eq!(taken.rows, [scope(1_200_000)]);
    for late in [9_200_000, 9_200_000] {
        writer.append(vec![scope(late)]).expect("it is taken");
    }
    let summary = writer.close(9_300, "test").expect("it is closed");
    assert!((summary.duration_s - 8.200_001).abs() < 1e-9);
    let session = Session::open(dir.path()).expect("a session");
    let (mut reader, mut rows, mut times) =
        (session.rows().expect("a table"), Vec::new(), Vec::new());
    while reader.next_chunk(&mut rows).expect("it is read") {
        times.extend(rows.iter().map(|row| row.stamp.elapsed_us));
    }
    let mut want: Vec<i64> = (1..=9).map(|second| second * 1_000_000).collect();
    want.extend([1_200_000, 9_200_000, 9_200_001]);
    want.sort_unstable();
    assert_eq!(times, want);
    let checked = sagtrace::session::check(dir.path()).expect("it is checked");
    assert!(checked.findings.is_empty(), "{:?}", checked.findings);
}

/// A row that began before the wall clock was moved, and was whole after it.
#[test]
fn a_clock_that_was_moved_once_is_told_once() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let mut writer = writer(dir.path());
    let mut late = row(2_000_000, 2_000, 6e6);
    late.source = Arc::from("scope");
    for row in [
        row(1_000_000, 1_000, 6e6),
        row(3_000_000, 3_603_000, 6e6),
        late,
        row(4_000_000, 3_604_000, 6e6),
    ] {
        writer.append(vec![row]).expect("a row is taken");
    }
    let steps = all_rows(dir.path())
        .iter()
        .filter(|row| row.status == Status::ClockStep)
        .count();
    assert_eq!(steps, 1);
}

#[test]
fn a_folder_that_was_not_closed_says_so_and_one_that_was_says_how() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let mut writer = writer(dir.path());
    assert_eq!(
        Session::open(dir.path()).expect("it opens").meta.state,
        State::Recording
    );
    writer.append(vec![row(1, 0, 5e6)]).expect("a row is taken");
    writer
        .mark(
            Stamp {
                elapsed_us: 1_500_000,
                wall_ms: 1_500,
            },
            "hand, 30 cm",
        )
        .expect("a mark is taken");
    writer
        .close(3_000, "the duration was reached")
        .expect("it is closed");

    let session = Session::open(dir.path()).expect("it opens");
    assert_eq!(session.meta.state, State::Closed);
    assert_eq!(
        session.meta.end_reason.as_deref(),
        Some("the duration was reached")
    );
    assert_eq!(session.meta.note, meta().note);
    assert_eq!(
        session
            .meta
            .summary
            .as_ref()
            .and_then(|summary| summary.frequency_hz)
            .map(|extent| extent.last),
        Some(5e6)
    );
    assert_eq!(session.build_sheet.as_deref(), Some("name = \"x\"\n"));
    // printf 'name = "x"\n' | sha256sum
    assert_eq!(
        session.meta.checksums["build.toml"],
        "sha256:3eb10e9d710d38dc9fe5566f14f7d2cb97ca68a5c6c6b00150b73c69064410cc"
    );
    let marks = session.marks().expect("marks are read");
    assert_eq!(
        (marks[0].elapsed_s, marks[0].text.as_str()),
        (1.5, "hand, 30 cm")
    );
}

#[test]
fn a_wall_clock_that_is_moved_makes_a_row_of_its_own() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let mut writer = writer(dir.path());
    let rows = [
        (1_000_000, 1_000),
        (2_000_000, 2_400),
        (3_000_000, 7_000),
        (4_000_000, 8_000),
    ];
    for (elapsed_us, wall_ms) in rows {
        writer
            .append(vec![row(elapsed_us, wall_ms, 5e6)])
            .expect("a row is taken");
    }
    writer.close(9_000, "test").expect("it is closed");
    let read = all_rows(dir.path());
    let steps: Vec<(usize, String)> = read
        .iter()
        .enumerate()
        .filter(|(_, row)| row.status == Status::ClockStep)
        .map(|(index, row)| (index, row.note.to_string()))
        .collect();
    // 0.4 s is slewing, 3.6 s is a step.
    assert_eq!(
        steps,
        [(2, "the wall clock was moved by +3.6 s".to_owned())]
    );
    assert!(
        read.windows(2)
            .all(|pair| pair[0].stamp.elapsed_us < pair[1].stamp.elapsed_us)
    );
}

#[test]
fn elapsed_time_rises_through_a_clock_set_back_and_through_suspend() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let mut writer = writer(dir.path());
    let rows = [
        (1_000_000, 10_000_000),
        // Set back by an hour and a half, as where a machine took local time for UTC.
        (2_000_000, 4_601_000),
        // Two hours of suspend: both clocks count through it, and that is no step.
        (7_202_000_000, 11_801_000),
        // Corrected while it slept.
        (7_203_000_000, 17_202_000),
    ];
    for (elapsed_us, wall_ms) in rows {
        writer
            .append(vec![row(elapsed_us, wall_ms, 5e6)])
            .expect("a row is taken");
    }
    let summary = writer.close(9_000, "test").expect("it is closed");
    assert!(
        (summary.duration_s - 7202.0).abs() < 1e-3,
        "of elapsed time"
    );
    let read = all_rows(dir.path());
    let told: Vec<(Status, String)> = read
        .iter()
        .map(|row| (row.status, row.note.to_string()))
        .collect();
    assert_eq!(
        told,
        [
            (Status::Ok, String::new()),
            (
                Status::ClockStep,
                "the wall clock was moved by -5400.0 s".to_owned()
            ),
            (Status::Ok, String::new()),
            (Status::Ok, String::new()),
            (
                Status::ClockStep,
                "the wall clock was moved by +5400.0 s".to_owned()
            ),
            (Status::Ok, String::new()),
        ]
    );
    assert!(
        read.windows(2)
            .all(|pair| pair[0].stamp.elapsed_us < pair[1].stamp.elapsed_us)
    );
}

#[test]
fn of_a_table_cut_at_any_byte_every_whole_row_is_read_and_no_other() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let mut writer = writer(dir.path());
    for step in 1..=6 {
        let mut row = row(step * 1_000_003, step * 1000, 5e6 + step as f64 / 7.0);
        row.note = "a \"quoted\", half".into();
        writer.append(vec![row]).expect("a row is taken");
    }
    drop(writer);
    let path = dir.path().join("samples.csv");
    let whole = std::fs::read(&path).expect("the table");
    let rows = all_rows(dir.path());
    let header = whole
        .iter()
        .position(|byte| *byte == b'\n')
        .expect("a line")
        + 1;
    for length in header..=whole.len() {
        // A power cut can leave zeros where the rest should have been.
        for tail in [0, 100] {
            let mut cut = whole[..length].to_vec();
            let count = cut.split(|byte| *byte == b'\n').count() - 2;
            cut.resize(length + tail, 0);
            std::fs::write(&path, &cut).expect("it is cut");
            let mut reader = RowReader::open(&path).expect("it opens");
            let (mut read, mut chunk) = (Vec::new(), Vec::new());
            while reader.next_chunk(&mut chunk).expect("it is read") {
                read.append(&mut chunk);
            }
            assert_eq!(read, rows[..count], "cut at {length}, {tail} zeros");
            assert_eq!(reader.skipped().torn_end, cut.last() != Some(&b'\n'));
        }
    }
}

#[test]
fn what_is_refused_is_kept_raw_and_bounded() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let mut writer = writer(dir.path());
    let stamp = Stamp {
        elapsed_us: 1,
        wall_ms: 0,
    };
    let source: Arc<str> = Arc::from("counter");
    for _ in 0..400 {
        let rejected = Rejected {
            stamp,
            source: Arc::clone(&source),
            why: "noise".to_owned(),
            bytes: vec![0xff; 1000],
        };
        writer.reject(&rejected).expect("it is kept");
    }
    let log = std::fs::read_to_string(dir.path().join("rejected.log")).expect("the log is there");
    assert!(log.starts_with("1970-01-01T00:00:00.000Z 0.000001 counter (noise): \\xff\\xff"));
    assert!(
        log.len() < 1_010_000 && log.ends_with("the rows alone\n"),
        "{} bytes",
        log.len()
    );
}

fn with_battery(source: &str, frequency_hz: Option<f64>, battery_v: f64, status: Status) -> Row {
    let mut row = row(0, 0, 0.0);
    row.source = source.into();
    row.status = status;
    row.readings = Readings::default();
    row.readings.set(Channel::BatteryV, battery_v);
    if let Some(hertz) = frequency_hz {
        row.readings.set(Channel::FrequencyHz, hertz);
    }
    row
}

/// By hand: the counter's five voltages are 9.0, 6.1 and 6.6 V, two of them read while the coil was silent.
#[test]
fn what_a_recording_says_of_its_battery_is_what_the_comparison_says() {
    let rows = [
        with_battery("counter", Some(6.2e6), 9.0, Status::Ok),
        with_battery("meter", Some(6.3e6), 8.2, Status::Ok),
        with_battery("counter", None, 6.1, Status::NoSignal),
        with_battery("meter", None, 5.9, Status::NoSignal),
        with_battery("counter", None, 6.6, Status::NoSignal),
    ];
    let mut recorded = Summary::default();
    recorded.push(&rows);
    let mut compared = Compare::default();
    compared.push(&rows);
    let comparison = compared.report();
    let counter = &comparison.summary.sources()[0];
    for (extent, channel) in [
        (recorded.battery_v, Channel::BatteryV),
        (recorded.frequency_hz, Channel::FrequencyHz),
    ] {
        let mut channels = counter.channels.iter();
        let same = channels.find(|one| one.channel == channel).unwrap();
        let extent = extent.unwrap();
        assert_eq!(
            (extent.first, extent.last, extent.min, extent.max),
            (same.first, same.last, same.min, same.max)
        );
    }
    let battery = recorded.battery_v.unwrap();
    assert_eq!((battery.last, battery.min), (6.6, 6.1));
}

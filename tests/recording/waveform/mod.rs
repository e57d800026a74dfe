//! Blocks and scope waveforms, from the profile to the row, by the program itself on real lines.

use std::f64::consts::TAU;
use std::fmt::Write as _;
use std::sync::Arc;

use sagtrace::bench::Instrument;
use sagtrace::bench::faults::{Fault, FaultKind};
use sagtrace::bench::pty::Device;
use sagtrace::bench::scpi::{Form, Sampling, Scpi};
use sagtrace::bench::world::{Restart, Stop, World, WorldSpec};
use sagtrace::clock::Clock;
use sagtrace::reading::{Channel, Row, Status};

use crate::common::Desk;
use crate::line::device_in;
use crate::noted::Noted;

mod told;

const TRUE_HZ: f64 = 6_231_234.5;

/// An instrument in front of a coil that does nothing but oscillate.
fn steady(
    instrument: impl Instrument + 'static,
    change: impl FnOnce(&mut WorldSpec),
    faults: Vec<Fault>,
) -> Device {
    let mut spec = WorldSpec::steady(TRUE_HZ, 9.0);
    change(&mut spec);
    device_in(spec, Clock::real(), instrument, faults)
}

/// What `record` makes of a device.
struct Recorded {
    desk: Desk,
    rows: Vec<Row>,
    device: Device,
}

fn record(desk: Desk, profile: &str, device: Device, duration: &str) -> Recorded {
    let address = format!("{profile}@serial:{}", device.path().display());
    let ended = desk.record(&["-i", &address, "--every", "50ms", "--for", duration]);
    let rows = desk.rows();
    assert!(!rows.is_empty(), "{}", ended.stderr);
    Recorded { desk, rows, device }
}

fn scope(sampling: Sampling, duration: &str) -> Recorded {
    let device = steady(Scpi::scope_sampling(sampling), |_| {}, Vec::new());
    record(Desk::new(), "scpi-scope-wave", device, duration)
}

fn get(row: &Row, channel: Channel) -> f64 {
    row.readings.get(channel).unwrap_or(f64::NAN)
}

fn ok(rows: &[Row]) -> Vec<&Row> {
    rows.iter().filter(|row| row.status == Status::Ok).collect()
}

/// Bound of Rife and Boorstyn for 3 V peak-to-peak at 20 mV a code, noise of 0.7 codes and the quantiser's 1/12 (variance
/// 0.573), a second harmonic of 5 % (`Σ k² A_k²` = 1.01 A²), 1000 samples at 50 MS/s: SNR 75²/(2 · 0.573) = 4907,
/// var(ω) = 12/(4907 · 1.01 · 10⁹), 1.56 µrad a sample, 12.4 Hz.
const BOUND_HZ: f64 = 12.4;

#[test]
fn a_waveform_gives_the_frequency_to_the_uncertainty_of_its_sampling() {
    let recorded = scope(Sampling::default(), "2s");
    let rows = ok(&recorded.rows);
    assert!(rows.len() >= 10, "{:?}", recorded.rows);
    assert_eq!(rows.len(), recorded.rows.len());
    let squares: f64 = rows
        .iter()
        .map(|row| (get(row, Channel::FrequencyHz) - TRUE_HZ).powi(2))
        .sum();
    let rms_hz = (squares / rows.len() as f64).sqrt();
    println!(
        "{} rows, {rms_hz:.1} Hz rms, bound {BOUND_HZ} Hz",
        rows.len()
    );
    // Ten rows or more: the rms of ten is within these of its true value in all but one case of 10 000 (chi squared).
    assert!((0.35..=1.9).contains(&(rms_hz / BOUND_HZ)), "{rms_hz} Hz");
    for row in rows {
        // 3 V and the extremes of the noise, a few times 14 mV.
        assert!(
            (2.98..3.12).contains(&get(row, Channel::AmplitudeV)),
            "{row:?}"
        );
        assert!((get(row, Channel::BatteryV) - 9.0).abs() < 0.01);
    }
    let has_line_feed = |bytes: &[u8]| {
        bytes.starts_with(b"#41000") && bytes.get(6..1006).is_some_and(|data| data.contains(&b'\n'))
    };
    let sent = recorded.device.sent();
    assert!(
        sent.iter().any(|sent| has_line_feed(&sent.bytes)),
        "a line feed in the data"
    );
}

#[test]
fn samples_of_two_bytes_are_read_in_either_order_with_sign_and_without() {
    for (form, codes, has_sign, low_first) in [
        ("INT,16", "int16-high-first", true, false),
        ("INT,16", "int16-low-first", true, true),
        ("UINT,16", "uint16-low-first", false, true),
        ("UINT,8", "uint8", false, false),
    ] {
        let order = if low_first { "SWAP" } else { "NORM" };
        let desk = Desk::new();
        let profile = include_str!("../../../devices/scpi-scope-wave.toml")
            .replacen("scpi-scope-wave", "my-scope", 1)
            .replace("FORM INT,8", &format!("FORM {form}\", \"FORM:BORD {order}"))
            .replace("codes = \"int8\"", &format!("codes = \"{codes}\""));
        desk.file("sagtrace/devices/my-scope.toml", &profile);
        // Left in another form by whoever was there before.
        let form = Form {
            has_sign: !has_sign,
            is_wide: false,
            low_first: !low_first,
        };
        let sampling = Sampling {
            form,
            ..Sampling::default()
        };
        let device = steady(Scpi::scope_sampling(sampling), |_| {}, Vec::new());
        let recorded = record(desk, "my-scope", device, "500ms");
        assert!(
            !ok(&recorded.rows).is_empty(),
            "{codes}: {:?}",
            recorded.rows
        );
        for row in &recorded.rows {
            assert_eq!(row.status, Status::Ok, "{codes}: {row:?}");
            assert!((get(row, Channel::FrequencyHz) - TRUE_HZ).abs() < 5.0 * BOUND_HZ);
            assert!(
                (2.98..3.12).contains(&get(row, Channel::AmplitudeV)),
                "{codes}: {row:?}"
            );
        }
    }
}

#[test]
fn a_block_that_breaks_off_is_refused_and_the_next_question_works() {
    let faults = vec![Fault::first(1, FaultKind::BreaksOff(412))];
    let device = steady(Scpi::scope(), |_| {}, faults);
    let recorded = record(Desk::new(), "scpi-scope-wave", device, "8s");
    let [first, rest @ ..] = recorded.rows.as_slice() else {
        panic!("no rows");
    };
    assert_eq!(first.status, Status::Garbled);
    assert_eq!(
        first.note.to_string(),
        "TRAC? (@1): the block broke off, 406 of 1000 bytes came"
    );
    assert_eq!(first.readings.get(Channel::FrequencyHz), None);
    assert!(
        (get(first, Channel::BatteryV) - 9.0).abs() < 0.01,
        "it was asked before"
    );
    assert!(
        !rest.is_empty() && rest.iter().all(|row| row.status == Status::Ok),
        "{rest:?}"
    );
    assert!(
        rest.iter()
            .all(|row| (get(row, Channel::FrequencyHz) - TRUE_HZ).abs() < 70.0)
    );
    let log = recorded.desk.read("out/rejected.log");
    assert!(log.contains("(the block broke off)"), "{log}");
}

#[test]
fn a_hundred_thousand_points_are_read_and_narrow_the_frequency_down() {
    let sampling = Sampling {
        points: 100_000,
        ..Sampling::default()
    };
    let recorded = scope(sampling, "2s");
    let rows = ok(&recorded.rows);
    assert!(!rows.is_empty(), "{:?}", recorded.rows);
    for row in rows {
        // A hundred times as many samples know it a thousand times better: 0.0124 Hz.
        let error_hz = get(row, Channel::FrequencyHz) - TRUE_HZ;
        assert!(error_hz.abs() < 5.0 * BOUND_HZ / 1000.0, "{error_hz} Hz");
    }
}

#[test]
fn a_clipped_waveform_gives_a_lower_bound_of_its_amplitude() {
    let device = steady(Scpi::scope(), |spec| spec.amplitude_v = 8.0, Vec::new());
    let recorded = record(Desk::new(), "scpi-scope-wave", device, "500ms");
    for row in &recorded.rows {
        assert_eq!(row.status, Status::Overload, "{row:?}");
        // From end to end of eight bits: 255 steps of 20 mV.
        assert_eq!(row.readings.get(Channel::AmplitudeV), Some(5.1));
        let note = &row.note.to_string();
        assert!(note.starts_with("amplitude_v: at least 5.1 V, "), "{note}");
        assert!(
            note.ends_with(" of 1000 samples stand at the end stops"),
            "{note}"
        );
        assert!(
            (get(row, Channel::FrequencyHz) - TRUE_HZ).abs() < 500.0,
            "{row:?}"
        );
    }
}

/// 4.545 MS/s (220 ns) shows 6.2312345 MHz at 6.2312345 - 4.5454545 = 1.68578 MHz.
#[test]
fn an_aliased_waveform_gives_no_frequency_and_says_why() {
    let sampling = Sampling {
        interval_s: 220e-9,
        ..Sampling::default()
    };
    let recorded = scope(sampling, "500ms");
    for row in &recorded.rows {
        assert_eq!(row.status, Status::Suspect, "{row:?}");
        assert_eq!(row.readings.get(Channel::FrequencyHz), None);
        assert_eq!(
            row.note.to_string(),
            "frequency_hz: 1.686 MHz may be an alias, sampled at 4.545 MHz where inputs go up to 10 MHz"
        );
        assert!(
            (2.8..3.2).contains(&get(row, Channel::AmplitudeV)),
            "it is no less true for that"
        );
    }
}

#[test]
fn a_waveform_both_clipped_and_aliased_says_both() {
    let sampling = Sampling {
        interval_s: 220e-9,
        ..Sampling::default()
    };
    let instrument = Scpi::scope_sampling(sampling);
    let device = steady(instrument, |spec| spec.amplitude_v = 8.0, Vec::new());
    let recorded = record(Desk::new(), "scpi-scope-wave", device, "500ms");
    for row in &recorded.rows {
        assert_eq!(row.status, Status::Overload, "{row:?}");
        assert_eq!(row.readings.get(Channel::FrequencyHz), None);
        let note = &row.note.to_string();
        assert!(note.starts_with("amplitude_v: at least 5.1 V, "), "{note}");
        assert!(note.contains("; frequency_hz: "), "{note}");
    }
}

#[test]
fn a_stopped_coil_is_no_signal_in_a_waveform_too() {
    let stop = |spec: &mut WorldSpec| {
        spec.stop = Some(Stop {
            below_v: 9.5,
            restart: Restart::Never,
        });
    };
    let device = steady(Scpi::scope(), stop, Vec::new());
    let recorded = record(Desk::new(), "scpi-scope-wave", device, "2s");
    // It tries for a quarter of a second.
    let is_running = |row: &&Row| row.status == Status::Ok;
    let stopped: Vec<&Row> = recorded.rows.iter().skip_while(is_running).collect();
    assert!(!stopped.is_empty(), "{:?}", recorded.rows);
    for row in stopped {
        assert_eq!(row.status, Status::NoSignal, "{row:?}");
        assert_eq!(row.readings.get(Channel::FrequencyHz), None);
        assert!((get(row, Channel::BatteryV) - 9.0).abs() < 0.01, "{row:?}");
    }
}

#[test]
fn the_simulated_evening_can_be_seen_through_a_waveform() {
    let desk = Desk::new();
    let args = [
        "simulate",
        "--device",
        "scpi-scope-wave",
        "--for",
        "2min",
        "--time-scale",
        "60",
        "--out",
        "out",
    ];
    desk.run(&args).well();
    let rows = desk.rows();
    let good = ok(&rows);
    assert!(good.len() > 5, "{rows:?}");
    assert!(
        good.iter()
            .all(|row| (1e6..10e6).contains(&get(row, Channel::FrequencyHz)))
    );
}

#[test]
fn identifying_a_port_asks_for_the_waveform_and_sets_nothing() {
    let heard = Arc::<std::sync::Mutex<Vec<u8>>>::default();
    let scope = Noted {
        inner: Scpi::scope(),
        heard: Arc::clone(&heard),
    };
    let device = steady(scope, |_| {}, Vec::new());
    let path = device.path().display().to_string();
    let ended = Desk::new().run(&["ports", "--identify", "--path", &path, "--format", "json"]);
    assert!(
        ended.stdout.contains("scpi-scope-wave"),
        "{}\n{}",
        ended.stdout,
        ended.stderr
    );
    assert!(ended.stdout.contains("6.231"), "{}", ended.stdout);
    let words = "its waveform is read only after FORM INT,8, which was not sent";
    assert!(ended.stdout.contains(words), "{}", ended.stdout);
    let heard = String::from_utf8(heard.lock().unwrap().clone()).unwrap();
    let heard = heard.replace("OPENED", "");
    assert!(heard.contains("TRAC:PRE? (@1)\n"), "{heard}");
    assert!(
        heard.lines().all(|message| message.contains('?')),
        "{heard}"
    );
}

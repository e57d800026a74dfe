//! `sagtrace battery` on session folders that each test writes. All their data are invented.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use sagtrace::battery::kind::Kind;
use sagtrace::battery::shipped;

/// One invented session.
struct Invented<'a> {
    folder: &'a str,
    battery: &'a str,
    kind: &'a str,
    start: &'a str,
    /// Seconds and volts.
    readings: Vec<(f64, f64)>,
    current_a: Option<f64>,
}

impl Invented<'_> {
    fn write(&self, sessions: &Path) {
        let dir = sessions.join(self.folder);
        fs::create_dir(&dir).unwrap();
        let meta = format!(
            "schema = 1\nstate = \"closed\"\nprogram = \"invented\"\nstarted = \"{}T19:00:00.000Z\"\n\
             build = \"glow pillar\"\nbattery = \"{}\"\nbattery_start = \"{}\"\nsimulated = true\n\
             time_scale = 1.0\ncolumns = []\n",
            self.folder, self.battery, self.start
        );
        fs::write(dir.join("session.toml"), meta).unwrap();
        let sheet = include_str!("../../sample-data/glow-pillar.toml");
        let kind = format!("kind = \"{}\"", self.kind);
        let sheet = sheet.replace("kind = \"alkaline\"", &kind);
        assert!(sheet.contains(&kind));
        fs::write(dir.join("build.toml"), sheet).unwrap();
        let mut rows =
            "timestamp,elapsed_s,source,frequency_hz,battery_v,current_a,status,note\n".to_owned();
        let current = self
            .current_a
            .map_or_else(String::new, |current_a| current_a.to_string());
        for (at_s, volts_v) in &self.readings {
            writeln!(
                rows,
                "2026-01-31T19:00:00.000Z,{at_s:.6},board,4000000,{volts_v},{current},ok,"
            )
            .unwrap();
        }
        fs::write(dir.join("samples.csv"), rows).unwrap();
    }
}

/// A line from 9 V to 6.9 V within some minutes, up to a share of it.
fn falling(minutes: f64, share: f64) -> Vec<(f64, f64)> {
    let at = |step: u32| {
        let done = f64::from(step) / 400.0;
        (60.0 * minutes * done, 9.0 - 2.1 * done)
    };
    (0..=400)
        .map(at)
        .filter(|(at_s, _)| *at_s <= 60.0 * minutes * share)
        .collect()
}

fn nimh(folder: &str, minutes: f64, share: f64) -> Invented<'_> {
    Invented {
        folder,
        battery: "N2",
        kind: "nimh-7",
        start: "full",
        readings: falling(minutes, share),
        current_a: Some(0.3),
    }
}

fn run(sessions: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_sagtrace"))
        .arg("battery")
        .args(args)
        .env_remove("SAGTRACE_CONFIG")
        .env("SAGTRACE_SESSIONS", sessions)
        .output()
        .unwrap()
}

pub(crate) fn said(sessions: &Path, args: &[&str]) -> String {
    let output = run(sessions, args);
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{args:?}: {stderr}");
    String::from_utf8(output.stdout).unwrap()
}

/// The full account.
fn in_full(sessions: &Path, args: &[&str]) -> String {
    said(sessions, &[args, &["--detail"]].concat())
}

fn json(sessions: &Path, args: &[&str]) -> serde_json::Value {
    let mut all = args.to_vec();
    all.extend(["--format", "json"]);
    serde_json::from_str(&said(sessions, &all)).unwrap()
}

pub(crate) fn season() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    nimh("2026-01-01", 40.0, 1.0).write(dir.path());
    nimh("2026-01-02", 39.0, 1.0).write(dir.path());
    nimh("2026-01-03", 39.0, 0.5).write(dir.path());
    fs::create_dir(dir.path().join("no session")).unwrap();
    dir
}

#[test]
fn the_list_is_made_of_the_folders_and_the_same_without_its_index() {
    let dir = season();
    let first = in_full(dir.path(), &[]);
    insta::assert_snapshot!(
        "battery-list",
        first.replace(&dir.path().display().to_string(), "DIR")
    );
    let index = dir.path().join(".sagtrace-batteries.json");
    assert!(index.is_file());
    assert_eq!(in_full(dir.path(), &[]), first);
    fs::write(&index, "spoilt").unwrap();
    assert_eq!(in_full(dir.path(), &[]), first);
    fs::remove_file(&index).unwrap();
    assert_eq!(in_full(dir.path(), &[]), first);
}

#[test]
fn a_session_that_changes_or_goes_is_seen_at_once() {
    let dir = season();
    let count = |dir: &Path| {
        json(dir, &[])["batteries"][0]["sessions"]
            .as_array()
            .unwrap()
            .len()
    };
    assert_eq!(count(dir.path()), 3);
    fs::remove_dir_all(dir.path().join("2026-01-01")).unwrap();
    assert_eq!(count(dir.path()), 2);
    nimh("2026-01-04", 38.0, 1.0).write(dir.path());
    assert_eq!(count(dir.path()), 3);
}

#[test]
fn a_battery_with_two_full_runs_is_foretold_from_them() {
    let dir = season();
    insta::assert_snapshot!("battery-one", in_full(dir.path(), &["N2", "--no-plots"]));
    let outlook = &json(dir.path(), &["N2", "--no-plots"])["outlook"];
    let left_s = |key: &str| outlook[key].as_f64().unwrap();
    // The invented line crosses 7.0 V at 2.0 / 2.1 of 39 minutes; half of it has passed.
    let truth_s = 39.0 * 60.0 * (2.0 / 2.1 - 0.5);
    assert!(
        left_s("low_s") < truth_s && truth_s < left_s("high_s"),
        "{outlook}"
    );
    assert!((left_s("middle_s") - truth_s).abs() < 60.0, "{outlook}");
    assert_eq!(outlook["basis"], "own runs");
}

/// The last full run of the season gave 0.3 A for 2.0 / 2.1 of 39 minutes; a tenth to either side of that.
#[test]
fn an_evening_is_planned_by_a_batterys_own_runs() {
    let dir = season();
    let plan = |label: &str| {
        Command::new(env!("CARGO_BIN_EXE_sagtrace"))
            .args(["predict", "sample-data/glow-pillar.toml", "--load", "0.3A"])
            .args(["--evening", "4 x 6min every 15min", "--battery", "nimh-7"])
            .args(["--own", label, "--format", "json", "--sessions"])
            .arg(dir.path())
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .env_remove("SAGTRACE_CONFIG")
            .output()
            .unwrap()
    };
    let answer: serde_json::Value = serde_json::from_slice(&plan("N2").stdout).unwrap();
    let [own, published] = answer["kinds"].as_array().unwrap().as_slice() else {
        panic!("{answer}");
    };
    assert_eq!(
        (&own["battery"], &own["answer"]),
        (&"N2".into(), &"covered".into())
    );
    assert_eq!(
        (published["battery"].as_str(), &published["answer"]),
        (None, &"depends".into())
    );
    let truth_s = 39.0 * 60.0 * 2.0 / 2.1;
    for (key, share) in [("low_s", 0.9), ("middle_s", 1.0), ("high_s", 1.1)] {
        let told_s = own["running"][key].as_f64().unwrap();
        // The invented line has a reading every 6 s.
        assert!(
            (told_s - share * truth_s).abs() < 7.0,
            "{key} {told_s} {truth_s}"
        );
    }
    let unknown = plan("X9");
    assert_eq!(unknown.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&unknown.stderr).contains("names the battery X9"));
}

#[test]
fn a_gap_is_named_and_its_charge_left_out() {
    let dir = tempfile::tempdir().unwrap();
    let mut torn = nimh("2026-01-01", 40.0, 0.5);
    torn.readings
        .retain(|(at_s, _)| !(300.0..600.0).contains(at_s));
    torn.write(dir.path());
    let text = in_full(dir.path(), &["N2", "--no-plots"]);
    assert!(
        text.contains("gaps          306 s without readings"),
        "{text}"
    );
    assert!(text.contains("for 306 s"), "{text}");
    // 894 s with readings at 0.3 A: a lower bound of the charge, and of the time.
    assert!(text.contains("≥74.5 mAh"), "{text}");
    assert!(text.contains("next full run at least 15 min"), "{text}");
    let session = &json(dir.path(), &[])["batteries"][0]["sessions"][0];
    let charge_ah = session["charge_ah"].as_f64().unwrap();
    assert_eq!(session["charge_and_energy_are_at_least"], true);
    assert!(
        (charge_ah - 0.3 * (1200.0 - 306.0) / 3600.0).abs() < 1e-6,
        "{session}"
    );
}

#[test]
fn a_picture_is_drawn_into_the_last_session_or_where_it_is_asked_for() {
    let dir = season();
    said(dir.path(), &["N2"]);
    assert!(
        dir.path()
            .join("2026-01-03/plots/battery-runs.png")
            .is_file()
    );
    let elsewhere = dir.path().join("pictures");
    said(dir.path(), &["N2", "--plots", elsewhere.to_str().unwrap()]);
    assert!(elsewhere.join("battery-runs.png").is_file());
}

/// Where the coil stops comes from the session's own build sheet, as `predict --evening` says it.
#[test]
fn the_coils_stop_is_drawn_in_and_refused_where_it_cannot_be_predicted() {
    let dir = season();
    // A transistor of 25 MHz lights its diode, whatever the class's own figures.
    let build = dir.path().join("2026-01-03/build.toml");
    let sheet = fs::read_to_string(&build).unwrap();
    let fast = "[circuit]\ntransition_frequency = \"25 MHz\"";
    fs::write(&build, sheet.replace("[circuit]", fast)).unwrap();
    let picture = |name: &str, more: &[&str]| {
        let at = dir.path().join(name);
        let plots = ["N2", "--plots", at.to_str().unwrap()];
        said(dir.path(), &[&plots, more].concat());
        fs::read(at.join("battery-runs.png")).unwrap()
    };
    let plain = picture("plain", &[]);
    assert_eq!(plain, picture("again", &[]));
    assert_ne!(plain, picture("with", &["--coil-stop"]));
    fs::remove_file(build).unwrap();
    let refused = run(dir.path(), &["N2", "--coil-stop"]);
    assert_eq!(refused.status.code(), Some(2));
    let stderr = String::from_utf8_lossy(&refused.stderr);
    assert!(
        stderr.contains("coil of 2026-01-03 stops: not predicted, the session has no build sheet")
            && stderr.contains("hint: draw without --coil-stop"),
        "{stderr}"
    );
    assert!(!dir.path().join("2026-01-03/plots").exists());
}

#[test]
fn several_batteries_are_compared_in_one_table_and_one_picture() {
    let dir = season();
    let mut other = nimh("2026-01-05", 31.0, 1.0);
    other.battery = "N5";
    other.write(dir.path());
    let pictures = dir.path().join("pictures");
    let text = in_full(
        dir.path(),
        &["N2", "N5", "--plots", pictures.to_str().unwrap()],
    );
    assert!(pictures.join("batteries-compared.png").is_file());
    let rows: Vec<&str> = text.lines().skip(1).take(2).collect();
    assert!(
        rows[0].starts_with("N2") && rows[1].starts_with("N5"),
        "{text}"
    );
    // The invented line crosses 7.0 V at 2.0 / 2.1 of 39 and of 31 minutes.
    assert!(
        rows[0].contains("37 min") && rows[1].contains("30 min"),
        "{text}"
    );
    let all = json(dir.path(), &["N5", "N2", "--no-plots"]);
    assert_eq!(all["batteries"].as_array().unwrap().len(), 2);
    let missing = run(dir.path(), &["N2", "N9"]);
    assert_eq!(missing.status.code(), Some(2));
    let stderr = String::from_utf8_lossy(&missing.stderr);
    assert!(stderr.contains("names the battery N9"), "{stderr}");
}

#[test]
fn a_converter_is_answered_from_its_log_and_its_step_is_a_warning() {
    let dir = tempfile::tempdir().unwrap();
    let held = |seconds: u32| -> Vec<(f64, f64)> {
        let volts_v = |second: u32| if second < 3600 { 9.02 } else { 6.7 };
        (0..seconds)
            .map(|second| (f64::from(second), volts_v(second)))
            .collect()
    };
    let session = |folder, seconds| Invented {
        folder,
        battery: "U3",
        kind: "usb-rechargeable",
        start: "full",
        readings: held(seconds),
        current_a: None,
    };
    session("2026-01-01", 3700).write(dir.path());
    session("2026-01-02", 1800).write(dir.path());
    let text = in_full(dir.path(), &["U3", "--end", "6.9V", "--no-plots"]);
    assert!(
        text.contains("not known: this battery holds its voltage until it stops"),
        "{text}"
    );
    assert!(
        text.contains("From the log: 30 min in, 24 to 36 min left"),
        "{text}"
    );
    session("2026-01-03", 3630).write(dir.path());
    let text = in_full(dir.path(), &["U3", "--end", "6V", "--no-plots"]);
    assert!(text.contains("Its output stepped down at 60 min"), "{text}");
}

#[test]
fn a_battery_without_its_own_run_rests_on_shipped_curves_and_says_what_they_are() {
    let dir = tempfile::tempdir().unwrap();
    let truth = &shipped::finished(Kind::LiIon2s)[2];
    let half_s = truth.run_s / 2.0;
    let so_far = truth
        .samples
        .iter()
        .take_while(|one| one.running_s < half_s);
    Invented {
        folder: "2026-01-01",
        battery: "L1",
        kind: "li-ion-2s",
        start: "full",
        readings: so_far.map(|one| (one.running_s, one.volts_v)).collect(),
        current_a: None,
    }
    .write(dir.path());
    let text = in_full(dir.path(), &["L1", "--no-plots"]);
    assert!(
        text.contains("27 simulated lithium-ion curves, none"),
        "{text}"
    );
    let outlook = &json(dir.path(), &["L1", "--no-plots"])["outlook"];
    let left_s = truth.run_s - outlook["elapsed_s"].as_f64().unwrap();
    assert!(
        outlook["low_s"].as_f64().unwrap() < left_s && left_s < outlook["high_s"].as_f64().unwrap()
    );
}

#[test]
fn charge_at_another_current_is_told_inside_the_fit_and_refused_outside() {
    let dir = season();
    let mut fast = nimh("2026-01-04", 20.0, 1.0);
    fast.current_a = Some(0.5);
    fast.write(dir.path());
    let inside = in_full(dir.path(), &["N2", "--no-plots", "--at", "400mA"]);
    assert!(inside.contains("(Peukert, exponent "), "{inside}");
    let outside = in_full(dir.path(), &["N2", "--no-plots", "--at", "1A"]);
    assert!(
        outside.contains("not known: current 1.00 A: outside the fit, expected 300 mA to 500 mA"),
        "{outside}"
    );
}

#[test]
fn two_readings_give_a_resistance_and_a_short_circuit_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let test = ["--open", "9.42V", "--loaded", "8.60V", "--current", "0.3A"];
    let text = in_full(dir.path(), &test);
    assert!(
        text.contains("2.73 Ω") && text.contains("take it"),
        "{text}"
    );
    let refused = run(
        dir.path(),
        &["--open", "9.2V", "--loaded", "0V", "--current", "4.6A"],
    );
    assert_eq!(refused.status.code(), Some(2));
    let stderr = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(
        stderr.contains("must never be tested by a short circuit"),
        "{stderr}"
    );
}

#[test]
fn the_back_test_prints_a_table_a_kind_and_one_for_each_battery_with_runs() {
    let dir = season();
    let tables = json(dir.path(), &["--backtest"]);
    let headings: Vec<&str> = tables["tables"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|one| one["heading"].as_str())
        .collect();
    assert_eq!(
        headings,
        [
            "li-ion-2s: 18 runs of simulated lithium-ion curves, voltage only",
            "li-ion-2s: 18 runs of simulated lithium-ion curves, voltage, current and printed charge",
            "alkaline: 13 runs of synthetic alkaline-like curves, voltage only",
            "N2: its own 2 full runs",
        ]
    );
    let plans = tables["plans"].as_array().unwrap();
    assert!(plans.len() > 10, "{plans:?}");
    let text = in_full(dir.path(), &["--backtest"]);
    assert!(
        text.contains("li-ion-2s: time on one charge of simulated runs"),
        "{text}"
    );
}

#[test]
fn an_unknown_battery_is_a_fault_with_a_hint() {
    let dir = season();
    let refused = run(dir.path(), &["X9"]);
    assert_eq!(refused.status.code(), Some(2));
    let stderr = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(
        stderr.contains("names the battery X9") && stderr.contains("hint: "),
        "{stderr}"
    );
}

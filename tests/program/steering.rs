//! Text from outside that would steer a terminal or turn what is read: fed in by every way there is, and never shown raw.
//!
//! The sequences are those of ISO 6429 / ECMA-48 (control sequence introducer, also as the single character U+009B) and of
//! common terminals (operating system command), from memory; the directional characters are those of Unicode Standard
//! Annex #9.

use std::fs;
use std::io::Write as _;
use std::path::Path;

use sagtrace::bench::Instrument;
use sagtrace::bench::world::World;
use sagtrace::figure::{Axis, Figure, Mark, Panel, Quantity, Role, Series, Stretch, Stroke};
use sagtrace::plot;
use sagtrace::units::{Span, Unit};

use crate::common::{Desk, Ended, Running, wait_until};
use crate::line::device;

/// A title for the window, an emptied screen by two ways, and a turned line.
const EVIL: &str = "\u{1b}]0;x\u{7}\u{1b}[2J\u{9b}2J\u{202e}lioc\u{200f}\u{2066}";

/// How it is shown.
const SHOWN: &str = r"\u001b]0;x\u0007\u001b[2J\u009b2J\u202elioc\u200f\u2066";

fn is_raw(c: char) -> bool {
    let turns = matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    turns || (c.is_control() && c != '\n')
}

fn assert_clean(what: &str, text: &str) {
    let raw: Vec<char> = text.chars().filter(|c| is_raw(*c)).collect();
    assert!(raw.is_empty(), "{what}: {raw:?} in {text:?}");
}

/// What was shown on both streams, which is clean.
fn shown(ended: &Ended) -> String {
    let all = format!("{}\n{}", ended.stdout, ended.stderr);
    assert_clean("shown", &all);
    assert!(!all.contains("\nforged"), "{all}");
    all
}

/// A counter that puts what steers a terminal into all that it says.
#[derive(Debug)]
struct Stinging {
    heard: Vec<u8>,
    complaints: u32,
}

impl Instrument for Stinging {
    fn hear(&mut self, bytes: &[u8], _world: &World, _elapsed_s: f64) -> Vec<Vec<u8>> {
        let mut answers = Vec::new();
        for &byte in bytes {
            self.heard.push(byte);
            if byte != b'\n' {
                continue;
            }
            let line = String::from_utf8(std::mem::take(&mut self.heard)).unwrap();
            answers.extend(match line.trim_end() {
                "*IDN?" => Some(format!("maker,{EVIL},0,1\n")),
                "*OPC?" => Some("1\n".to_owned()),
                "SYST:ERR?" if self.complaints > 0 => {
                    self.complaints -= 1;
                    Some(format!("-113,\"{EVIL}\"\n"))
                }
                "SYST:ERR?" => Some("0,\"No error\"\n".to_owned()),
                "MEAS:VOLT:DC?" => Some("8.9\n".to_owned()),
                "MEAS:FREQ?" => {
                    self.complaints = 1;
                    None
                }
                _ => None,
            });
        }
        answers.into_iter().map(String::into_bytes).collect()
    }
}

fn stinging() -> sagtrace::bench::pty::Device {
    let heard = Vec::new();
    device(
        Stinging {
            heard,
            complaints: 0,
        },
        Vec::new(),
    )
}

#[test]
fn an_instruments_words_and_a_persons_marks_are_shown_as_escapes_and_kept_as_they_came() {
    let (desk, counter) = (Desk::new(), stinging());
    let address = format!("quick-scpi-counter@serial:{}", counter.path().display());
    let dry = desk.run(&["record", "-i", &address, "--dry-run"]);
    shown(&dry);
    let (reader, mut input) = std::io::pipe().unwrap();
    let args = [
        "record", "--show", "rows", "-o", "out", "-i", &address, "--every", "50ms",
    ];
    let mut running = Running::start(desk.command(&args).stdin(reader));
    running.wait_for("a refusal", |line| line.contains(",refused,"));
    writeln!(input, "{EVIL}").unwrap();
    wait_until("the mark is taken", || {
        running.stderr().contains("marked: ")
    });
    let all = shown(&running.interrupt());
    assert!(all.contains(&format!("is maker,{SHOWN},0,1")), "{all}");
    assert!(all.contains(&format!("marked: {SHOWN}")), "{all}");
    assert!(all.contains(r"\u202elioc\u200f"), "{all}");
    let kept: toml::Table = toml::from_str(&desk.read("out/session.toml")).unwrap();
    assert_eq!(
        kept["instrument"][0]["identity"].as_str(),
        Some(&*format!("maker,{EVIL},0,1"))
    );
    for args in [
        &["compare", "out"][..],
        &["compare", "out", "--format", "json"],
        &["check", "out"],
    ] {
        let all = shown(&desk.run(args));
        assert!(!all.contains("panic"), "{all}");
    }
    assert_clean(
        "ports",
        &shown(&desk.run(&[
            "ports",
            "--identify",
            "--path",
            &counter.path().to_string_lossy(),
        ])),
    );
}

#[test]
fn what_stands_in_a_session_folder_is_shown_as_escapes() {
    let desk = Desk::new();
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data/evening");
    // The folder's own name, too.
    let name = format!("{EVIL}\nforged");
    let dir = desk.path().join("sessions").join(&name);
    fs::create_dir_all(&dir).unwrap();
    for file in ["session.toml", "build.toml", "samples.csv", "marks.csv"] {
        fs::copy(sample.join(file), dir.join(file)).unwrap();
    }
    let mut meta: toml::Table =
        toml::from_str(&fs::read_to_string(dir.join("session.toml")).unwrap()).unwrap();
    for key in ["build", "battery", "note", "program"] {
        meta.insert(key.to_owned(), name.clone().into());
    }
    meta["instrument"][0]["identity"] = toml::Value::from(name.clone());
    fs::write(dir.join("session.toml"), toml::to_string(&meta).unwrap()).unwrap();
    let marks = format!("timestamp,elapsed_s,text\n2026-01-31T19:04:05.678Z,61.5,\"{name}\"\n");
    fs::write(dir.join("marks.csv"), marks).unwrap();
    let samples = fs::read_to_string(dir.join("samples.csv")).unwrap();
    let mut lines: Vec<String> = samples.lines().map(str::to_owned).collect();
    let (read, _) = lines[40].rsplit_once(",ok,").unwrap();
    lines[40] = format!("{read},silent,{EVIL}");
    fs::write(dir.join("samples.csv"), lines.join("\n") + "\n").unwrap();
    let path = dir.to_string_lossy().into_owned();
    let build = format!(r"{SHOWN}\u000aforged");
    let told = |args: &[&str]| shown(&desk.run(args));
    let compared = told(&["compare", &path]);
    assert!(compared.contains(&build), "{compared}");
    assert!(compared.contains("drawn to "), "{compared}");
    told(&["compare", &path, "--no-plots", "--format", "json"]);
    told(&["check", &path]);
    told(&["check", &path, "--format", "json"]);
    for more in [&[][..], &["--format", "json"]] {
        let listed = told(&[&["battery", "--sessions", "sessions"][..], more].concat());
        assert!(listed.contains(r"\u001b]0;x"), "{listed}");
    }
    let one = format!(r"{SHOWN}\u000aforged");
    told(&["battery", "--sessions", "sessions", &one]);
    // A copy keeps what the session has.
    told(&["check", &path, "--repair"]);
}

#[test]
fn keys_and_values_of_files_are_shown_as_escapes_each_fault_in_its_line() {
    let desk = Desk::new();
    // A string of JSON is one of TOML.
    let quoted = serde_json::to_string(&format!("{EVIL}\nforged")).unwrap();
    let sheet = include_str!("../../sample-data/glow-pillar.toml")
        .replacen("name = \"glow pillar\"", &format!("name = {quoted}"), 1)
        .replacen("\"16 mm\"", &quoted, 1)
        + &format!("\n[{quoted}]\n{quoted} = 1\n");
    desk.file("evil.toml", &sheet);
    let all = shown(&desk.run(&["sheet", "check", "evil.toml"]));
    assert!(
        all.contains(&format!(r"{SHOWN}\u000aforged: unknown key")),
        "{all}"
    );
    desk.file("settings.toml", &format!("{quoted} = 2\n"));
    shown(&desk.run(&["--config", "settings.toml", "ports"]));
    desk.file(
        "sagtrace/devices/evil.toml",
        &format!("schema = 1\nname = {quoted}\n{quoted} = 1\n"),
    );
    shown(&desk.run(&["record", "-i", "evil@serial:nowhere"]));
    // A name that only turns the line is a name.
    let name = "\u{202e}lioc";
    let sheet = include_str!("../../sample-data/glow-pillar.toml").replacen(
        "name = \"glow pillar\"",
        &format!("name = \"{name}\""),
        1,
    );
    desk.file("turned.toml", &sheet);
    let card = shown(&desk.run(&["predict", "turned.toml", "--card", "--plot", "page"]));
    assert!(card.contains(r"\u202elioc"), "{card}");
    let svg = desk.read("page/card.svg");
    assert_clean("the page", &svg);
    assert!(svg.contains(r"\u202elioc"), "{svg}");
}

#[test]
fn what_was_typed_or_stands_in_the_surroundings_is_shown_as_escapes() {
    let desk = Desk::new();
    for args in [
        &["compare", EVIL][..],
        &["sheet", "check", EVIL],
        // What names no option or command is repeated by the reader of the arguments, which drops most of it.
        &["compare", "out", "--fit", EVIL],
        &["record", "-i", EVIL],
        &[EVIL],
    ] {
        let ended = desk.run(args);
        assert_eq!(ended.code, Some(2), "{args:?}");
        let all = shown(&ended);
        let is_path = !all.contains("try '--help'");
        assert!(
            !is_path || all.contains(r"\u001b]0;x\u0007"),
            "{args:?}: {all}"
        );
    }
    let mut help = desk.command(&["record", "--help"]);
    help.env("SAGTRACE_SESSIONS", EVIL)
        .env("SAGTRACE_INSTRUMENT", EVIL);
    shown(&Running::start(&mut help).end());
}

#[test]
fn a_picture_has_the_escape_in_its_words() {
    let words = || format!("{EVIL} and so on");
    let figure = Figure {
        title: words(),
        caption: vec![words()],
        stamp: Some(words()),
        x: Axis::new(&words(), Quantity::Elapsed),
        panels: vec![Panel {
            y: Axis::new(&words(), Quantity::Si(Unit::Hertz)),
            series: vec![Series {
                label: words(),
                role: Role::Measured,
                stroke: Stroke::Line,
                pieces: vec![(0..10).map(|x| (f64::from(x), f64::from(x))).collect()],
            }],
            bands: Vec::new(),
        }],
        spans: vec![Stretch {
            label: words(),
            x: Span::new(3.0, 4.0),
        }],
        marks: vec![Mark {
            at: 2.0,
            text: words(),
        }],
    };
    let svg = plot::svg(&figure, plot::usual_size(&figure)).unwrap();
    assert_clean("a picture", &svg);
    assert!(svg.contains(r"\u001b]0;x\u0007"), "{svg}");
    assert!(
        !plot::png(&figure, plot::usual_size(&figure))
            .unwrap()
            .is_empty()
    );
}

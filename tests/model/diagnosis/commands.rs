//! The commands themselves: `diagnose` on options and typed answers, and what `predict` says before.

use super::*;

/// The program with a cache folder in which the library of a build lies ready.
fn program(cache: &Path, name: &str) -> Command {
    let folder = cache.join("sagtrace");
    fs::create_dir_all(&folder).unwrap();
    fs::copy(
        library_file(name),
        folder.join(kept::file_name(&build(name), Effort::QUICK)),
    )
    .unwrap();
    let mut program = Command::new(env!("CARGO_BIN_EXE_sagtrace"));
    program
        .env("XDG_CACHE_HOME", cache)
        .env_remove("SAGTRACE_CONFIG")
        .arg("diagnose")
        .arg(scenarios().join(name).with_extension("toml"))
        .arg("--quick");
    program
}

fn streams(program: &mut Command, typed: &str) -> (String, String) {
    let mut child = program
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child
        .stdin
        .take()
        .unwrap()
        .write_all(typed.as_bytes())
        .unwrap();
    let output = child.wait_with_output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    let (out, errors) = (text(output.stdout), text(output.stderr));
    assert!(output.status.success(), "{out}{errors}");
    (out, errors)
}

/// Common practice, no source: with a dark LED the two primary wires are swapped before anything else.
#[test]
fn at_a_terminal_it_asks_one_thing_at_a_time_and_a_dark_led_is_told_to_swap_the_primary() {
    let cache = tempfile::tempdir().unwrap();
    let mut asked = program(cache.path(), "pillar-medium");
    let (out, errors) = streams(
        asked.args(["--ask", "--detail"]),
        "no\ndark\nperhaps\nlit\n\n\n\n\n",
    );
    let place = |what: &str| {
        errors
            .find(what)
            .unwrap_or_else(|| panic!("{what}: {errors}"))
    };
    assert!(place("Has this build ever run?") < place("Look at the LED"));
    assert!(place("Look at the LED") < place("Swap the two primary wires"));
    assert!(
        errors.contains("\"perhaps\" can't be taken for it."),
        "{errors}"
    );
    assert!(out.contains("primary the wrong way round"), "{out}");
    assert!(
        out.split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
            .contains(Caution::Probe.words()),
        "{out}"
    );
    for line in out.lines() {
        assert!(line.chars().count() <= 98, "{line}");
    }
}

/// Common practice, no source: what did not help is undone before the next reading.
#[test]
fn a_swap_in_vain_is_put_back_and_what_is_read_then_is_as_found_again() {
    let cache = tempfile::tempdir().unwrap();
    let mut asked = program(cache.path(), "pillar-medium");
    asked.args(["--ask", "-r", "battery=9.4", "-r", "lamp=dark"]);
    // Never ran, dark, swapped and dark again; then whatever is asked for is unknown.
    let (out, errors) = streams(&mut asked, "no\ndark\ndark\n\n\n\n\n\n\n");
    println!("{errors}\n{out}");
    let joined = errors.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(
        joined
            .matches("First put the two primary wires back as they were, battery out")
            .count(),
        1,
        "{errors}"
    );
    let (_, behind) = joined.split_once("First put the two").unwrap();
    assert!(!behind.contains("as they are now, swapped"), "{errors}");
    assert!(
        !out.contains("put the two primary wires back"),
        "said already: {out}"
    );

    // The same in one go says it as the next step.
    let library = library_of("pillar-medium");
    let dark = "ran_before = \"never\"\n[found]\nled = \"dark\"\n[swapped]\nled = \"dark\"\nlamp = \"dark\"\ncurrent = \"50 mA\"\n";
    let text = printed(&answered(&library, dark));
    assert!(
        text.contains(" next put the two primary wires back"),
        "{text}"
    );
    let lit = "ran_before = \"never\"\n[found]\nled = \"dark\"\n[swapped]\nled = \"lit\"\n";
    let text = printed(&answered(&library, lit));
    assert!(!text.contains("put the two primary wires back"), "{text}");
    assert!(
        text.contains("readings from now on have swapped. before their name"),
        "{text}"
    );
}

#[test]
fn more_than_an_ampere_is_switched_off_first_and_only_checks_without_power_follow() {
    let library = library_of("pillar-medium");
    let over = "ran_before = \"never\"\n[found]\nled = \"dark\"\ncurrent = \"1.42 A\"\n";
    let collapsed =
        "[found]\nled = \"dark\"\nbattery_open = 9.3\nbattery = 5.2\ncurrent = \"0.8 A\"\n";
    for text in [over, collapsed] {
        let told = answered(&library, text);
        assert!(!told.1.next.is_empty());
        for next in &told.1.next {
            assert!(next.check.is_unpowered(), "{}", next.check.key);
        }
        assert!(printed(&told).starts_with("Switch off now, battery out: "));
    }
    let tired =
        "[found]\nled = \"dark\"\nbattery_open = 9.3\nbattery = 5.2\ncurrent = \"200 mA\"\n";
    assert_eq!(answered(&library, tired).1.danger, None);

    // In a dialogue it is said as soon as it is read.
    let cache = tempfile::tempdir().unwrap();
    let mut asked = program(cache.path(), "pillar-medium");
    asked.args(["--ask", "-r", "current=1.42A"]);
    let (out, errors) = streams(&mut asked, "no\n\n\n\n\n\n\n");
    println!("{errors}\n{out}");
    assert!(
        errors.contains("Switch off now, battery out: 1.4 A"),
        "{errors}"
    );
    assert!(
        !errors.contains("Look at the LED") && !errors.contains("Swap"),
        "{errors}"
    );
    assert!(out.starts_with("Switch off now"), "{out}");
}

#[test]
fn readings_as_options_give_the_same_as_json() {
    let cache = tempfile::tempdir().unwrap();
    let mut given = program(cache.path(), "pillar-medium");
    given.args([
        "--ran-before",
        "never",
        "-r",
        "led=dark",
        "-r",
        "current=50mA",
    ]);
    given.args([
        "-r",
        "foot_to_top=open",
        "-r",
        "wire_to_top=12.5 ohm",
        "--format",
        "json",
    ]);
    let (out, _) = streams(&mut given, "");
    let document: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(document["schema"], 1);
    assert_eq!(document["causes"][0]["cause"], "foot-enamel");
    assert_eq!(document["readings"][1]["value_si"], 0.05);
    assert!(document["run"].is_null());
}

/// What `predict` prints of a sheet.
fn predicted(sheet: &Path, more: &[&str]) -> String {
    let mut program = Command::new(env!("CARGO_BIN_EXE_sagtrace"));
    program
        .env_remove("SAGTRACE_CONFIG")
        .arg("predict")
        .arg(sheet)
        .args(more);
    let output = program.output().unwrap();
    assert!(output.status.success(), "{output:?}");
    let text = String::from_utf8(output.stdout).unwrap();
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Three batteries in series: common practice, no source.
#[test]
fn three_batteries_in_series_are_warned_of_where_a_build_has_them() {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data");
    let arcs = &Caution::ThreeBatteries.with_source();
    for more in [&["--detail"][..], &["--card"]] {
        let plate = predicted(&samples.join("glow-plate.toml"), more);
        assert!(plate.contains(arcs), "{plate}");
    }
    let pillar = predicted(&samples.join("glow-pillar.toml"), &["--card"]);
    assert!(!pillar.contains(arcs), "{pillar}");
}

#[test]
fn the_card_of_a_reversed_sheet_expects_what_the_way_that_works_gives() {
    let sheet = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data/glow-pillar.toml");
    let text = fs::read_to_string(&sheet).unwrap();
    let dir = tempfile::tempdir().unwrap();
    let reversed = dir.path().join("reversed.toml");
    let turned = if text.contains("\"top-side\"") {
        text.replace("\"top-side\"", "\"foot-side\"")
    } else {
        text.replace("\"foot-side\"", "\"top-side\"")
    };
    assert_ne!(turned, text);
    fs::write(&reversed, turned).unwrap();
    let steps = |card: &str| {
        let (_, steps) = card.split_once("supply current").expect("a step");
        steps.to_owned()
    };
    let (right, wrong) = (
        predicted(&sheet, &["--card"]),
        predicted(&reversed, &["--card"]),
    );
    assert!(wrong.contains("the other way round"), "{wrong}");
    assert_eq!(steps(&wrong), steps(&right));
}

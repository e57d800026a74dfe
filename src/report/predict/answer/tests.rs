use super::*;
use crate::circuit::outlook::Outlook;
use crate::coil::predict::predict;
use crate::report::predict::start::tests::{MEASURED, marginal};
use crate::sheet;

const PILLAR: &str = include_str!("../../../../sample-data/glow-pillar.toml");
const PLATE: &str = include_str!("../../../../sample-data/glow-plate.toml");

fn commands(sheet: &str) -> Commands {
    Commands::new(sheet.as_ref(), ["predict", sheet].map(Into::into))
}

/// The answer for a sheet, which fits on a screen and breaks no number from its unit.
fn answered(toml: &str) -> String {
    let sheet = sheet::parse(toml).unwrap();
    let prediction = predict(&sheet.coil_spec()).unwrap();
    let sets = sheet.circuit_sets(&prediction);
    let computed = sets
        .map_err(|why| why.to_string())
        .map(|sets| (Outlook::of(&sets.specs).unwrap(), sets));
    let start = computed.as_ref().map(|(outlook, sets)| Start {
        class: sheet.circuit.transistor,
        sheet: &sheet,
        outlook,
        assumptions: &sets.assumptions,
        shown: sets.shown.as_ref(),
    });
    let start = start.as_ref().map_err(|why| why.as_str());
    let text = answer(&sheet, &prediction, start, &commands("pillar.toml"), 80);
    fits(&text);
    text
}

pub(super) fn fits(text: &str) {
    assert!(text.lines().count() <= 12, "{text}");
    for row in text.lines() {
        assert!(row.chars().count() <= 80, "{row}");
    }
    assert!(!text.contains('\u{a0}'), "{text}");
    assert!(!text.contains("left out"), "{text}");
    let last = text.lines().last().unwrap();
    assert!(
        last.starts_with("more: ") && last.ends_with(" --detail"),
        "{text}"
    );
}

#[test]
fn the_samples_are_answered_in_words() {
    insta::assert_snapshot!("pillar", answered(PILLAR));
    insta::assert_snapshot!("measured", answered(MEASURED));
    insta::assert_snapshot!("plate", answered(PLATE));
}

#[test]
fn a_marginal_build_says_what_it_depends_on_and_what_to_change() {
    insta::assert_snapshot!("marginal", answered(&marginal()));
    let slow = MEASURED.replace("power-to220", "power-to3");
    insta::assert_snapshot!("slow", answered(&slow));
}

#[test]
fn a_dead_build_says_first_what_it_lacks() {
    let reversed = MEASURED.replace("\"top-side\"", "\"foot-side\"");
    insta::assert_snapshot!("reversed", answered(&reversed));
    let loose = MEASURED.replace("coupling = 0.2", "coupling = 0.002");
    assert_ne!(loose, MEASURED);
    insta::assert_snapshot!("loose", answered(&loose));
}

#[test]
fn a_circuit_that_was_not_computed_says_why_and_is_not_called_safe() {
    let sheet = sheet::parse(PILLAR).unwrap();
    let prediction = predict(&sheet.coil_spec()).unwrap();
    let text = answer(&sheet, &prediction, Err("a reason"), &commands("-"), 80);
    insta::assert_snapshot!("not-computed", text);
    fits(&text);
}

#[test]
fn a_narrow_window_keeps_the_warnings_and_the_commands() {
    let sheet = sheet::parse(PILLAR).unwrap();
    let prediction = predict(&sheet.coil_spec()).unwrap();
    let sets = sheet.circuit_sets(&prediction).unwrap();
    let outlook = Outlook::of(&sets.specs).unwrap();
    let start = Start {
        class: sheet.circuit.transistor,
        sheet: &sheet,
        outlook: &outlook,
        assumptions: &sets.assumptions,
        shown: None,
    };
    for width in [60, 50, 40, 30] {
        let text = answer(&sheet, &prediction, Ok(&start), &commands("p.toml"), width);
        assert!(text.lines().count() <= 23, "{text}");
        let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
        for said in ["DO NOT SWITCH IT ON", "it burns", "implants"] {
            assert!(words.contains(said), "{width}: {text}");
        }
        assert!(text.ends_with(" --detail\n"), "{text}");
        assert!(
            width < 40 || words.contains("resonates near 6.2 MHz"),
            "{text}"
        );
    }
}

#[test]
fn the_command_is_repeated_as_it_was_typed() {
    let typed = [
        "predict",
        "my pillar.toml",
        "--earth",
        "held",
        "--pickup",
        "stub 5cm at 30cm",
    ];
    let commands = Commands::new("my pillar.toml".as_ref(), typed.map(Into::into));
    assert_eq!(commands.sheet, "'my pillar.toml'");
    assert_eq!(
        commands.detail(),
        "sagtrace predict 'my pillar.toml' --earth held --pickup 'stub 5cm at 30cm' --detail"
    );
}

use super::*;
use crate::sheet;

const MEASURED: &str = include_str!("../../../sample-data/glow-pillar-measured.toml");

fn walk(from: &str, changes: &[(&str, &str)]) -> Walk {
    let mine = sheet::parse(from).unwrap();
    let text = changes
        .iter()
        .fold(from.to_owned(), |text, (line, instead)| {
            assert!(text.contains(line), "{line}");
            text.replace(line, instead)
        });
    Walk::of(&mine, &sheet::parse(&text).unwrap())
}

#[test]
fn a_reversed_primary_is_the_first_of_several_differences_and_only_it_stops_the_start() {
    let walk = walk(
        MEASURED,
        &[
            (
                "collector_end = \"top-side\"",
                "collector_end = \"foot-side\"",
            ),
            ("bias_resistor = \"22 kohm\"", "bias_resistor = \"47 kohm\""),
            ("q = 100", "q = 80"),
        ],
    );
    let names: Vec<_> = walk.differences.iter().map(|one| one.what).collect();
    assert_eq!(names[0], "primary: end at the collector");
    assert_eq!(names.len(), 3);
    let starts: Vec<_> = walk
        .differences
        .iter()
        .map(|one| one.outcome.as_ref().unwrap().growth_per_s > 0.0)
        .collect();
    assert_eq!(starts, [false, true, true]);
    let theirs = walk.theirs.unwrap();
    assert!(theirs.growth_per_s < 0.0 && theirs.start_margin.is_none());
}

/// The loop's gain goes as Q: by the rule 0.8 of the Q leaves 0.8 of the margin, but for the base's own resistance.
#[test]
fn a_lower_q_takes_its_share_of_the_start_margin() {
    let walk = walk(MEASURED, &[("q = 100", "q = 80")]);
    let margin = |one: &Result<Outcome, NotComputed>| one.as_ref().unwrap().start_margin.unwrap();
    let ratio = margin(&walk.differences[0].outcome) / margin(&walk.mine);
    assert!((ratio - 0.8).abs() < 0.03, "{ratio}");
    assert_eq!(walk.differences[0].outcome, walk.theirs);
}

#[test]
fn two_copies_of_a_sheet_do_not_differ() {
    let walk = walk(MEASURED, &[]);
    assert_eq!(walk.differences, []);
    assert_eq!(walk.mine, walk.theirs);
}

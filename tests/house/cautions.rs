//! Holds README's and the guide's pages of safety to the table of cautions.

use std::collections::BTreeSet;
use std::path::Path;

use sagtrace::caution::Caution;

fn read(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(name);
    std::fs::read_to_string(path).expect("the file is there")
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The points of a text, each on one line.
fn points(text: &str) -> Vec<String> {
    let parts = text.replace("\n- ", "\n\n- ");
    let parts = parts.split("\n\n").map(one_line);
    let points = parts.filter_map(|part| part.strip_prefix("- ").map(str::to_owned));
    points.collect()
}

/// What the program is, and whom to ask first.
fn first() -> String {
    let words = Caution::together(&[Caution::MeasuresOnly, Caution::CodesFirst]);
    format!("**{words}**")
}

#[test]
fn the_guide_has_every_caution_word_for_word_with_its_source_and_no_other() {
    let page = read("src/guide/safety.md");
    assert!(one_line(&page).contains(&first()));
    let (_, rest) = page.split_once("\n## People\n").expect("it begins");
    let (listed, _) = rest
        .split_once("\n## Published reference levels\n")
        .expect("it ends");
    let all = Caution::ALL.iter().copied();
    let wanted: BTreeSet<String> = all
        .filter(|one| !matches!(one, Caution::MeasuresOnly | Caution::CodesFirst))
        .map(Caution::with_source)
        .collect();
    let listed: BTreeSet<String> = points(listed).into_iter().collect();
    let missing: Vec<_> = wanted.difference(&listed).collect();
    let foreign: Vec<_> = listed.difference(&wanted).collect();
    assert!(
        missing.is_empty() && foreign.is_empty(),
        "missing: {missing:#?}\nnone of the table: {foreign:#?}"
    );
}

#[test]
fn readme_begins_with_the_gravest_cautions_word_for_word() {
    let readme = read("README.md");
    let (_, rest) = readme.split_once("\n## Cautions\n").expect("it is there");
    let (section, _) = rest.split_once("\n## ").expect("another follows");
    assert!(one_line(section).starts_with(&first()));
    let gravest = [Caution::Touch, Caution::Unplug, Caution::Implants];
    assert_eq!(points(section), gravest.map(Caution::with_source));
    assert!(section.contains("sagtrace cautions") && section.contains("src/guide/safety.md"));
}

#[test]
fn each_caution_is_said_once_and_says_where_it_comes_from() {
    for (index, one) in Caution::ALL.iter().enumerate() {
        assert!(!one.source().is_empty(), "{one:?}");
        let others = Caution::ALL[index + 1..].iter();
        let again = others.filter(|other| other.words() == one.words());
        assert_eq!(again.count(), 0, "{one:?}");
    }
}

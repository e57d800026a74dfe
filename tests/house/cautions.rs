//! Holds README's section on safety to the table of cautions.

use std::path::Path;

use sagtrace::caution::Caution;

/// The section's paragraphs and points, each on one line.
fn section() -> Vec<String> {
    let readme = Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md");
    let text = std::fs::read_to_string(readme).expect("the file is there");
    let (_, rest) = text
        .split_once("\n## Cautions\n")
        .expect("the section is there");
    let (section, _) = rest.split_once("\n## ").expect("another follows");
    let parts = section.replace("\n- ", "\n\n");
    let one_line = |part: &str| part.split_whitespace().collect::<Vec<_>>().join(" ");
    let parts = parts.split("\n\n").map(one_line);
    parts.filter(|part| !part.is_empty()).collect()
}

#[test]
fn readme_has_the_cautions_of_the_table_word_for_word_with_their_sources() {
    let first = Caution::together(&[Caution::MeasuresOnly, Caution::CodesFirst]);
    let wanted: Vec<String> = [format!("**{first}**")]
        .into_iter()
        .chain(Caution::for_everybody().map(Caution::with_source))
        .collect();
    assert_eq!(section(), wanted, "it would be:\n\n{}", wanted.join("\n- "));
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

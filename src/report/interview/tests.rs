use super::*;
use crate::coil::rings::RingError;
use crate::sheet::interview::QUESTIONS;

const ANSWERS: [(&str, &str); 16] = [
    ("name", "glow pillar"),
    ("coil.former_diameter", "16 mm"),
    ("coil.former", "rod"),
    ("coil.wire", "0.2 mm"),
    ("coil.turns", "450"),
    ("primary.turns", "3"),
    ("primary.former_diameter", "20 mm"),
    ("primary.wire", "1 mm"),
    ("primary.position", "30 mm"),
    ("top.shape", "toroid"),
    ("top.diameter", "40 mm"),
    ("top.tube_diameter", "10 mm"),
    ("top.gap", "3 mm"),
    ("usual.plane", "metal"),
    ("usual.plane_distance", "30 mm"),
    ("usual.hand", "80 mm"),
];

/// Answers all questions and shows the interview before each and at its end.
fn walked(mut each: impl FnMut(&Interview)) -> Interview {
    let mut interview = Interview::default();
    while let Some(question) = interview.question() {
        each(&interview);
        let line = ANSWERS.iter().find(|(key, _)| *key == question.key);
        interview.take(line.map_or("", |(_, line)| line)).unwrap();
    }
    each(&interview);
    interview
}

#[test]
fn the_picture_grows_with_the_answers_and_stays_small() {
    let mut pictures: Vec<String> = Vec::new();
    walked(|interview| {
        let seen = picture(interview).unwrap_or_default();
        if pictures.last() != Some(&seen) {
            pictures.push(seen);
        }
    });
    for seen in &pictures {
        assert!(seen.lines().count() <= 14, "{seen}");
        assert!(
            seen.lines().all(|line| line.chars().count() <= 60),
            "{seen}"
        );
    }
    insta::assert_snapshot!("pictures", pictures.join("\n"));
}

#[test]
fn a_primary_inside_the_secondary_is_drawn_there() {
    let mut inside = Interview::default();
    for line in [
        "", "40 mm", "", "0.2 mm", "", "300", "", "3", "30 mm", "1 mm", "", "-5 mm",
    ] {
        inside.take(line).unwrap();
    }
    insta::assert_snapshot!("inside", picture(&inside).unwrap());
}

#[test]
fn every_question_fits_a_terminal_of_80_columns_and_24_lines() {
    for question in QUESTIONS {
        let asked = prompt(&Interview::default(), question, 80);
        assert!(asked.lines().count() <= 14, "{asked}");
        assert!(
            asked.lines().all(|line| line.chars().count() <= 80),
            "{asked}"
        );
    }
}

#[test]
fn the_answer_says_what_is_predicted_what_is_assumed_and_what_comes_next() {
    let interview = walked(|_| {});
    let sheet = interview.sheet().unwrap();
    let found = sheet.prediction();
    let path = Path::new("glow pillar.toml");
    let text = answer(&interview, &sheet, found.as_ref(), path, 80);
    assert!(text.lines().count() <= 12, "{text}");
    insta::assert_snapshot!("answer", text);
    let why = RingError::Crowded.into();
    let text = answer(&interview, &sheet, Err(&why), path, 80);
    insta::assert_snapshot!("answer-unpredicted", text);
}

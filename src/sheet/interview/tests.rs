use super::*;
use crate::battery::kind::Kind;
use crate::circuit::parts::TransistorClass;
use crate::coil::predict::predict;

/// The questions that must be answered, so that nothing is invented.
const NEEDED: [(&str, &str); 4] = [
    ("coil.former_diameter", "16 mm"),
    ("coil.wire", "0.2 mm"),
    ("coil.turns", "450"),
    ("primary.turns", "3"),
];

/// Answers questions by their keys until `stop`, each other with Enter.
fn answered_until(stop: &str, answers: &[(&str, &str)]) -> Interview {
    let mut interview = Interview::default();
    while let Some(question) = interview.question().filter(|one| one.key != stop) {
        let mut all = answers.iter().chain(&NEEDED);
        let line = all.find(|(key, _)| *key == question.key);
        let line = line.map_or("", |(_, line)| *line);
        interview
            .take(line)
            .unwrap_or_else(|why| panic!("{}: {why}", question.key));
    }
    interview
}

fn answered(answers: &[(&str, &str)]) -> Interview {
    answered_until("", answers)
}

const RULER: [(&str, &str); 4] = [
    ("counted.by", "3"),
    ("counted.turns", "20"),
    ("counted.length", "5 mm"),
    ("coil.winding_length", "99 mm"),
];

#[test]
fn enter_wherever_it_may_be_pressed_gives_a_sheet_without_faults() {
    let interview = answered(&[]);
    let sheet = parse(&interview.text()).unwrap();
    assert!(predict(&sheet.coil_spec()).is_ok());
    assert!((sheet.turns() - 450.0).abs() < 1e-9);
    let unknown = |key: &str| interview.unknown().any(|(question, _)| question.key == key);
    assert!(unknown("circuit.transistor") && !unknown("coil.wire"));
    insta::assert_snapshot!("sheet-assumed", interview.text());
}

#[test]
fn a_whole_sheet_is_written_as_it_was_answered() {
    let more = [
        ("name", "club \"pillar\" 2"),
        ("coil.former", "pipe"),
        ("primary.former_diameter", "20 mm"),
        ("primary.wire", "18 AWG"),
        ("primary.over_insulation", "2 mm"),
        ("primary.position", "-5 mm"),
        ("primary.sense", "opposite"),
        ("primary.collector_end", "lower"),
        ("circuit.transistor", "TO-92"),
        ("circuit.bias_resistor", "47k"),
        ("circuit.base_diode", "3"),
        ("battery.kind", "lfp-3s"),
        ("battery.series", "2"),
        ("top.shape", "ring"),
        ("top.diameter", "40 mm"),
        ("top.tube_diameter", "10 mm"),
        ("top.gap", "3 mm"),
        ("usual.earth", "held"),
        ("usual.plane", "metal"),
        ("usual.plane_distance", "30 mm"),
        ("usual.hand", "80 mm"),
    ];
    let interview = answered(&[&RULER[..], &more].concat());
    assert_eq!(interview.unknown().count(), 0);
    let sheet = parse(&interview.text()).unwrap();
    assert_eq!(sheet.name, "club \"pillar\" 2");
    // 99 mm at 5 mm for 20 turns.
    assert!((sheet.turns() - 396.0).abs() < 1e-6);
    insta::assert_snapshot!("sheet-answered", interview.text());
}

#[test]
fn what_is_needed_stays_open_and_says_why() {
    for (key, _) in NEEDED {
        let mut interview = answered_until(key, &[]);
        let before = interview.clone().question();
        let why = interview.take(" ").unwrap_err().to_string();
        assert!(why.starts_with("This one is needed. "), "{why}");
        assert_eq!(interview.question(), before);
    }
}

#[test]
fn a_wrong_answer_is_refused_with_what_is_expected() {
    let mut said = String::new();
    for (key, line) in [
        ("coil.former_diameter", "16"),
        ("coil.former_diameter", "16 kHz"),
        ("coil.former_diameter", "16 m"),
        ("coil.former", "4"),
        ("coil.former", "gold"),
        ("coil.wire", "thin"),
        ("coil.turns", "many"),
        ("coil.turns", "0"),
        ("coil.winding_length", "20 mm"),
        ("counted.turns", "x"),
        ("primary.turns", "2.5"),
        ("primary.former_diameter", "16 mm"),
        ("circuit.bias_resistor", "1 ohm"),
        ("battery.series", "9"),
        ("usual.hand", "-5 mm"),
    ] {
        let way = if key == "counted.turns" {
            &RULER[..]
        } else {
            &[]
        };
        let mut interview = answered_until(key, way);
        let why = interview.take(line).unwrap_err();
        assert_eq!(interview.question().unwrap().key, key);
        said = format!("{said}{key} {line}\n  {why}\n");
    }
    // 40 turns of 0.2 mm have no room on 5 mm.
    let mut crowded = answered_until("counted.length", &[("counted.turns", "40"), RULER[0]]);
    let why = crowded.take("5 mm").unwrap_err();
    insta::assert_snapshot!("refused", format!("{said}counted.length 5 mm\n  {why}\n"));
}

#[test]
fn back_opens_the_question_before_and_forgets_its_answer() {
    let mut interview = answered_until("coil.wire", &[("coil.former", "rod")]);
    assert_eq!(interview.said("coil.former"), Some("rod"));
    assert!(interview.back());
    assert_eq!(interview.question().unwrap().key, "coil.former");
    assert_eq!(interview.said("coil.former"), None);
    while interview.back() {}
    assert_eq!(interview, Interview::default());
    // Another way of counting asks other questions.
    let mut ruler = answered_until("counted.length", &RULER);
    assert!(ruler.back() && ruler.back());
    ruler.take("turns").unwrap();
    assert_eq!(ruler.question().unwrap().key, "coil.turns");
}

#[test]
fn every_question_has_a_line_of_the_template_and_every_choice_is_a_word_of_the_sheet() {
    for question in QUESTIONS {
        let is_step = question.key.starts_with("counted.");
        assert!(
            is_step || fill::value(template(), question.key).is_some(),
            "{}",
            question.key
        );
        let Form::Choice(choices) = question.form else {
            continue;
        };
        for choice in choices {
            for typed in [choice.word, choice.also] {
                let mut interview = answered_until(question.key, &[]);
                interview.take(typed).unwrap();
                let said = interview.said(question.key);
                assert!(
                    said.is_none_or(|said| said == choice.word),
                    "{typed}: {said:?}"
                );
            }
        }
    }
}

#[test]
fn every_kind_of_battery_and_transistor_can_be_chosen() {
    let kinds = Kind::WORDS.map(|(word, _)| ("battery.kind", word));
    let classes = TransistorClass::WORDS.map(|(word, _)| ("circuit.transistor", word));
    for (key, word) in kinds.into_iter().chain(classes) {
        answered_until(key, &[]).take(word).unwrap();
    }
}

/// A comment that is uncommented must hold the value that the reader assumed.
#[test]
fn what_is_marked_as_assumed_is_what_the_reader_assumes() {
    for way in [&[][..], &RULER, &[("counted.by", "2"), RULER[3]]] {
        let text = answered(way).text();
        let live = |line: &str| match line.strip_prefix("# ") {
            Some(bare) if line.contains("# assumed") && !line.contains("# assumed:") => {
                bare.to_owned()
            }
            _ => line.to_owned(),
        };
        let stated: Vec<String> = text.lines().map(live).collect();
        let stated = stated.join("\n");
        assert_ne!(stated, text.trim_end());
        let [assumed, stated] = [text, stated].map(|text| {
            let sheet = parse(&text).unwrap_or_else(|faults| panic!("{faults}\n{text}"));
            sheet.prediction().unwrap().resonance
        });
        // The written lengths are rounded to a tenth of a micrometre.
        for (one, other) in [
            (assumed.value_hz, stated.value_hz),
            (assumed.low_hz, stated.low_hz),
            (assumed.high_hz, stated.high_hz),
        ] {
            assert!((one / other - 1.0).abs() < 0.03, "{one} {other}");
        }
    }
}

//! What can hurt somebody or break a part: computed once, named in every report; and one figure of a build in all of them.

use std::fs;
use std::process::Command;

use sagtrace::battery::charge::Load;
use sagtrace::battery::evening::Evening;
use sagtrace::battery::kind::Kind;
use sagtrace::battery::plan::{OfSheet, Plan, Supply};
use sagtrace::caution::Caution;
use sagtrace::circuit::hazards::{Hazard, Hazards};
use sagtrace::circuit::margin::Margins;
use sagtrace::circuit::outlook::Outlook;
use sagtrace::circuit::parts::TransistorClass;
use sagtrace::circuit::practice::Spread;
use sagtrace::circuit::pushing::Descent;
use sagtrace::circuit::verdict::{Verdict, judged};
use sagtrace::coil::predict::predict;
use sagtrace::coil::prediction::Prediction;
use sagtrace::diagnosis::answer::Answer;
use sagtrace::diagnosis::answers;
use sagtrace::diagnosis::build::Build;
use sagtrace::diagnosis::evidence::Evidence;
use sagtrace::diagnosis::kept;
use sagtrace::diagnosis::library::Effort;
use sagtrace::diagnosis::priors::Priors;
use sagtrace::report::battery::plan as battery_plan;
use sagtrace::report::card::Card;
use sagtrace::report::diagnose::form as diagnose_form;
use sagtrace::report::predict::start::{Start, StartPart};
use sagtrace::report::{self, diagnose};
use sagtrace::sheet::{self, Sheet, drive::CircuitSets};
use sagtrace::units::{Unit, rounded};

use crate::diagnosis::{library_file, library_of};

mod said;

const PILLAR: &str = include_str!("../../../sample-data/glow-pillar.toml");
const MEASURED: &str = include_str!("../../../sample-data/glow-pillar-measured.toml");
const PLATE: &str = include_str!("../../../sample-data/glow-plate.toml");
const HELD: &str = include_str!("../../scenarios/practice-held.toml");

/// A build with all that is computed of it.
struct Known {
    sheet: Sheet,
    prediction: Prediction,
    sets: CircuitSets,
    outlook: Outlook,
    hazards: Hazards,
}

impl Known {
    fn of(text: &str) -> Self {
        let sheet = sheet::parse(text).unwrap();
        let prediction = predict(&sheet.coil_spec()).unwrap();
        let sets = sheet.circuit_sets(&prediction).unwrap();
        // Without the descent, which takes longest and says nothing of hazards.
        let verdict = Verdict::of(&sets.specs).unwrap();
        let typical = verdict.set(Spread::Typical);
        let margins = Margins::of(&typical.spec, &typical.rest).unwrap();
        let outlook = Outlook {
            verdict,
            margins,
            descent: Descent::default(),
            pushing: None,
        };
        let sink = sheet.known.heat_sink_k_per_w;
        let hazards = Hazards::of(&outlook.verdict.sets, sheet.circuit.transistor, sink);
        Self {
            sheet,
            prediction,
            sets,
            outlook,
            hazards,
        }
    }

    fn predicted(&self) -> String {
        plain(&report::predict::start::text(&self.start()))
    }

    fn start(&self) -> Start<'_> {
        Start {
            class: self.sheet.circuit.transistor,
            sheet: &self.sheet,
            outlook: &self.outlook,
            assumptions: &self.sets.assumptions,
            shown: None,
        }
    }

    fn card(&self) -> String {
        let card = Card::of(&self.sheet, &self.prediction, Some(&self.outlook));
        plain(&report::card::text(&card))
    }

    fn diagnosed(&self, evidence: &Evidence) -> String {
        let library = library_of("pillar-medium");
        let answer = Answer::without_next(&library, &Priors::shipped().unwrap(), evidence);
        plain(&diagnose::text(&diagnose::Told {
            build: &self.sheet.name,
            evidence,
            answer: &answer,
            is_reversed: false,
            starts: true,
            lacks: None,
            run: None,
            hazards: Some(&self.hazards),
            battery: Some(&self.sheet.battery),
            other_battery: None,
        }))
    }

    fn form(&self) -> String {
        let form = diagnose_form::form(&self.sheet.name, true, Some(&self.hazards));
        assert_eq!(answers::parse(&form), Ok(Evidence::default()), "{form}");
        plain(&form.replace('#', " "))
    }

    fn plan(&self) -> String {
        let evening = Evening::parse("4 x 6min every 15min").unwrap();
        let supply = Supply::Typed(Load::Current(0.3));
        let of_sheet = OfSheet {
            kind: self.sheet.battery.kind,
            series: self.sheet.battery.series,
            printed_ah: None,
        };
        let plans = [Plan::of(Kind::Alkaline, &evening, &supply, &of_sheet)];
        plain(&battery_plan::text(&battery_plan::Evenings {
            build: &self.sheet.name,
            evening: &evening,
            supply: &supply,
            supply_notes: &[],
            hazards: Some(&self.hazards),
            plans: &plans,
            series: self.sheet.battery.series,
            prices: &[],
        }))
    }
}

/// The words alone, whatever the line breaks.
fn plain(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A sheet with some of its lines changed.
fn changed(text: &str, changes: &[(&str, &str)]) -> String {
    changes.iter().fold(text.to_owned(), |text, (from, to)| {
        assert!(text.contains(from), "{from}: {text}");
        text.replace(from, to)
    })
}

/// Ten builds from harmless to absurd.
fn builds() -> Vec<(&'static str, String)> {
    const TO220: &str = "transistor = \"power-to220\"";
    const BIAS: &str = "bias_resistor = \"22 kohm\"";
    const LED: &str = "base_diode = \"led\"";
    const ONE: &str = "series = 1";
    const THREE: (&str, &str) = (ONE, "series = 3");
    let of = |text, changes: &[(&str, &str)]| changed(text, changes);
    vec![
        (
            "harmless",
            of(
                PILLAR,
                &[
                    (TO220, "transistor = \"power-to3\""),
                    (BIAS, "bias_resistor = \"470 kohm\""),
                ],
            ),
        ),
        ("the sample", PILLAR.to_owned()),
        ("the measured sample", MEASURED.to_owned()),
        (
            "on a heat sink",
            of(MEASURED, &[("[circuit]", "[circuit]\nheat_sink = 10")]),
        ),
        (
            "without a diode",
            of(MEASURED, &[(LED, "base_diode = \"none\"")]),
        ),
        (
            "a small transistor",
            of(MEASURED, &[(TO220, "transistor = \"small-signal\"")]),
        ),
        ("of 27 V", of(MEASURED, &[THREE])),
        ("the plate of three batteries", PLATE.to_owned()),
        (
            "of 500 °C",
            of(PLATE, &[(BIAS, "bias_resistor = \"12 kohm\"")]),
        ),
        (
            "above every rating",
            of(
                MEASURED,
                &[
                    THREE,
                    (TO220, "transistor = \"small-signal\""),
                    (BIAS, "bias_resistor = \"1 kohm\""),
                    ("resistance = \"3 ohm\"", "resistance = \"1 ohm\""),
                ],
            ),
        ),
    ]
}

/// Each class's collector in volts and amperes (data sheet of the small one, from memory for the others), K/W from case to air and
/// from junction to case, and what its junction stands in °C (case pages and from memory), typed here once more.
fn figures(class: TransistorClass) -> (f64, f64, f64, f64, f64) {
    match class {
        TransistorClass::SmallSignal => (40.0, 0.8, 117.0, 83.0, 150.0),
        TransistorClass::Medium => (45.0, 1.5, 90.0, 10.0, 150.0),
        TransistorClass::PowerTo220 => (60.0, 10.0, 58.5, 4.0, 150.0),
        TransistorClass::PowerTo3 => (60.0, 15.0, 33.5, 1.5, 200.0),
    }
}

/// What the predicted figures ask for by the ratings, in the words of the JSON.
fn expected(known: &Known) -> Vec<&'static str> {
    let value = serde_json::to_value(StartPart::new(&known.start())).unwrap();
    let sets = value["sets"].as_array().unwrap();
    let class = known.sheet.circuit.transistor;
    let (collector_v, collector_a, to_air, to_case, most_c) = figures(class);
    let open_v = known.sheet.battery.nominal_v();
    let of_runs = |key: &str| -> Vec<f64> {
        let runs = sets.iter().map(|set| &set["running"]);
        runs.filter_map(|run| run[key].as_f64()).collect()
    };
    let most = |key: &str| of_runs(key).into_iter().fold(0.0, f64::max);
    let rest_a = sets
        .iter()
        .map(|set| set["rest_supply_a"].as_f64().unwrap());
    let rest_w = rest_a.fold(0.0, f64::max) * open_v;
    // The paste below a sink has 0.5 K/W.
    let behind = known
        .sheet
        .known
        .heat_sink_k_per_w
        .map_or(to_air, |sink| sink + 0.5);
    let least_w = most("transistor_w");
    let lowest_v = of_runs("base_lowest_v").into_iter().fold(0.0, f64::min);
    let mut names = Vec::new();
    let mut add = |is_so: bool, name| {
        if is_so {
            names.push(name);
        }
    };
    add(lowest_v < -5.0, "base-beyond-rating");
    add(
        most("collector_highest_v") > collector_v,
        "collector-beyond-rating",
    );
    add(
        most("supply_a") > collector_a,
        "collector-current-beyond-rating",
    );
    add(most("supply_a") > 1.0, "supply-current");
    add(most("diode_a") > 0.03, "diode-beyond-rating");
    // At rest the battery's own resistance takes a little: a tenth is left for it.
    let hot_w = least_w.max(0.9 * rest_w);
    add(
        25.0 + hot_w * (behind + to_case) > most_c,
        "junction-beyond-rating",
    );
    add(25.0 + hot_w * behind > 55.0, "hot-case");
    add(
        25.0 + 0.9 * rest_w * behind > 55.0 || open_v > 20.0,
        "standing-measurements",
    );
    add(open_v > 20.0, "arcs");
    // Paschen's minimum.
    add(most("top_v") > 327.0, "top");
    names
}

#[test]
fn every_report_names_each_hazard_that_is_computed_and_a_part_beyond_its_rating_first() {
    for (name, text) in builds() {
        let known = Known::of(&text);
        let lines = report::hazards::lines(&known.hazards);
        let named = serde_json::to_value(report::hazards::parts(&known.hazards)).unwrap();
        let named: Vec<&str> = named
            .as_array()
            .unwrap()
            .iter()
            .map(|one| one["hazard"].as_str().unwrap())
            .collect();
        println!(
            "{name}: case {:.0} °C, {named:?}",
            known.hazards.hottest.case_c
        );
        for hazard in expected(&known) {
            assert!(
                named.contains(&hazard),
                "{name}: {hazard} is missing: {named:?}"
            );
        }
        let reports = [
            ("predict", known.predicted()),
            ("card", known.card()),
            ("diagnose", known.diagnosed(&Evidence::default())),
            ("form", known.form()),
            ("plan", known.plan()),
        ];
        for (report, said) in &reports {
            let mut last = 0;
            for line in &lines {
                let place = said.find(&plain(line));
                let place = place.unwrap_or_else(|| panic!("{name}, {report}: {line}\n{said}"));
                assert!(place >= last, "{name}, {report}: out of rank: {line}");
                last = place;
            }
        }
        // What forbids switching on, or allows it for moments alone, stands before what asks for it.
        let first = if known.hazards.first_rating().is_some() {
            Some("Not to be switched on as it is: a part is beyond its rating")
        } else {
            let is_hot = known.hazards.found.iter().any(Hazard::is_heat);
            is_hot.then_some("On for 10 s at a time, until the transistor has a heat sink.")
        };
        for (report, from) in [
            (&reports[3].1, "1. Has it ever run?"),
            (&reports[4].1, "alkaline 300 mA"),
        ] {
            let asks = report
                .find(from)
                .unwrap_or_else(|| panic!("{name}: {report}"));
            match first {
                Some(first) => assert!(
                    report.find(first).is_some_and(|at| at < asks),
                    "{name}: {report}"
                ),
                None => assert!(!report.contains("switched on as it is"), "{name}: {report}"),
            }
        }
        let is_rating = |hazard: &&Hazard| matches!(hazard, Hazard::Rating { .. });
        let ratings = known.hazards.found.iter().take_while(is_rating).count();
        let all = known.hazards.found.iter().filter(is_rating).count();
        assert_eq!(ratings, all, "{name}: ratings come first");
    }
}

/// What the ten builds are there for.
#[test]
fn the_ten_builds_reach_from_no_hazard_to_every_rating() {
    let of = |wanted: &str| {
        let found = builds().into_iter().find(|(name, _)| *name == wanted);
        let sheet = sheet::parse(&found.unwrap().1).unwrap();
        let prediction = predict(&sheet.coil_spec()).unwrap();
        let sets = sheet.circuit_sets(&prediction).unwrap();
        let judged = judged(&sets.specs).unwrap();
        Hazards::of(&judged, sheet.circuit.transistor, None)
    };
    assert_eq!(of("harmless").found, []);
    let absurd = of("of 500 °C");
    assert!(absurd.hottest.case_c > 450.0, "{}", absurd.hottest.case_c);
    let first = absurd.first_rating().unwrap();
    assert!(first.times_rated() > 3.0, "{first:?}");
    let said = serde_json::to_string(&report::hazards::parts(&of("above every rating"))).unwrap();
    for rating in [
        "base-beyond-rating",
        "collector-beyond-rating",
        "collector-current-beyond-rating",
        "supply-current",
        "diode-beyond-rating",
        "bias-resistor-beyond-rating",
        "junction-beyond-rating",
    ] {
        assert!(said.contains(rating), "{rating}: {said}");
    }
}

/// By hand: 27 V over 22 kΩ and a gain of 234 are 0.28 A and, less what the batteries lose, near 7 W at rest; a TO-220 case has
/// 58.5 K/W behind it.
#[test]
fn standing_measurements_are_made_at_a_supply_that_the_transistor_bears_for_a_short_time() {
    let plate = Known::of(PLATE);
    let standing = plate.hazards.standing;
    assert!(
        standing.is_lowered() && !standing.heat.burns(),
        "{standing:?}"
    );
    let high_a = standing.supply_a.high;
    // By Ohm's law through a bias of gain 234 at most, the ninety-fifth of a hundred (`references/practice.md`).
    let by_hand_a = 235.0 * (standing.supply_v - 0.6) / 22e3;
    assert!(
        (high_a / by_hand_a - 1.0).abs() < 0.1,
        "{high_a}, {by_hand_a}"
    );
    let card = plate.card();
    let steps = card.split_once("foot taken off the base").unwrap().1;
    for words in [
        "a supply of 6.0 V limited to",
        "on for 10 s at a time",
        "not 27 V",
    ] {
        assert!(steps.contains(words), "{words}: {steps}");
    }
    assert!(!steps.contains("24 V to"), "{steps}");
    assert!(
        steps.contains("only once what is beyond its rating is mended"),
        "{steps}"
    );
}

//! The field around a coil as text and JSON: a part of a prediction.

use crate::caution::Caution;
use crate::coil::field::{Around, AtPoint, Line, Met, Reach, Station, VoltageOrigin, Way};
use crate::units::{Unit, rounded};

use crate::report::form::part;
use crate::report::layout::{line, list, told, under};

/// The notes that always stand beside it.
const NOTES: [&str; 5] = [
    "guidance from a model: it replaces no assessment",
    Caution::CodesFirst.words(),
    "computed for charges around the modelled build alone; a person, a lamp, a wall or a wire near it changes the field, \
     mostly upwards at their tips",
    "it says nothing of the magnetic field, of contact currents and burns, or of pacemakers and other implants, which may \
     be disturbed below these levels",
    "where a lamp lights is not computed: it depends on the lamp, the hand and the light; note it while recording, like \
     \"lamp lit at 12 cm\"",
];

/// The lines of a prediction about the field.
pub fn text(around: &Around) -> String {
    let mut out = String::new();
    voltage(&mut out, around);
    met(&mut out, around);
    stations(&mut out, around);
    list(&mut out, "to know of the field", &notes(around));
    out
}

/// The limits of the computed field, for a short answer.
pub(super) const LEFT_OUT: &str = "This is guidance from a model and replaces no assessment. It leaves out contact currents, burns and \
     implants. Local codes and licensed practice come first.";

/// The sentences of a short answer.
pub(super) fn brief(around: &Around) -> Vec<String> {
    let top = volt(around.top.amplitude_v, 2);
    let mut sentences = vec![format!(
        "Electric field with an amplitude of {top} at the top. Public levels are met as far as:"
    )];
    if around.met.is_empty() {
        sentences = vec!["No public level is known at this frequency.".to_owned()];
    }
    for (one, farthest) in around.met.iter().zip(&around.farthest) {
        let level = volt(one.level.rms_v_per_m, 3);
        sentences.push(format!(
            "- {level}/m, {}: {}",
            one.level.kind.name().trim_start_matches("public, "),
            places(farthest)
        ));
    }
    sentences
}

/// Returns the request to type the voltage, where the circuit gives no voltage of the top.
pub fn type_one(most_v: Option<f64>) -> String {
    most_v.map_or_else(
        || "type one with --top-amplitude or --top-rms".to_owned(),
        |most_v| {
            let most = volt(most_v, 2).replace(' ', "");
            format!("type one, such as the most with any parts: --top-amplitude {most}")
        },
    )
}

fn volt(value_v: f64, digits: usize) -> String {
    rounded(value_v, Unit::Volt, digits)
}

fn voltage(out: &mut String, around: &Around) {
    let top = around.top;
    let words = format!(
        "electric, with the top at {} amplitude, {} rms, against earth; it grows as that voltage does",
        volt(top.amplitude_v, 3),
        volt(top.rms_v(), 3)
    );
    told(out, "field", &words);
    let from = match top.origin {
        VoltageOrigin::Amplitude => "the amplitude is as typed".to_owned(),
        VoltageOrigin::Rms => "the rms value is as typed".to_owned(),
        VoltageOrigin::Circuit { foot_to_top_v } => format!(
            "from the circuit with typical parts: {} amplitude from foot to top; type a measured one with --top-amplitude or --top-rms",
            volt(foot_to_top_v, 2)
        ),
    };
    under(out, &from);
    if around.is_without_hand {
        under(
            out,
            "without the sheet's hand: the levels are for a field where nobody stands in it",
        );
    }
}

fn met(out: &mut String, around: &Around) {
    let hertz = rounded(around.frequency_hz, Unit::Hertz, 4);
    if around.met.is_empty() {
        let words = format!("none is known here for {hertz}: 0.1 to 30 MHz");
        line(out, "levels", &words);
        return;
    }
    line(
        out,
        "levels",
        &format!("reference levels at {hertz}, rms, of the field where nobody stands in it"),
    );
    under(
        out,
        &format!(
            "the farthest that each is met: {}, and up to the end of the resonance's band; it may be nearer",
            over(around)
        ),
    );
    for (one, farthest) in around.met.iter().zip(&around.farthest) {
        let level = &one.level;
        under(
            out,
            &format!(
                "{}/m, {}: met as far as {}; as drawn {}",
                volt(level.rms_v_per_m, 3),
                level.kind.name(),
                places(farthest),
                places(one)
            ),
        );
        under(out, &format!("  {}", level.kind.source()));
    }
}

/// Returns the assumptions under which the farthest place is given.
fn over(around: &Around) -> &'static str {
    match around.top.origin {
        VoltageOrigin::Circuit { .. } => {
            "a table so dry that it is none, no ceiling, any of the sets of parts, and 30 % more voltage (chosen, to be careful)"
        }
        VoltageOrigin::Amplitude | VoltageOrigin::Rms => {
            "a table so dry that it is none, no ceiling, at the voltage typed"
        }
    }
}

/// Where a level is met, in words.
fn places(met: &Met) -> String {
    let ways = [
        (Way::Beside, "beside the coil"),
        (Way::Above, "above its top"),
    ];
    let place = |(way, words): (Way, &str)| {
        Some(match met.on(way)? {
            Reach::At(distance_m) => format!("{} {words}", centimetres(distance_m)),
            Reach::Nearer => format!("nearer than 0.5 cm {words}"),
            Reach::Farther(distance_m) => {
                format!("farther than {} {words}", centimetres(distance_m))
            }
        })
    };
    let found: Vec<_> = ways.into_iter().filter_map(place).collect();
    found.join(", ")
}

fn centimetres(distance_m: f64) -> String {
    format!("{:.0} cm", distance_m * 100.0)
}

fn stations(out: &mut String, around: &Around) {
    told(
        out,
        "by distance",
        &format!(
            "as drawn; it may be up to {:.1} times that: {}",
            around.stronger,
            over(around)
        ),
    );
    line(
        out,
        "",
        &format!(
            "{:>8}  {:24}{}",
            "", "beside the coil", "above its top, rms"
        ),
    );
    for station in &around.stations {
        let at = |point: Option<AtPoint>| {
            point.map_or_else(
                || "—".to_owned(),
                |point| {
                    let strength = volt(point.strength_v_per_m(), 3);
                    format!("{strength}/m, {}", volt(point.potential_v, 3))
                },
            )
        };
        let row = format!(
            "{:>8}  {:24}{}",
            centimetres(station.distance_m),
            at(station.beside),
            at(station.above)
        );
        line(out, "", row.trim_end());
    }
}

fn notes(around: &Around) -> Vec<String> {
    let mut notes: Vec<String> = NOTES.iter().map(ToString::to_string).collect();
    if around.scene.top_f > 0.0 {
        notes.push(format!(
            "the {} told at the top is on no metal that is drawn, so the field of its charge is missing",
            rounded(around.scene.top_f, Unit::Farad, 2)
        ));
    }
    notes
}

part! {
    /// The field for other programs, all fields rms.
    pub(super) struct FieldPart(around: &Around) with {
        let top = around.top;
        let levels = around.met.iter().zip(&around.farthest);
    } {
        top_amplitude_v: f64 = top.amplitude_v,
        top_rms_v: f64 = top.rms_v(),
        top_voltage_origin: &'static str = origin(top.origin),
        foot_to_top_amplitude_v: Option<f64> = match top.origin {
            VoltageOrigin::Circuit { foot_to_top_v } => Some(foot_to_top_v),
            VoltageOrigin::Amplitude | VoltageOrigin::Rms => None,
        },
        frequency_hz: f64 = around.frequency_hz,
        hand_left_out: bool = around.is_without_hand,
        ways: Vec<WayPart> = around.lines.iter().map(WayPart::new).collect(),
        levels: Vec<LevelPart> = levels.map(|(met, farthest)| LevelPart::new(met, farthest)).collect(),
        strongest_over_drawn: f64 = around.stronger,
        stations: Vec<StationPart> = around.stations.iter().map(StationPart::new).collect(),
        notes: Vec<String> = notes(around),
    }
}

/// Where the voltage at the top comes from, in a word.
pub(super) const fn origin(origin: VoltageOrigin) -> &'static str {
    match origin {
        VoltageOrigin::Amplitude => "typed-amplitude",
        VoltageOrigin::Rms => "typed-rms",
        VoltageOrigin::Circuit { .. } => "circuit-typical",
    }
}

part! {
    struct WayPart(line: &Line) {
        way: &'static str = line.way.name(),
        from_axis_m: f64 = line.from_m.0,
        from_height_m: f64 = line.from_m.1,
        farthest_m: f64 = line.farthest_m,
    }
}

part! {
    struct LevelPart(met: &Met, farthest: &Met) {
        name: &'static str = met.level.kind.name(),
        source: &'static str = met.level.kind.source(),
        rms_v_per_m: f64 = met.level.rms_v_per_m,
        beside: Option<ReachPart> = met.beside.map(ReachPart::new),
        above: Option<ReachPart> = met.above.map(ReachPart::new),
        farthest_beside: Option<ReachPart> = farthest.beside.map(ReachPart::new),
        farthest_above: Option<ReachPart> = farthest.above.map(ReachPart::new),
    }
}

part! {
    struct ReachPart(reach: Reach) with {
        let (word, at_m) = match reach {
            Reach::At(distance_m) => ("at", Some(distance_m)),
            Reach::Nearer => ("nearer", None),
            Reach::Farther(distance_m) => ("farther", Some(distance_m)),
        };
    } {
        met: &'static str = word,
        distance_m: Option<f64> = at_m,
    }
}

part! {
    struct StationPart(station: &Station) {
        distance_m: f64 = station.distance_m,
        beside: Option<PointPart> = station.beside.map(PointPart::new),
        above: Option<PointPart> = station.above.map(PointPart::new),
    }
}

part! {
    struct PointPart(point: AtPoint) {
        strength_rms_v_per_m: f64 = point.strength_v_per_m(),
        potential_rms_v: f64 = point.potential_v,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coil::field::TopVoltage;
    use crate::sheet;

    const PILLAR: &str = include_str!("../../../sample-data/glow-pillar.toml");

    fn around(change: impl Fn(&mut sheet::Sheet), hertz: f64, top: TopVoltage) -> Around {
        let mut sheet = sheet::parse(PILLAR).unwrap();
        change(&mut sheet);
        let spec = sheet.coil_spec();
        let around = Around::of(&spec, hertz, top).unwrap();
        around.over(&spec, 1.08 * hertz, top).unwrap()
    }

    #[test]
    fn a_field_is_told_with_its_voltage_both_ways_and_its_levels() {
        let found = around(|_| {}, 4.3e6, TopVoltage::rms(500.0));
        insta::assert_snapshot!(text(&found));
    }

    #[test]
    fn no_line_is_wide_and_no_line_promises() {
        let tops = [
            TopVoltage::amplitude(1e-3),
            TopVoltage::of_circuit(1.4e3, -0.6),
            TopVoltage::rms(1e7),
        ];
        for top in tops {
            let told = text(&around(
                |sheet| {
                    sheet.surroundings.hand_m = Some(0.1);
                    sheet.surroundings.ceiling_m = Some(0.3);
                    sheet.surroundings.top_f = 2e-12;
                },
                4.3e6,
                top,
            ));
            assert!(!told.contains("safe") && told.contains("without the sheet's hand"));
            assert!(told.contains("missing"));
            for row in told.lines() {
                assert!(row.chars().count() <= 100, "{row}");
            }
        }
        let none = text(&around(|_| {}, 50e3, TopVoltage::rms(500.0)));
        assert!(none.contains("none is known here for 50.00 kHz"), "{none}");
    }

    #[test]
    fn programs_get_numbers_with_units_and_null() {
        let around = around(
            |sheet| sheet.surroundings.ceiling_m = Some(0.3),
            4.3e6,
            TopVoltage::amplitude(500.0),
        );
        let found = serde_json::to_value(FieldPart::new(&around)).unwrap();
        assert_eq!(found["top_amplitude_v"], 500.0);
        assert!((found["top_rms_v"].as_f64().unwrap() - 353.553391).abs() < 1e-6);
        assert_eq!(found["top_voltage_origin"], "typed-amplitude");
        assert!(found["foot_to_top_amplitude_v"].is_null());
        assert_eq!(found["levels"][0]["beside"]["met"], "at");
        assert!(found["stations"][5]["above"].is_null());
        assert!(found["stations"][5]["beside"]["potential_rms_v"].is_f64());
    }
}

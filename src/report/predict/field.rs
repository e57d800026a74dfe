//! The field around a coil as text and JSON: a part of a prediction.

use serde_json::{Value, json};

use crate::coil::field::{Around, AtPoint, Met, Reach, VoltageOrigin, Way};
use crate::units::{Unit, rounded};

use crate::report::digits::nine_digits;
use crate::report::layout::{line, list, told, under};

/// What is always told beside it.
const NOTES: [&str; 4] = [
    "guidance from a model: it replaces no assessment, and local codes come first",
    "computed for charges around the modelled build alone; a person, a lamp, a wall or a wire near it changes the field, \
     mostly upwards at their tips",
    "it says nothing of the magnetic field, of contact currents and burns, or of pacemakers and other implants, which may \
     be disturbed below these levels",
    "where a lamp lights is not computed: it hangs on the lamp, the hand and the light; note it while recording, like \
     \"lamp lit at 12 cm\"",
];

/// The lines of a prediction that tell of the field.
pub fn text(around: &Around) -> String {
    let mut out = String::new();
    voltage(&mut out, around);
    met(&mut out, around);
    stations(&mut out, around);
    list(&mut out, "to know of the field", &notes(around));
    out
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

/// What the farthest place is over.
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

/// The field as JSON: part of a prediction's, all fields rms.
pub fn json(around: &Around) -> Value {
    let top = around.top;
    let (origin, foot_to_top_v) = match top.origin {
        VoltageOrigin::Amplitude => ("typed-amplitude", None),
        VoltageOrigin::Rms => ("typed-rms", None),
        VoltageOrigin::Circuit { foot_to_top_v } => {
            ("circuit-typical", Some(nine_digits(foot_to_top_v)))
        }
    };
    let ways: Vec<Value> = around
        .lines
        .iter()
        .map(|line| {
            json!({
                "way": line.way.name(),
                "from_axis_m": nine_digits(line.from_m.0),
                "from_height_m": nine_digits(line.from_m.1),
                "farthest_m": nine_digits(line.farthest_m),
            })
        })
        .collect();
    json!({
        "top_amplitude_v": nine_digits(top.amplitude_v),
        "top_rms_v": nine_digits(top.rms_v()),
        "top_voltage_origin": origin,
        "foot_to_top_amplitude_v": foot_to_top_v,
        "frequency_hz": nine_digits(around.frequency_hz),
        "hand_left_out": around.is_without_hand,
        "ways": ways,
        "levels": around.met.iter().zip(&around.farthest).map(level).collect::<Vec<_>>(),
        "strongest_over_drawn": nine_digits(around.stronger),
        "stations": around.stations.iter().map(|station| json!({
            "distance_m": station.distance_m,
            "beside": station.beside.map(point),
            "above": station.above.map(point),
        })).collect::<Vec<_>>(),
        "notes": notes(around),
    })
}

fn level((met, farthest): (&Met, &Met)) -> Value {
    json!({
        "name": met.level.kind.name(),
        "source": met.level.kind.source(),
        "rms_v_per_m": nine_digits(met.level.rms_v_per_m),
        "beside": met.beside.map(reach),
        "above": met.above.map(reach),
        "farthest_beside": farthest.beside.map(reach),
        "farthest_above": farthest.above.map(reach),
    })
}

fn reach(reach: Reach) -> Value {
    match reach {
        Reach::At(distance_m) => json!({ "met": "at", "distance_m": nine_digits(distance_m) }),
        Reach::Nearer => json!({ "met": "nearer", "distance_m": null }),
        Reach::Farther(distance_m) => {
            json!({ "met": "farther", "distance_m": nine_digits(distance_m) })
        }
    }
}

fn point(point: AtPoint) -> Value {
    json!({
        "strength_rms_v_per_m": nine_digits(point.strength_v_per_m()),
        "potential_rms_v": nine_digits(point.potential_v),
    })
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
        let found = json(&around(
            |sheet| sheet.surroundings.ceiling_m = Some(0.3),
            4.3e6,
            TopVoltage::amplitude(500.0),
        ));
        assert_eq!(found["top_amplitude_v"], 500.0);
        assert_eq!(found["top_rms_v"], 353.553391);
        assert_eq!(found["top_voltage_origin"], "typed-amplitude");
        assert!(found["foot_to_top_amplitude_v"].is_null());
        assert_eq!(found["levels"][0]["beside"]["met"], "at");
        assert!(found["stations"][5]["above"].is_null());
        assert!(found["stations"][5]["beside"]["potential_rms_v"].is_f64());
    }
}

//! Turns for a wanted resonance, as text and as JSON (schema 1).

use crate::coil::loss::resistance_ohm_per_m;
use crate::coil::wanted::Wanted;
use crate::sheet::Sheet;
use crate::units::{Span, Unit, rounded};

use crate::report::form::{Form, part};
use crate::report::layout::{line, under};

/// Returns the winding for a wanted resonance, as it is read at a bench.
pub fn text(sheet: &Sheet, wanted_hz: f64, found: &Wanted) -> String {
    let winding = &found.spec.winding;
    let length = |value_m| rounded(value_m, Unit::Metre, 3);
    let mut out = format!("{}\n\n", sheet.name);
    let wanted = rounded(wanted_hz, Unit::Hertz, 4);
    line(
        &mut out,
        "wanted",
        &format!("{wanted}, foot: {}", sheet.earth.name()),
    );
    line(
        &mut out,
        "wind",
        &format!(
            "{:.1} turns, {} a turn, {} from the first to the last",
            winding.turns,
            length(winding.pitch_m()),
            length(winding.shape.slope_m())
        ),
    );
    let wire_m = winding.wire_length_m();
    let ohm = wire_m * resistance_ohm_per_m(winding.gauge.bare_m(), 20.0);
    under(
        &mut out,
        &format!(
            "{} of {} wire, {} of copper, {} foot to top at 20 °C",
            length(wire_m),
            winding.gauge.name(),
            rounded(winding.copper_mass_kg(), Unit::Gram, 3),
            rounded(ohm, Unit::Ohm, 3)
        ),
    );
    let turn = rounded(found.per_turn_hz, Unit::Hertz, 2);
    under(&mut out, &format!("one turn more moves it by {turn}"));
    let Span {
        low: fewest,
        high: most,
    } = found.searched;
    under(
        &mut out,
        &format!(
            "by the ring model, searched from {fewest:.0} to {most:.0} turns; the sheet has {:.1}",
            sheet.turns()
        ),
    );
    if (found.measured_ratio - 1.0).abs() > 0.0 {
        let off = rounded(found.measured_ratio - 1.0, Unit::Percent, 2);
        under(
            &mut out,
            &format!(
                "the model was moved by {off}, as measured on the sheet's {:.1} turns: the less sure the farther from them",
                sheet.turns()
            ),
        );
    }
    under(
        &mut out,
        "the band of such a coil is that of its own sheet: predict it with these turns",
    );
    out
}

part! {
    /// The same for other programs.
    pub struct Json<'a>(sheet: &'a Sheet, asked_hz: f64, found: &Wanted) with {
        let winding = &found.spec.winding;
    } {
        build: &'a str = &sheet.name,
        earth: &'static str = sheet.earth.name(),
        wanted_hz: f64 = asked_hz,
        turns: f64 = winding.turns,
        pitch_m: f64 = winding.pitch_m(),
        winding_length_m: f64 = winding.shape.slope_m(),
        wire_length_m: f64 = winding.wire_length_m(),
        copper_mass_kg: f64 = winding.copper_mass_kg(),
        resonance_hz: f64 = found.frequency_hz,
        per_turn_hz: f64 = found.per_turn_hz,
        fewest_turns_tried: f64 = found.searched.low,
        most_turns_tried: f64 = found.searched.high,
        measured_over_model_ratio: f64 = found.measured_ratio,
    }
}

impl Form for Json<'_> {}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coil::wanted::wanted;
    use crate::sheet;

    #[test]
    fn what_to_wind_is_told_with_wire_and_what_a_turn_does() {
        let sheet = sheet::parse(include_str!("../../../sample-data/glow-pillar.toml")).unwrap();
        let found = wanted(&sheet.coil_spec(), 5e6).unwrap();
        insta::assert_snapshot!(text(&sheet, 5e6, &found), @r#"
glow pillar

wanted        5.000 MHz, foot: earthed
wind          593.9 turns, 220 µm a turn, 131 mm from the first to the last
              30.3 m of 0.2 mm wire, 8.45 g of copper, 16.6 Ω foot to top at 20 °C
              one turn more moves it by -6.7 kHz
              by the ring model, searched from 45 to 4500 turns; the sheet has 450.0
              the band of such a coil is that of its own sheet: predict it with these turns
"#);
        assert!(!text(&sheet, 5e6, &found).contains("measured"));
        let value = serde_json::to_value(Json::new(&sheet, 5e6, &found)).unwrap();
        assert_eq!(value["measured_over_model_ratio"].as_f64(), Some(1.0));
        assert!((value["resonance_hz"].as_f64().unwrap() / 5e6 - 1.0).abs() < 1e-4);
    }

    #[test]
    fn the_model_is_moved_to_what_was_measured_and_says_so() {
        let sheet = include_str!("../../../sample-data/glow-pillar-measured.toml");
        let sheet = sheet::parse(sheet).unwrap();
        // The sheet's own inductance and capacitance: 1/(2π √(300 µH · 7 pF)) = 3.473 MHz, with 450 turns.
        let found = wanted(&sheet.coil_spec(), 3.473e6).unwrap();
        let out = text(&sheet, 3.473e6, &found);
        assert!(out.contains("450.0 turns, 220 µm a turn"), "{out}");
        assert!(
            out.contains("as measured on the sheet's 450.0 turns"),
            "{out}"
        );
    }
}

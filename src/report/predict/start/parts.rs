//! The prediction for the transistor: how warm it gets, and how fast it must be if the build starts.

use crate::circuit::damage::GivesWay;
use crate::circuit::hazards::Hazards;
use crate::circuit::heat::{AIR_C, Heat};
use crate::circuit::running::{Running, SEEN_A};
use crate::circuit::shown::LeastSpeed;
use crate::circuit::verdict::{FULL_CURRENT_RATIO, Judged, Lamp, RECTIFIED_A, Verdict};
use crate::sheet::known::Shown;
use crate::units::{Unit, rounded};

use super::subject::Start;
use crate::report::form::part;
use crate::report::hazards::{celsius, words};
use crate::report::layout::{line, told, under};

/// Writes the basis of the range of current and voltage over the sets of parts.
pub(super) fn weighed(out: &mut String, start: &Start<'_>) {
    let words = if start.class.is_weighed() {
        "its parts are weighed by how builds of this kind run (common practice, no source); most builds should lie about in the ranges of \
         current and top voltage here"
    } else {
        "its parts are not weighed: nothing is common practice for this class, so the range is that of published and assumed figures"
    };
    under(out, words);
}

/// Returns the heat of the sheet's transistor on its sink at a power.
fn heat(start: &Start<'_>, power_w: f64) -> Heat {
    Heat::at(
        power_w,
        &start.class.case(),
        start.sheet.known.heat_sink_k_per_w,
    )
}

/// Writes the transistor's heat with typical parts, with its basis.
pub(super) fn warmth(out: &mut String, start: &Start<'_>, power_w: f64) {
    let case = start.class.case();
    let Heat {
        junction_c, case_c, ..
    } = heat(start, power_w);
    let on = start.sheet.known.heat_sink_k_per_w.map_or_else(
        || "without a heat sink".to_owned(),
        |sink| format!("on a heat sink of {sink} K/W"),
    );
    let words = format!(
        "transistor {}: after some minutes {} inside and {} at its {} case, {on} in still air of {}",
        rounded(power_w, Unit::Watt, 2),
        celsius(junction_c),
        celsius(case_c),
        case.name,
        celsius(AIR_C)
    );
    under(out, &words);
    under(out, &format!("thermal resistances: {}", case.source));
}

/// Returns the meaning of running fully here, in a sentence.
pub(super) fn full_means(lamp: Lamp) -> String {
    match lamp {
        Lamp::Led => format!(
            "fully: the LED at the base is seen to be lit, by more than {} on average (assumed); weakly: it oscillates with the \
             LED dark",
            rounded(SEEN_A, Unit::Ampere, 1)
        ),
        Lamp::Silicon => format!(
            "fully: the diode at the base, which gives no light, rectifies more than {} on average, or the supply current is \
             more than {FULL_CURRENT_RATIO} times that at rest (both chosen); weakly: it oscillates with less",
            rounded(RECTIFIED_A, Unit::Ampere, 1)
        ),
        Lamp::None => format!(
            "fully: the supply current is more than {FULL_CURRENT_RATIO} times that at rest (chosen); weakly: it oscillates with \
             less; there is no diode at the base"
        ),
    }
}

/// Where the battery's power goes, in one line.
pub(super) fn power(out: &mut String, typical: &Judged, running: &Running) {
    let watt = |power_w: f64| rounded(power_w, Unit::Watt, 2);
    let power = &running.power;
    let diode = match Lamp::of(&typical.spec) {
        Lamp::Led => format!(", LED {}", watt(power.diode_w)),
        Lamp::Silicon => format!(", diode {}", watt(power.diode_w)),
        Lamp::None => String::new(),
    };
    let load = match typical.spec.resonator.load {
        Some(_) => ", load at the top",
        None => "",
    };
    let words = format!(
        "{} from the battery: coil {}, transistor {}, battery's own resistance {}{diode}, bias resistor and leads{load} {}",
        watt(power.given_w),
        watt(power.coil_w),
        watt(running.transistor_w),
        watt(power.battery_w),
        watt(power.others_w)
    );
    told(out, "power", &words);
}

/// Returns a note that the figures are uncertain because a junction gives way.
pub(super) fn breakdown(junctions: &[GivesWay], typical: &Judged) -> String {
    let volt = |value_v| rounded(value_v, Unit::Volt, 2);
    let parts = &typical.spec.transistor;
    let each = junctions.iter().map(|junction| match junction {
        GivesWay::Collector => format!(
            "the collector reaches its breakdown, {} in the model",
            volt(parts.collector_breakdown_v)
        ),
        GivesWay::Base => format!(
            "the base reaches its breakdown, -{} in the model",
            volt(parts.emitter_breakdown_v)
        ),
    });
    let each: Vec<_> = each.collect();
    format!(
        "{}: real parts give way elsewhere and may jump to another state there, so current, top voltage and heat are more \
         uncertain than usual",
        each.join("; ")
    )
}

/// The most heat any of the sets makes, in watts.
fn hottest_w(verdict: &Verdict) -> Option<f64> {
    let powers = verdict.sets.iter().filter_map(|set| set.running());
    powers
        .map(|running| running.transistor_w)
        .max_by(f64::total_cmp)
}

/// Returns the effects of the heat, in words.
fn warnings(hazards: &Hazards) -> Vec<String> {
    let each = hazards.found.iter().filter(|hazard| hazard.is_heat());
    each.map(|hazard| words(hazard, hazards.class)).collect()
}

part! {
    /// The same for other programs.
    pub(super) struct HeatPart(start: &Start<'_>, verdict: &Verdict) with {
        let of = |power_w: f64| WarmthPart::new(&heat(start, power_w));
        let place = start.class.case();
        let running = verdict.sets.get(1).and_then(|set| set.running());
    } {
        case: &'static str = place.name,
        air_c: f64 = AIR_C,
        most_junction_c: f64 = place.most_c,
        heat_sink_k_per_w: Option<f64> = start.sheet.known.heat_sink_k_per_w,
        junction_to_case_k_per_w: f64 = place.to_case_k_per_w,
        junction_to_air_k_per_w: f64 = place.to_air_k_per_w,
        source: &'static str = place.source,
        typical: Option<WarmthPart> = running.map(|running| of(running.transistor_w)),
        hottest: Option<WarmthPart> = hottest_w(verdict).map(of),
        warnings: Vec<String> = warnings(&start.hazards()),
    }
}

part! {
    struct WarmthPart(heat: &Heat) {
        transistor_w: f64 = heat.power_w,
        junction_c: f64 = heat.junction_c,
        case_c: f64 = heat.case_c,
    }
}

/// Writes how fast the transistor must be, since the build starts.
pub(super) fn shown(out: &mut String, start: &Start<'_>) {
    let (Some(shown), Some(starts)) = (start.shown, start.sheet.known.starts) else {
        return;
    };
    let does = match starts {
        Shown::Dark => "it starts",
        Shown::Lit => "it starts and lights its diode",
    };
    let hertz = |value_hz| rounded(value_hz, Unit::Hertz, 3);
    let LeastSpeed {
        transition_hz,
        product_hz,
        bias_a,
        ..
    } = *shown;
    line(
        out,
        "shown",
        &format!(
            "{does}: fT times Q is at least {}, whatever its parts",
            hertz(product_hz)
        ),
    );
    under(
        out,
        &format!(
            "with the best Q, gain and coupling taken here its fT at {} is at least {}; the sets reckon with that",
            rounded(bias_a, Unit::Ampere, 2),
            hertz(transition_hz)
        ),
    );
    under(
        out,
        &format!(
            "in the sheet of another build with this transistor: least_transition_frequency = \"{}\"",
            hertz(transition_hz)
        ),
    );
}

part! {
    /// The same for other programs.
    pub(super) struct ShownPart(shown: &LeastSpeed) {
        least_transition_hz: f64 = shown.transition_hz,
        least_transition_times_q_hz: f64 = shown.product_hz,
        bias_a: f64 = shown.bias_a,
    }
}

#[cfg(test)]
mod tests {
    use super::super::text::tests::{MEASURED, told};
    use super::super::text::text as text_of;

    fn with(keys: &str) -> String {
        let sheet = MEASURED.replace("[circuit]", &format!("[circuit]\n{keys}"));
        told(&sheet, text_of)
    }

    /// Some lines from the first on that has these words.
    fn part<'a>(text: &'a str, from: &str, lines: usize) -> String {
        let rest = text.lines().skip_while(|line| !line.contains(from));
        rest.take(lines).collect::<Vec<&'a str>>().join("\n")
    }

    #[test]
    fn a_heat_sink_keeps_the_transistor_cool() {
        let sunk = with("heat_sink = 10");
        insta::assert_snapshot!(part(&sunk, "W: after", 2), @"
        transistor 1.0 W: after some minutes 40 °C inside and 36 °C at its TO-220 case, on a
        heat sink of 10 K/W in still air of 25 °C
        ");
        assert!(!sunk.contains("burns within"), "{sunk}");
    }

    #[test]
    fn a_build_that_lights_its_diode_bounds_the_speed_of_its_transistor() {
        let text = with("starts = \"lit\"");
        insta::assert_snapshot!(part(&text, "shown  ", 5), @r#"
        shown         it starts and lights its diode: fT times Q is at least 614 MHz, whatever its parts
                      with the best Q, gain and coupling taken here its fT at 93 mA is at least 6.14 MHz;
                      the sets reckon with that
                      in the sheet of another build with this transistor: least_transition_frequency =
                      "6.14 MHz"
        "#);
        let slow = MEASURED.replace("power-to220", "power-to3");
        let dead = "typical parts: does not start";
        assert!(told(&slow, text_of).contains(dead));
        let shown = slow.replace("[circuit]", "[circuit]\nstarts = \"lit\"");
        let shown = told(&shown, text_of);
        assert!(!shown.contains("does not start"), "{shown}");
    }
}

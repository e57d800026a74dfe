//! The steps of a card: the action, the reading expected, and the action if it reads otherwise.

use super::steps::{Stage, Step};
use crate::caution::Caution;
use crate::circuit::hazards::{ARCS_ABOVE_V, Hazards};
use crate::circuit::heat::TOUCH_C;
use crate::circuit::parts::BaseDiode;
use crate::circuit::running::Running;
use crate::circuit::verdict::{Judged, State, Verdict};
use crate::coil::prediction::{BandBasis, Prediction};
use crate::report::hazards::{READING_S, between, celsius, limit_a, supply_words};
use crate::sheet::Sheet;
use crate::units::{Span, Unit, rounded};

/// The doubt that wire and a room's warmth leave on a coil's ohms, as a share. It is made of 1.5 % of the diameter twice, 10 K at
/// 0.4 % per kelvin.
const OHMS_DOUBT: f64 = 0.07;
/// The tolerance of bias resistor and supply, as a share (common practice, no source).
const PARTS_DOUBT: f64 = 0.05;
/// A junction's voltage over 15 K of warmth at 2 mV per kelvin, in volts.
const BASE_DOUBT_V: f64 = 0.03;
/// A supply for the standing measurements where nothing is computed, at most, in volts (chosen: one battery).
const UNKNOWN_V: f64 = 9.0;

fn step(what: impl Into<String>, expected: impl Into<String>) -> Step {
    Step {
        what: what.into(),
        expected: expected.into(),
    }
}

pub(super) fn unplugged(sheet: &Sheet, prediction: &Prediction) -> Stage {
    let dc_ohm = prediction.resistance_dc_ohm;
    let ohms = |share: f64| rounded(dc_ohm * share, Unit::Ohm, 3);
    let expected = format!("{} to {}", ohms(1.0 - OHMS_DOUBT), ohms(1.0 + OHMS_DOUBT));
    let end = sheet.winding.spiral_end().map(|end| {
        let is_assumed = sheet
            .assumptions
            .iter()
            .any(|one| one.key == "coil.foot_end");
        let expected = format!("the {} one", end.name());
        step(
            "which end of the spiral is the foot, at the base?",
            if is_assumed {
                format!("{expected} is assumed: set coil.foot_end")
            } else {
                expected
            },
        )
    });
    Stage {
        heading: "nothing plugged in".to_owned(),
        steps: end.into_iter().chain([
            step("ohms, joint of the foot to the top", expected),
            step("ohms, end to end of the primary", "below 0.5 Ω, leads taken off"),
            step("ohms, foot to the primary", "open"),
        ]).collect(),
        notes: vec!["foot to top open: enamel left in the joint (try 5 mm further along the scraped wire), or a broken wire".to_owned()],
    }
}

/// The foot off the base: nothing oscillates, a meter may be joined, and the supply is no higher than that bears.
pub(super) fn not_closed(sheet: &Sheet, hazards: Option<&Hazards>) -> Stage {
    let volt = |value_v| rounded(value_v, Unit::Volt, 2);
    let Some(Hazards { standing, .. }) = hazards else {
        let supply = volt(sheet.battery.nominal_v().min(UNKNOWN_V));
        return Stage {
            heading: format!(
                "foot taken off the base, a current-limited supply of {supply} in place of the battery, on for {READING_S} s at a time"
            ),
            steps: ["supply current", "base to minus", "collector to minus"]
                .map(|what| step(what, "not computed"))
                .to_vec(),
            notes: Vec::new(),
        };
    };
    let (less, more) = (1.0 - PARTS_DOUBT, 1.0 + PARTS_DOUBT);
    let doubted = |span: Span, unit| between(span.low * less, span.high * more, unit);
    let base_v = standing.base_v;
    let limit = rounded(limit_a(standing), Unit::Ampere, 2);
    let why = if standing.is_lowered() {
        format!(
            ", not {} (up to {} and a case of {} there)",
            volt(standing.battery_v),
            rounded(standing.battery_a, Unit::Ampere, 2),
            celsius(standing.battery_heat.case_c)
        )
    } else {
        String::new()
    };
    let sink = if standing.heat.burns() {
        ", the transistor on a heat sink"
    } else {
        ""
    };
    Stage {
        heading: format!(
            "foot taken off the base, a supply of {} limited to {limit} in place of the battery{why}, on for {READING_S} s at a \
             time{sink}; nothing oscillates, so a meter may be joined",
            volt(standing.supply_v)
        ),
        steps: vec![
            step("supply current", doubted(standing.supply_a, Unit::Ampere)),
            step("base to minus", between(base_v.low - BASE_DOUBT_V, base_v.high + BASE_DOUBT_V, Unit::Volt)),
            step("collector to minus", doubted(standing.collector_v, Unit::Volt)),
        ],
        notes: vec!["at the limit at once: power off, the legs of the transistor are not where they were thought".to_owned()],
    }
}

/// The figures of every way in which a set oscillates, weak runs included.
fn running_sets(verdict: &Verdict) -> impl Iterator<Item = &Running> {
    verdict.sets.iter().flat_map(Judged::runs)
}

/// How far a battery's resistance, and so its sag, may be from the sheet's, as a share (assumed).
const SAG_DOUBT: f64 = 0.3;

pub(super) fn running(
    sheet: &Sheet,
    prediction: &Prediction,
    known: Option<(&Verdict, &Hazards)>,
) -> Stage {
    let (verdict, hazards) = known.unzip();
    let of_sets = || verdict.into_iter().flat_map(running_sets);
    let supply = hazards.and_then(|hazards| hazards.supply);
    let none = || {
        if known.is_some() {
            "as at rest: no set of parts oscillates in the model"
        } else {
            "not computed"
        }
        .to_owned()
    };
    let expected_a = supply.map_or_else(none, |supply| {
        let (low_a, high_a) = (supply.low_a, supply.high_a);
        between(low_a, high_a, Unit::Ampere)
    });
    let open_v = sheet.battery.nominal_v();
    let volts = of_sets().map(|running| running.battery_v);
    let (low_v, high_v) = volts.fold((f64::INFINITY, 0.0), |(low, high): (f64, f64), volt| {
        (low.min(volt), high.max(volt))
    });
    let expected_v = if low_v.is_finite() {
        let sag = |volt: f64, share: f64| open_v - (open_v - volt) * share;
        between(
            sag(low_v, 1.0 + SAG_DOUBT),
            sag(high_v, 1.0 - SAG_DOUBT),
            Unit::Volt,
        )
    } else {
        none()
    };
    let mut steps = vec![
        step("supply current", expected_a),
        step(
            format!(
                "battery at its clips ({} open)",
                rounded(open_v, Unit::Volt, 2)
            ),
            expected_v,
        ),
    ];
    if sheet.circuit.base_diode == BaseDiode::Led {
        let sets = verdict.into_iter().flat_map(|verdict| &verdict.sets);
        let switched_on = sets.filter_map(|set| set.switched_on.as_ref());
        let lit: Vec<bool> = switched_on.map(Running::is_lit).collect();
        steps.push(step("LED", led(&lit, of_sets().any(Running::is_lit))));
    }
    steps.push(step(
        "frequency, stub three coil lengths away",
        frequency(prediction, verdict),
    ));
    let is_hot = hazards.is_none_or(|hazards| hazards.hottest.burns());
    let beyond = hazards.is_some_and(|hazards| hazards.first_rating().is_some());
    let first = if beyond {
        "only once what is beyond its rating is mended: "
    } else {
        ""
    };
    let on = if is_hot {
        format!("power on for {READING_S} s at a time")
    } else {
        "power on".to_owned()
    };
    Stage {
        heading: format!(
            "{first}power off, meter off base and collector, foot joined to the base; the battery joined, hands and metal away from \
             coil and battery case, {on}"
        ),
        steps,
        notes: notes(verdict, hazards),
    }
}

/// Returns the words for the LED of the sets that oscillate when they are switched on. They say, too, whether it is lit in any
/// once it was brought to run fully.
fn led(lit: &[bool], is_lit_once_running: bool) -> &'static str {
    if lit.is_empty() {
        "dark"
    } else if lit.iter().all(|lit| *lit) {
        "lit"
    } else if lit.iter().any(|lit| *lit) {
        "lit, or dark with slower parts"
    } else if is_lit_once_running {
        "dark when switched on; lit once it runs fully"
    } else {
        "dark; a lamp near the top shows more"
    }
}

fn frequency(prediction: &Prediction, verdict: Option<&Verdict>) -> String {
    let found = &prediction.resonance;
    let hertz = |value_hz| rounded(value_hz, Unit::Hertz, 3);
    let is_dead = |verdict: &Verdict| running_sets(verdict).next().is_none();
    if verdict.is_some_and(is_dead) {
        "none".to_owned()
    } else if prediction.band == BandBasis::NoneGiven {
        hertz(found.value_hz)
    } else {
        format!("{} to {}", hertz(found.low_hz), hertz(found.high_hz))
    }
}

/// Returns the notes for a running build that reads otherwise. A build that runs weakly, or whose parts are too slow, is right as
/// it is wired. So a wire is moved only where it differs from the picture.
fn notes(verdict: Option<&Verdict>, hazards: Option<&Hazards>) -> Vec<String> {
    let mut notes = Vec::new();
    if let Some(supply) = hazards.and_then(|hazards| hazards.supply) {
        notes.push(format!(
            "supply current by the model: {}",
            supply_words(&supply)
        ));
    }
    let count = |is_so: fn(&Judged) -> bool| {
        let sets = verdict.into_iter().flat_map(|verdict| &verdict.sets);
        sets.filter(|set| is_so(set)).count()
    };
    let weakly = match count(Judged::begins_weakly) {
        0 => String::new(),
        weak => format!(", as {weak} of 3 sets of parts do in the model when switched on"),
    };
    let dead = match count(|set| set.state == State::Dead) {
        0 => String::new(),
        dead => {
            format!("; if they agree, the parts decide: {dead} of 3 sets do not start in the model")
        }
    };
    let at_rest = hazards.map_or_else(String::new, |hazards| {
        let (low_a, high_a) = (hazards.standing.battery_low_a, hazards.standing.battery_a);
        let (less, more) = (1.0 - PARTS_DOUBT, 1.0 + PARTS_DOUBT);
        format!(" ({})", between(low_a * less, high_a * more, Unit::Ampere))
    });
    notes.push(format!(
        "no light, and no more current than at rest{at_rest}: look with the stub (5 cm of insulated wire, open at its end, brought \
         nearer until it counts), or a neon lamp near the top. A frequency in the range: it runs weakly{weakly}; leave its wires \
         alone. None: power off, hold both windings beside the picture and swap the two wires of the primary only where they differ \
         from it{dead}"
    ));
    notes.push(match hazards.map(|hazards| hazards.hottest) {
        Some(heat) if !heat.burns() => format!(
            "power off before you touch the transistor; in the model its case stays below {}",
            celsius(TOUCH_C)
        ),
        Some(heat) => format!(
            "the transistor's case comes to {} in the model: power off and let it cool, never a finger to try it",
            celsius(heat.case_c)
        ),
        None => Caution::HotParts.words().to_owned(),
    });
    if hazards.is_some_and(|hazards| hazards.standing.battery_v > ARCS_ABOVE_V) {
        notes.push(
            "begin with one battery, whose readings sagtrace predict has with series = 1"
                .to_owned(),
        );
    }
    notes
}

//! The dangers of a build to people and parts, in words.

use crate::caution::Caution;
use crate::circuit::damage::Damage;
use crate::circuit::hazards::{Doing, Hazard, Hazards, Standing};
use crate::circuit::heat::{Heat, TOUCH_C, sink_needed_k_per_w};
use crate::circuit::parts::TransistorClass;
use crate::limits::detuning;
use crate::units::{Unit, rounded};

use super::supply::limit_a;
use crate::report::layout::wrapped;

/// The longest time that a supply stays on for one reading, or a hot build in one go, in seconds. Chosen: a moment for a meter; a
/// bare case takes minutes to become as hot as predicted.
pub(in crate::report) const READING_S: u32 = 10;

/// The heading over a build's hazards.
pub const HEADING: &str = "hazards of this build, by its own figures";

/// The junction's temperature a sink is named for, in °C (chosen: well below every part's own).
const EASY_C: f64 = 100.0;

/// The capacitance that a probe of ten to one adds, in farads (10 to 15 pF, partly from memory).
pub(in crate::report) const PROBE_F: f64 = 12e-12;
/// A small coil's own capacitance, in farads: an example.
pub(in crate::report) const EXAMPLE_COIL_F: f64 = 5e-12;

pub(in crate::report) fn celsius(value_c: f64) -> String {
    format!("{value_c:.0} °C")
}

fn volt(value_v: f64) -> String {
    rounded(value_v, Unit::Volt, 2)
}

pub(super) fn ampere(value_a: f64) -> String {
    rounded(value_a, Unit::Ampere, 2)
}

fn watt(value_w: f64) -> String {
    rounded(value_w, Unit::Watt, 2)
}

/// Every hazard of a build in words, the gravest first.
pub fn lines(hazards: &Hazards) -> Vec<String> {
    let each = hazards.found.iter();
    each.map(|hazard| words(hazard, hazards.class)).collect()
}

/// The lines, or the one that stands for them where the circuit could not be computed.
pub fn or_not_computed(hazards: Option<&Hazards>) -> Vec<String> {
    hazards.map_or_else(|| vec![Caution::NotComputed.words().to_owned()], lines)
}

/// The lines under their heading with an empty line behind them; nothing where there is no hazard.
pub(in crate::report) fn section(out: &mut String, hazards: Option<&Hazards>) {
    let found = or_not_computed(hazards);
    if found.is_empty() {
        return;
    }
    wrapped(out, 0, HEADING);
    for line in found {
        wrapped(out, 2, &line);
    }
    out.push('\n');
}

/// Returns the advice before switching on, where a build's figures forbid that as it is or allow it for moments alone.
pub(in crate::report) fn before_switching_on(hazards: &Hazards) -> Option<String> {
    if let Some(damage) = hazards.first_rating() {
        return Some(format!(
            "Not to be switched on as it is: a part is beyond its rating ({}). Mend that first.",
            part(damage)
        ));
    }
    let is_hot = hazards.found.iter().any(Hazard::is_heat);
    is_hot.then(|| format!("On for {READING_S} s at a time, until the transistor has a heat sink."))
}

const fn when(doing: Doing) -> &'static str {
    match doing {
        Doing::Standing => ", even while nothing oscillates",
        Doing::Running => "",
    }
}

pub(in crate::report) fn words(hazard: &Hazard, class: TransistorClass) -> String {
    match hazard {
        Hazard::Rating { damage, doing } => {
            format!("beyond its rating: {}", damaged(damage, *doing, class))
        }
        Hazard::Case {
            heat,
            doing,
            sink_k_per_w,
        } => case(heat, *doing, *sink_k_per_w),
        Hazard::Standing(standing) => measured(standing),
        Hazard::Arcs { top_v, .. } => arcs(*top_v),
        Hazard::Top {
            top_v,
            circulating_a,
            touch_a,
        } => top(*top_v, *circulating_a, *touch_a),
    }
}

/// The part that is asked too much.
const fn part(damage: &Damage) -> &'static str {
    match damage {
        Damage::ReverseBase { .. } => "base",
        Damage::Collector { .. } => "collector",
        Damage::CollectorCurrent { .. } | Damage::Junction { .. } => "transistor",
        Damage::Supply { .. } => "battery",
        Damage::Diode { .. } => "diode",
        Damage::BiasResistor { .. } => "bias resistor",
    }
}

fn damaged(damage: &Damage, doing: Doing, class: TransistorClass) -> String {
    let what = match *damage {
        Damage::ReverseBase { lowest_v, rated_v } => format!(
            "driven to {}, data sheets promise {}; a diode at the base, cathode to the base, stops that",
            volt(lowest_v),
            volt(-rated_v)
        ),
        Damage::Collector { highest_v, rated_v } => format!(
            "swings to {}, rated {}; a lower supply, or a type rated higher",
            volt(highest_v),
            volt(rated_v)
        ),
        Damage::CollectorCurrent { supply_a, rated_a } => format!(
            "{} on average, its collector is rated {}",
            ampere(supply_a),
            ampere(rated_a)
        ),
        Damage::Supply {
            supply_a,
            battery_v,
        } => format!(
            "{} ({}) is more than such a battery and its wires are made for",
            ampere(supply_a),
            watt(supply_a.abs() * battery_v)
        ),
        Damage::Diode { diode_a, rated_a } => format!(
            "{} on average, data sheets of small ones allow {}",
            ampere(diode_a),
            ampere(rated_a)
        ),
        Damage::BiasResistor { power_w, rated_w } => format!(
            "{}, small ones stand {} (common practice, no source); it burns who touches it",
            watt(power_w),
            watt(rated_w)
        ),
        Damage::Junction { heat } => format!(
            "{} inside at {}{}, data sheets allow {}; {}",
            celsius(heat.junction_c),
            watt(heat.power_w),
            when(doing),
            celsius(heat.most_c),
            sink(&heat, class)
        ),
    };
    format!("{}: {what}", part(damage))
}

pub(super) fn sink(heat: &Heat, class: TransistorClass) -> String {
    sink_needed_k_per_w(heat.power_w, &class.case(), EASY_C).map_or_else(
        || "no heat sink keeps it cool, less current does".to_owned(),
        |sink| {
            format!(
                "a heat sink of {} keeps it at {}",
                at_most(sink),
                celsius(EASY_C)
            )
        },
    )
}

/// A heat sink's thermal resistance, rounded to the better side.
pub(super) fn at_most(sink_k_per_w: f64) -> String {
    if sink_k_per_w < 10.0 {
        format!("{:.1} K/W or less", (10.0 * sink_k_per_w).floor() / 10.0)
    } else {
        format!("{:.0} K/W or less", sink_k_per_w.floor())
    }
}

fn case(heat: &Heat, doing: Doing, sink_k_per_w: Option<f64>) -> String {
    let sink = sink_k_per_w.map_or_else(
        || "no heat sink keeps it below that, less current does".to_owned(),
        |sink| {
            format!(
                "a heat sink of {} keeps it below {}",
                at_most(sink),
                celsius(TOUCH_C)
            )
        },
    );
    let how_long = if heat.times_rated() > 1.0 {
        "not to be switched on so".to_owned()
    } else {
        format!("on for {READING_S} s at a time")
    };
    format!(
        "transistor: its case comes to {}{}, which burns within seconds: {how_long}, never a finger to try it; power off and let it cool \
         first, a metal case or tab is the collector, too; {sink}",
        celsius(heat.case_c),
        when(doing)
    )
}

fn measured(standing: &Standing) -> String {
    format!(
        "standing measurements, foot off the base: at {} it would take up to {} ({} in the transistor, case {}) with a meter on it: make them at {}, \
         limited to {}, on for {READING_S} s at a time{}",
        volt(standing.battery_v),
        ampere(standing.battery_a),
        watt(standing.battery_heat.power_w),
        celsius(standing.battery_heat.case_c),
        volt(standing.supply_v),
        ampere(limit_a(standing)),
        if standing.heat.burns() {
            ", and on a heat sink all the same"
        } else {
            ""
        }
    )
}

fn arcs(top_v: Option<f64>) -> String {
    let beside = top_v.map_or_else(String::new, |top_v| {
        format!(
            " Predicted at the top: {}. {}",
            volt(top_v),
            Caution::ArcsAndVolts.with_source()
        )
    });
    format!("{}{beside}", Caution::ThreeBatteries.with_source())
}

fn top(top_v: f64, circulating_a: f64, touch_a: Option<f64>) -> String {
    let level = touch_a.map_or_else(String::new, |touch_a| {
        format!(
            " (published reference level for a touch, public: {}; sagtrace cautions has the sources)",
            rounded(touch_a, Unit::Ampere, 3)
        )
    });
    format!(
        "top: up to {} and {} to and fro in the coil{level}. {}",
        volt(top_v),
        ampere(circulating_a),
        Caution::together(&[
            Caution::Touch,
            Caution::Implants,
            Caution::Transmitter,
            Caution::CodesFirst
        ])
    )
}

/// Returns the warning to somebody who joins a probe to the secondary or its top.
pub fn probe_on_secondary(input: &str, sees: &str) -> String {
    format!(
        "mind: {input} \"{sees}\": power off, take it away. {} A probe of 12 pF on a coil of 5 pF turns it to {:.0} % of its frequency.",
        Caution::together(&[Caution::Probe, Caution::Stub]),
        100.0 * detuning(EXAMPLE_COIL_F, PROBE_F)
    )
}

/// Returns the warning to somebody whose instrument's earth clip is on the build.
pub fn earth_clipped() -> String {
    format!("mind: earth clipped: {}", Caution::EarthClipped.words())
}

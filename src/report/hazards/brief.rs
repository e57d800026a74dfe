//! A build's hazards in a few lines: the gravest with its remedy, those for people near, and how many more there are.

use crate::caution::Caution;
use crate::circuit::damage::Damage;
use crate::circuit::hazards::{Doing, Hazard, Hazards};
use crate::circuit::heat::{Heat, TOUCH_C};
use crate::circuit::parts::TransistorClass;
use crate::units::{Unit, rounded};

use super::supply::limit_a;
use super::words::{READING_S, at_most, sink};
use crate::report::layout::kept;

/// Returns the gravest hazard, then those for people near, then the number of those that are left out; empty where there is
/// none.
pub(in crate::report) fn brief(hazards: Option<&Hazards>) -> Vec<String> {
    shown(hazards, |at, hazard| at == 0 || is_for_people(hazard))
}

/// Returns the gravest hazard in words that count the others; `None` where there is none.
pub(in crate::report) fn gravest(hazards: Option<&Hazards>) -> Option<String> {
    let words = shown(hazards, |at, _| at == 0);
    (!words.is_empty()).then(|| words.join(" "))
}

fn shown(hazards: Option<&Hazards>, is_shown: impl Fn(usize, &Hazard) -> bool) -> Vec<String> {
    let Some(hazards) = hazards else {
        return vec![Caution::NotComputed.words().to_owned()];
    };
    let mut out = Vec::new();
    let mut left_out = 0;
    for (at, hazard) in hazards.found.iter().enumerate() {
        if is_shown(at, hazard) {
            out.push(sentence(hazard, hazards.class));
        } else {
            left_out += 1;
        }
    }
    match left_out {
        0 => {}
        1 => out.push("1 more warning: --detail.".to_owned()),
        count => out.push(format!("{count} more warnings: --detail.")),
    }
    out
}

/// Returns the gravest hazard and how many others there are; `None` where there is none.
pub(in crate::report) fn gravest_and_others(hazards: Option<&Hazards>) -> Option<(String, usize)> {
    let Some(hazards) = hazards else {
        return Some((Caution::NotComputed.words().to_owned(), 0));
    };
    let first = hazards.found.first()?;
    Some((sentence(first, hazards.class), hazards.found.len() - 1))
}

/// Whether somebody who only stands by has to know it.
const fn is_for_people(hazard: &Hazard) -> bool {
    matches!(hazard, Hazard::Arcs { .. } | Hazard::Top { .. })
}

fn sentence(hazard: &Hazard, class: TransistorClass) -> String {
    match hazard {
        Hazard::Rating { damage, doing } => format!(
            "DO\u{a0}NOT\u{a0}SWITCH\u{a0}IT\u{a0}ON as it is: {}",
            damaged(damage, *doing, class)
        ),
        Hazard::Case {
            heat,
            doing,
            sink_k_per_w,
        } => case(heat, *doing, *sink_k_per_w),
        Hazard::Standing(standing) => format!(
            "Before you measure with the foot off the base, lower the supply to {}, limit it to {}, and leave it on for {} at a time.",
            volt(standing.supply_v),
            ampere(limit_a(standing)),
            seconds()
        ),
        Hazard::Arcs { open_v, .. } => format!(
            "Keep children away: {} gives long arcs.",
            volt(*open_v)
        ),
        Hazard::Top { .. } => "Nobody touches the coil or its top: it burns. People with implants, such as pacemakers, \
                               stay out of the room."
            .to_owned(),
    }
}

/// Temperatures of the model, to two digits.
pub(in crate::report) fn about_celsius(value_c: f64) -> String {
    let step = if value_c.abs() < 100.0 { 1.0 } else { 10.0 };
    kept(&format!("{:.0} °C", (value_c / step).round() * step))
}

fn damaged(damage: &Damage, doing: Doing, class: TransistorClass) -> String {
    match *damage {
        Damage::ReverseBase { lowest_v, rated_v } => format!(
            "its base would be driven to {}, rated {}. Put a diode at the base, its cathode to the base.",
            volt(lowest_v),
            volt(-rated_v)
        ),
        Damage::Collector { highest_v, rated_v } => format!(
            "its collector would swing to {}, rated {}. Lower the supply, or take a type rated higher.",
            volt(highest_v),
            volt(rated_v)
        ),
        Damage::CollectorCurrent { supply_a, rated_a } => format!(
            "its collector would carry {} on average, rated {}.",
            ampere(supply_a),
            ampere(rated_a)
        ),
        Damage::Supply { supply_a, .. } => format!(
            "it would draw {}, more than such a battery and its wires are made for.",
            ampere(supply_a)
        ),
        Damage::Diode { diode_a, rated_a } => format!(
            "its diode may carry {} on average, and small ones allow {}.",
            ampere(diode_a),
            ampere(rated_a)
        ),
        Damage::BiasResistor { power_w, rated_w } => format!(
            "its bias resistor would turn {} to heat, and small ones stand {}. It burns who touches it.",
            watt(power_w),
            watt(rated_w)
        ),
        Damage::Junction { heat } => format!(
            "the transistor would reach {} inside{}, and {} is the limit. {}.",
            about_celsius(heat.junction_c),
            when(doing),
            about_celsius(heat.most_c),
            capital(&sink(&heat, class))
        ),
    }
}

fn case(heat: &Heat, doing: Doing, sink_k_per_w: Option<f64>) -> String {
    let remedy = sink_k_per_w.map_or_else(
        || "No heat sink helps, less current does.".to_owned(),
        |sink| {
            format!(
                "A heat sink of {} keeps it below {}.",
                kept(&at_most(sink)),
                about_celsius(TOUCH_C)
            )
        },
    );
    format!(
        "Its transistor gets to {}{} and burns a finger: on for {} at a time. {remedy}",
        about_celsius(heat.case_c),
        when(doing),
        seconds()
    )
}

const fn when(doing: Doing) -> &'static str {
    match doing {
        Doing::Standing => ", even while nothing oscillates,",
        Doing::Running => "",
    }
}

/// The words with a capital at their head.
fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

fn seconds() -> String {
    kept(&format!("{READING_S} s"))
}

fn volt(value_v: f64) -> String {
    kept(&rounded(value_v, Unit::Volt, 2))
}

fn ampere(value_a: f64) -> String {
    kept(&rounded(value_a, Unit::Ampere, 2))
}

fn watt(value_w: f64) -> String {
    kept(&rounded(value_w, Unit::Watt, 2))
}

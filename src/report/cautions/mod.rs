//! What to mind at a coil, with the published reference levels at a frequency.

use std::fmt::Write as _;

use crate::limits::{
    PASCHEN_MINIMUM, contact_icnirp, contact_ieee, detuning, local_field, needle_gap_m,
    radiated_v_per_m,
};
use crate::report::form::{Form, part};
use crate::report::hazards::{ARCS_AND_VOLTS, EXAMPLE_COIL_F, PROBE_F, THREE_BATTERIES};
use crate::report::layout::{list, told, wrapped};
use crate::units::{Unit, rounded};

/// A peak voltage that such a coil can reach, in volt: an example inside the table of gaps.
const SPARK_V: f64 = 10e3;

/// In one line each, what to mind whatever the frequency.
const ALWAYS: [&str; 11] = [
    "Do not touch the coil, its top or what draws a spark from it: small dry spots burn, and above 100 kHz nerves do not warn.",
    "Pacemakers, defibrillators, neurostimulators, insulin pumps, cochlear implants stay out of the room; hearing aids come out.",
    "An open coil is a transmitter: minutes, low power, indoors, no aerial; stop on any complaint.",
    "This is not a toy: an adult holds the switch, onlookers stay a metre back, lamps are held on a dry plastic stick.",
    "Never clip a probe to the top or the secondary; pick up with a stub, 5 cm of open wire, three coil lengths away.",
    "Never short a battery; cap its terminals. No charging of alkaline, zinc-carbon or lithium primary; others on their own charger \
     only, never unattended, warm, swollen or wet. Stop at the end voltage: beyond it weak cells are reversed, and so is the \
     weakest of several batteries in series. Stop if the case grows hot.",
    "A battery with a converter can ripple in the coil's band: record once with the coil off, and mask what is read.",
    "If you smell ozone, stop and air the room. Only ordinary neon or coated fluorescent lamps, never clear germicidal tubes.",
    THREE_BATTERIES,
    ARCS_AND_VOLTS,
    "Switch off and unplug the battery before you touch anything.",
];

/// The levels at a frequency in hertz, then what to mind always.
pub fn text(frequency_hz: f64) -> String {
    let mut out = String::new();
    wrapped(
        &mut out,
        0,
        "This program measures; it does not make a build safe. Local codes and licensed practice come first. These are published \
         figures to compare with, and no assessment.",
    );
    let at = rounded(frequency_hz, Unit::Hertz, 4);
    // Writing to a String cannot fail.
    writeln!(out, "\nPublished levels at {at}").ok();
    let milli = |ampere: f64| rounded(ampere, Unit::Ampere, 3);
    let mut row = |name: &str, words: Option<String>| {
        let words = words.unwrap_or_else(|| "none known at this frequency".to_owned());
        told(&mut out, name, &words);
    };
    row(
        "contact",
        contact_icnirp(frequency_hz).map(|level| {
            format!(
                "{} for the public, {} for workers (ICNIRP 2010)",
                milli(level.public_a),
                milli(level.trained_a)
            )
        }),
    );
    row(
        "contact",
        contact_ieee(frequency_hz).map(|level| {
            format!(
                "{} touched by the public, {} grasped by trained people (IEEE C95.1-2345, 2014, as tabulated by Tell and Tell, \
                 Biomed. Eng. OnLine 2018); a light brush can arc and burn at 50 mA",
                milli(level.public_a),
                milli(level.trained_a)
            )
        }),
    );
    row(
        "field",
        local_field(frequency_hz).map(|field| {
            format!(
                "{:.0} V/m and {:.2} A/m for the public, rms, mean over 6 min, close by (ICNIRP 2020)",
                field.electric_v_per_m, field.magnetic_a_per_m
            )
        }),
    );
    row(
        "radiated",
        radiated_v_per_m(frequency_hz, 0.0).map(|narrow| {
            format!(
                "{:.0} µV/m at 30 m for a line as narrow as a coil's (US, 47 CFR 15.223; elsewhere ask your regulator)",
                1e6 * narrow
            )
        }),
    );
    row(
        "a probe",
        Some(format!(
            "of 12 pF on a coil of 5 pF turns {at} into {}",
            rounded(
                frequency_hz * detuning(EXAMPLE_COIL_F, PROBE_F),
                Unit::Hertz,
                4
            )
        )),
    );
    row(
        "a spark",
        needle_gap_m(SPARK_V).map(|gap_m| {
            format!(
                "{:.2} cm long between needles means 10 kV at low frequency (AIEE, 25 °C, 760 mmHg) and less at this one: it is no \
                 voltmeter; no gap in air, however small, sparks below {:.0} V there (Paschen's minimum, at {:.1} µm)",
                100.0 * gap_m,
                PASCHEN_MINIMUM.0,
                1e6 * PASCHEN_MINIMUM.1
            )
        }),
    );
    list(&mut out, "Always", &ALWAYS);
    out
}

part! {
    /// The levels for other programs.
    pub struct Json(at_hz: f64) with {
        let icnirp = contact_icnirp(at_hz);
        let ieee = contact_ieee(at_hz);
        let field = local_field(at_hz);
    } {
        frequency_hz: f64 = at_hz,
        contact_icnirp_public_a: Option<f64> = icnirp.map(|level| level.public_a),
        contact_icnirp_workers_a: Option<f64> = icnirp.map(|level| level.trained_a),
        contact_ieee_public_touch_a: Option<f64> = ieee.map(|level| level.public_a),
        contact_ieee_trained_grasp_a: Option<f64> = ieee.map(|level| level.trained_a),
        local_electric_v_per_m: Option<f64> = field.map(|field| field.electric_v_per_m),
        local_magnetic_a_per_m: Option<f64> = field.map(|field| field.magnetic_a_per_m),
        radiated_narrow_at_30_m_v_per_m: Option<f64> = radiated_v_per_m(at_hz, 0.0),
        always: [&'static str; 11] = ALWAYS,
    }
}

impl Form for Json {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_levels_stand_with_their_sources_and_a_frequency_without_any_says_so() {
        let said = text(4e6);
        for words in [
            "20.0 mA for the public",
            "18.2 mA touched",
            "254 V/m and 1.23 A/m",
            "15 µV/m at 30 m",
            "turns 4.000 MHz into 2.169 MHz",
            "0.85 cm",
        ] {
            assert!(said.contains(words), "{words}: {said}");
        }
        assert!(
            said.lines().all(|line| line.chars().count() <= 100),
            "{said}"
        );
        assert!(text(50e6).contains("none known at this frequency"));
        assert!(Json::new(50e6).contact_icnirp_public_a.is_none());
    }
}

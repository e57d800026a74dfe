//! The cautions at a coil, with the published reference levels at a frequency.

use std::fmt::Write as _;

use crate::caution::Caution;
use crate::limits::{
    PASCHEN_MINIMUM_M, PASCHEN_MINIMUM_V, contact_icnirp, contact_ieee, detuning, local_field,
    needle_gap_m, radiated_v_per_m,
};
use crate::report::form::{Form, part};
use crate::report::hazards::{EXAMPLE_COIL_F, PROBE_F};
use crate::report::layout::{filled, list, numbers_kept, told, wrapped};
use crate::units::{Unit, rounded};

/// A peak voltage that such a coil can reach, in volts: an example inside the table of gaps.
const SPARK_V: f64 = 10e3;

/// The cautions that everybody has to know before a coil is switched on.
const GRAVEST: [Caution; 6] = [
    Caution::Touch,
    Caution::Unplug,
    Caution::Implants,
    Caution::Probe,
    Caution::Toy,
    Caution::ShortCircuit,
];

/// The gravest cautions and the level for a touch at a frequency in hertz, on one screen.
pub fn answer(frequency_hz: f64, command: &str, width: usize) -> String {
    let mut out = String::new();
    let first = Caution::together(&[Caution::MeasuresOnly, Caution::CodesFirst]);
    filled(&mut out, width, 0, &first);
    for one in GRAVEST {
        let mut set = String::new();
        filled(&mut set, width, 2, one.words());
        set.replace_range(..1, "-");
        out.push_str(&set);
    }
    if let Some(level) = contact_icnirp(frequency_hz) {
        let (at, most) = (
            rounded(frequency_hz, Unit::Hertz, 4),
            rounded(level.public_a, Unit::Ampere, 3),
        );
        let words = format!(
            "Public reference level for a touch at {at}: {most} (ICNIRP 2010). A coil of a few watts can exceed it."
        );
        filled(&mut out, width, 0, &numbers_kept(&words));
    }
    let rest = Caution::for_everybody().count() - GRAVEST.len();
    // Writing to a String cannot fail.
    writeln!(out, "{rest} more, and the sources: {command} --detail").ok();
    out
}

/// The levels at a frequency in hertz, then the cautions that always hold.
pub fn text(frequency_hz: f64) -> String {
    let mut out = String::new();
    let first = Caution::together(&[Caution::MeasuresOnly, Caution::CodesFirst]);
    let figures = "These are published figures to compare with, not an assessment of your build.";
    wrapped(&mut out, 0, &format!("{first} {figures}"));
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
            "of 12 pF on a coil of 5 pF lowers {at} to {}",
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
                PASCHEN_MINIMUM_V,
                1e6 * PASCHEN_MINIMUM_M
            )
        }),
    );
    let always: Vec<String> = Caution::for_everybody().map(Caution::with_source).collect();
    list(&mut out, "Always", &always);
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
        always: Vec<&'static str> = Caution::for_everybody().map(Caution::words).collect(),
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
            "lowers 4.000 MHz to 2.169 MHz",
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

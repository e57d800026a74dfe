//! From a winding to what it should do: resonance with its band, inductance, copper, coupling.

use std::f64::consts::TAU;

use super::Resonance;
use super::handbook::{self, Foot, HandbookError, Tolerance, thomson_hz};
use super::loss::{crowding_ratio, resistance_ohm_per_m, skin_depth_m, skin_ratio};
use super::prediction::{BandBasis, CapacitanceKind, Note, Origin, Prediction, Valued};
use super::self_capacitance::CONFIRMED_LENGTH_RATIO;
use super::winding::{Cylinder, Primary, Winding};

/// Band of a resonance whose capacitance was measured, as a share: chosen, half of 1 % for the computed inductance, ten
/// times what callipers have reached.
pub const BAND_MEASURED_CAPACITANCE: f64 = 0.005;

/// What the person measured; it stands in place of what would be computed.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Measured {
    /// The secondary's inductance, in henry.
    pub inductance_h: Option<f64>,
    /// The capacitance that resonates with that inductance, in farad.
    pub resonance_capacitance_f: Option<f64>,
    /// The quality factor as built.
    pub q: Option<f64>,
    /// Coupling between primary and secondary.
    pub coupling: Option<f64>,
    /// The primary's inductance, in henry.
    pub primary_inductance_h: Option<f64>,
    /// Inductance of the leads between battery and circuit, in henry.
    pub lead_inductance_h: Option<f64>,
    /// The resonance, in hertz.
    pub frequency_hz: Option<f64>,
    /// How far that resonance may be off, as a share of itself; 0 if nothing is said.
    pub frequency_ratio: f64,
}

/// All that a prediction is made from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoilSpec {
    /// The secondary.
    pub winding: Winding,
    /// The primary.
    pub primary: Primary,
    /// How firmly the foot is earthed.
    pub foot: Foot,
    /// How far the secondary's measures may be off.
    pub tolerance: Tolerance,
    /// What was measured.
    pub measured: Measured,
}

/// Why there is no prediction.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PredictError {
    /// The handbook route does not reach this coil and nothing measured takes its place.
    #[error(
        "prediction of the resonance: {0}; a measured frequency in the sheet would take its place"
    )]
    Handbook(#[from] HandbookError),
}

/// What a build should do, with measured values in place of computed ones.
///
/// # Errors
/// [`PredictError::Handbook`] if neither a measured frequency nor the handbook route gives a resonance: the shape is no
/// cylinder, or it is outside the self-capacitance table.
pub fn predict(spec: &CoilSpec) -> Result<Prediction, PredictError> {
    let (winding, measured) = (&spec.winding, &spec.measured);
    let cylinder = winding.cylinder();
    let inductance_h = Valued::or_measured(measured.inductance_h, || {
        cylinder.map(|coil| coil.inductance_h())
    });
    let (resonance, band) = resonance(spec, inductance_h)?;
    let (capacitance_f, capacitance_kind) = capacitance(spec, inductance_h, resonance.value_hz);
    let resistance_dc_ohm =
        winding.wire_length_m() * resistance_ohm_per_m(winding.gauge.bare_m(), 20.0);
    let reactance_ohm = inductance_h.map(|own| TAU * resonance.value_hz * own.value);
    let resistance_ohm =
        Valued::or_measured(measured.q.and_then(|q| Some(reactance_ohm? / q)), || {
            resistance_ohm(&cylinder?, resistance_dc_ohm, resonance.value_hz)
        });
    let q = Valued::or_measured(measured.q, || Some(reactance_ohm? / resistance_ohm?.value));
    let primary_inductance_h = Valued::or_measured(measured.primary_inductance_h, || {
        Some(spec.primary.inductance_h())
    });
    let coupling = Valued::or_measured(measured.coupling, || {
        // Mutual and own inductances must come from one model, so measured ones stay out of it.
        let coil = cylinder?;
        let own2_h2 = spec.primary.inductance_h() * coil.inductance_h();
        Some(spec.primary.mutual_h(&coil) / own2_h2.sqrt())
    });
    let mut prediction = Prediction {
        resonance,
        band,
        inductance_h,
        capacitance_f,
        capacitance_kind,
        wire_length_m: winding.wire_length_m(),
        copper_mass_kg: winding.copper_mass_kg(),
        resistance_dc_ohm,
        resistance_ohm,
        q,
        primary_inductance_h,
        coupling,
        notes: Vec::new(),
    };
    prediction.notes = notes(spec, &prediction);
    Ok(prediction)
}

fn resonance(
    spec: &CoilSpec,
    inductance_h: Option<Valued>,
) -> Result<(Resonance, BandBasis), HandbookError> {
    let measured = &spec.measured;
    if let Some(frequency_hz) = measured.frequency_hz {
        let basis = if measured.frequency_ratio > 0.0 {
            BandBasis::Stated
        } else {
            BandBasis::NoneGiven
        };
        let route = "measured".to_owned();
        return Ok((around(frequency_hz, measured.frequency_ratio, route), basis));
    }
    if let (Some(inductance_h), Some(capacitance_f)) =
        (inductance_h, measured.resonance_capacitance_f)
    {
        let value_hz = thomson_hz(inductance_h.value, capacitance_f);
        return Ok(match inductance_h.origin {
            Origin::Measured => {
                let route = "measured inductance and resonance capacitance".to_owned();
                (around(value_hz, 0.0, route), BandBasis::NoneGiven)
            }
            Origin::Computed => {
                let route = "current sheet with Rosa's corrections, measured resonance capacitance";
                let band = around(value_hz, BAND_MEASURED_CAPACITANCE, route.to_owned());
                (band, BandBasis::ComputedInductance)
            }
        });
    }
    let coil = handbook::cylinder(&spec.winding)?;
    let mut resonance =
        handbook::resonance(&coil, spec.foot, spec.tolerance, measured.inductance_h)?;
    if measured.inductance_h.is_some() {
        resonance.route.push_str(", measured inductance");
    }
    let basis = match spec.foot {
        Foot::Earthed => BandBasis::MeasuredCoils,
        Foot::Floating => BandBasis::MeasuredCoilsAndFloating,
    };
    Ok((resonance, basis))
}

fn around(value_hz: f64, ratio: f64, route: String) -> Resonance {
    Resonance {
        value_hz,
        low_hz: value_hz * (1.0 - ratio),
        high_hz: value_hz * (1.0 + ratio),
        route,
    }
}

fn capacitance(
    spec: &CoilSpec,
    inductance_h: Option<Valued>,
    resonance_hz: f64,
) -> (Option<f64>, Option<CapacitanceKind>) {
    if let Some(capacitance_f) = spec.measured.resonance_capacitance_f {
        return (
            Some(capacitance_f),
            Some(CapacitanceKind::MeasuredResonance),
        );
    }
    let Some(inductance_h) = inductance_h else {
        return (None, None);
    };
    // Also for the tabulated one: the resonance is made from it, so this gives it back.
    let capacitance_f = 1.0 / ((TAU * resonance_hz).powi(2) * inductance_h.value);
    let kind = if spec.measured.frequency_hz.is_some() {
        CapacitanceKind::FromFrequency
    } else {
        CapacitanceKind::Tabulated
    };
    (Some(capacitance_f), Some(kind))
}

/// The secondary's resistance at a frequency: direct current × skin ratio × crowding; `None` outside the table.
fn resistance_ohm(coil: &Cylinder, resistance_dc_ohm: f64, frequency_hz: f64) -> Option<f64> {
    let skin = skin_ratio(coil.bare_m / 2.0 / skin_depth_m(frequency_hz));
    let crowding = crowding_ratio(
        coil.length_m / coil.diameter_m,
        coil.length_m / coil.turns / coil.bare_m,
    )?;
    Some(resistance_dc_ohm * skin * crowding)
}

fn notes(spec: &CoilSpec, prediction: &Prediction) -> Vec<Note> {
    let is_computed =
        |value: Option<Valued>| value.is_some_and(|value| value.origin == Origin::Computed);
    let mut notes = Vec::new();
    let is_by_handbook = matches!(
        prediction.band,
        BandBasis::MeasuredCoils | BandBasis::MeasuredCoilsAndFloating
    );
    if is_by_handbook && spec.tolerance != Tolerance::default() {
        notes.push(Note::BandWithTolerances);
    }
    if let Some(coil) = spec.winding.cylinder() {
        let length_over_diameter = coil.length_m / coil.diameter_m;
        if prediction.capacitance_kind == Some(CapacitanceKind::Tabulated)
            && !CONFIRMED_LENGTH_RATIO.contains(&length_over_diameter)
        {
            notes.push(Note::CapacitanceUnconfirmed {
                length_over_diameter,
            });
        }
        if prediction.resistance_ohm.is_none() {
            let pitch_over_wire = coil.length_m / coil.turns / coil.bare_m;
            notes.push(Note::CrowdingNotTabulated { pitch_over_wire });
        }
    }
    if is_computed(prediction.q) {
        notes.push(Note::QOfCopperAlone);
    }
    if is_computed(prediction.coupling) {
        notes.push(Note::CouplingUniform);
    }
    if is_computed(prediction.primary_inductance_h) {
        notes.push(Note::PrimaryWithoutLeads);
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coil::film::OverEnamel;
    use crate::coil::winding::{CollectorEnd, Sense, Shape};
    use crate::coil::wire::Gauge;

    fn example() -> CoilSpec {
        CoilSpec {
            winding: Winding {
                shape: Shape::Cylinder {
                    diameter_m: 0.01622,
                    length_m: 0.099,
                },
                turns: 450.0,
                gauge: Gauge::Metric(0.0002),
                over_enamel: OverEnamel::measured(0.00022),
                sense: Sense::Right,
            },
            primary: Primary {
                turns: 3,
                diameter_m: 0.022,
                gauge: Gauge::Metric(0.001),
                pitch_m: 0.002,
                position_m: 0.0,
                collector_end: CollectorEnd::TopSide,
                sense: Sense::Right,
            },
            foot: Foot::Earthed,
            tolerance: Tolerance::default(),
            measured: Measured::default(),
        }
    }

    fn with(measured: Measured) -> Prediction {
        predict(&CoilSpec {
            measured,
            ..example()
        })
        .unwrap()
    }

    #[test]
    fn the_capacitance_named_is_the_one_the_resonance_was_made_from() {
        let prediction = predict(&example()).unwrap();
        assert_eq!(
            prediction.capacitance_kind,
            Some(CapacitanceKind::Tabulated)
        );
        let table_f = handbook::capacitance_f(&example().winding.cylinder().unwrap()).unwrap();
        assert!((prediction.capacitance_f.unwrap() / table_f - 1.0).abs() < 1e-12);
        assert_eq!(prediction.band, BandBasis::MeasuredCoils);
    }

    #[test]
    fn a_measured_frequency_is_the_resonance_whatever_else_is_known() {
        let prediction = with(Measured {
            frequency_hz: Some(6.1e6),
            frequency_ratio: 0.01,
            inductance_h: Some(300e-6),
            resonance_capacitance_f: Some(7e-12),
            ..Measured::default()
        });
        assert_eq!(prediction.resonance.route, "measured");
        assert!((prediction.resonance.value_hz - 6.1e6).abs() < 1e-6);
        assert!((prediction.resonance.low_hz - 6.039e6).abs() < 1e-3);
        assert_eq!(prediction.band, BandBasis::Stated);
    }

    #[test]
    fn measured_inductance_and_capacitance_make_the_resonance() {
        // 300 µH and 7 pF: 3.47305 MHz.
        let prediction = with(Measured {
            inductance_h: Some(300e-6),
            resonance_capacitance_f: Some(7e-12),
            ..Measured::default()
        });
        assert!((prediction.resonance.value_hz - 3.47305e6).abs() < 10.0);
        assert_eq!(
            prediction.resonance.route,
            "measured inductance and resonance capacitance"
        );
        assert_eq!(prediction.band, BandBasis::NoneGiven);
    }

    #[test]
    fn one_measured_value_alone_keeps_the_part_of_the_band_it_does_not_settle() {
        let inductance = with(Measured {
            inductance_h: Some(500e-6),
            ..Measured::default()
        });
        assert!(
            inductance
                .resonance
                .route
                .ends_with(", measured inductance")
        );
        assert_eq!(inductance.band, BandBasis::MeasuredCoils);
        let capacitance = with(Measured {
            resonance_capacitance_f: Some(1.323e-12),
            ..Measured::default()
        });
        assert_eq!(capacitance.band, BandBasis::ComputedInductance);
        // The ring computation that gave 1.323 pF gave 6.244 MHz.
        assert!((capacitance.resonance.value_hz / 6.244e6 - 1.0).abs() < 5e-4);
    }

    #[test]
    fn measured_values_replace_computed_ones_and_silence_their_notes() {
        let prediction = with(Measured {
            q: Some(100.0),
            coupling: Some(0.2),
            primary_inductance_h: Some(0.6e-6),
            ..Measured::default()
        });
        assert_eq!(prediction.q.unwrap().origin, Origin::Measured);
        assert!((prediction.coupling.unwrap().value - 0.2).abs() < 1e-15);
        assert_eq!(
            prediction.primary_inductance_h.unwrap().origin,
            Origin::Measured
        );
        assert!(
            matches!(prediction.notes[..], [Note::CapacitanceUnconfirmed { .. }]),
            "{:?}",
            prediction.notes
        );
    }

    #[test]
    fn a_flat_spiral_is_refused_until_its_frequency_is_measured() {
        let mut spec = example();
        spec.winding.shape = Shape::FlatSpiral {
            inner_diameter_m: 0.030,
            outer_diameter_m: 0.102,
        };
        insta::assert_snapshot!(predict(&spec).unwrap_err(),
            @r#"prediction of the resonance: handbook route: found shape "flat-spiral", a cylinder is wanted; a measured frequency in the sheet would take its place"#);
        spec.measured.frequency_hz = Some(7.0e6);
        let prediction = predict(&spec).unwrap();
        assert_eq!(prediction.inductance_h, None);
        assert_eq!(prediction.capacitance_f, None);
        assert_eq!(prediction.q, None);
        assert!(prediction.resistance_dc_ohm > 0.0);
    }

    #[test]
    fn tolerances_are_told_only_where_the_band_holds_them() {
        let mut spec = example();
        spec.tolerance.turns = 3.0;
        let is_told = |spec: &CoilSpec| {
            let notes = predict(spec).unwrap().notes;
            notes.contains(&Note::BandWithTolerances)
        };
        assert!(is_told(&spec));
        assert!(!is_told(&example()));
        spec.measured.frequency_hz = Some(6.1e6);
        assert!(!is_told(&spec));
    }

    #[test]
    fn turns_too_far_apart_for_the_table_leave_the_resistance_open() {
        let mut spec = example();
        spec.winding.turns = 40.0;
        let prediction = predict(&spec).unwrap();
        assert_eq!(prediction.resistance_ohm, None);
        assert_eq!(prediction.q, None);
        assert!(
            prediction
                .notes
                .iter()
                .any(|note| matches!(note, Note::CrowdingNotTabulated { .. }))
        );
    }
}

//! From a build to its expected behaviour: resonance with its band, inductance, copper, coupling.

mod error;

use std::f64::consts::TAU;

use crate::coil::band::{self, Part, former_shift, sensitivities};
use crate::coil::handbook::{self, thomson_hz};
use crate::coil::loss::{layer_ratio, resistance_ohm_per_m, skin_depth_m, skin_ratio};
use crate::coil::losses::ohms::TurnsByOhms;
use crate::coil::model::doubt;
use crate::coil::prediction::{
    AtFoot, BandBasis, CLIP_F, CapacitanceKind, Handbook, Modelled, Note, Origin, Prediction,
    Probing, Terminal, Valued,
};
use crate::coil::proximity::{Crowding, coil_ratio};
use crate::coil::rings::{
    End, Fineness, MIN_TURNS, Meridian, RingError, Scene, Solution, frequency_hz, solve,
};
use crate::coil::setup::{Footing, scene};
use crate::coil::spec::CoilSpec;
use crate::coil::surroundings::Plane;
use crate::coil::winding::{Shape, SpiralEnd};
use crate::coil::{Resonance, Route};

pub use error::PredictError;

/// Band of a resonance whose capacitance was measured, as a share: chosen, half of 1 % for the computed inductance, ten times the
/// best reached with callipers.
pub const BAND_MEASURED_CAPACITANCE: f64 = 0.005;

/// Coupling above which two peaks are to be expected: chosen, a flat spiral's 0.4 is said to show them (no source).
const SPLITTING_COUPLING: f64 = 0.35;

/// The results of the ring model for a build.
#[derive(Debug, Clone, PartialEq)]
struct Computed {
    solution: Solution,
    /// The solution's resonance moved by former and enamel.
    frequency_hz: f64,
    parts: Vec<Part>,
}

impl Computed {
    fn of(spec: &CoilSpec) -> Result<Self, RingError> {
        let footing = Footing::of(spec.earth);
        let found = spec.winding.turns;
        if found < MIN_TURNS {
            return Err(RingError::TooFewTurns { found });
        }
        let solution = solve(
            &scene(spec, footing),
            Fineness::for_turns(spec.winding.turns),
        )?;
        let shift = former_shift(spec)?;
        Ok(Self {
            frequency_hz: solution.frequency_hz * (1.0 + shift.value),
            parts: band::parts(spec, footing, solution.mode_f(), shift)?,
            solution,
        })
    }
}

/// Predicts the behaviour of a build, with measured values in place of computed ones.
///
/// # Errors
/// [`PredictError::Rings`] if neither measured values nor the ring model give a resonance.
pub fn predict(spec: &CoilSpec) -> Result<Prediction, PredictError> {
    let (winding, measured) = (&spec.winding, &spec.measured);
    let computed = Computed::of(spec);
    let inductance_h = Valued::or_measured(measured.inductance_h, || {
        let found = computed.as_ref().ok()?;
        Some(found.solution.inductance_h)
    });
    let (resonance, band) = match measured_resonance(spec, inductance_h) {
        Some(found) => found,
        None => modelled_resonance(spec, computed.as_ref().map_err(Clone::clone)?),
    };
    let (capacitance_f, capacitance_kind) = capacitance(spec, inductance_h, resonance.value_hz);
    let resistance_dc_ohm =
        winding.wire_length_m() * resistance_ohm_per_m(winding.gauge.bare_m(), 20.0);
    let reactance_ohm = inductance_h.map(|own| TAU * resonance.value_hz * own.value);
    let depth_m = skin_depth_m(resonance.value_hz);
    let resistance_ohm =
        Valued::or_measured(measured.q.and_then(|q| Some(reactance_ohm? / q)), || {
            Some(resistance_dc_ohm * coil_ratio(&winding.cylinder()?, depth_m)?)
        });
    let q = Valued::or_measured(measured.q, || Some(reactance_ohm? / resistance_ohm?.value));
    let layer_ohm = resistance_ohm
        .filter(|found| found.origin == Origin::Computed)
        .map(|_| {
            let ratio = layer_ratio(winding.gauge.bare_m(), winding.pitch_m(), depth_m);
            resistance_dc_ohm * ratio
        });
    let q_most = reactance_ohm.filter(|_| q.is_none()).map(|reactance_ohm| {
        let skin = skin_ratio(winding.gauge.bare_m() / 2.0 / depth_m);
        reactance_ohm / (resistance_dc_ohm * skin)
    });
    let solution = computed.as_ref().ok().map(|found| found.solution);
    let coupling = Valued::or_measured(measured.coupling, || {
        // Mutual and own inductances must come from one model, so measured ones stay out of it.
        let own2_h2 = spec.primary.inductance_h() * solution?.inductance_h;
        Some(even_mutual_h(spec) / own2_h2.sqrt())
    });
    let mut prediction = Prediction {
        at_foot: solution.map(|found| at_foot(spec, &found, resonance.value_hz)),
        resonance,
        band,
        modelled: None,
        inductance_h,
        capacitance_f,
        capacitance_kind,
        wire_length_m: winding.wire_length_m(),
        copper_mass_kg: winding.copper_mass_kg(),
        resistance_dc_ohm,
        turns_by_ohms: measured
            .resistance_ohm
            .map(|ohm| TurnsByOhms::of(winding, ohm)),
        resistance_ohm,
        crowding: Crowding::of(winding.gauge.bare_m(), depth_m),
        layer_ohm,
        q_most,
        q,
        primary_inductance_h: Valued::or_measured(measured.primary_inductance_h, || {
            Some(spec.primary.inductance_h())
        }),
        coupling,
        notes: Vec::new(),
    };
    if let (Ok(found), BandBasis::Parts | BandBasis::PartsAndInductance) = (&computed, band) {
        prediction.modelled = Some(modelled(spec, found)?);
    }
    prediction.notes = notes(spec, &prediction, computed.err());
    Ok(prediction)
}

/// Returns the resonance where the person's own values give it.
fn measured_resonance(
    spec: &CoilSpec,
    inductance_h: Option<Valued>,
) -> Option<(Resonance, BandBasis)> {
    let measured = &spec.measured;
    if let Some(frequency_hz) = measured.frequency_hz {
        let basis = if measured.frequency_ratio > 0.0 {
            BandBasis::Stated
        } else {
            BandBasis::NoneGiven
        };
        let ratio = measured.frequency_ratio;
        return Some((around(frequency_hz, ratio, Route::Measured), basis));
    }
    let (inductance_h, capacitance_f) = (inductance_h?, measured.resonance_capacitance_f?);
    let value_hz = thomson_hz(inductance_h.value, capacitance_f);
    Some(match inductance_h.origin {
        Origin::Measured => {
            let band = around(value_hz, 0.0, Route::MeasuredElements);
            (band, BandBasis::NoneGiven)
        }
        Origin::Computed => {
            let ratio = BAND_MEASURED_CAPACITANCE;
            let band = around(value_hz, ratio, Route::MeasuredCapacitance);
            (band, BandBasis::ComputedInductance)
        }
    })
}

fn modelled_resonance(spec: &CoilSpec, found: &Computed) -> (Resonance, BandBasis) {
    let edges = band::edges(&found.parts);
    let mut value_hz = found.frequency_hz;
    let mut route = Route::Rings;
    let mut basis = BandBasis::Parts;
    if let Some(inductance_h) = spec.measured.inductance_h {
        // A resonance goes as 1/√L with the charges as they are.
        value_hz *= (found.solution.inductance_h / inductance_h).sqrt();
        route = Route::RingsAtInductance;
        basis = BandBasis::PartsAndInductance;
    }
    let resonance = Resonance {
        value_hz,
        low_hz: value_hz * edges.low,
        high_hz: value_hz * edges.high,
        route,
    };
    (resonance, basis)
}

fn around(value_hz: f64, ratio: f64, route: Route) -> Resonance {
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
    let capacitance_f = 1.0 / ((TAU * resonance_hz).powi(2) * inductance_h.value);
    let kind = if spec.measured.frequency_hz.is_some() {
        CapacitanceKind::FromFrequency
    } else {
        CapacitanceKind::Resonance
    };
    (Some(capacitance_f), Some(kind))
}

fn even_mutual_h(spec: &CoilSpec) -> f64 {
    let scene = scene(spec, Footing::Wired);
    scene
        .meridian
        .even_mutual_h(&scene.primary, scene.metal_m())
}

/// Returns the values that belong to a resonance by the model.
fn modelled(spec: &CoilSpec, found: &Computed) -> Result<Modelled, RingError> {
    Ok(Modelled {
        parts: found.parts.clone(),
        next_hz: found.solution.next_hz,
        third_hz: found.solution.third_hz,
        linear_f: found.solution.linear_f,
        one_potential_f: found.solution.one_potential_f,
        terminals: terminals(spec)?,
        sensitivities: sensitivities(spec, Footing::of(spec.earth))?,
        handbook: handbook(spec),
    })
}

/// Returns the two elements at the foot, measured values counted: they always resonate at the resonance.
fn at_foot(spec: &CoilSpec, found: &Solution, resonance_hz: f64) -> AtFoot {
    let measured = &spec.measured;
    let (inductance_h, top_factor) = match (measured.inductance_h, measured.resonance_capacitance_f)
    {
        // Both measured are two elements by themselves.
        (Some(inductance_h), Some(_)) => (inductance_h, 1.0),
        (Some(inductance_h), None) => (
            found.mode_inductance_h * inductance_h / found.inductance_h,
            found.top_factor,
        ),
        (None, _) => (found.mode_inductance_h, found.top_factor),
    };
    let primary_h = spec.primary.inductance_h();
    let coupling = measured
        .coupling
        .unwrap_or_else(|| found.mode_mutual_h / (primary_h * found.mode_inductance_h).sqrt());
    let primary_h = measured.primary_inductance_h.unwrap_or(primary_h);
    let omega = TAU * resonance_hz;
    AtFoot {
        inductance_h,
        capacitance_f: 1.0 / (omega * omega * inductance_h),
        mutual_h: coupling * (primary_h * inductance_h).sqrt(),
        coupling,
        top_factor,
        top_v_per_a: top_factor * omega * inductance_h,
        foot_share: found.foot_share,
    }
}

fn handbook(spec: &CoilSpec) -> Option<Handbook> {
    let coil = spec.winding.cylinder()?;
    Some(Handbook {
        resonance: handbook::resonance(&coil).ok()?,
        capacitance_f: handbook::capacitance_f(&coil).ok()?,
    })
}

/// Returns the bare coil over its plane, without circuit and primary, as one would measure it alone.
fn terminals(spec: &CoilSpec) -> Result<Vec<Terminal>, RingError> {
    let bare = Scene {
        plane: spec.surroundings.plane,
        ..Scene::bare(Meridian::of(&spec.winding))
    };
    let fineness = Fineness::for_turns(spec.winding.turns);
    let (upright, turned) = (bare.meridian, bare.meridian.turned());
    [
        (Probing::BothOpen, (End::Open, End::Open), upright),
        (Probing::FootClipped, (End::Earthed, End::Open), upright),
        (Probing::TopClipped, (End::Earthed, End::Open), turned),
        (Probing::BothEarthed, (End::Earthed, End::Earthed), upright),
    ]
    .into_iter()
    .map(|(how, (foot, top), meridian)| {
        let mut scene = Scene {
            meridian,
            foot,
            top,
            ..bare.clone()
        };
        let open_hz = frequency_hz(&scene, fineness)?;
        scene.top_f = CLIP_F;
        let has_hot_clip = (foot, top) == (End::Earthed, End::Open);
        Ok(Terminal {
            how,
            frequency_hz: open_hz,
            clipped_hz: has_hot_clip
                .then(|| frequency_hz(&scene, fineness))
                .transpose()?,
        })
    })
    .collect()
}

fn notes(spec: &CoilSpec, prediction: &Prediction, error: Option<RingError>) -> Vec<Note> {
    let is_computed =
        |value: Option<Valued>| value.is_some_and(|value| value.origin == Origin::Computed);
    let mut notes = Vec::new();
    notes.extend(error.map(Note::NotComputed));
    let is_by_parts = prediction.modelled.is_some();
    if is_by_parts && spec.earth.is_floating() && spec.surroundings.circuit_m.is_none() {
        notes.push(Note::CircuitSizeNotTold);
    }
    if is_by_parts && !doubt::is_measured(&spec.winding) {
        notes.push(Note::NoMeasuredCoilOfThisShape);
    }
    if is_by_parts
        && spec.earth.is_floating()
        && !matches!(spec.winding.shape, Shape::Cylinder { .. })
    {
        notes.push(Note::EddyCurrents);
    }
    if spec.winding.spiral_end() == Some(SpiralEnd::Inner) {
        notes.push(Note::InnerEndAtFoot);
    }
    if let (
        true,
        Shape::FlatSpiral {
            outer_diameter_m, ..
        },
    ) = (is_by_parts, spec.winding.shape)
        && let Plane::Table { distance_m } | Plane::Metal { distance_m } = spec.surroundings.plane
        && distance_m < outer_diameter_m / 2.0
    {
        notes.push(Note::PlaneNearerThanRadius);
    }
    if let Some(coil) = spec.winding.cylinder()
        && prediction.resistance_ohm.is_none()
    {
        let pitch_over_wire = coil.length_m / coil.turns / coil.bare_m;
        notes.push(Note::CrowdingNotTabulated { pitch_over_wire });
    }
    if prediction.q_most.is_some() && spec.winding.cylinder().is_none() {
        notes.push(Note::CrowdingUnknownForShape);
    }
    if prediction
        .turns_by_ohms
        .is_some_and(|found| !found.agrees_with(spec.winding.turns))
    {
        notes.push(Note::OhmsDisagree);
    }
    if is_computed(prediction.q) {
        notes.push(Note::QOfCopperAlone);
    }
    if is_computed(prediction.coupling) {
        notes.push(Note::CouplingUniform);
    }
    if prediction
        .at_foot
        .is_some_and(|foot| foot.coupling > SPLITTING_COUPLING)
    {
        notes.push(Note::SplitPeaks);
    }
    if matches!(spec.winding.shape, Shape::Cylinder { diameter_m, .. } if spec.primary.diameter_m < diameter_m)
    {
        notes.push(Note::PrimaryInside);
    }
    if is_computed(prediction.primary_inductance_h) {
        notes.push(Note::PrimaryWithoutLeads);
    }
    notes
}

#[cfg(test)]
mod near_tests;
#[cfg(test)]
pub(crate) mod tests;
#[cfg(test)]
mod wound_tests;

//! How far the ring model itself may be off on a winding, and the references it was checked against.

use crate::coil::winding::{Shape, Winding};

/// How far the model itself may be off, as a share, of either sign.
///
/// On published coils measured over a known ground, foot earthed (public mailing-list archive, February 2001), it came out
/// 0.2 to 1.4 % high; on full-wave runs of our own within 1 %. Rounded up. No measured coil of battery size was found.
pub(super) const MODEL_DOUBT: f64 = 0.02;

/// Turns from which rings were compared with coils or full-wave runs. Chosen: those had 12 turns and more.
const COMPARED_TURNS: f64 = 12.0;

/// The doubt that few turns add on either side, as a share, growing to this at [`crate::coil::rings::MIN_TURNS`].
///
/// A helix of straight pieces, its charges and currents computed by their integrals in numpy (foot earthed, top open, 5
/// turns), lies 0.5 to 2.0 % above the rings; with thicker wire by more.
const FEW_TURNS: f64 = 0.015;

/// The doubt that open turns add below, as a share: this times (pitch/diameter − 0.05)^2.4.
///
/// Rings leave out the current along the axis. The same helices of 5 to 16 turns, wire of 0.1 to 0.9 pitches, lie below
/// the rings by −2 to 0.3 % at a pitch of 0.2 diameters, by 0.6 to 2.7 % at 0.35 and by 2 to 9.5 % at 0.5.
const OPEN_TURNS: f64 = 0.6;

/// Pitch over diameter up to which the helices show nothing of that.
const CLOSE_RISE: f64 = 0.05;

/// Pitch over diameter from which turns are called open.
const OPEN_RISE: f64 = 0.2;

/// The turns and the lengths over diameter that measured coils of known geometry had, rounded outwards: the published ones
/// have 365 to 1950 turns and are 1.4 to 8.6 diameters long.
const MEASURED_TURNS: f64 = 200.0;
const MEASURED_LENGTHS: std::ops::RangeInclusive<f64> = 1.0..=10.0;

/// How far the model may be off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Doubt {
    /// Below the value, as a share of it; negative.
    pub low: f64,
    /// Above it.
    pub high: f64,
    /// The references that the model was checked against, in words.
    pub words: &'static str,
}

/// Whether coils like this winding were measured and compared with the model.
pub(super) fn is_measured(winding: &Winding) -> bool {
    winding.cylinder().is_some_and(|coil| {
        coil.turns >= MEASURED_TURNS
            && MEASURED_LENGTHS.contains(&(coil.length_m / coil.diameter_m))
    })
}

/// Returns the doubt about the model on a winding.
pub(super) fn of(winding: &Winding) -> Doubt {
    // Flat turns have no length along the axis that rings could leave out.
    let rise = match winding.shape {
        Shape::FlatSpiral { .. } => 0.0,
        shape @ (Shape::Cylinder { .. } | Shape::Cone { .. }) => {
            winding.pitch_m() / shape.mean_diameter_m()
        }
    };
    let open = OPEN_TURNS * (rise - CLOSE_RISE).max(0.0).powf(2.4);
    let lacking =
        (COMPARED_TURNS - winding.turns) / (COMPARED_TURNS - crate::coil::rings::MIN_TURNS);
    let few = FEW_TURNS * lacking.clamp(0.0, 1.0);
    Doubt {
        // A value that is too high by a share is to be divided, and never falls to nothing.
        low: (1.0 - MODEL_DOUBT - few) / (1.0 + open) - 1.0,
        high: MODEL_DOUBT + few,
        words: words(winding, rise),
    }
}

fn words(winding: &Winding, rise: f64) -> &'static str {
    let is_cylinder = winding.cylinder().is_some();
    match (is_measured(winding), is_cylinder) {
        _ if rise >= OPEN_RISE => {
            "turns so open that rings stand badly for them, against computed helices"
        }
        (true, _) => "against coils measured over a known ground",
        (false, true) => "against computed helices; no coil of such turns was measured",
        (false, false) => "against full-wave runs and closed forms; no such coil was measured",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coil::film::OverEnamel;
    use crate::coil::rings::{Fineness, Meridian, Scene, frequency_hz};
    use crate::coil::winding::{Sense, SpiralEnd};
    use crate::coil::wire::Gauge;

    /// Helices on 20 mm: turns, pitch and bare wire in mm, resonance in MHz with the foot earthed, the top open, nothing near.
    ///
    /// By us, and by another method: the real helix cut into 16 to 24 pieces per turn, Neumann's and Coulomb's integrals over
    /// them with the wire's radius under the root, in numpy. A finer cut moves them by 0.1 percent.
    const HELICES: [(f64, f64, f64, f64); 12] = [
        (5.0, 1.0, 0.3, 240.45),
        (5.0, 1.0, 0.9, 224.09),
        (10.0, 1.0, 0.6, 130.81),
        (5.0, 4.0, 0.4, 310.60),
        (16.0, 4.0, 2.0, 131.19),
        (16.0, 4.0, 0.4, 123.83),
        (5.0, 7.0, 3.5, 364.18),
        (16.0, 7.0, 3.5, 148.90),
        (16.0, 7.0, 6.3, 157.57),
        (5.0, 9.5, 1.0, 351.23),
        (16.0, 9.5, 5.0, 157.26),
        (16.0, 9.5, 8.5, 168.43),
    ];

    fn coil(turns: f64, diameter_m: f64, pitch_m: f64, bare_m: f64) -> Winding {
        Winding {
            shape: Shape::Cylinder {
                diameter_m,
                length_m: turns * pitch_m,
            },
            turns,
            gauge: Gauge::Metric(bare_m),
            over_enamel: OverEnamel::measured(bare_m),
            sense: Sense::Right,
            foot_end: SpiralEnd::default(),
        }
    }

    #[test]
    fn computed_helices_lie_in_the_doubt_about_the_model() {
        // Turns, pitch and wire in mm on 20 mm, and the helix's resonance in MHz: foot earthed, top open, nothing near.
        for (turns, pitch_mm, bare_mm, helix_mhz) in HELICES {
            let winding = coil(turns, 0.02, pitch_mm * 1e-3, bare_mm * 1e-3);
            let scene = Scene::bare(Meridian::of(&winding));
            let rings_hz = frequency_hz(&scene, Fineness::for_turns(turns)).unwrap();
            let off = helix_mhz * 1e6 / rings_hz - 1.0;
            let doubt = of(&winding);
            assert!(
                (doubt.low..=doubt.high).contains(&off),
                "{turns} {pitch_mm} {bare_mm}: {off} in {doubt:?}"
            );
        }
    }

    #[test]
    fn only_coils_like_the_measured_ones_are_called_measured() {
        assert!(is_measured(&coil(450.0, 0.016, 0.22e-3, 0.2e-3)));
        // Few, short, and flat.
        assert!(!is_measured(&coil(20.0, 0.016, 1e-3, 0.5e-3)));
        assert!(!is_measured(&coil(300.0, 0.2, 0.22e-3, 0.2e-3)));
        assert!(
            of(&coil(20.0, 0.016, 1e-3, 0.5e-3))
                .words
                .contains("no coil")
        );
        let flat = Winding {
            shape: Shape::FlatSpiral {
                inner_diameter_m: 0.03,
                outer_diameter_m: 0.27,
            },
            ..coil(450.0, 0.1, 1e-3, 0.2e-3)
        };
        assert!(!is_measured(&flat) && of(&flat).words.contains("no such coil"));
    }

    #[test]
    fn the_doubt_grows_with_open_turns_and_few_and_with_nothing_else() {
        let close = of(&coil(450.0, 0.016, 0.22e-3, 0.2e-3));
        assert!((close.low + MODEL_DOUBT).abs() < 1e-15 && close.high <= MODEL_DOUBT);
        let open = of(&coil(20.0, 0.02, 4e-3, 1e-3));
        let wider = of(&coil(20.0, 0.02, 10e-3, 1e-3));
        assert!(open.low < -0.025 && wider.low < -0.09, "{open:?} {wider:?}");
        let few = of(&coil(5.0, 0.02, 1e-3, 0.5e-3));
        assert!(few.high > 0.034, "{few:?}");
    }
}

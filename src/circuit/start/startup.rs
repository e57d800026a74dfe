//! Whether a circuit starts: the fastest growing oscillation of the circuit linearised at its bias point.
//!
//! With `C = dq/dx` and `G = df/dx` small deviations follow `exp(s t)` where `1/s` is an eigenvalue of `-C G^-1`; a positive
//! real part starts. The verdict says nothing of the size the oscillation grows to: the transient does.

use nalgebra::{DMatrix, Schur};
use thiserror::Error;

use crate::circuit::bias::Bias;

/// Oscillations outside this range are none of a coil's (chosen; the builds run at 1 to 30 MHz).
const RANGE_HZ: (f64, f64) = (0.2e6, 200e6);
/// QR sweeps before the eigenvalues are given up (chosen: about ten times the usual number for 20 unknowns).
const MOST_SWEEPS: usize = 1000;

/// No start-up condition.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum StartupError {
    /// The circuit has an undefined current.
    #[error("conductance at the bias point: singular, every node's voltage has to be defined")]
    Singular,
    /// The eigenvalues were not found.
    #[error(
        "eigenvalues at the bias point: none in {MOST_SWEEPS} sweeps, about a hundred are usual"
    )]
    NoEigenvalues,
    /// Nothing in the circuit can oscillate.
    #[error(
        "oscillation at the bias point: none from 0.2 to 200 MHz: expected that of a resonator"
    )]
    NoOscillation,
}

/// The oscillation that grows fastest, or decays slowest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Startup {
    /// Growth of the amplitude, per second; it decays if negative.
    pub growth_per_s: f64,
    /// Its frequency while it is small, in hertz. The running frequency is nearer to the bare secondary's.
    pub frequency_hz: f64,
}

impl Startup {
    /// Returns the start-up condition at a bias point.
    ///
    /// # Errors
    /// [`StartupError`] where the linearised circuit is not one that can be judged.
    pub fn at(bias: &mut Bias) -> Result<Self, StartupError> {
        let (conductance, capacitance) = bias.linearised();
        fastest(conductance, &capacitance)
    }

    /// Returns the lowest oscillation of a quality factor above 1 at a point where nothing is amplified: how the secondary rings
    /// when it is pinged. Wiring and primary ring too, faster and sometimes longer.
    ///
    /// # Errors
    /// [`StartupError`] where nothing rings so.
    pub fn lowest_ring(bias: &mut Bias) -> Result<Self, StartupError> {
        let (conductance, capacitance) = bias.linearised();
        oscillations(stored_modes(conductance, &capacitance)?)?
            .into_iter()
            .filter(|mode| std::f64::consts::PI * mode.frequency_hz > mode.growth_per_s.abs())
            .min_by(|a, b| a.frequency_hz.total_cmp(&b.frequency_hz))
            .ok_or(StartupError::NoOscillation)
    }

    /// Whether it grows.
    pub fn starts(&self) -> bool {
        self.growth_per_s > 0.0
    }
}

/// Returns the oscillation with the largest growth of `C dx/dt + G x = 0`.
pub(super) fn fastest(
    conductance: DMatrix<f64>,
    capacitance: &DMatrix<f64>,
) -> Result<Startup, StartupError> {
    fastest_of(stored_modes(conductance, capacitance)?)
}

/// Returns the oscillation with the largest growth among those `x = modes dx/dt` has.
pub(super) fn fastest_of(modes: DMatrix<f64>) -> Result<Startup, StartupError> {
    oscillations(modes)?
        .into_iter()
        .max_by(|a, b| a.growth_per_s.total_cmp(&b.growth_per_s))
        .ok_or(StartupError::NoOscillation)
}

/// Returns the matrix whose eigenvalues are the modes of `C dx/dt + G x = 0`, as `x = modes dx/dt`.
fn stored_modes(
    conductance: DMatrix<f64>,
    capacitance: &DMatrix<f64>,
) -> Result<DMatrix<f64>, StartupError> {
    // Unknowns that store nothing have empty columns in C: they follow from the others and only add infinite modes.
    let stored: Vec<usize> = (0..capacitance.ncols())
        .filter(|&c| capacitance.column(c).iter().any(|v| v.abs() > 0.0))
        .collect();
    let right = capacitance.select_columns(&stored);
    let solved = conductance
        .lu()
        .solve(&right)
        .ok_or(StartupError::Singular)?;
    Ok(-solved.select_rows(&stored))
}

/// Returns every oscillation in a coil's range among those `x = modes dx/dt` has.
fn oscillations(modes: DMatrix<f64>) -> Result<Vec<Startup>, StartupError> {
    let schur =
        Schur::try_new(modes, f64::EPSILON, MOST_SWEEPS).ok_or(StartupError::NoEigenvalues)?;
    let (low, high) = RANGE_HZ;
    Ok(schur
        .complex_eigenvalues()
        .iter()
        .filter(|mode| mode.im.abs() > 0.0)
        .map(|mode| {
            let square = mode.norm_sqr();
            Startup {
                growth_per_s: mode.re / square,
                frequency_hz: (mode.im / square).abs() / std::f64::consts::TAU,
            }
        })
        .filter(|found| (low..=high).contains(&found.frequency_hz))
        .collect())
}

//! The field of charged rings at a point: potential and field strength.

use std::f64::consts::PI;

use crate::coil::elliptic::complete;
use crate::coil::rings::kernel::EPSILON0_F_PER_M;
use crate::coil::rings::{Charges, RingCharge, RingError};

/// Potential and field strength at a point, with the top at a voltage against earth; all three amplitudes or all effective.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtPoint {
    /// Potential against earth, in volts.
    pub potential_v: f64,
    /// Field outwards from the axis, in volts per metre.
    pub outward_v_per_m: f64,
    /// Field upwards, in volts per metre.
    pub upward_v_per_m: f64,
}

impl AtPoint {
    /// Returns the size of the field, in volts per metre.
    pub fn strength_v_per_m(&self) -> f64 {
        self.outward_v_per_m.hypot(self.upward_v_per_m)
    }
}

/// The field of a set of charges.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    pub(super) rings: Vec<RingCharge>,
    plane_m: Option<f64>,
}

impl Field {
    /// Returns the field of a mode's charges and of their images.
    pub fn of(charges: &Charges) -> Self {
        let mut rings = charges.rings.clone();
        if let Some(plane_m) = charges.plane_m {
            rings.extend(charges.rings.iter().map(|one| RingCharge {
                ring: one.ring.mirrored(plane_m),
                charge_f: -one.charge_f,
                ..*one
            }));
        }
        Self {
            rings,
            plane_m: charges.plane_m,
        }
    }

    /// Returns the height of the plane below which there is no field, in metres; `None` without one.
    pub const fn plane_m(&self) -> Option<f64> {
        self.plane_m
    }

    /// Returns the field at a point by its distance from the axis and its height, in metres, for a top at `top_v` volts against
    /// earth.
    ///
    /// Finite everywhere: inside a wire it is the field at the wire's surface, below a plane it is nothing.
    pub fn at(&self, radius_m: f64, height_m: f64, top_v: f64) -> AtPoint {
        let mut sum = AtPoint {
            potential_v: 0.0,
            outward_v_per_m: 0.0,
            upward_v_per_m: 0.0,
        };
        if self.plane_m.is_some_and(|plane_m| height_m < plane_m) {
            return sum;
        }
        for one in &self.rings {
            let part = of_ring(one, radius_m.abs(), height_m);
            sum.potential_v += part.potential_v;
            sum.outward_v_per_m += part.outward_v_per_m;
            sum.upward_v_per_m += part.upward_v_per_m;
        }
        sum.potential_v *= top_v;
        sum.outward_v_per_m *= top_v * if radius_m < 0.0 { -1.0 } else { 1.0 };
        sum.upward_v_per_m *= top_v;
        sum
    }
}

/// Returns the field of one even ring of charge, for a top at 1 V.
///
/// With a the ring's radius, r and z the point's place from its centre, s² = (a+r)² + z², d² = (a−r)² + z², m₁ = d²/s²:
/// V = Q·K/(2π²ε₀s), `E_z` = Q·z·E/(2π²ε₀s·d²), `E_r` = Q/(4π²ε₀s·r)·[K − E − 2r(a−r)·E/d²] (textbook, from memory; the last
/// rewritten so that it keeps its digits near the axis). Exact for a thin ring; `Field` is checked against differences of
/// its own potential, and against sphere and disc.
fn of_ring(one: &RingCharge, radius_m: f64, height_m: f64) -> AtPoint {
    let (a, r, z) = (one.ring.radius_m, radius_m, height_m - one.ring.height_m);
    let d2 = (a - r).hypot(z).max(one.wire_radius_m).powi(2);
    let s2 = d2 + 4.0 * a * r;
    let sum = complete(d2 / s2);
    let scale = one.charge_f / (2.0 * PI * PI * EPSILON0_F_PER_M * s2.sqrt());
    let outward = if r > 0.0 {
        (sum.k_minus_e - 2.0 * r * (a - r) * sum.e / d2) / (2.0 * r)
    } else {
        0.0
    };
    AtPoint {
        potential_v: scale * sum.k,
        outward_v_per_m: scale * outward,
        upward_v_per_m: scale * z * sum.e / d2,
    }
}

/// Why there is no field to report.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FieldError {
    /// The ring model has no mode whose charges could be taken.
    #[error("electric field: {0}")]
    Rings(#[from] RingError),
    /// The voltage is no voltage.
    #[error("electric field: found {found_v} V at the top: expected a voltage above 0 V")]
    NoVoltage {
        /// The voltage.
        found_v: f64,
    },
    /// The resonance is no frequency.
    #[error("electric field: found a resonance of {found_hz} Hz: expected a frequency above 0 Hz")]
    NoFrequency {
        /// The frequency.
        found_hz: f64,
    },
}

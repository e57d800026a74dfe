//! The line from foot to top along which a winding's turns lie, seen from the side.

use std::f64::consts::TAU;

use super::kernel::{Pair, Ring, own_inductance_h};
use crate::coil::inductance::{
    Current, MU0_H_PER_M, current_sheet_h, rosa_km, rosa_ks, single_layer_h,
};
use crate::coil::winding::{Shape, SpiralEnd, Winding};

/// Strips into which a winding that is no cylinder is cut for its inductance, and twice as many. Chosen: the value is
/// then within 3·10⁻⁶ of the exact double integral from a nearly full disc to a narrow band.
const STRIPS: u32 = 40;

/// Rings that stand for a winding when its coupling for an even current is summed. Chosen: on the example coil 40 are
/// 0.2 % and 400 are 0.002 % above the limit.
const COUPLING_RINGS: u32 = 400;

/// A winding as the ring model takes it: a straight line from foot to top, evenly wound with round wire.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meridian {
    /// Where the winding begins: half a pitch outside its first turn.
    pub foot: Ring,
    /// Where it ends: half a pitch beyond its last turn.
    pub top: Ring,
    /// Number of turns.
    pub turns: f64,
    /// Diameter of the bare wire, in metres.
    pub bare_m: f64,
}

impl Meridian {
    /// Returns the line of a winding, its lower edge at height 0.
    pub fn of(winding: &Winding) -> Self {
        let (foot_diameter_m, top_diameter_m, top_height_m) = match winding.shape {
            Shape::Cylinder {
                diameter_m,
                length_m,
            } => (diameter_m, diameter_m, length_m),
            Shape::Cone {
                foot_diameter_m,
                top_diameter_m,
                length_m,
            } => (foot_diameter_m, top_diameter_m, length_m),
            Shape::FlatSpiral {
                inner_diameter_m,
                outer_diameter_m,
            } => (outer_diameter_m, inner_diameter_m, 0.0),
        };
        let ring = |diameter_m: f64, height_m| Ring {
            radius_m: diameter_m / 2.0,
            height_m,
        };
        let meridian = Self {
            foot: ring(foot_diameter_m, 0.0),
            top: ring(top_diameter_m, top_height_m),
            turns: winding.turns,
            bare_m: winding.gauge.bare_m(),
        };
        match winding.spiral_end() {
            Some(SpiralEnd::Inner) => meridian.turned(),
            Some(SpiralEnd::Outer) | None => meridian,
        }
    }

    /// Returns the circle at a share of the way from foot (0) to top (1).
    pub fn at(&self, share: f64) -> Ring {
        let mix = |foot: f64, top: f64| foot + (top - foot) * share;
        Ring {
            radius_m: mix(self.foot.radius_m, self.top.radius_m),
            height_m: mix(self.foot.height_m, self.top.height_m),
        }
    }

    /// Returns the same winding with its foot where its top was.
    #[must_use]
    pub fn turned(&self) -> Self {
        Self {
            foot: self.top,
            top: self.foot,
            ..*self
        }
    }

    /// Returns how far the winding reaches across its turns, in metres.
    pub fn slope_m(&self) -> f64 {
        let (wide_m, high_m) = (
            self.top.radius_m - self.foot.radius_m,
            self.top.height_m - self.foot.height_m,
        );
        wide_m.hypot(high_m)
    }

    /// Returns the mean radius of the turns, in metres.
    pub fn mean_radius_m(&self) -> f64 {
        f64::midpoint(self.foot.radius_m, self.top.radius_m)
    }

    /// Whether all turns have one radius.
    pub fn is_cylinder(&self) -> bool {
        (self.foot.radius_m - self.top.radius_m).abs() <= 1e-12 * self.foot.radius_m
    }

    /// Returns the inductance of the winding as a current sheet, in henries.
    ///
    /// A cylinder's is exact ([`current_sheet_h`]). Any other shape is summed over 40 and 80 rings, then extrapolated in the
    /// square of their number. Each sum is lifted from rings to a sheet by Rosa's corrections taken the other way round. Against
    /// the exact integral of flat spirals from a nearly full disc to a narrow band: −3·10⁻⁶ to +1·10⁻⁶.
    pub fn sheet_inductance_h(&self) -> f64 {
        if self.is_cylinder() {
            let diameter_m = 2.0 * self.foot.radius_m;
            return current_sheet_h(self.turns, diameter_m, self.slope_m());
        }
        (4.0 * self.ring_sheet_h(2 * STRIPS) - self.ring_sheet_h(STRIPS)) / 3.0
    }

    fn ring_sheet_h(&self, count: u32) -> f64 {
        let strips = f64::from(count);
        let step_m = self.slope_m() / strips;
        let share = self.turns / strips;
        let wire_radius_m = step_m / TAU;
        let rings: Vec<Ring> = (0..count)
            .map(|index| self.at((f64::from(index) + 0.5) / strips))
            .collect();
        let mut sum_h = 0.0;
        for (index, one) in rings.iter().enumerate() {
            sum_h += own_inductance_h(one.radius_m, wire_radius_m);
            for other in rings.iter().skip(index + 1) {
                sum_h += 2.0 * Pair::of(*one, *other).mutual_h;
            }
        }
        let lift = rosa_ks(step_m, 2.0 * wire_radius_m, Current::Surface) + rosa_km(strips);
        let lift_h = MU0_H_PER_M * self.mean_radius_m() * strips * lift;
        share.powi(2) * (sum_h + lift_h)
    }

    /// Returns the inductance of the winding of round wire, in henries: the sheet less Rosa's corrections at the mean radius.
    ///
    /// Against the sum over all turns of a flat spiral of 60: 6·10⁻⁶ (computed by us, no published value).
    pub fn inductance_h(&self, current: Current) -> f64 {
        let pitch_m = self.slope_m() / self.turns;
        if self.is_cylinder() {
            let diameter_m = 2.0 * self.foot.radius_m;
            return single_layer_h(self.turns, diameter_m, self.slope_m(), self.bare_m, current);
        }
        let correction = rosa_ks(pitch_m, self.bare_m, current) + rosa_km(self.turns);
        self.sheet_inductance_h() - MU0_H_PER_M * self.mean_radius_m() * self.turns * correction
    }

    /// Returns the mutual inductance with circles that carry one current in series, the same current in every turn here, in
    /// henries.
    ///
    /// Maxwell's circles: each of them against 400 rings of equal share, and against their images in a plane of metal.
    pub fn even_mutual_h(&self, circles: &[Ring], metal_m: Option<f64>) -> f64 {
        let share = self.turns / f64::from(COUPLING_RINGS);
        let at = |index: u32| self.at((f64::from(index) + 0.5) / f64::from(COUPLING_RINGS));
        let between_h = |ring: Ring, circle: Ring| {
            let image_h = metal_m.map_or(0.0, |metal_m| {
                Pair::of(ring, circle.mirrored(metal_m)).mutual_h
            });
            Pair::of(ring, circle).mutual_h - image_h
        };
        let sum_h: f64 = (0..COUPLING_RINGS)
            .flat_map(|index| {
                circles
                    .iter()
                    .map(move |circle| between_h(at(index), *circle))
            })
            .sum();
        share * sum_h
    }
}

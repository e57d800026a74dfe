//! Straight ways out from the coil, and how far along one a field strength is reached.

use super::Field;
use crate::coil::numeric::root::brent;
use crate::units::Span;

/// Which way out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Sideways from the coil's widest part, at the height of its top.
    Beside,
    /// Straight up from the coil's top, on its axis.
    Above,
}

impl Way {
    /// Returns it in words fit for a table.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Beside => "beside",
            Self::Above => "above",
        }
    }
}

/// A straight way out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Which.
    pub way: Way,
    /// Where it begins: from the axis and above the winding's lower edge, in metres.
    pub from_m: (f64, f64),
    /// How far it can be followed, in metres.
    pub farthest_m: f64,
}

/// Where along a line the field falls to a strength.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reach {
    /// So far from the coil, in metres.
    At(f64),
    /// Nearer than is computed: [`Line::NEAREST_M`].
    Nearer,
    /// Farther than is computed, [`Line::farthest_m`] in metres.
    Farther(f64),
}

impl Reach {
    /// Returns the farther of two.
    #[must_use]
    pub fn farther(self, other: Self) -> Self {
        match (self, other) {
            (Self::Nearer, other) | (other, Self::Nearer) => other,
            (Self::Farther(one_m), Self::Farther(other_m)) => Self::Farther(one_m.max(other_m)),
            (Self::Farther(far_m), _) | (_, Self::Farther(far_m)) => Self::Farther(far_m),
            (Self::At(one_m), Self::At(other_m)) => Self::At(one_m.max(other_m)),
        }
    }
}

impl Line {
    /// Nearest distance that is given, in metres. Chosen: nearer, single turns and the wires' ends count.
    pub const NEAREST_M: f64 = 0.005;

    /// Farthest distance that is given, in metres. Chosen: a room.
    pub const FARTHEST_M: f64 = 3.0;

    /// Farthest distance over the wavelength. Chosen: 0.3 of the wavelength over 2π, where the terms left out are near a tenth.
    pub const FARTHEST_WAVE: f64 = 0.3 / std::f64::consts::TAU;

    /// Steps in which the field is looked at from afar. Chosen: each is 7 % of the distance.
    const STEPS: u32 = 96;

    /// Returns the point so far along it: from the axis and above the winding's lower edge, in metres.
    pub fn at_m(&self, distance_m: f64) -> (f64, f64) {
        let (radius_m, height_m) = self.from_m;
        match self.way {
            Way::Beside => (radius_m + distance_m, height_m),
            Way::Above => (radius_m, height_m + distance_m),
        }
    }

    /// Returns how far out the field is at least so strong, for a top at `top_v`; both amplitudes or both effective.
    ///
    /// Looked for from afar, so that it is the outermost place; found to a hundredth of a millimetre.
    pub fn reach(&self, field: &Field, top_v: f64, strength_v_per_m: f64) -> Reach {
        let above = |distance_m: f64| {
            let (radius_m, height_m) = self.at_m(distance_m);
            field.at(radius_m, height_m, top_v).strength_v_per_m() - strength_v_per_m
        };
        let (near_m, far_m) = (Self::NEAREST_M, self.farthest_m);
        if above(far_m) > 0.0 {
            return Reach::Farther(far_m);
        }
        let mut outer_m = far_m;
        for step in (0..Self::STEPS).rev() {
            let share = f64::from(step) / f64::from(Self::STEPS);
            let inner_m = near_m * (far_m / near_m).powf(share);
            if above(inner_m) > 0.0 {
                let of = |distance_m| Ok::<f64, std::convert::Infallible>(above(distance_m));
                // Brent keeps its bracket; without a settled zero the bracket's outer end errs to the far side.
                return Reach::At(brent(of, Span::new(inner_m, outer_m), 1e-5).unwrap_or(outer_m));
            }
            outer_m = inner_m;
        }
        Reach::Nearer
    }
}

//! The winding: the secondary's shape, turns and wire, and the primary beside it.

use std::f64::consts::{FRAC_PI_4, PI};

use super::film::OverEnamel;
use super::wire::Gauge;
use crate::coil::inductance::{Current, circle_h, single_layer_h};
use crate::coil::loss::COPPER_KG_PER_M3;
use crate::coil::rings::kernel::{Pair, Ring};

/// The surface a secondary is wound on. Diameters go through the wire's centre, lengths are turns × pitch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// A tube.
    Cylinder {
        /// Diameter, in metres.
        diameter_m: f64,
        /// Length along the axis, in metres.
        length_m: f64,
    },
    /// A tube that narrows or widens.
    Cone {
        /// Diameter at the foot, in metres.
        foot_diameter_m: f64,
        /// Diameter at the top, in metres.
        top_diameter_m: f64,
        /// Length along the axis, in metres.
        length_m: f64,
    },
    /// A flat coil between the edges of its turns' pitch; which end is its foot, [`Winding::foot_end`] says.
    FlatSpiral {
        /// Half a pitch inside the innermost turn's centre, in metres.
        inner_diameter_m: f64,
        /// Half a pitch outside the outermost turn's centre, in metres.
        outer_diameter_m: f64,
    },
}

impl Shape {
    /// Returns the word a sheet uses.
    pub fn name(&self) -> &'static str {
        match self {
            Self::Cylinder { .. } => "cylinder",
            Self::Cone { .. } => "cone",
            Self::FlatSpiral { .. } => "flat-spiral",
        }
    }

    /// Returns the mean diameter of the turns, in metres.
    pub fn mean_diameter_m(&self) -> f64 {
        match *self {
            Self::Cylinder { diameter_m, .. } => diameter_m,
            Self::Cone {
                foot_diameter_m,
                top_diameter_m,
                ..
            } => f64::midpoint(foot_diameter_m, top_diameter_m),
            Self::FlatSpiral {
                inner_diameter_m,
                outer_diameter_m,
            } => f64::midpoint(inner_diameter_m, outer_diameter_m),
        }
    }

    /// Returns its longest measure, across or along, in metres.
    pub fn longest_m(&self) -> f64 {
        let widest_m = match *self {
            Self::Cylinder { diameter_m, .. } => diameter_m,
            Self::Cone {
                foot_diameter_m,
                top_diameter_m,
                ..
            } => foot_diameter_m.max(top_diameter_m),
            Self::FlatSpiral {
                outer_diameter_m, ..
            } => outer_diameter_m,
        };
        self.slope_m().max(widest_m)
    }

    /// Returns how far the winding reaches along the way from foot to top, across the turns, in metres.
    pub fn slope_m(&self) -> f64 {
        match *self {
            Self::Cylinder { length_m, .. } => length_m,
            Self::Cone {
                foot_diameter_m,
                top_diameter_m,
                length_m,
            } => length_m.hypot((foot_diameter_m - top_diameter_m) / 2.0),
            Self::FlatSpiral {
                inner_diameter_m,
                outer_diameter_m,
            } => (outer_diameter_m - inner_diameter_m) / 2.0,
        }
    }
}

/// Which way round a winding goes, seen from its top, from the foot upwards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sense {
    /// Like the thread of an ordinary screw.
    Right,
    /// The other way.
    Left,
}

/// The end of a flat spiral that is its foot and goes to the base.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SpiralEnd {
    /// The outer: beside a primary that lies round the coil. The usual one.
    #[default]
    Outer,
    /// The inner: the outer end is the top then, hot and beside the primary.
    Inner,
}

impl SpiralEnd {
    /// Each end by the word a sheet uses.
    pub const WORDS: [(&str, Self); 2] = [("outer", Self::Outer), ("inner", Self::Inner)];

    /// Returns the word a sheet uses.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Outer => "outer",
            Self::Inner => "inner",
        }
    }
}

/// The secondary.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Winding {
    /// Its surface.
    pub shape: Shape,
    /// Number of turns, which need not be whole.
    pub turns: f64,
    /// The wire's size.
    pub gauge: Gauge,
    /// The wire with its enamel.
    pub over_enamel: OverEnamel,
    /// Which way round.
    pub sense: Sense,
    /// The end of a flat spiral that is its foot; [`SpiralEnd::Outer`] for other shapes, whose ends have names of their own.
    pub foot_end: SpiralEnd,
}

impl Winding {
    /// Returns the end that is its foot, of a flat spiral; `None` for other shapes.
    pub fn spiral_end(&self) -> Option<SpiralEnd> {
        matches!(self.shape, Shape::FlatSpiral { .. }).then_some(self.foot_end)
    }

    /// Returns the distance from turn to turn, in metres.
    pub fn pitch_m(&self) -> f64 {
        self.shape.slope_m() / self.turns
    }

    /// Returns the length of the wire in the winding, in metres: turns × π × mean diameter.
    ///
    /// The rise of the helix is left out: low by (p/πD)²/2, below 0.01 % for close windings.
    pub fn wire_length_m(&self) -> f64 {
        self.turns * PI * self.shape.mean_diameter_m()
    }

    /// Returns the mass of the copper in the winding, in kilograms.
    pub fn copper_mass_kg(&self) -> f64 {
        let bare_m = self.gauge.bare_m();
        self.wire_length_m() * FRAC_PI_4 * bare_m * bare_m * COPPER_KG_PER_M3
    }

    /// Returns the winding as the handbook's formulas take it; `None` unless it is a cylinder.
    pub fn cylinder(&self) -> Option<Cylinder> {
        let Shape::Cylinder {
            diameter_m,
            length_m,
        } = self.shape
        else {
            return None;
        };
        Some(Cylinder {
            turns: self.turns,
            diameter_m,
            length_m,
            bare_m: self.gauge.bare_m(),
        })
    }
}

/// A single layer on a cylinder, by the four numbers the handbook's formulas need.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cylinder {
    /// Number of turns.
    pub turns: f64,
    /// Diameter through the wire's centre, in metres.
    pub diameter_m: f64,
    /// Turns × pitch, in metres.
    pub length_m: f64,
    /// Diameter of the bare wire, in metres.
    pub bare_m: f64,
}

impl Cylinder {
    /// Returns the inductance with the current on the wire's surface, in henries; see [`single_layer_h`].
    pub fn inductance_h(&self) -> f64 {
        single_layer_h(
            self.turns,
            self.diameter_m,
            self.length_m,
            self.bare_m,
            Current::Surface,
        )
    }
}

/// Which end of the primary goes to the collector; the other goes to the battery's plus.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CollectorEnd {
    /// The end nearer the secondary's foot.
    FootSide,
    /// The end nearer the secondary's top: with both windings the same way round, the side that oscillates.
    TopSide,
}

/// How the primary's turns lie to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lay {
    /// Above each other on one diameter.
    Stacked,
    /// In one plane, each outside the last.
    Flat,
}

/// The primary: a few turns round the secondary's lower end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Primary {
    /// Number of turns.
    pub turns: u32,
    /// Diameter through the wire's centre, of the innermost turn if they lie flat, in metres.
    pub diameter_m: f64,
    /// How its turns lie.
    pub lay: Lay,
    /// The wire's size.
    pub gauge: Gauge,
    /// Distance from turn to turn, in metres.
    pub pitch_m: f64,
    /// Its lower edge above the secondary's lower edge, in metres; negative below it. A flat one's plane.
    pub position_m: f64,
    /// Which end goes to the collector.
    pub collector_end: CollectorEnd,
    /// Which way round.
    pub sense: Sense,
}

impl Primary {
    /// Returns its turns as circles, heights above the secondary's lower edge.
    pub fn circles(&self) -> Vec<Ring> {
        let radius_m = self.diameter_m / 2.0;
        (0..self.turns)
            .map(f64::from)
            .map(|turn| match self.lay {
                Lay::Stacked => Ring {
                    radius_m,
                    height_m: self.position_m + (turn + 0.5) * self.pitch_m,
                },
                Lay::Flat => Ring {
                    radius_m: radius_m + turn * self.pitch_m,
                    height_m: self.position_m,
                },
            })
            .collect()
    }

    /// Returns the inductance without leads, with the current on the wire's surface, in henries: the turns' own and all their
    /// mutual ones.
    pub fn inductance_h(&self) -> f64 {
        let (circles, bare_m) = (self.circles(), self.gauge.bare_m());
        let mut sum_h = 0.0;
        for (index, one) in circles.iter().enumerate() {
            sum_h += circle_h(one.radius_m, bare_m, Current::Surface);
            for other in circles.iter().skip(index + 1) {
                sum_h += 2.0 * Pair::of(*one, *other).mutual_h;
            }
        }
        sum_h
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coil::inductance::stack_of_circles_h;

    fn winding(shape: Shape) -> Winding {
        Winding {
            shape,
            turns: 60.0,
            gauge: Gauge::Metric(0.0004),
            over_enamel: OverEnamel::measured(0.00045),
            sense: Sense::Right,
            foot_end: SpiralEnd::Outer,
        }
    }

    #[test]
    fn a_cone_with_equal_ends_is_a_cylinder() {
        let cone = winding(Shape::Cone {
            foot_diameter_m: 0.05,
            top_diameter_m: 0.05,
            length_m: 0.036,
        });
        let tube = winding(Shape::Cylinder {
            diameter_m: 0.05,
            length_m: 0.036,
        });
        assert!((cone.wire_length_m() - tube.wire_length_m()).abs() < 1e-12);
        assert!((cone.pitch_m() - tube.pitch_m()).abs() < 1e-15);
        assert_eq!(cone.cylinder(), None);
    }

    #[test]
    fn the_wire_of_a_flat_spiral_follows_its_mean_diameter() {
        // 60 turns from 15 to 51 mm radius: π·60·(15 + 51) mm = 12.441 m.
        let spiral = winding(Shape::FlatSpiral {
            inner_diameter_m: 0.030,
            outer_diameter_m: 0.102,
        });
        assert!((spiral.wire_length_m() - 12.441).abs() < 5e-4);
        assert!((spiral.pitch_m() - 0.0006).abs() < 1e-12);
    }

    #[test]
    fn copper_weighs_what_its_volume_says() {
        // 12.441 m × π/4 × 0.4² mm² × 8.89 g/cm³ = 13.90 g.
        let spiral = winding(Shape::FlatSpiral {
            inner_diameter_m: 0.030,
            outer_diameter_m: 0.102,
        });
        assert!((spiral.copper_mass_kg() - 13.90e-3).abs() < 1e-5);
    }

    #[test]
    fn the_turns_of_a_primary_stand_where_the_sheet_says() {
        let mut primary = Primary {
            turns: 2,
            diameter_m: 0.022,
            lay: Lay::Stacked,
            gauge: Gauge::Metric(0.001),
            pitch_m: 0.002,
            position_m: 0.01,
            collector_end: CollectorEnd::TopSide,
            sense: Sense::Right,
        };
        let places = |primary: &Primary| -> Vec<(f64, f64)> {
            let circles = primary.circles();
            let to_0_1_um = |value_m: f64| (value_m * 1e7).round() / 1e4;
            circles
                .iter()
                .map(|ring| (to_0_1_um(ring.radius_m), to_0_1_um(ring.height_m)))
                .collect()
        };
        assert_eq!(places(&primary), [(11.0, 11.0), (11.0, 13.0)]);
        let stacked_h = stack_of_circles_h(2, 0.011, 0.002, 0.001, Current::Surface);
        assert!((primary.inductance_h() / stacked_h - 1.0).abs() < 1e-12);
        primary.lay = Lay::Flat;
        assert_eq!(places(&primary), [(11.0, 10.0), (13.0, 10.0)]);
        assert!(primary.inductance_h() > stacked_h);
    }
}

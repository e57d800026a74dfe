//! The colour, marker and dash of each role: the same in every picture, and never distinguished by colour alone.

use crate::figure::Role;

/// Red, green and blue in sRGB.
pub(super) type Colour = (u8, u8, u8);

/// The page.
pub(super) const PAPER: Colour = (0xff, 0xff, 0xff);
/// Headings and numbers.
pub(super) const INK: Colour = (0x1c, 0x1c, 0x1c);
/// Captions and lists.
pub(super) const SOFT_INK: Colour = (0x45, 0x45, 0x45);
/// Frames and ticks.
pub(super) const FRAME: Colour = (0x6e, 0x6e, 0x6e);
/// The grid behind the data.
pub(super) const GRID: Colour = (0xdd, 0xdd, 0xdd);
/// The words across the picture: pale, under everything, still to be read.
pub(super) const STAMP: Colour = (0xe2, 0xe2, 0xe2);
/// Spans in which the coil stopped or the data are missing.
pub(super) const SHADE: Colour = (0x60, 0x60, 0x60);
/// Moments noted by a person.
pub(super) const MARK: Colour = (0x8c, 0x8c, 0x8c);

/// The shape that goes with a role.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Marker {
    Disc,
    Diamond,
    Triangle,
    Wedge,
    Cross,
    Square,
}

/// How a role looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Look {
    pub(super) colour: Colour,
    pub(super) marker: Marker,
    /// Stroke, gap, stroke, gap …, in pixels.
    pub(super) dash_px: &'static [f64],
}

/// The look of a role.
///
/// The colours were searched for by computer. The aims were contrast on white, then the least distance between any two for full
/// colour vision, three kinds of dichromacy and grey print. The tests state the values reached.
pub(super) const fn look(role: Role) -> Look {
    match role {
        Role::Measured => Look {
            colour: (0x05, 0x4e, 0xa8),
            marker: Marker::Disc,
            dash_px: &[28.0, 20.0],
        },
        Role::Battery => Look {
            colour: (0x60, 0x2b, 0x20),
            marker: Marker::Diamond,
            dash_px: &[30.0, 12.0, 10.0, 12.0, 10.0, 12.0],
        },
        Role::Modelled => Look {
            colour: (0x00, 0xa7, 0x67),
            marker: Marker::Triangle,
            dash_px: &[64.0, 16.0],
        },
        Role::Fitted => Look {
            colour: (0x10, 0x10, 0x10),
            marker: Marker::Wedge,
            dash_px: &[34.0, 13.0, 6.0, 13.0],
        },
        Role::Limit => Look {
            colour: (0xbc, 0x1b, 0x72),
            marker: Marker::Cross,
            dash_px: &[11.0, 10.0],
        },
        Role::Second => Look {
            colour: (0xa8, 0x6b, 0x02),
            marker: Marker::Square,
            dash_px: &[3.0, 11.0],
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    const ROLES: [Role; 6] = [
        Role::Measured,
        Role::Battery,
        Role::Modelled,
        Role::Fitted,
        Role::Limit,
        Role::Second,
    ];

    type Three = [f64; 3];
    type Matrix = [Three; 3];

    /// Linear sRGB to the colours that a protanope sees. The method is that of F. Viénot, H. Brettel, J. D. Mollon, "Digital
    /// video colourmaps for checking the legibility of displays by dichromats", Color Research and Application 24 (1999). It
    /// stands as one matrix for sRGB primaries, in the five decimals of the public-domain libDaltonLens.
    const PROTANOPE: Matrix = [
        [0.11238, 0.88762, 0.0],
        [0.11238, 0.88762, 0.0],
        [0.00401, -0.00401, 1.0],
    ];
    /// The same for a deuteranope.
    const DEUTERANOPE: Matrix = [
        [0.29275, 0.70725, 0.0],
        [0.29275, 0.70725, 0.0],
        [-0.02234, 0.02234, 1.0],
    ];
    /// A tritanope needs two half-planes: H. Brettel, F. Viénot, J. D. Mollon, "Computerized simulation of color appearance for
    /// dichromats", J. Opt. Soc. Am. A 14 (1997); numbers from the same library, with the normal that parts the planes.
    const TRITANOPE: [Matrix; 2] = [
        [
            [1.01277, 0.13548, -0.14826],
            [-0.01243, 0.86812, 0.14431],
            [0.07589, 0.805, 0.11911],
        ],
        [
            [0.93678, 0.18979, -0.12657],
            [0.06154, 0.81526, 0.1232],
            [-0.37562, 1.12767, 0.24796],
        ],
    ];
    const TRITAN_NORMAL: Three = [0.03901, -0.02788, -0.01113];

    /// Linear sRGB to CIE XYZ, D65 (IEC 61966-2-1).
    const XYZ: Matrix = [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ];
    const WHITE_D65: Three = [0.95047, 1.0, 1.08883];

    fn dot(a: &Three, b: &Three) -> f64 {
        a.iter().zip(b).map(|(a, b)| a * b).sum()
    }

    fn times(matrix: &Matrix, value: &Three) -> Three {
        std::array::from_fn(|row| dot(&matrix[row], value).clamp(0.0, 1.1))
    }

    fn linear(colour: Colour) -> Three {
        [colour.0, colour.1, colour.2].map(|byte| {
            let value = f64::from(byte) / 255.0;
            if value <= 0.04045 {
                value / 12.92
            } else {
                ((value + 0.055) / 1.055).powf(2.4)
            }
        })
    }

    /// CIE 1976 L*a*b* (CIE 15).
    fn lab(linear: &Three) -> Three {
        let xyz = times(&XYZ, linear);
        let f: Three = std::array::from_fn(|index| {
            let part = xyz[index] / WHITE_D65[index];
            if part > 216.0 / 24389.0 {
                part.cbrt()
            } else {
                (24389.0 / 27.0 * part + 16.0) / 116.0
            }
        });
        [
            116.0 * f[1] - 16.0,
            500.0 * (f[0] - f[1]),
            200.0 * (f[1] - f[2]),
        ]
    }

    /// The colour as four kinds of eyes see it.
    fn views(colour: Colour) -> [Three; 4] {
        let seen = linear(colour);
        let side = usize::from(dot(&TRITAN_NORMAL, &seen) < 0.0);
        [
            lab(&seen),
            lab(&times(&PROTANOPE, &seen)),
            lab(&times(&DEUTERANOPE, &seen)),
            lab(&times(&TRITANOPE[side], &seen)),
        ]
    }

    fn pairs() -> impl Iterator<Item = (Role, Role)> {
        ROLES
            .iter()
            .enumerate()
            .flat_map(|(index, a)| ROLES[..index].iter().map(|b| (*a, *b)))
    }

    #[test]
    fn white_is_white_to_every_eye() {
        for view in views(PAPER) {
            assert!((view[0] - 100.0).abs() < 0.1, "{view:?}");
            assert!(view[1].hypot(view[2]) < 0.5, "{view:?}");
        }
    }

    #[test]
    fn any_two_roles_are_twenty_apart_to_every_eye() {
        // CIE76; about 2 is just noticeable side by side, 20 is plain on a thin line (common practice, no source).
        for (a, b) in pairs() {
            for (view_a, view_b) in views(look(a).colour).iter().zip(views(look(b).colour)) {
                let apart: f64 = view_a
                    .iter()
                    .zip(view_b)
                    .map(|(a, b)| (a - b).powi(2))
                    .sum::<f64>()
                    .sqrt();
                assert!(apart >= 20.0, "{a:?} and {b:?}: {apart:.1}");
            }
        }
    }

    #[test]
    fn any_two_roles_differ_in_grey_print() {
        for (a, b) in pairs() {
            let lightness = |role| lab(&linear(look(role).colour))[0];
            let apart = (lightness(a) - lightness(b)).abs();
            assert!(apart >= 7.0, "{a:?} and {b:?}: {apart:.1}");
        }
    }

    #[test]
    fn data_and_text_stand_out_from_the_paper() {
        // WCAG 2.1, 1.4.11 (graphics, 3 : 1) and 1.4.3 (text, 4.5 : 1).
        let contrast = |colour| 1.05 / (dot(&XYZ[1], &linear(colour)) + 0.05);
        for role in ROLES {
            let found = contrast(look(role).colour);
            assert!(found >= 3.0, "{role:?}: {found:.2}");
        }
        assert!(contrast(MARK) >= 3.0);
        for ink in [INK, SOFT_INK, FRAME] {
            assert!(contrast(ink) >= 4.5, "{ink:?}");
        }
    }

    #[test]
    fn every_role_has_its_own_marker_and_dash() {
        let markers: HashSet<_> = ROLES.iter().map(|role| look(*role).marker).collect();
        assert_eq!(markers.len(), ROLES.len());
        for (a, b) in pairs() {
            assert_ne!(look(a).dash_px, look(b).dash_px, "{a:?} and {b:?}");
        }
    }
}

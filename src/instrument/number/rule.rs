//! How the number of one value is read.

use crate::instrument::number::marks::Marks;
use crate::instrument::number::value::Multiplier;
use crate::units::{Scale, Unit};

/// How the number of one value is read.
#[derive(Debug, Clone, PartialEq)]
pub struct NumberRule {
    /// The quantity's unit.
    pub unit: Unit,
    /// The scale of a number that has no unit of its own; `None` where the unit must stand in the line.
    pub scale: Option<Scale>,
    /// The multiplier of the number beside its unit: dividers, probes, shunts.
    pub multiplier: Multiplier,
    /// The decimal sign: a point or a comma.
    pub decimal_sign: char,
    /// The character between groups of three digits before the decimal sign, if any is accepted.
    pub thousands: Option<char>,
    /// Answers that are no number.
    pub marks: Marks,
    /// Whether the number is the period of the quantity meant: its reciprocal is recorded.
    pub is_period: bool,
}

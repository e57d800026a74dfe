//! Numbers on an axis: the prefix, the offset, the steps of 1, 2 and 5, and how each tick is written.

use std::fmt;

use crate::figure::{Axis, Quantity};
use crate::units::{self, Span, Unit};

/// Digits that a tick may need before the axis is shown as a difference from a round value. More than five are hard to compare,
/// and too wide for a small screen (chosen).
const MOST_DIGITS: i32 = 5;

/// Ticks an axis ever has.
pub(super) const MOST_TICKS: usize = 7;

/// How the values of one axis become numbers.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Scale {
    /// The words beside the axis, `quantity / unit` (ISO 80000-1:2009, 7.1.4: a quantity divided by its unit is a number).
    pub(super) title: String,
    unit: AxisUnit,
    /// The value at the number zero, in SI units.
    offset_si: f64,
    /// The axis' range in SI units.
    range_si: Span,
    /// Names of the places 0, 1, 2 …, in place of numbers.
    names: Vec<String>,
}

/// One tick: where, in SI units, and its text.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tick {
    pub(super) at_si: f64,
    pub(super) text: String,
}

impl Scale {
    /// Chooses unit, prefix and offset for a range that is not empty.
    pub(super) fn new(axis: &Axis, range_si: Span) -> Self {
        if !axis.names.is_empty() {
            return Self {
                title: axis.label.clone(),
                unit: AxisUnit::NONE,
                offset_si: 0.0,
                range_si,
                names: axis.names.clone(),
            };
        }
        let span_si = range_si.width();
        let largest_si = range_si.low.abs().max(range_si.high.abs());
        let unit = AxisUnit::of(axis.quantity, largest_si, span_si);
        let mut scale = Self {
            title: titled(&axis.label, unit),
            unit,
            offset_si: 0.0,
            range_si,
            names: Vec::new(),
        };
        let step = step_for(span_si / unit.size_si / (MOST_TICKS + 1) as f64);
        let digits = exponent_of(largest_si / unit.size_si) - step.exponent + 1;
        if digits > MOST_DIGITS {
            scale.take_offset(axis);
        }
        scale
    }

    /// Counts from a round value near the middle, so that the numbers have no more digits than the span.
    fn take_offset(&mut self, axis: &Axis) {
        let span_si = self.range_si.width();
        let grid_exponent = exponent_of(span_si / self.unit.size_si) + 1;
        let grid = power(grid_exponent);
        let middle = f64::midpoint(self.range_si.low, self.range_si.high) / self.unit.size_si;
        let round = (middle / grid).round() * grid;
        self.offset_si = round * self.unit.size_si;
        let rest_si = (self.range_si.low - self.offset_si)
            .abs()
            .max((self.range_si.high - self.offset_si).abs());
        let sign = if round < 0.0 { "+" } else { "−" };
        let offset = format!("{} {}", trimmed(round.abs(), -grid_exponent), self.unit);
        self.unit = AxisUnit::of(axis.quantity, rest_si, span_si);
        self.title = titled(&format!("({} {sign} {offset})", axis.label), self.unit);
    }

    /// Returns at most `most` ticks inside the range. They are on multiples of 1, 2 or 5 times a power of ten; on an axis of
    /// names, at every name.
    pub(super) fn ticks(&self, most: usize) -> Vec<Tick> {
        if !self.names.is_empty() {
            let named = self.names.iter().enumerate();
            return named
                .map(|(place, name)| Tick {
                    at_si: place as f64,
                    text: name.clone(),
                })
                .collect();
        }
        let low = (self.range_si.low - self.offset_si) / self.unit.size_si;
        let high = (self.range_si.high - self.offset_si) / self.unit.size_si;
        let most = most.max(1) as f64;
        // A finer step has more than `most` multiples in the range, wherever they lie.
        let mut step = step_for((high - low) / (most + 1.0));
        // A tick that misses the edge by rounding alone still belongs to the axis.
        let slack = 1e-9;
        let (first, count) = loop {
            let first = (low / step.value() - slack).ceil();
            let count = (high / step.value() + slack).floor() - first + 1.0;
            if count <= most {
                break (first, count);
            }
            step = step.next();
        };
        let mut ticks = Vec::new();
        let mut index = 0.0;
        while index < count {
            let number = (first + index) * step.value();
            ticks.push(Tick {
                at_si: self.offset_si + number * self.unit.size_si,
                text: written(number, step.decimals()),
            });
            index += 1.0;
        }
        ticks
    }

    /// A single value in the axis' unit, to a five-hundredth of the span or finer.
    pub(super) fn value(&self, value_si: f64) -> String {
        let span = self.range_si.width() / self.unit.size_si;
        let decimals = step_for(span / 1000.0).decimals();
        format!(
            "{} {}",
            written(value_si / self.unit.size_si, decimals),
            self.unit
        )
    }
}

fn titled(label: &str, unit: AxisUnit) -> String {
    match (label.is_empty(), unit == AxisUnit::NONE) {
        (_, true) => label.to_owned(),
        (true, false) => unit.to_string(),
        (false, false) => format!("{label} / {unit}"),
    }
}

/// A step of 1, 2 or 5 times ten to `exponent`.
#[derive(Debug, Clone, Copy)]
struct Step {
    digit: u8,
    exponent: i32,
}

impl Step {
    fn value(self) -> f64 {
        // Division keeps 0.2 the nearest number to 2/10, which 2 × 0.1 is not for every power.
        if self.exponent < 0 {
            f64::from(self.digit) / power(-self.exponent)
        } else {
            f64::from(self.digit) * power(self.exponent)
        }
    }

    const fn next(self) -> Self {
        let (digit, exponent) = match self.digit {
            1 => (2, self.exponent),
            2 => (5, self.exponent),
            _ => (1, self.exponent + 1),
        };
        Self { digit, exponent }
    }

    fn decimals(self) -> usize {
        usize::try_from(-self.exponent).unwrap_or(0)
    }
}

/// The smallest step not below `least`.
fn step_for(least: f64) -> Step {
    let mut step = Step {
        digit: 1,
        exponent: exponent_of(least),
    };
    while step.value() < least * (1.0 - 1e-9) {
        step = step.next();
    }
    step
}

fn power(exponent: i32) -> f64 {
    10_f64.powi(exponent)
}

/// Decimal exponent of a number's first digit; that of 1 for zero.
fn exponent_of(number: f64) -> i32 {
    if number == 0.0 {
        return 0;
    }
    #[expect(
        clippy::cast_possible_truncation,
        reason = "|log10| of any f64 is below 324"
    )]
    let exponent = number.abs().log10().floor() as i32;
    exponent
}

/// The unit in which the numbers of an axis are counted.
#[derive(Debug, Clone, Copy, PartialEq)]
struct AxisUnit {
    /// One of them, in SI units.
    size_si: f64,
    symbol: &'static str,
    /// The power of ten that its prefix stands for.
    prefix_exponent: i32,
    /// The power of ten written before it, where no prefix reaches.
    power_exponent: i32,
}

impl AxisUnit {
    /// The unit of an axis of names.
    const NONE: Self = Self {
        size_si: 1.0,
        symbol: "",
        prefix_exponent: 0,
        power_exponent: 0,
    };

    fn of(quantity: Quantity, largest_si: f64, span_si: f64) -> Self {
        let (base_si, symbol, least, most) = match quantity {
            Quantity::Name => return Self::NONE,
            Quantity::Elapsed if span_si <= 180.0 => (1.0, "s", 0, 0),
            Quantity::Elapsed if span_si <= 3.0 * 3600.0 => (60.0, "min", 0, 0),
            Quantity::Elapsed => (3600.0, "h", 0, 0),
            Quantity::Percent | Quantity::Si(Unit::Percent) => (0.01, "%", 0, 0),
            Quantity::Ppm => (1e-6, "ppm", 0, 0),
            Quantity::Place => (0.01, "cm", 0, 0),
            Quantity::Si(unit @ Unit::Celsius) => (1.0, unit.symbol(), 0, 0),
            // Kilograms inside, grams outside; kiloseconds and kilometres are not the trade's words.
            Quantity::Si(unit @ Unit::Gram) => (1e-3, unit.symbol(), -6, 3),
            Quantity::Si(unit @ (Unit::Second | Unit::Metre)) => (1.0, unit.symbol(), -12, 0),
            Quantity::Si(unit) => (1.0, unit.symbol(), -12, 9),
        };
        let exponent = if largest_si == 0.0 {
            0
        } else {
            3 * exponent_of(largest_si / base_si).div_euclid(3)
        };
        let prefix_exponent = exponent.clamp(least, most);
        let rest = exponent - prefix_exponent;
        // Hundredths of a per cent and some thousands of hours are read without a power of ten.
        let power_exponent = if (-3..=3).contains(&rest) { 0 } else { rest };
        Self {
            size_si: power(prefix_exponent + power_exponent) * base_si,
            symbol,
            prefix_exponent,
            power_exponent,
        }
    }
}

impl fmt::Display for AxisUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (prefix, symbol) = (units::prefix(self.prefix_exponent), self.symbol);
        match self.power_exponent {
            0 => write!(f, "{prefix}{symbol}"),
            exponent => write!(f, "(10{} {prefix}{symbol})", raised(exponent)),
        }
    }
}

/// An exponent in superior figures.
fn raised(exponent: i32) -> String {
    let figures = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];
    exponent
        .to_string()
        .chars()
        .filter_map(|c| match c.to_digit(10) {
            Some(digit) => figures.get(usize::try_from(digit).ok()?).copied(),
            None => Some('⁻'),
        })
        .collect()
}

/// A number with a true minus sign, and none before a zero.
fn written(number: f64, decimals: usize) -> String {
    let text = format!("{:.decimals$}", number.abs());
    if number < 0.0 && text.chars().any(|c| matches!(c, '1'..='9')) {
        format!("−{text}")
    } else {
        text
    }
}

/// A number with at most this number of decimals, closing zeros left away.
fn trimmed(number: f64, decimals: i32) -> String {
    let text = written(number, usize::try_from(decimals).unwrap_or(0));
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(quantity: Quantity, low_si: f64, high_si: f64) -> (String, Vec<String>) {
        let scale = Scale::new(&Axis::new("quantity", quantity), Span::new(low_si, high_si));
        let texts = scale.ticks(5).into_iter().map(|tick| tick.text).collect();
        (scale.title, texts)
    }

    #[test]
    fn the_prefix_follows_the_largest_value() {
        let (title, texts) = shown(Quantity::Si(Unit::Hertz), 6.20e6, 6.26e6);
        assert_eq!(title, "quantity / MHz");
        assert_eq!(texts, ["6.20", "6.22", "6.24", "6.26"]);
        let (title, texts) = shown(Quantity::Si(Unit::Ampere), 0.0, 0.35);
        assert_eq!(title, "quantity / mA");
        assert_eq!(texts, ["0", "100", "200", "300"]);
        assert_eq!(
            shown(Quantity::Si(Unit::Gram), 0.0, 0.0064).0,
            "quantity / g"
        );
        assert_eq!(
            shown(Quantity::Si(Unit::Second), 0.0, 2e4).0,
            "quantity / s"
        );
    }

    #[test]
    fn decimals_are_exactly_those_of_the_step() {
        assert_eq!(
            shown(Quantity::Si(Unit::Volt), 6.9, 9.1).1,
            ["7.0", "7.5", "8.0", "8.5", "9.0"]
        );
        assert_eq!(
            shown(Quantity::Percent, -0.021, 0.021).1,
            ["−2", "−1", "0", "1", "2"]
        );
    }

    #[test]
    fn a_small_drift_on_a_large_value_is_shown_from_a_round_offset() {
        let (title, texts) = shown(Quantity::Si(Unit::Hertz), 6.23099e6, 6.23101e6);
        assert_eq!(title, "(quantity − 6.231 MHz) / Hz");
        assert_eq!(texts, ["−10", "−5", "0", "5", "10"]);
        let (title, texts) = shown(Quantity::Si(Unit::Hertz), 6_231_003.0, 6_231_023.0);
        assert_eq!(title, "(quantity − 6.231 MHz) / Hz");
        assert_eq!(texts, ["5", "10", "15", "20"]);
    }

    #[test]
    fn elapsed_time_is_in_seconds_minutes_or_hours_by_its_span() {
        assert_eq!(shown(Quantity::Elapsed, 0.0, 1.0).0, "quantity / s");
        assert_eq!(shown(Quantity::Elapsed, 0.0, 3000.0).0, "quantity / min");
        let (title, texts) = shown(Quantity::Elapsed, 0.0, 36_000.0);
        assert_eq!(title, "quantity / h");
        assert_eq!(texts, ["0", "5", "10"]);
        assert_eq!(
            shown(Quantity::Elapsed, 35_999.5, 36_000.5).0,
            "(quantity − 36000 s) / s"
        );
    }

    #[test]
    fn very_small_ratios_take_a_power_of_ten() {
        let (title, texts) = shown(Quantity::Ppm, -5e-13, -1e-13);
        assert_eq!(title, "quantity / (10⁻⁹ ppm)");
        assert_eq!(texts, ["−500", "−400", "−300", "−200", "−100"]);
        assert_eq!(shown(Quantity::Ppm, -5e-8, -1e-8).0, "quantity / ppm");
    }

    #[test]
    fn ticks_lie_inside_evenly_and_never_exceed_the_number_asked() {
        let mut seed = 1_u64;
        let mut next = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            f64::from(u32::try_from(seed >> 32).expect("32 bits")) / f64::from(u32::MAX)
        };
        for _ in 0..2000 {
            let low_si = (next() - 0.5) * 10_f64.powf(20.0 * next() - 10.0);
            let high_si = low_si + low_si.abs().max(1e-9) * 10_f64.powf(9.0 * next() - 8.0);
            let scale = Scale::new(
                &Axis::new("q", Quantity::Si(Unit::Hertz)),
                Span::new(low_si, high_si),
            );
            for most in 2..=MOST_TICKS {
                let ticks = scale.ticks(most);
                assert!(!ticks.is_empty() || most < 3, "{low_si} {high_si} {most}");
                assert!(ticks.len() <= most, "{ticks:?}");
                let slack = (high_si - low_si) * 1e-6;
                for tick in &ticks {
                    assert!(tick.at_si >= low_si - slack && tick.at_si <= high_si + slack);
                    assert!(
                        tick.text.chars().count() <= 7,
                        "{low_si} {high_si} {ticks:?}"
                    );
                }
                let mut texts: Vec<_> = ticks.iter().map(|tick| &tick.text).collect();
                texts.dedup();
                assert_eq!(texts.len(), ticks.len(), "two ticks read alike: {ticks:?}");
            }
        }
    }
}

//! Instruments that speak unasked: one line a period, as a board with a sketch on it does.

use std::fmt::Write as _;

use super::world::{Moment, World};
use super::{Instrument, LineEnd, Quantity, time_word};

/// A unit's prefix.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Prefix {
    /// A thousandth.
    Milli,
    /// None.
    One,
    /// A thousand.
    Kilo,
    /// A million.
    Mega,
}

impl Prefix {
    const fn letter(self) -> &'static str {
        match self {
            Self::Milli => "m",
            Self::One => "",
            Self::Kilo => "k",
            Self::Mega => "M",
        }
    }

    const fn per_unit(self) -> f64 {
        match self {
            Self::Milli => 1e3,
            Self::One => 1.0,
            Self::Kilo => 1e-3,
            Self::Mega => 1e-6,
        }
    }
}

/// One field of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Field {
    /// Its quantity.
    pub quantity: Quantity,
    /// In which multiple of its unit.
    pub prefix: Prefix,
    /// Digits after the decimal point.
    pub decimals: usize,
}

impl Field {
    /// Creates a field.
    pub const fn new(quantity: Quantity, prefix: Prefix, decimals: usize) -> Self {
        Self {
            quantity,
            prefix,
            decimals,
        }
    }

    /// Returns the number alone; `None` when there is no value.
    fn number(&self, moment: &Moment) -> Option<String> {
        let value = self.quantity.of(moment)? * self.prefix.per_unit();
        Some(format!("{value:.*}", self.decimals))
    }
}

/// Returns the name of a quantity in a plain line, and its unit's letters.
const fn name_and_unit(quantity: Quantity) -> (char, &'static str) {
    match quantity {
        Quantity::FrequencyHz => ('f', "Hz"),
        Quantity::BatteryV => ('v', "V"),
        Quantity::CurrentA => ('i', "A"),
        Quantity::AmplitudeV => ('a', "V"),
        Quantity::TemperatureC => ('t', "C"),
    }
}

/// Whether a plain line carries a checksum.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Checksum {
    /// None.
    Absent,
    /// ` *HH` at the end.
    Present,
}

/// How a line looks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Form {
    /// `f=6231234.5Hz v=8.912V *5A`: fields in the order given; a stopped coil sends `f=none`.
    Plain(Vec<Field>, Checksum),
    /// `time_ms,freq_khz,batt_v` once at the start, then the values with this delimiter; a stopped coil leaves its
    /// value out.
    Columns(char),
}

/// Why there can be no such instrument.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum LinesError {
    /// A period that does not let time pass.
    #[error("period of the virtual board: {period_s} s, must be a number above 0")]
    Period {
        /// The period asked for.
        period_s: f64,
    },
}

/// An instrument that sends a line each period.
#[derive(Debug, Clone)]
pub struct Lines {
    form: Form,
    end: LineEnd,
    period_s: f64,
    said: u64,
    /// Who it says it is when its line is opened; `None` for a board that does not.
    identity: Option<String>,
}

impl Lines {
    /// Creates an instrument with lines of this form, one each `period_s` seconds of the world from 0 s on.
    ///
    /// # Errors
    /// [`LinesError::Period`] when the period is not a number above 0.
    pub fn new(form: Form, end: LineEnd, period_s: f64) -> Result<Self, LinesError> {
        if !(period_s.is_finite() && period_s > 0.0) {
            return Err(LinesError::Period { period_s });
        }
        Ok(Self {
            form,
            end,
            period_s,
            said: 0,
            identity: None,
        })
    }

    /// Creates plain lines with all five quantities and a checksum, ended by a line feed.
    ///
    /// # Errors
    /// [`LinesError::Period`] when the period is not a number above 0.
    pub fn plain(period_s: f64) -> Result<Self, LinesError> {
        let fields = vec![
            Field::new(Quantity::FrequencyHz, Prefix::One, 1),
            Field::new(Quantity::BatteryV, Prefix::One, 3),
            Field::new(Quantity::CurrentA, Prefix::One, 3),
            Field::new(Quantity::AmplitudeV, Prefix::One, 2),
            Field::new(Quantity::TemperatureC, Prefix::One, 1),
        ];
        let form = Form::Plain(fields, Checksum::Present);
        Self::new(form, LineEnd::Lf, period_s)
    }

    /// Creates columns with commas, ended by a line feed.
    ///
    /// # Errors
    /// [`LinesError::Period`] when the period is not a number above 0.
    pub fn columns(period_s: f64) -> Result<Self, LinesError> {
        Self::new(Form::Columns(','), LineEnd::Lf, period_s)
    }

    /// Returns the same board, which says when its line is opened that it is virtual and how many times faster than real its time
    /// runs.
    #[must_use]
    pub fn introduced(mut self, time_scale: u32) -> Self {
        let (time, version) = (time_word(time_scale), env!("CARGO_PKG_VERSION"));
        self.identity = Some(format!("sagtrace,virtual board,{time},{version}"));
        self
    }

    fn line(&self, world: &World, elapsed_s: f64) -> Vec<u8> {
        let moment = world.at(elapsed_s);
        let mut line = match &self.form {
            Form::Plain(fields, checksum) => {
                let mut line = plain(fields, &moment).into_bytes();
                if *checksum == Checksum::Present {
                    seal(&mut line);
                }
                line
            }
            Form::Columns(delimiter) => columns(*delimiter, elapsed_s, &moment).into_bytes(),
        };
        line.extend_from_slice(self.end.bytes());
        line
    }
}

fn plain(fields: &[Field], moment: &Moment) -> String {
    let mut line = String::new();
    for field in fields {
        if !line.is_empty() {
            line.push(' ');
        }
        let (name, unit) = name_and_unit(field.quantity);
        // Writing to a String cannot fail.
        match field.number(moment) {
            Some(number) => write!(line, "{name}={number}{}{unit}", field.prefix.letter()),
            None => write!(line, "{name}=none"),
        }
        .ok();
    }
    line
}

fn columns(delimiter: char, elapsed_s: f64, moment: &Moment) -> String {
    let frequency = Field::new(Quantity::FrequencyHz, Prefix::Kilo, 4);
    let battery = Field::new(Quantity::BatteryV, Prefix::One, 3);
    format!(
        "{:.0}{delimiter}{}{delimiter}{}",
        elapsed_s * 1e3,
        frequency.number(moment).unwrap_or_default(),
        battery.number(moment).unwrap_or_default()
    )
}

impl Instrument for Lines {
    fn opened(&mut self) -> Vec<Vec<u8>> {
        let heading = match &self.form {
            Form::Plain(..) => None,
            Form::Columns(delimiter) => {
                Some(["time_ms", "freq_khz", "batt_v"].join(&delimiter.to_string()))
            }
        };
        let said = self.identity.iter().cloned().chain(heading);
        said.map(|text| [text.as_bytes(), self.end.bytes()].concat())
            .collect()
    }

    /// It has no ears.
    fn hear(&mut self, _bytes: &[u8], _world: &World, _elapsed_s: f64) -> Vec<Vec<u8>> {
        Vec::new()
    }

    fn due_s(&self) -> Option<f64> {
        Some(self.said as f64 * self.period_s)
    }

    fn speak(&mut self, world: &World) -> Vec<u8> {
        let line = self.line(world, self.said as f64 * self.period_s);
        self.said += 1;
        line
    }
}

/// Returns the exclusive or of all bytes.
fn checksum(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0, |sum, byte| sum ^ byte)
}

/// Puts ` *HH` at the end of a line that has no line end yet.
pub(super) fn seal(line: &mut Vec<u8>) {
    let sum = checksum(line);
    line.extend_from_slice(format!(" *{sum:02X}").as_bytes());
}

/// Makes the checksum of a finished line right again; a line without one stays as it is.
pub(super) fn reseal(line: &mut Vec<u8>) {
    let body = line
        .iter()
        .rposition(|byte| !b"\r\n".contains(byte))
        .map_or(0, |last| last + 1);
    let Some(seal_at) = body.checked_sub(4) else {
        return;
    };
    if line.get(seal_at..seal_at + 2) == Some(b" *") {
        let end = line.split_off(body);
        line.truncate(seal_at);
        seal(line);
        line.extend(end);
    }
}

#[cfg(test)]
mod tests {
    use super::super::world::WorldSpec;
    use super::*;

    const MOMENT: Moment = Moment {
        frequency_hz: Some(6231234.5),
        battery_v: 8.912,
        current_a: 0.301,
        amplitude_v: 3.21,
        temperature_c: 22.5,
    };

    #[test]
    fn a_plain_line_has_the_fields_in_the_order_given() {
        let fields = [
            Field::new(Quantity::BatteryV, Prefix::Milli, 0),
            Field::new(Quantity::FrequencyHz, Prefix::Mega, 7),
            Field::new(Quantity::TemperatureC, Prefix::One, 1),
        ];
        assert_eq!(plain(&fields, &MOMENT), "v=8912mV f=6.2312345MHz t=22.5C");
    }

    #[test]
    fn a_stopped_coil_has_no_frequency_in_either_form() {
        let stopped = Moment {
            frequency_hz: None,
            ..MOMENT
        };
        let fields = [
            Field::new(Quantity::FrequencyHz, Prefix::Kilo, 1),
            Field::new(Quantity::BatteryV, Prefix::One, 3),
        ];
        assert_eq!(plain(&fields, &stopped), "f=none v=8.912V");
        assert_eq!(columns(';', 2.5, &stopped), "2500;;8.912");
        assert_eq!(columns(';', 2.5, &MOMENT), "2500;6231.2345;8.912");
    }

    #[test]
    fn the_checksum_is_the_exclusive_or_of_what_stands_before_it() {
        // By hand: 'a' 61h xor '=' 3Dh xor '1' 31h xor 'V' 56h = 3Bh.
        let mut line = b"a=1V".to_vec();
        seal(&mut line);
        assert_eq!(line, b"a=1V *3B");
        let mut torn = b"a=1V *00\r\n".to_vec();
        reseal(&mut torn);
        assert_eq!(torn, b"a=1V *3B\r\n");
    }

    #[test]
    fn lines_come_at_their_period_with_the_world_of_that_moment() {
        let mut spec = WorldSpec::steady(6.23e6, 9.0);
        spec.battery.push((10.0, 8.0));
        let world = World::new(spec).unwrap();
        let mut lines = Lines::columns(2.0).unwrap();
        assert_eq!(lines.opened(), [b"time_ms,freq_khz,batt_v\n".to_vec()]);
        for step in 0..5 {
            let due_s = f64::from(step) * 2.0;
            assert_eq!(lines.due_s(), Some(due_s));
            let said = String::from_utf8(lines.speak(&world)).unwrap();
            assert_eq!(said, format!("{}\n", columns(',', due_s, &world.at(due_s))));
        }
    }

    #[test]
    fn a_period_that_lets_no_time_pass_is_refused() {
        for period_s in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(Lines::plain(period_s).is_err(), "{period_s}");
        }
        insta::assert_snapshot!(Lines::plain(0.0).unwrap_err(),
            @"period of the virtual board: 0 s, must be a number above 0");
    }
}

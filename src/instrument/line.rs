//! Lines that come unasked: named fields, or columns.

use super::number::{Value, read_number};
use super::profile::{ChannelRule, Checksum, Place};
use crate::reading::{Channel, Readings, Status};

/// What a line, or the answers for one row, came to.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The values that could be read.
    pub readings: Readings,
    /// The most serious of what was met.
    pub status: Status,
    /// Why, when the status is not `ok`.
    pub note: String,
}

impl Default for Reading {
    fn default() -> Self {
        Self {
            readings: Readings::default(),
            status: Status::Ok,
            note: String::new(),
        }
    }
}

impl Reading {
    /// A reading without values.
    pub fn failed(status: Status, note: &str) -> Self {
        Self {
            readings: Readings::default(),
            status,
            note: note.to_owned(),
        }
    }

    /// Adds one value.
    pub fn add(&mut self, channel: Channel, value: Value) {
        let (status, why) = match value {
            Value::Number(value) => {
                self.readings.set(channel, value);
                return;
            }
            // Without a signal there is no frequency and no amplitude; another channel without one is out of order.
            Value::NoSignal => (Status::NoSignal, "no signal"),
            Value::Overload => (Status::Overload, "beyond the range"),
            Value::Garbled(why) => (Status::Garbled, why),
        };
        self.note(status, &format!("{}: {why}", channel.column()));
    }

    /// Takes a status that is more serious than what was met before, with its reason.
    pub fn note(&mut self, status: Status, why: &str) {
        if self.status.worst(status) != self.status {
            self.status = status;
            why.clone_into(&mut self.note);
        }
    }
}

/// The XOR of all bytes: what `*HH` at the end of a plain line must say.
fn xor(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0, |sum, byte| sum ^ byte)
}

/// Splits ` *HH` from a line: the line's text, and whether its checksum is right; `None` where there is no checksum.
fn checked(line: &str) -> (&str, Option<bool>) {
    let Some((body, sum)) = line.rsplit_once('*') else {
        return (line, None);
    };
    let body = body.trim_end_matches(' ');
    let is_sum = sum.len() == 2 && sum.bytes().all(|byte| byte.is_ascii_hexdigit());
    let right = is_sum && u8::from_str_radix(sum, 16).is_ok_and(|sum| sum == xor(body.as_bytes()));
    (body, Some(right))
}

/// Whether a line carries a checksum that is right, and so is whole even if it is the first after opening.
pub fn is_checked_line(line: &str) -> bool {
    checked(line).1 == Some(true)
}

/// Reads a line of named fields, `f=6.2312345MHz v=8.91V *5A`.
pub fn fields(line: &str, rules: &[ChannelRule], checksum: Checksum) -> Reading {
    let (body, sum) = checked(line);
    match (sum, checksum) {
        (Some(false), _) => return Reading::failed(Status::Garbled, "the checksum is wrong"),
        (None, Checksum::Required) => {
            return Reading::failed(Status::Garbled, "the checksum is missing");
        }
        (Some(true), _) | (None, Checksum::Optional) => {}
    }
    let mut reading = Reading::default();
    let mut seen: Vec<&str> = Vec::new();
    for field in body.split_ascii_whitespace() {
        let Some((name, text)) = field.split_once('=') else {
            return Reading::failed(Status::Garbled, "a field without its name");
        };
        if seen.contains(&name) {
            return Reading::failed(Status::Garbled, "a field stands twice");
        }
        seen.push(name);
        let is_named =
            |rule: &&ChannelRule| matches!(&rule.place, Place::Named(wanted) if wanted == name);
        // Fields that the profile does not name are the maker's own business.
        if let Some(rule) = rules.iter().find(is_named) {
            reading.add(rule.channel, read_number(text, &rule.number, rule.channel));
        }
    }
    settle(reading)
}

/// A line that gave nothing at all is no row of readings.
fn settle(reading: Reading) -> Reading {
    if reading.readings.is_empty() && reading.status == Status::Ok {
        return Reading::failed(Status::Garbled, "no known value in the line");
    }
    reading
}

/// Which column each rule's value stands in, counted from 0.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ColumnMap(Vec<usize>);

impl ColumnMap {
    /// The map of a profile that numbers its columns; `None` if names must be looked up first.
    pub fn by_position(rules: &[ChannelRule]) -> Option<Self> {
        rules
            .iter()
            .map(|rule| match rule.place {
                Place::Column(position) => position.checked_sub(1),
                Place::Named(_) | Place::Answer { .. } | Place::Waveform(_) => None,
            })
            .collect::<Option<Vec<_>>>()
            .map(Self)
    }

    /// The map that a line of names gives; `None` if it does not name every column wanted.
    pub fn by_header(line: &str, rules: &[ChannelRule], delimiter: char) -> Option<Self> {
        let names: Vec<String> = cells(line, delimiter)
            .map(|name| name.trim_matches('"').to_owned())
            .collect();
        rules
            .iter()
            .map(|rule| match &rule.place {
                Place::Named(wanted) => names
                    .iter()
                    .position(|name| name.eq_ignore_ascii_case(wanted)),
                Place::Column(position) => {
                    position.checked_sub(1).filter(|index| *index < names.len())
                }
                Place::Answer { .. } | Place::Waveform(_) => None,
            })
            .collect::<Option<Vec<_>>>()
            .map(Self)
    }
}

fn cells(line: &str, delimiter: char) -> impl Iterator<Item = &str> {
    let blank = delimiter == ' ';
    line.split(move |c: char| c == delimiter || (blank && c == '\t'))
        .filter(move |cell| !blank || !cell.is_empty())
        .map(str::trim)
}

/// Reads a line of columns.
pub fn columns(line: &str, rules: &[ChannelRule], delimiter: char, map: &ColumnMap) -> Reading {
    let cells: Vec<&str> = cells(line, delimiter).collect();
    let mut reading = Reading::default();
    for (rule, index) in rules.iter().zip(&map.0) {
        let value = cells
            .get(*index)
            .map_or(Value::Garbled("too few columns"), |text| {
                read_number(text, &rule.number, rule.channel)
            });
        reading.add(rule.channel, value);
    }
    settle(reading)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instrument::Belief;
    use crate::instrument::number::{Marks, Multiplier, NumberRule};
    use crate::units::Scale;

    fn rule(channel: Channel, place: Place, scale: Option<Scale>) -> ChannelRule {
        let marks = Marks {
            no_signal: vec!["none".to_owned()],
            overload: Vec::new(),
        };
        let unit = channel.unit();
        let number = NumberRule {
            unit,
            scale,
            multiplier: Multiplier::ONE,
            decimal_sign: '.',
            marks,
        };
        ChannelRule {
            channel,
            input: "f".to_owned(),
            place,
            number,
            belief: Belief::default(),
        }
    }

    fn named() -> Vec<ChannelRule> {
        vec![
            rule(Channel::FrequencyHz, Place::Named("f".to_owned()), None),
            rule(Channel::BatteryV, Place::Named("v".to_owned()), None),
        ]
    }

    fn plain(line: &str) -> Reading {
        fields(line, &named(), Checksum::Optional)
    }

    #[test]
    fn named_fields_are_read_in_any_order() {
        let reading = plain("v=8.912V f=6.2312345MHz note=x");
        assert_eq!(reading.status, Status::Ok, "{reading:?}");
        assert_eq!(reading.readings.get(Channel::FrequencyHz), Some(6231234.5));
        assert_eq!(reading.readings.get(Channel::BatteryV), Some(8.912));
    }

    #[test]
    fn a_checksum_is_checked_where_it_stands() {
        // XOR of the bytes of "f=4MHz": 66 3d 34 4d 48 7a (hex) = 10, summed by hand.
        assert_eq!(plain("f=4MHz *10").status, Status::Ok);
        assert!(is_checked_line("f=4MHz *10"));
        assert_eq!(plain("f=5MHz *10").note, "the checksum is wrong");
        assert_eq!(plain("f=4MHz *1").note, "the checksum is wrong");
        assert!(!is_checked_line("f=4MHz"));
        assert_eq!(
            fields("f=4MHz", &named(), Checksum::Required).note,
            "the checksum is missing"
        );
    }

    #[test]
    fn a_silent_coil_keeps_its_battery_voltage() {
        let reading = plain("f=none v=6.1V");
        assert_eq!(
            (reading.status, reading.readings.get(Channel::BatteryV)),
            (Status::NoSignal, Some(6.1))
        );
    }

    #[test]
    fn two_lines_glued_together_give_no_number() {
        for line in [
            "f=6231234.f=6231234.5Hz v=8.9V",
            "f=62312f=6231234.5Hz",
            "f=6MHz v=8.9V f=6MHz v=8.9V",
        ] {
            assert_eq!(plain(line).status, Status::Garbled, "{line}");
            assert!(
                plain(line).readings.get(Channel::FrequencyHz).is_none(),
                "{line}"
            );
        }
    }

    #[test]
    fn columns_are_found_by_name_or_by_position() {
        let kilo = Some(Scale::Exponent(3));
        let by_name = vec![
            rule(
                Channel::FrequencyHz,
                Place::Named("freq_khz".to_owned()),
                kilo,
            ),
            rule(
                Channel::BatteryV,
                Place::Named("batt".to_owned()),
                Some(Scale::Exponent(0)),
            ),
        ];
        let map = ColumnMap::by_header("time,\"batt\",freq_khz", &by_name, ',').unwrap();
        let reading = columns("17, 8.9, 6231.2345", &by_name, ',', &map);
        assert_eq!(reading.readings.get(Channel::FrequencyHz), Some(6231234.5));
        assert_eq!(reading.readings.get(Channel::BatteryV), Some(8.9));
        assert_eq!(
            ColumnMap::by_header("time,voltage,freq_khz", &by_name, ','),
            None
        );

        let by_place = vec![rule(Channel::FrequencyHz, Place::Column(2), kilo)];
        let map = ColumnMap::by_position(&by_place).unwrap();
        let reading = columns("1\t 6231.2", &by_place, ' ', &map);
        assert_eq!(reading.readings.get(Channel::FrequencyHz), Some(6231200.0));
        assert_eq!(
            columns("1", &by_place, ' ', &map).note,
            "frequency_hz: too few columns"
        );
    }
}

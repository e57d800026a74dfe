//! Lines that come unasked: named fields, or columns.

use super::cells::{self, Cell};
use super::number::{Value, read_number};
use super::profile::{ChannelRule, Place};
use super::seal::Seal;
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

/// Reads a line of named fields, `f=6.2312345MHz v=8.91V *5A`.
pub fn fields(line: &str, rules: &[ChannelRule], seal: impl Into<Seal>) -> Reading {
    let body = match seal.into().open(line) {
        Ok(body) => body,
        Err(why) => return Reading::failed(Status::Garbled, why),
    };
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

/// How columns are laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ColumnLayout {
    /// The delimiter; a blank stands for any run of blanks and tabs.
    pub delimiter: char,
    /// Whether a line of names comes first.
    pub header: bool,
    /// How many columns a line has, where no line of names tells; `None` for as many as are read.
    pub count: Option<usize>,
    /// What proves a line, if anything does.
    pub seal: Option<Seal>,
}

/// Which column each rule's value stands in, counted from 0.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ColumnMap {
    indices: Vec<usize>,
    /// How many columns a line must have: one that was glued from two, or has a decimal comma, has more.
    count: usize,
}

impl ColumnMap {
    /// The map of a profile that numbers its columns; `None` if names must be looked up first.
    pub fn by_position(rules: &[ChannelRule], layout: &ColumnLayout) -> Option<Self> {
        let index = |rule: &ChannelRule| match rule.place {
            Place::Column(position) => position.checked_sub(1),
            Place::Named(_) | Place::Answer { .. } | Place::Block { .. } | Place::Waveform(_) => {
                None
            }
        };
        let indices = rules.iter().map(index).collect::<Option<Vec<_>>>()?;
        let most = indices.iter().max().map_or(0, |last| last + 1);
        Some(Self {
            indices,
            count: layout.count.unwrap_or(most),
        })
    }

    /// The map that a line of names gives; `None` if it is none, or does not name every column wanted.
    pub fn by_header(line: &str, rules: &[ChannelRule], layout: &ColumnLayout) -> Option<Self> {
        let names = layout.cells(line).ok()?;
        let index = |rule: &ChannelRule| match &rule.place {
            Place::Named(wanted) => names
                .iter()
                .position(|name| name.eq_ignore_ascii_case(wanted)),
            Place::Column(position) => position.checked_sub(1).filter(|index| *index < names.len()),
            Place::Answer { .. } | Place::Block { .. } | Place::Waveform(_) => None,
        };
        let indices = rules.iter().map(index).collect::<Option<Vec<_>>>()?;
        let has_name = rules
            .iter()
            .any(|rule| matches!(rule.place, Place::Named(_)));
        // Where columns are only numbered, a spoilt line of data is not to pass for a line of names.
        let count = names.len();
        (has_name || is_names(&names)).then_some(Self { indices, count })
    }
}

/// What a line of names lacks, in words; `None` if it is no line of names, or lacks nothing.
pub fn missing_names(line: &str, rules: &[ChannelRule], layout: &ColumnLayout) -> Option<String> {
    let names = layout.cells(line).ok().filter(|names| is_names(names))?;
    let lacks = |rule: &&ChannelRule| match &rule.place {
        Place::Named(wanted) => !names.iter().any(|name| name.eq_ignore_ascii_case(wanted)),
        Place::Column(_) | Place::Answer { .. } | Place::Block { .. } | Place::Waveform(_) => false,
    };
    let lacking: Vec<&str> = rules
        .iter()
        .filter(lacks)
        .map(|rule| rule.input.as_str())
        .collect();
    (!lacking.is_empty()).then(|| {
        format!(
            "no column {}: the line of names has {}",
            lacking.join(", "),
            names.join(", ")
        )
    })
}

/// Names of columns: no cell begins with a number.
fn is_names(cells: &[String]) -> bool {
    cells.len() > 1
        && cells.iter().all(|cell| {
            let is_word = !cell.is_empty() && crate::units::split_number(cell).is_none();
            is_word && !cell.eq_ignore_ascii_case("nan")
        })
}

impl ColumnLayout {
    fn cells(&self, line: &str) -> Result<Vec<String>, &'static str> {
        let line = match self.seal {
            Some(seal) => seal.open(line)?,
            None => line,
        };
        let is_blank = self.delimiter == ' ';
        let tabs = is_blank.then_some('\t');
        let cells = cells::cut(line, Some(self.delimiter), tabs)?;
        let is_kept = |cell: &Cell| !is_blank || cell.is_quoted || !cell.text.is_empty();
        Ok(cells
            .into_iter()
            .filter(is_kept)
            .map(|cell| cell.text)
            .collect())
    }
}

/// Reads a line of columns.
pub fn columns(
    line: &str,
    rules: &[ChannelRule],
    layout: &ColumnLayout,
    map: &ColumnMap,
) -> Reading {
    let mut cells = match layout.cells(line) {
        Ok(cells) => cells,
        Err(why) => return Reading::failed(Status::Garbled, why),
    };
    // Some boards end a line with a delimiter too many.
    if cells.len() == map.count + 1 && cells.last().is_some_and(String::is_empty) {
        cells.pop();
    }
    if cells.len() != map.count {
        let why = format!("{} columns where {} are wanted", cells.len(), map.count);
        return Reading::failed(Status::Garbled, &why);
    }
    let mut reading = Reading::default();
    for (rule, index) in rules.iter().zip(&map.indices) {
        let text = cells.get(*index).map_or("", String::as_str);
        reading.add(rule.channel, read_number(text, &rule.number, rule.channel));
    }
    settle(reading)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instrument::Belief;
    use crate::instrument::number::{Marks, Multiplier, NumberRule};
    use crate::instrument::{Checksum, Sum};
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
            is_period: false,
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
        assert_eq!(plain("f=5MHz *10").note, "the checksum is wrong");
        assert_eq!(plain("f=4MHz *1").note, "the checksum is wrong");
        assert_eq!(
            fields("f=4MHz", &named(), Checksum::Required).note,
            "the checksum is missing"
        );
        // CRC-8/SMBUS of the same bytes, Crc8Smbus of the Python library crccheck 1.3.1: 6d.
        let seal = Seal {
            need: Checksum::Required,
            sum: Sum::Crc8,
        };
        assert_eq!(fields("f=4MHz *6D", &named(), seal).status, Status::Ok);
        assert_eq!(
            fields("f=4MHz *10", &named(), seal).note,
            "the checksum is wrong"
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

    const COMMAS: ColumnLayout = ColumnLayout {
        delimiter: ',',
        header: true,
        count: None,
        seal: None,
    };

    fn by_name() -> Vec<ChannelRule> {
        let column = |channel, name: &str, exponent| {
            let mut rule = rule(
                channel,
                Place::Named(name.to_owned()),
                Some(Scale::Exponent(exponent)),
            );
            name.clone_into(&mut rule.input);
            rule
        };
        vec![
            column(Channel::FrequencyHz, "freq_khz", 3),
            column(Channel::BatteryV, "batt", 0),
        ]
    }

    #[test]
    fn columns_are_found_by_name_or_by_position() {
        let by_name = by_name();
        let map = ColumnMap::by_header("time,\"batt\",freq_khz", &by_name, &COMMAS).unwrap();
        let reading = columns("17, 8.9, \"6231.2345\"", &by_name, &COMMAS, &map);
        assert_eq!(reading.readings.get(Channel::FrequencyHz), Some(6231234.5));
        assert_eq!(reading.readings.get(Channel::BatteryV), Some(8.9));
        let renamed = "time,voltage,freq_khz";
        assert_eq!(ColumnMap::by_header(renamed, &by_name, &COMMAS), None);
        assert_eq!(
            missing_names(renamed, &by_name, &COMMAS).unwrap(),
            "no column batt: the line of names has time, voltage, freq_khz"
        );
        assert_eq!(missing_names("17,8.9,6231.2", &by_name, &COMMAS), None);

        let by_place = vec![rule(
            Channel::FrequencyHz,
            Place::Column(2),
            Some(Scale::Exponent(3)),
        )];
        let blanks = ColumnLayout {
            delimiter: ' ',
            header: false,
            ..COMMAS
        };
        let map = ColumnMap::by_position(&by_place, &blanks).unwrap();
        let reading = columns("1\t 6231.2", &by_place, &blanks, &map);
        assert_eq!(reading.readings.get(Channel::FrequencyHz), Some(6231200.0));
        assert_eq!(
            columns("1", &by_place, &blanks, &map).note,
            "1 columns where 2 are wanted"
        );
    }

    /// A decimal comma makes a column more, two lines glued together several.
    #[test]
    fn a_line_with_other_than_its_columns_gives_no_number() {
        let by_name = by_name();
        let map = ColumnMap::by_header("time,batt,freq_khz", &by_name, &COMMAS).unwrap();
        for line in [
            "17,8,9,6231,2",
            "17,8.918,8.9,6231.2",
            "17,8.9",
            "17,\"8.9,6231.2",
        ] {
            let reading = columns(line, &by_name, &COMMAS, &map);
            assert_eq!(reading.status, Status::Garbled, "{line}");
            assert!(reading.readings.is_empty(), "{line}");
        }
        let reading = columns("17,8.9,6231.2,", &by_name, &COMMAS, &map);
        assert_eq!(
            reading.status,
            Status::Ok,
            "a delimiter too many at the end"
        );
    }

    #[test]
    fn where_columns_are_numbered_only_words_make_a_line_of_names() {
        let by_place = [rule(
            Channel::FrequencyHz,
            Place::Column(2),
            Some(Scale::Exponent(3)),
        )];
        assert!(ColumnMap::by_header("time,freq", &by_place, &COMMAS).is_some());
        assert_eq!(ColumnMap::by_header("17,62x1.2", &by_place, &COMMAS), None);
    }

    #[test]
    fn a_sealed_line_of_columns_is_checked() {
        let by_name = by_name();
        let sealed = ColumnLayout {
            seal: Some(Seal::from(Checksum::Required)),
            ..COMMAS
        };
        let map = ColumnMap::by_header("time,batt,freq_khz", &by_name, &COMMAS).unwrap();
        let line = "17,8.9,6231.2";
        let sum = Sum::Xor.of(line.as_bytes());
        let read = |line: &str| columns(line, &by_name, &sealed, &map);
        assert_eq!(read(&format!("{line}*{sum:02X}")).status, Status::Ok);
        assert_eq!(
            read(&format!("{line}*{:02X}", sum ^ 1)).note,
            "the checksum is wrong"
        );
        assert_eq!(read(line).note, "the checksum is missing");
    }
}

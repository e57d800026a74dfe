//! A row's readings, and lines of columns.

use crate::instrument::line::cells::{self, Cell};
use crate::instrument::line::reading::{Reading, settle};
use crate::instrument::line::unit_beside::{Beside, Placed, units_beside};
use crate::instrument::number::read_scaled;
use crate::instrument::number::value::Value;
use crate::instrument::profile::layout::ColumnLayout;
use crate::instrument::profile::unit_cell::{UnitAt, UnitCell};
use crate::instrument::profile::{ChannelRule, Place};
use crate::instrument::refusal::Refusal;
use crate::reading::Status;

impl ColumnLayout {
    pub(in crate::instrument) fn cells(&self, line: &str) -> Result<Vec<String>, Refusal> {
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

/// Which column each rule's value stands in, counted from 0.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ColumnMap {
    indices: Vec<usize>,
    /// Where the unit of each is.
    units: Vec<UnitAt>,
    /// How many columns a line must have: one that was glued from two, or has a decimal comma, has more.
    count: usize,
}

impl ColumnMap {
    /// The map of a profile that numbers its columns; `None` if names must be looked up first.
    pub fn by_position(rules: &[ChannelRule], layout: &ColumnLayout) -> Option<Self> {
        let index = |rule: &ChannelRule| match rule.place {
            Place::Column(position) => position.checked_sub(1),
            _ => None,
        };
        let indices = rules.iter().map(index).collect::<Option<Vec<_>>>()?;
        let units = units(rules, |_| None)?;
        let cells = units.iter().filter_map(|unit| match unit {
            UnitAt::Cell(at) => Some(at),
            UnitAt::Beside | UnitAt::Nowhere => None,
        });
        let most = indices.iter().chain(cells).max().map_or(0, |last| last + 1);
        Some(Self {
            indices,
            units,
            count: layout.count.unwrap_or(most),
        })
    }

    /// The map that a line of names gives; `None` if it is none, or does not name every expected column.
    pub fn by_header(line: &str, rules: &[ChannelRule], layout: &ColumnLayout) -> Option<Self> {
        let names = layout.cells(line).ok()?;
        let find = |wanted: &str| {
            names
                .iter()
                .position(|name| name.eq_ignore_ascii_case(wanted))
        };
        let index = |rule: &ChannelRule| match &rule.place {
            Place::Named(_) => rule.names().find_map(find),
            Place::Column(position) => position.checked_sub(1).filter(|index| *index < names.len()),
            _ => None,
        };
        let indices = rules.iter().map(index).collect::<Option<Vec<_>>>()?;
        let units = units(rules, find)?;
        let has_name = rules
            .iter()
            .any(|rule| matches!(rule.place, Place::Named(_)));
        // Where columns are only numbered, a spoilt line of data is not to pass for a line of names.
        let count = names.len();
        (has_name || is_names(&names)).then_some(Self {
            indices,
            units,
            count,
        })
    }
}

/// Where the unit of each value is, with names looked up; `None` if one is not there.
fn units(rules: &[ChannelRule], find: impl Fn(&str) -> Option<usize>) -> Option<Vec<UnitAt>> {
    rules
        .iter()
        .map(|rule| rule.unit_cell.resolve(&find))
        .collect()
}

/// Returns the names that a line of names lacks, in words; `None` if it is no line of names, or lacks nothing.
pub fn missing_names(line: &str, rules: &[ChannelRule], layout: &ColumnLayout) -> Option<String> {
    let names = layout.cells(line).ok().filter(|names| is_names(names))?;
    let has = |wanted: &str| names.iter().any(|name| name.eq_ignore_ascii_case(wanted));
    let mut lacking: Vec<&str> = Vec::new();
    for rule in rules {
        if matches!(rule.place, Place::Named(_)) && !rule.names().any(has) {
            lacking.extend(rule.names().next());
        }
        if let UnitCell::Named(name) = &rule.unit_cell
            && !has(name)
        {
            lacking.push(name);
        }
    }
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

/// Reads a line of columns.
pub fn columns(
    line: &str,
    rules: &[ChannelRule],
    layout: &ColumnLayout,
    map: &ColumnMap,
) -> Reading {
    let mut cells = match layout.cells(line) {
        Ok(cells) => cells,
        Err(why) => return Reading::failed(Status::Garbled, &why),
    };
    // Some boards end a line with a delimiter too many.
    if cells.len() == map.count + 1 && cells.last().is_some_and(String::is_empty) {
        cells.pop();
    }
    if cells.len() != map.count {
        let why = format!("{} columns where {} are expected", cells.len(), map.count);
        return Reading::failed(Status::Garbled, &why);
    }
    let places = rules.iter().zip(&map.indices).zip(&map.units);
    let values: Vec<Placed<'_>> = places
        .map(|((rule, index), unit)| Placed {
            index: *index,
            unit: *unit,
            rule,
        })
        .collect();
    let mut reading = Reading::default();
    for (value, beside) in values.iter().zip(units_beside(&cells, &values)) {
        let text = cells.get(value.index).map_or("", String::as_str);
        reading.add(value.rule.channel, read_beside(text, value.rule, beside));
    }
    settle(reading)
}

/// Reads a value whose unit may stand in a cell of its own.
fn read_beside(text: &str, rule: &ChannelRule, beside: Beside) -> Value {
    let number = &rule.number;
    match beside {
        Ok(scale) => read_scaled(text, number, scale.or(number.scale), rule.channel),
        // A mark needs no unit, and a number may have its own.
        Err(why) => match read_scaled(text, number, None, rule.channel) {
            Value::Garbled(_) => Value::Garbled(why),
            value => value,
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instrument::Belief;
    use crate::instrument::{Checksum, Marks, Multiplier, NumberRule, Seal, Sum};
    use crate::reading::Channel;
    use crate::units::Scale;

    fn rule(channel: Channel, place: Place, scale: Option<Scale>) -> ChannelRule {
        let marks = Marks {
            no_signal: vec!["none".to_owned()],
            ..Marks::default()
        };
        let unit = channel.unit();
        let number = NumberRule {
            unit,
            scale,
            multiplier: Multiplier::ONE,
            decimal_sign: '.',
            thousands: None,
            marks,
            is_period: false,
        };
        ChannelRule {
            channel,
            input: "f".to_owned(),
            place,
            also: Vec::new(),
            unit_cell: UnitCell::Beside,
            number,
            belief: Belief::default(),
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
            columns("1", &by_place, &blanks, &map).note.to_string(),
            "1 columns where 2 are expected"
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
            read(&format!("{line}*{:02X}", sum ^ 1)).note.to_string(),
            "the checksum is wrong"
        );
        assert_eq!(read(line).note.to_string(), "the checksum is missing");
    }
}

//! Lines of named fields: `f=6.2312345MHz v=8.91V *5A`, `F: 6231234 Hz, V: 8.91 V`.
//!
//! A field is a name, `=` or `:`, and a value; the value may have a blank before its unit. Blanks, a comma, a semicolon or a bar
//! part fields. Any other text in a line makes it garbled. A flat object of JSON, `{"f":6231234.5,"v":8.91}` (RFC 8259), is such
//! a line too, with its braces and quotes.

use crate::instrument::line::field::Field;
use crate::instrument::line::reading::{Reading, settle};
use crate::instrument::number::read_number;
use crate::instrument::number::unit::BLANKS;
use crate::instrument::profile::ChannelRule;
use crate::instrument::refusal::Refusal;

/// Cuts a line into its fields, with `=` or `:` behind their names or without.
///
/// # Errors
/// Why the line is none of named fields.
pub(in crate::instrument) fn split_any<'l>(
    body: &'l str,
    rules: &[ChannelRule],
) -> Result<Vec<Field<'l>>, Refusal> {
    split(body).or_else(|why| split_bare(body, rules).map_err(|_| why))
}

/// Cuts a line into its fields.
///
/// # Errors
/// Why the line is none of named fields.
fn split(body: &str) -> Result<Vec<Field<'_>>, Refusal> {
    let body = body.trim_matches(BLANKS);
    let object = body
        .strip_prefix('{')
        .and_then(|rest| rest.strip_suffix('}'));
    let body = object.unwrap_or(body);
    let mut fields: Vec<Field<'_>> = Vec::new();
    // Name and begin of the value of the field that is open.
    let mut open: Option<(&str, usize)> = None;
    let mut is_boundary = true;
    for (at, c) in body.char_indices() {
        let head = if is_boundary { head(body, at) } else { None };
        if let Some((name, begin)) = head.filter(|_| open.is_none_or(|(_, begin)| begin <= at)) {
            finish(&mut fields, open, body, at)?;
            open = Some((name, begin));
        }
        is_boundary = BLANKS.contains(&c) || matches!(c, ',' | ';' | '|');
    }
    finish(&mut fields, open, body, body.len())?;
    Ok(fields)
}

/// Cuts a line whose names have neither `=` nor `:`, `FREQ 6231234 Hz`. Only names that the profile knows begin a field, and only
/// where a number or a mark is behind them.
///
/// # Errors
/// Why the line is none of such fields.
fn split_bare<'l>(body: &'l str, rules: &[ChannelRule]) -> Result<Vec<Field<'l>>, Refusal> {
    let mut fields: Vec<Field<'l>> = Vec::new();
    let mut open: Option<(&'l str, usize)> = None;
    let mut at = 0;
    for word in body.split(BLANKS) {
        let behind = at + word.len();
        let rest = body.get(behind..).unwrap_or("").trim_start_matches(BLANKS);
        let next = rest.split(BLANKS).next().unwrap_or("");
        let is_head = |rule: &&ChannelRule| {
            let is_named = rule.names().any(|known| known.eq_ignore_ascii_case(word));
            let is_value =
                crate::units::split_number(next).is_some() || rule.number.marks.have(next);
            is_named && is_value
        };
        if rules.iter().any(|rule| is_head(&rule)) {
            finish(&mut fields, open, body, at)?;
            open = Some((word, behind));
        }
        at = behind + 1;
    }
    finish(&mut fields, open, body, body.len())?;
    Ok(fields)
}

/// The name that begins here, and where its value begins; `None` where no field begins.
fn head(body: &str, at: usize) -> Option<(&str, usize)> {
    let rest = body.get(at..)?;
    let is_name = |c: char| c.is_alphanumeric() || "_-.%/#()[]$".contains(c);
    let (name, behind) = if let Some(quoted) = rest.strip_prefix('"') {
        quoted.split_once('"')?
    } else {
        let length = rest.find(|c| !is_name(c)).unwrap_or(rest.len());
        rest.split_at_checked(length)?
    };
    let sign = behind.trim_start_matches(BLANKS);
    let value = sign.strip_prefix('=').or_else(|| {
        // The colon in `12:34:56` names nothing.
        let is_word = name.starts_with(|c: char| c.is_alphabetic() || c == '_');
        sign.strip_prefix(':').filter(|_| is_word)
    })?;
    (!name.is_empty()).then(|| (name, body.len() - value.len()))
}

/// Ends the open field where the next begins.
fn finish<'l>(
    fields: &mut Vec<Field<'l>>,
    open: Option<(&'l str, usize)>,
    body: &'l str,
    end: usize,
) -> Result<(), Refusal> {
    let begin = open.map_or(0, |(_, begin)| begin);
    let text = body.get(begin..end).unwrap_or("").trim_matches(BLANKS);
    let text = text.strip_suffix([',', ';', '|']).unwrap_or(text);
    let text = text.trim_end_matches(BLANKS);
    let inner = text
        .strip_prefix('"')
        .and_then(|rest| rest.strip_suffix('"'));
    let text = inner.unwrap_or(text);
    let Some((name, _)) = open else {
        return if text.is_empty() {
            Ok(())
        } else {
            Err(Refusal::NameMissing)
        };
    };
    if fields.iter().any(|field| field.name == name) {
        return Err(Refusal::FieldTwice);
    }
    fields.push(Field { name, text });
    Ok(())
}

/// Which field each rule's value stands in.
///
/// Names are matched letter by letter; where that finds none, without regard to capitals, if only one value can be meant.
///
/// # Errors
/// Why the line is ambiguous.
pub(in crate::instrument) fn places(
    fields: &[Field<'_>],
    rules: &[ChannelRule],
) -> Result<Vec<Option<usize>>, Refusal> {
    let is_exact = |rule: &ChannelRule, name: &str| rule.names().any(|known| known == name);
    let is_like =
        |rule: &ChannelRule, name: &str| rule.names().any(|known| known.eq_ignore_ascii_case(name));
    let is_loose = |rule: &ChannelRule, name: &str| {
        is_like(rule, name)
            && rules.iter().filter(|rule| is_like(rule, name)).count() == 1
            && !rules.iter().any(|rule| is_exact(rule, name))
    };
    let mut found = Vec::with_capacity(rules.len());
    for rule in rules {
        let all = |is_it: &dyn Fn(&ChannelRule, &str) -> bool| {
            let mut places = fields
                .iter()
                .enumerate()
                .filter(|(_, field)| is_it(rule, field.name))
                .map(|(place, _)| place);
            (places.next(), places.next().is_some())
        };
        let (place, is_twice) = match all(&is_exact) {
            (None, _) => all(&is_loose),
            exact => exact,
        };
        if is_twice {
            return Err(Refusal::ValueTwice);
        }
        found.push(place);
    }
    // Fields that the profile does not name are the maker's own business, but they are fields.
    let is_known = |place: usize| found.contains(&Some(place));
    let is_broken = |(place, field): (usize, &Field<'_>)| !is_known(place) && !is_value(field.text);
    if fields.iter().enumerate().any(is_broken) {
        return Err(Refusal::NameMissing);
    }
    Ok(found)
}

/// Whether a text is one word, or a number and its unit.
fn is_value(text: &str) -> bool {
    let mut words = text.split(BLANKS).filter(|word| !word.is_empty());
    let (first, second, third) = (words.next(), words.next(), words.next());
    match (first, second, third) {
        (_, None, _) => true,
        (Some(number), Some(unit), None) => {
            let is_number = crate::units::split_number(number).is_some();
            is_number && !unit.contains(|c: char| c.is_ascii_digit())
        }
        _ => false,
    }
}

/// Reads the values of fields whose places are known.
pub(in crate::instrument) fn read(
    fields: &[Field<'_>],
    found: &[Option<usize>],
    rules: &[ChannelRule],
) -> Reading {
    let mut reading = Reading::default();
    for (rule, place) in rules.iter().zip(found) {
        if let Some(field) = place.and_then(|place| fields.get(place)) {
            let value = read_number(field.text, &rule.number, rule.channel);
            reading.add(rule.channel, value);
        }
    }
    settle(reading)
}

#[cfg(test)]
mod tests;

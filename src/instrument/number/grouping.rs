//! Decimal signs, and the signs between thousands.

use std::borrow::Cow;

use crate::instrument::number::rule::NumberRule;
use crate::instrument::refusal::Refusal;

/// The text with a decimal point, and nothing between its thousands.
pub(in crate::instrument) fn without_groups<'t>(
    text: &'t str,
    rule: &NumberRule,
) -> Result<Cow<'t, str>, Refusal> {
    let mut text = Cow::Borrowed(text);
    if let Some(sign) = rule.thousands
        && text.contains(sign)
    {
        text = Cow::Owned(ungrouped(&text, sign)?);
    }
    if rule.decimal_sign != ',' {
        return Ok(text);
    }
    if text.contains('.') {
        return Err(Refusal::DecimalPoint);
    }
    Ok(Cow::Owned(text.replacen(',', ".", 1)))
}

/// The text without the signs between its thousands, which must stand before every third digit.
fn ungrouped(text: &str, sign: char) -> Result<String, Refusal> {
    let unsigned = text.trim_start_matches(['+', '-']);
    let begins_digit = |text: &str| text.starts_with(|c: char| c.is_ascii_digit());
    let is_inside = |(at, c): &(usize, char)| {
        let behind = unsigned.get(at + c.len_utf8()..).unwrap_or("");
        c.is_ascii_digit() || (*c == sign && begins_digit(behind))
    };
    let length = unsigned.char_indices().take_while(is_inside).count();
    let (grouped, rest) = unsigned.split_at_checked(length).unwrap_or((unsigned, ""));
    let mut groups = grouped.split(sign);
    let first = groups.next().unwrap_or("").len();
    let is_whole = !grouped.contains(sign) || (1..=3).contains(&first);
    if !is_whole || groups.any(|group| group.len() != 3) {
        return Err(Refusal::Thousands);
    }
    let head = text.len() - unsigned.len();
    let digits: String = grouped.chars().filter(|c| *c != sign).collect();
    Ok(format!("{}{digits}{rest}", text.get(..head).unwrap_or("")))
}

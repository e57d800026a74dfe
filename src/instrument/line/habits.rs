//! The usual look of a board's lines: a line without a checksum that looks otherwise may be damaged.

use crate::instrument::line::field::Field;
use crate::instrument::line::reading::Reading;
use crate::instrument::number::unit::BLANKS;
use crate::instrument::profile::{ChannelRule, Profile};
use crate::reading::{Remark, Status};
use crate::units;

/// Names and forms that are remembered. Chosen: more than any board has, and a bound on memory.
const REMEMBERED: usize = 64;

/// A form of number that came this often is the board's own. Chosen: damage seldom does the same twice.
const OFTEN: u32 = 2;

/// The look of one board's lines so far.
#[derive(Debug, Clone, Default)]
pub(in crate::instrument) struct Habits {
    lines: u32,
    /// The number of them in which each value was, in the order of the rules.
    seen: Vec<u32>,
    /// Names that the profile does not name, in lines that lacked nothing.
    strangers: Vec<String>,
    forms: Vec<NumberForm>,
}

/// A way that a number was written.
#[derive(Debug, Clone)]
struct NumberForm {
    /// The place of its rule.
    rule: usize,
    /// The blanks before its unit.
    blanks: usize,
    unit: String,
    /// The number of times that it came.
    count: u32,
}

impl Habits {
    /// Doubts the fields that a line lacks or has otherwise than the lines before it; a line that is proven is only learnt from.
    pub(in crate::instrument) fn judge(
        &mut self,
        fields: &[Field<'_>],
        found: &[Option<usize>],
        profile: &Profile,
        is_proven: bool,
        reading: &mut Reading,
    ) {
        let rules = &profile.values;
        self.seen.resize(rules.len(), 0);
        let is_usual = |count: &u32| *count * 2 > self.lines;
        let lacks: Vec<&ChannelRule> = rules
            .iter()
            .zip(found)
            .zip(&self.seen)
            .filter(|((_, place), count)| place.is_none() && is_usual(count))
            .map(|((rule, _), _)| rule)
            .collect();
        let unnamed = |(place, field): (usize, &Field<'_>)| {
            let is_known = found.contains(&Some(place)) || profile.stream.has(field.name);
            (!is_known).then(|| field.name.to_owned())
        };
        let unnamed: Vec<String> = fields.iter().enumerate().filter_map(unnamed).collect();
        let stranger = unnamed.iter().find(|name| !self.strangers.contains(name));
        if let Some(stranger) = stranger.filter(|_| !is_proven && !lacks.is_empty()) {
            for rule in lacks {
                let why = format!("not in the line, and {stranger} is new in it");
                reading.note(Status::Suspect, Remark::of(rule.channel, why));
            }
            return;
        }
        self.judge_forms(fields, found, rules, is_proven, reading);
        self.lines += 1;
        for (count, place) in self.seen.iter_mut().zip(found) {
            *count += u32::from(place.is_some());
        }
        if lacks.is_empty() {
            for name in unnamed {
                if self.strangers.len() < REMEMBERED && !self.strangers.contains(&name) {
                    self.strangers.push(name);
                }
            }
        }
    }

    /// Doubts a number with other blanks before the same unit: a digit may have become a blank.
    fn judge_forms(
        &mut self,
        fields: &[Field<'_>],
        found: &[Option<usize>],
        rules: &[ChannelRule],
        is_proven: bool,
        reading: &mut Reading,
    ) {
        for (index, (rule, place)) in rules.iter().zip(found).enumerate() {
            let field = place.and_then(|place| fields.get(place));
            let Some((blanks, unit_text)) = field.and_then(|field| form(field.text)) else {
                continue;
            };
            let same = |form: &&mut NumberForm| {
                form.rule == index && form.blanks == blanks && form.unit == unit_text
            };
            let mut count = 1;
            if let Some(form) = self.forms.iter_mut().find(same) {
                form.count = form.count.saturating_add(1);
                count = form.count;
            } else if self.forms.len() < REMEMBERED {
                let unit = unit_text.to_owned();
                self.forms.push(NumberForm {
                    rule: index,
                    blanks,
                    unit,
                    count,
                });
            }
            let has_other = self.forms.iter().any(|form| {
                let is_other = form.rule == index && form.blanks != blanks && form.count > count;
                is_other && form.unit == unit_text
            });
            if has_other && count < OFTEN && !is_proven {
                let why = "other blanks before its unit than in the lines before";
                reading.note(Status::Suspect, Remark::of(rule.channel, why));
            }
        }
    }
}

/// Returns the number of blanks between a number and its unit, and the unit; `None` where it is no number.
fn form(text: &str) -> Option<(usize, &str)> {
    let (_, _, rest) = units::split_number(text)?;
    let unit = rest.trim_start_matches(BLANKS);
    Some((rest.len() - unit.len(), unit))
}

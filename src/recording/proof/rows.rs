//! The rows that were heard: the good ones, how fast they came, and their values.

use super::found::Value;
use crate::instrument::{Place, Profile};
use crate::reading::{Readings, Row, Status};
use crate::recording::hearing::{HeardRow, Hearing};

/// How often all questions are asked at most, to know how long they take.
pub(super) const ROUNDS: usize = 20;

pub(super) const fn is_good(row: &Row) -> bool {
    matches!(row.status, Status::Ok | Status::NoSignal | Status::Overload)
}

pub(super) fn good_rows(hearing: &Hearing) -> impl Iterator<Item = &HeardRow> {
    hearing.rows.iter().filter(|heard| is_good(&heard.row))
}

/// The rows per second that came; `None` for fewer than two.
pub(super) fn rate(hearing: &Hearing) -> Option<f64> {
    let times: Vec<f64> = good_rows(hearing)
        .map(|heard| heard.row.stamp.elapsed_s())
        .collect();
    let (first_s, last_s) = (times.first()?, times.last()?);
    (last_s > first_s).then(|| (times.len() - 1) as f64 / (last_s - first_s))
}

/// The values that stand here, with where each does.
pub(super) fn values(
    profile: &Profile,
    readings: &Readings,
    is_here: impl Fn(&Place) -> bool,
) -> Vec<Value> {
    let rules = profile.values.iter().filter(|rule| is_here(&rule.place));
    rules
        .map(|rule| Value {
            channel: rule.channel,
            input: rule.input.clone(),
            place: rule.place.clone(),
            value_si: readings.get(rule.channel),
        })
        .collect()
}

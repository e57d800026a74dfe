//! `record --dry-run`: a profile against its instrument, and what it got wrong.

use std::time::Duration;

use super::address::Place;
use super::exit::{Failure, INSTRUMENT, Outcome, USAGE};
use super::hearing::{self, Hearing};
use super::open::Named;
use super::prove_answers::judge_answers;
use super::prove_lines::judge_lines;
use crate::acquire::Source;
use crate::analysis::flags::Rule;
use crate::clock::{Clock, Deadline};
use crate::instrument::{ChannelRule, Manner, Place as Field, Profile, Reading};
use crate::plain::Shown as _;
use crate::reading::{Channel, Row, Status};
use crate::recording::flag_rule;
use crate::transport::{self, Speed};
use crate::units;

/// How often all questions are asked at most, and for how long, to know how long they take.
pub(super) const ROUNDS: usize = 20;
const ROUNDS_TIME: Duration = Duration::from_secs(3);

/// From one row to the next while that is found out: none waits for another.
const BACK_TO_BACK: Duration = Duration::from_millis(1);

/// An instrument that speaks by itself is heard for this many lines, or for the time it may be silent.
const LINES: usize = 40;

/// The longest that a block is waited for here.
const BLOCK_TIME: Duration = Duration::from_mins(1);

/// What one question, or one line, came to.
#[derive(Debug)]
pub(super) struct Heard {
    /// The question; none for a line that came unasked.
    pub(super) question: Option<String>,
    /// The bytes that came, those that are no text escaped.
    pub(super) text: String,
    pub(super) round_trip_s: Option<f64>,
    /// Each value: its channel, where it stood, what it was read as.
    pub(super) values: Vec<(Channel, String, Option<f64>)>,
}

/// What a profile proved to be worth.
#[derive(Debug)]
pub(super) struct Proof {
    pub(super) label: String,
    pub(super) profile: String,
    pub(super) place: String,
    pub(super) every_s: Option<f64>,
    pub(super) identity: Option<String>,
    pub(super) heard: Vec<Heard>,
    /// Of every question, in seconds.
    pub(super) round_trips_s: Vec<f64>,
    pub(super) rows_per_s: Option<f64>,
    pub(super) notes: Vec<String>,
    /// What the profile got wrong.
    pub(super) faults: Vec<String>,
}

/// Proves the profile of each instrument.
pub(super) fn prove_all(named: Vec<Named>) -> Result<Vec<Proof>, Failure> {
    named.into_iter().map(prove).collect()
}

/// What the proofs mean for the exit code.
pub(super) fn judge(proofs: &[Proof]) -> Result<Outcome, Failure> {
    let wrong: Vec<&str> = proofs
        .iter()
        .filter(|proof| !proof.faults.is_empty())
        .map(|proof| proof.label.as_str())
        .collect();
    if wrong.is_empty() {
        return Ok(Outcome::DONE);
    }
    Err(Failure::new(
        INSTRUMENT,
        format!("the profile of {} does not fit", wrong.join(", ")),
    )
    .hint(if proofs.iter().any(|proof| proof.place.starts_with("serial:")) {
        "devices/README.md has every key of a profile; sagtrace ports --identify tries all profiles"
    } else {
        "devices/README.md has every key of a profile"
    }))
}

fn prove(named: Named) -> Result<Proof, Failure> {
    if let Place::Log(path) = &named.address.place {
        let message = format!("{} is a byte log, not an instrument", path.shown());
        return Err(Failure::new(USAGE, message).hint("leave --dry-run out to play it"));
    }
    let (label, place) = (named.address.label.clone(), named.address.place.to_string());
    let every_s = named.every.as_secs_f64();
    let (keeper, kept) = transport::keep_bytes();
    let mut source = named.open(&Clock::real(), Speed::AtOnce, keeper)?;
    source.every = BACK_TO_BACK;
    let profile = source.profile.clone();
    let is_asked = profile.manner == Manner::Asked;
    let mut proof = Proof {
        label,
        profile: profile.name.clone(),
        place,
        every_s: is_asked.then_some(every_s),
        identity: None,
        heard: Vec::new(),
        round_trips_s: Vec::new(),
        rows_per_s: None,
        notes: Vec::new(),
        faults: Vec::new(),
    };
    let limit = patience(&profile);
    let hearing = hearing::runtime()?.block_on(hear(source, &kept, limit));
    proof.identity.clone_from(&hearing.identity);
    match profile.manner {
        Manner::Asked => judge_answers(&hearing, &profile, &mut proof),
        Manner::Unasked => judge_lines(&hearing, &profile, &mut proof),
    }
    judge_values(&profile, &mut proof);
    if let Some(reason) = &hearing.lost {
        proof.faults.push(reason.clone());
    }
    if hearing.rows.is_empty() && proof.faults.is_empty() {
        let what = if is_asked { "row" } else { "line" };
        proof
            .faults
            .push(format!("no {what} came in {}", seconds(limit)));
    }
    Ok(proof)
}

/// How long an instrument is heard at the most.
fn patience(profile: &Profile) -> Duration {
    let timing = profile.timing;
    if profile.manner == Manner::Unasked {
        return timing.settle + timing.silence.max(Duration::from_secs(2));
    }
    let block = profile.waveform.as_ref().map_or(Duration::ZERO, |rule| {
        let bytes = u32::try_from(rule.longest_block).unwrap_or(u32::MAX);
        profile
            .port
            .byte_time()
            .saturating_mul(bytes)
            .min(BLOCK_TIME)
    });
    // Each question once more after all came into step, with its pauses.
    let questions = u32::try_from(profile.questions().len() + profile.block_questions().len())
        .unwrap_or(u32::MAX)
        + 3;
    timing.settle + ROUNDS_TIME + block + (timing.timeout + timing.pause) * questions * 2
}

/// A value that cannot be is read from the wrong place or in the wrong unit.
fn judge_values(profile: &Profile, proof: &mut Proof) {
    let mut faults = Vec::new();
    for (channel, place, value) in proof.heard.iter().flat_map(|heard| &heard.values) {
        let rule = profile.values.iter().find(|rule| rule.channel == *channel);
        if let (Some(rule), Some(value)) = (rule, value)
            && !is_possible(rule, *value)
        {
            let Rule {
                at_least, at_most, ..
            } = flag_rule(rule);
            let exact = |value| units::exact(value, channel.unit());
            faults.push(format!(
                "{} ({place}) is {}, outside {} to {}",
                channel.column(),
                exact(*value),
                exact(at_least),
                exact(at_most)
            ));
        }
    }
    proof.faults.extend(faults);
}

/// Whether a value lies within what the profile believes of it.
pub(super) fn is_possible(rule: &ChannelRule, value: f64) -> bool {
    let Rule {
        at_least, at_most, ..
    } = flag_rule(rule);
    (at_least..=at_most).contains(&value)
}

/// Hears as much as is needed for a judgement.
async fn hear(source: Source, kept: &transport::Unwritten, limit: Duration) -> Hearing {
    let is_asked = source.profile.manner == Manner::Asked;
    let questions = source.profile.questions().len() + source.profile.block_questions().len();
    let mut rounds = None;
    hearing::hear(source, kept, limit, |hearing| {
        let good = good_rows(hearing).count();
        if !is_asked {
            return good >= LINES;
        }
        let bad = hearing.rows.len() - good;
        let rounds = *rounds.get_or_insert_with(|| Deadline::after(ROUNDS_TIME));
        good > ROUNDS
            || bad > questions + 1
            || rounds.is_over() && !hearing.rows.is_empty()
            || hearing.lost.is_some()
    })
    .await
}

pub(super) const fn is_good(row: &Row) -> bool {
    matches!(row.status, Status::Ok | Status::NoSignal | Status::Overload)
}

pub(super) fn good_rows(hearing: &Hearing) -> impl Iterator<Item = &(Row, Vec<u8>)> {
    hearing.rows.iter().filter(|(row, _)| is_good(row))
}

/// The rows a second that came; `None` for fewer than two.
pub(super) fn rate(hearing: &Hearing) -> Option<f64> {
    let times: Vec<f64> = good_rows(hearing)
        .map(|(row, _)| row.stamp.elapsed_s())
        .collect();
    let (first_s, last_s) = (times.first()?, times.last()?);
    (last_s > first_s).then(|| (times.len() - 1) as f64 / (last_s - first_s))
}

pub(super) fn seconds(time: Duration) -> String {
    units::rounded(time.as_secs_f64(), units::Unit::Second, 3)
}

/// The values of a reading with where each stands.
pub(super) fn values(
    profile: &Profile,
    reading: &Reading,
    is_here: impl Fn(&Field) -> bool,
) -> Vec<(Channel, String, Option<f64>)> {
    let rules = profile.values.iter().filter(|rule| is_here(&rule.place));
    rules
        .map(|rule| {
            let field = match &rule.place {
                Field::Answer { position, of, .. } | Field::Block { position, of, .. } => {
                    format!("{}, value {position} of {of}", rule.input)
                }
                Field::Named(name) => format!("field {name}"),
                Field::Column(position) => format!("column {position}"),
                Field::Shown(_) => "on the display".to_owned(),
                Field::Waveform(_) => format!("{}, from the waveform", rule.input),
            };
            (rule.channel, field, reading.readings.get(rule.channel))
        })
        .collect()
}

/// A reading in a few words.
pub(super) fn words(reading: &Reading) -> String {
    let values: Vec<String> = Channel::ALL
        .into_iter()
        .filter_map(|channel| Some(units::exact(reading.readings.get(channel)?, channel.unit())))
        .collect();
    match (values.is_empty(), reading.status) {
        (true, status) => status.to_string(),
        (false, Status::Ok) => values.join(", "),
        (false, status) => format!("{}, {status}", values.join(", ")),
    }
}

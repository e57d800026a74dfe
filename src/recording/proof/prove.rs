//! Hears an instrument for as long as a judgement needs, and judges.

use std::time::Duration;

use super::answers::judge_answers;
use super::found::{Fault, Proof, ProofError};
use super::lines::judge_lines;
use super::rows::{ROUNDS, good_rows};
use crate::acquire::Source;
use crate::analysis::flags::Rule;
use crate::clock::{Clock, Deadline};
use crate::instrument::{Manner, Profile};
use crate::recording::address::Place;
use crate::recording::belief::{flag_rule, is_possible};
use crate::recording::hearing::{self, Hearing};
use crate::recording::naming::Named;
use crate::recording::opening::OpeningNews;
use crate::transport::{self, Speed};

/// The longest time that all questions are asked, to know how long they take.
const ROUNDS_TIME: Duration = Duration::from_secs(3);

/// The time from one row to the next while that is found out: none waits for another.
const BACK_TO_BACK: Duration = Duration::from_millis(1);

/// An instrument that speaks by itself is heard for this many lines, or for the time it may be silent.
const LINES: usize = 40;

/// The longest that a block is waited for here.
const BLOCK_TIME: Duration = Duration::from_mins(1);

/// Proves the profile of an instrument; news while it is opened goes to `hear`.
///
/// # Errors
/// [`ProofError`] when it can't be heard. An error of the profile is a finding, and does not fail the call.
pub fn prove(named: Named, hear: &mut dyn FnMut(&OpeningNews)) -> Result<Proof, ProofError> {
    if let Place::Log(path) = named.address.place {
        return Err(ProofError::IsLog(path));
    }
    let (label, place) = (named.address.label.clone(), named.address.place.clone());
    let every_s = named.every.as_secs_f64();
    let (keeper, kept) = transport::keep_bytes();
    let mut source = named.open(&Clock::real(), Speed::AtOnce, keeper, hear)?;
    source.every = BACK_TO_BACK;
    let profile = source.profile.clone();
    let is_asked = profile.manner == Manner::Asked;
    let limit = patience(&profile);
    let runtime = hearing::runtime().map_err(ProofError::Runtime)?;
    let hearing = runtime.block_on(enough(source, &kept, limit));
    let mut proof = Proof {
        label,
        profile: profile.name.clone(),
        place,
        every_s: is_asked.then_some(every_s),
        identity: hearing.identity.clone(),
        heard: Vec::new(),
        round_trips_s: Vec::new(),
        rows_per_s: None,
        notes: Vec::new(),
        faults: Vec::new(),
    };
    match profile.manner {
        Manner::Asked => judge_answers(&hearing, &profile, &mut proof),
        Manner::Unasked => judge_lines(&hearing, &profile, &mut proof),
    }
    judge_values(&profile, &mut proof);
    proof.faults.extend(hearing.lost.map(Fault::Lost));
    if hearing.rows.is_empty() && proof.faults.is_empty() {
        let within = limit;
        proof.faults.push(Fault::Nothing { is_asked, within });
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
    for value in proof.heard.iter().flat_map(|heard| &heard.values) {
        let mut rules = profile.values.iter();
        let rule = rules.find(|rule| rule.channel == value.channel);
        if let (Some(rule), Some(value_si)) = (rule, value.value_si)
            && !is_possible(rule, value_si)
        {
            let Rule {
                at_least, at_most, ..
            } = flag_rule(rule);
            proof.faults.push(Fault::Impossible {
                value: value.clone(),
                at_least,
                at_most,
            });
        }
    }
}

/// Hears as much as is needed for a judgement.
async fn enough(source: Source, kept: &transport::Unwritten, limit: Duration) -> Hearing {
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

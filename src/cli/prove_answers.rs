//! What the answers of an instrument that is asked prove.

use std::time::Duration;

use super::hearing::Hearing;
use super::prove::{Heard, Proof, ROUNDS, good_rows, is_good, rate, seconds, values};
use crate::acquire::{blocks, line_end, passing};
use crate::instrument::{Complaint, Place as Field, Profile, Reading, read_answer, read_complaint};
use crate::reading::Status;
use crate::transport::{Answer, Asked, Cut, Protocol};

/// What the kept bytes of an asked instrument are read by.
fn protocol(profile: &Profile) -> Protocol {
    let resync = profile.resync.as_ref();
    Protocol {
        cut: Cut {
            end: line_end(&profile.port),
            limit: profile.port.longest_line,
        },
        passing: passing(&profile.port),
        resync: resync.map(|one| (profile.to_bytes(&one.ask), one.answer.clone().into_bytes())),
        blocks: blocks(profile),
    }
}

pub(super) fn judge_answers(hearing: &Hearing, profile: &Profile, proof: &mut Proof) {
    let asked = hearing.exchange.asked(&protocol(profile));
    let of = |question: &str| -> Vec<&Asked> {
        let bytes = profile.to_bytes(question);
        asked.iter().filter(|one| one.question == bytes).collect()
    };
    if let Some(resync) = &profile.resync {
        let tried = of(&resync.ask);
        let is_answered = |one: &&Asked| matches!(one.answer, Answer::Line(_));
        if !tried.is_empty() && !tried.iter().any(is_answered) {
            proof.faults.push(format!(
                "[resync] {} was not answered by {} in {}",
                resync.ask,
                resync.answer,
                seconds(profile.timing.timeout)
            ));
        }
    }
    if let Some(question) = &profile.identity
        && proof.identity.is_none()
        && let Some(first) = of(question).first()
    {
        match &first.answer {
            Answer::Line(_) => {
                let note = format!("{question} is answered by another name each time");
                proof.notes.push(note);
            }
            _ => proof.faults.push(wrong(question, &first.answer, profile)),
        }
    }
    let complaints = Complaints::of(&asked, profile);
    for question in profile.questions() {
        judge_question(question, &of(question), &complaints, profile, proof);
    }
    for (question, _) in profile.block_questions() {
        let is_here = |field: &Field| matches!(field, Field::Block { ask, .. } if ask == question);
        judge_block(question, is_here, hearing, &asked, profile, proof);
    }
    if let Some(rule) = &profile.waveform {
        let is_here = |field: &Field| matches!(field, Field::Waveform(_));
        judge_block(&rule.ask, is_here, hearing, &asked, profile, proof);
    }
    let left = complaints.left.iter();
    proof
        .faults
        .extend(left.map(|text| format!("it complains: {text}")));
    tell_rows(hearing, proof);
    time_rounds(hearing, &asked, profile, proof);
    if asked.iter().any(|one| one.has_echo) {
        proof
            .notes
            .push("it sends back what it is asked; the echo is passed over".to_owned());
    }
}

/// What an instrument complained of: of the first unanswered question of each kind, and of nothing that was asked.
#[derive(Default)]
struct Complaints {
    of: Vec<(Vec<u8>, Vec<String>)>,
    left: Vec<String>,
}

impl Complaints {
    fn of(asked: &[Asked], profile: &Profile) -> Self {
        let mut complaints = Self::default();
        let Some(errors) = &profile.errors else {
            return complaints;
        };
        let (question, mut unanswered) = (profile.to_bytes(&errors.ask), None);
        for one in asked {
            if one.question != question {
                let resyncs = profile.resync.as_ref();
                let is_resync =
                    resyncs.is_some_and(|one_ask| profile.to_bytes(&one_ask.ask) == one.question);
                if !is_resync {
                    let is_unanswered = matches!(one.answer, Answer::Silence(_));
                    unanswered = is_unanswered.then(|| one.question.clone());
                    let is_new = complaints
                        .of
                        .iter()
                        .all(|(other, _)| *other != one.question);
                    if is_unanswered && is_new {
                        complaints.of.push((one.question.clone(), Vec::new()));
                    }
                }
                continue;
            }
            let Answer::Line(line) = &one.answer else {
                continue;
            };
            let Complaint::Some(text) = read_complaint(&String::from_utf8_lossy(line), errors)
            else {
                continue;
            };
            let texts = match &unanswered {
                Some(question) => complaints
                    .of
                    .iter_mut()
                    .find(|(other, _)| other == question)
                    .map(|(_, texts)| texts),
                None => Some(&mut complaints.left),
            };
            if let Some(texts) = texts
                && !texts.contains(&text)
            {
                texts.push(text);
            }
        }
        complaints
    }

    fn about(&self, question: &[u8]) -> &[String] {
        let found = self.of.iter().find(|(other, _)| other == question);
        found.map_or(&[], |(_, texts)| texts)
    }
}

fn judge_question(
    question: &str,
    asked: &[&Asked],
    complaints: &Complaints,
    profile: &Profile,
    proof: &mut Proof,
) {
    let lines = asked.iter().filter_map(|one| match &one.answer {
        Answer::Line(line) => Some((line, one.took)),
        _ => None,
    });
    let missed = asked
        .iter()
        .find(|one| !matches!(one.answer, Answer::Line(_)));
    if let Some(missed) = missed {
        let mut fault = wrong(question, &missed.answer, profile);
        for complaint in complaints.about(&missed.question) {
            fault = format!("{fault}; it complains: {complaint}");
        }
        if lines.clone().next().is_some() {
            fault.push_str(", though it was at another time");
        }
        proof.faults.push(fault);
    }
    let mut is_told = false;
    for (index, (line, took)) in lines.enumerate() {
        let mut reading = Reading::default();
        let text = String::from_utf8_lossy(line);
        let outcome = read_answer(question, &text, &profile.values, &mut reading);
        if let Err(why) = outcome
            && !std::mem::replace(&mut is_told, true)
        {
            let told = match reading.note.strip_prefix(question) {
                Some(_) => reading.note.clone(),
                None if reading.note.is_empty() => format!("{question}: {why}"),
                None => format!("{question}: {}", reading.note),
            };
            proof
                .faults
                .push(format!("{told}: {}", line.escape_ascii()));
        }
        if index == 0 {
            let is_here =
                |field: &Field| matches!(field, Field::Answer { ask, .. } if ask == question);
            proof.heard.push(Heard {
                question: Some(question.to_owned()),
                text: line.escape_ascii().to_string(),
                round_trip_s: Some(took.as_secs_f64()),
                values: values(profile, &reading, is_here),
            });
        }
    }
}

fn judge_block(
    ask: &str,
    is_here: impl Fn(&Field) -> bool,
    hearing: &Hearing,
    asked: &[Asked],
    profile: &Profile,
    proof: &mut Proof,
) {
    let question = profile.to_bytes(ask);
    let block = asked.iter().find_map(|one| match &one.answer {
        Answer::Block(block) | Answer::Line(block) if one.question == question => {
            Some((block.len(), one.took))
        }
        _ => None,
    });
    let (Some((bytes, took)), Some((row, _))) = (block, good_rows(hearing).next()) else {
        return;
    };
    let reading = Reading {
        readings: row.readings,
        ..Reading::default()
    };
    proof.heard.push(Heard {
        question: Some(ask.to_owned()),
        text: format!("a block of {bytes} bytes"),
        round_trip_s: Some(took.as_secs_f64()),
        values: values(profile, &reading, is_here),
    });
}

/// Tells what rows lack that no fault has told yet.
fn tell_rows(hearing: &Hearing, proof: &mut Proof) {
    for (row, _) in hearing.rows.iter().filter(|(row, _)| !is_good(row)) {
        let question = row.note.strip_prefix("no answer to ");
        let question = question.and_then(|rest| rest.split(' ').next());
        let question = question.or_else(|| row.note.split(':').next());
        let is_told = |fault: &String| {
            fault.contains(&row.note)
                || question.is_some_and(|question| fault.starts_with(question))
        };
        let is_of_all = row.note.ends_with("not in step again")
            || row.note.starts_with("nothing that could be read")
            || row.note == BEYOND;
        let is_told = proof.faults.iter().any(is_told) || is_of_all && !proof.faults.is_empty();
        if !is_told && row.status != Status::Gap {
            proof.faults.push(row.note.clone());
        }
    }
}

/// What a row says of a line that is too long.
const BEYOND: &str = "a line beyond the limit";

/// Why what was said is no answer.
fn wrong(question: &str, answer: &Answer, profile: &Profile) -> String {
    let patience = seconds(profile.timing.timeout);
    match answer {
        Answer::Line(line) => format!("{question}: {}", line.escape_ascii()),
        Answer::Overlong(_) => format!("{question}: a line beyond longest_line"),
        Answer::Silence(half) if !half.is_empty() => format!(
            "{question}: no line end came in {patience} behind {}",
            half.escape_ascii()
        ),
        Answer::NoLine => format!("{question}: the port failed"),
        _ => format!("{question} was not answered in {patience}"),
    }
}

fn time_rounds(hearing: &Hearing, asked: &[Asked], profile: &Profile, proof: &mut Proof) {
    if !proof.faults.is_empty() {
        return;
    }
    let lines = profile.questions().into_iter();
    let lines = lines.map(|question| profile.to_bytes(question));
    let blocks = blocks(profile).into_iter().map(|(question, _)| question);
    for question in lines.chain(blocks) {
        let times = asked.iter().filter(|one| one.question == question);
        // The first of each is listed by itself.
        let times = times.map(|one| one.took.as_secs_f64()).skip(1).take(ROUNDS);
        proof.round_trips_s.extend(times);
    }
    proof.rows_per_s = rate(hearing);
    if let (Some(rate), Some(every_s)) = (proof.rows_per_s, proof.every_s)
        && every_s < 1.0 / rate
    {
        proof.faults.push(format!(
            "a row takes {}, more than the {} from one to the next",
            seconds(Duration::from_secs_f64(1.0 / rate)),
            seconds(Duration::from_secs_f64(every_s))
        ));
    }
}

//! The proof from the answers of an instrument that is asked.

use super::found::{Came, Fault, Heard, Note, Proof};
use super::rows::{ROUNDS, good_rows, is_good, rate, values};
use crate::acquire::{blocks, passing};
use crate::instrument::{Complaint, Place as Field, Profile, Reading, read_answer, read_complaint};
use crate::reading::{Failed, Status};
use crate::recording::hearing::Hearing;
use crate::recording::opening::cut;
use crate::transport::{Answer, Asked, Protocol};

/// Returns the protocol that the kept bytes of an asked instrument are read by.
fn protocol(profile: &Profile) -> Protocol {
    let resync = profile.resync.as_ref();
    Protocol {
        cut: cut(&profile.port),
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
            proof.faults.push(Fault::NeverInStep {
                ask: resync.ask.clone(),
                answer: resync.answer.clone(),
                within: profile.timing.timeout,
            });
        }
    }
    if let Some(question) = &profile.identity
        && proof.identity.is_none()
        && let Some(first) = of(question).first()
    {
        match &first.answer {
            Answer::Line(_) => proof.notes.push(Note::NamesDiffer(question.clone())),
            answer => proof.faults.push(Fault::NoAnswer {
                question: question.clone(),
                answer: answer.clone(),
                within: profile.timing.timeout,
                complaints: Vec::new(),
                is_answered_else: false,
            }),
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
    let left = complaints.left.into_iter();
    proof.faults.extend(left.map(Fault::Complaint));
    tell_rows(hearing, proof);
    time_rounds(hearing, &asked, profile, proof);
    if asked.iter().any(|one| one.has_echo) {
        proof.notes.push(Note::Echo);
    }
}

/// The complaints of an instrument: of the first unanswered question of each kind, and of nothing that was asked.
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
        proof.faults.push(Fault::NoAnswer {
            question: question.to_owned(),
            answer: missed.answer.clone(),
            within: profile.timing.timeout,
            complaints: complaints.about(&missed.question).to_vec(),
            is_answered_else: lines.clone().next().is_some(),
        });
    }
    let mut is_told = false;
    for (index, (line, took)) in lines.enumerate() {
        let mut reading = Reading::default();
        let text = String::from_utf8_lossy(line);
        let outcome = read_answer(question, &text, &profile.values, &mut reading);
        if let Err(why) = outcome
            && !std::mem::replace(&mut is_told, true)
        {
            let note = &reading.note;
            proof.faults.push(Fault::Unread {
                question: question.to_owned(),
                why: if note.is_empty() {
                    why.to_string()
                } else {
                    note.to_string()
                },
                line: line.clone(),
            });
        }
        if index == 0 {
            let is_here =
                |field: &Field| matches!(field, Field::Answer { ask, .. } if ask == question);
            proof.heard.push(Heard {
                question: Some(question.to_owned()),
                came: Came::Line(line.clone()),
                round_trip_s: Some(took.as_secs_f64()),
                values: values(profile, &reading.readings, is_here),
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
    let (Some((bytes, took)), Some(heard)) = (block, good_rows(hearing).next()) else {
        return;
    };
    proof.heard.push(Heard {
        question: Some(ask.to_owned()),
        came: Came::Block(bytes),
        round_trip_s: Some(took.as_secs_f64()),
        values: values(profile, &heard.row.readings, is_here),
    });
}

/// Reports the faults of rows that no other fault has reported yet.
fn tell_rows(hearing: &Hearing, proof: &mut Proof) {
    let rows = hearing.rows.iter();
    for heard in rows.filter(|heard| !is_good(&heard.row) && heard.row.status != Status::Gap) {
        let question = match &heard.failed {
            Some(Failed::At(question)) => Some(question),
            _ => None,
        };
        let is_told = |fault: &Fault| match (question, &heard.failed) {
            (Some(question), _) => fault.question() == Some(question),
            // Whatever went wrong before it is the reason.
            (None, Some(_)) => true,
            (None, None) => matches!(fault, Fault::Row { note, .. } if *note == heard.row.note),
        };
        if !proof.faults.iter().any(is_told) {
            proof.faults.push(Fault::Row {
                question: question.cloned(),
                note: heard.row.note.clone(),
            });
        }
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
        let row_s = 1.0 / rate;
        proof.faults.push(Fault::Slow { row_s, every_s });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::{Readings, Row, Stamp};
    use crate::recording::address::Place;
    use crate::recording::hearing::HeardRow;

    fn silent(note: &str, failed: Option<Failed>) -> HeardRow {
        HeardRow {
            row: Row {
                stamp: Stamp {
                    elapsed_us: 0,
                    wall_ms: 0,
                },
                source: "c".into(),
                readings: Readings::default(),
                status: Status::Silent,
                note: crate::reading::Note::read(note),
            },
            text: Vec::new(),
            failed,
        }
    }

    /// Returns the questions that rows named beside the faults there were, none for a row that names no question.
    fn told(faults: Vec<Fault>, rows: Vec<HeardRow>) -> Vec<Option<String>> {
        let mut proof = Proof {
            label: "c".to_owned(),
            profile: "c".to_owned(),
            place: Place::Tcp("h:1".to_owned()),
            every_s: None,
            identity: None,
            heard: Vec::new(),
            round_trips_s: Vec::new(),
            rows_per_s: None,
            notes: Vec::new(),
            faults,
        };
        let hearing = Hearing {
            rows,
            ..Hearing::default()
        };
        tell_rows(&hearing, &mut proof);
        let told = proof.faults.into_iter().filter_map(|fault| match fault {
            Fault::Row { question, .. } => Some(question),
            _ => None,
        });
        told.collect()
    }

    #[test]
    fn a_row_tells_a_question_once_whatever_its_words() {
        let at = |question: &str| Some(Failed::At(question.to_owned()));
        let unread = || Fault::Unread {
            question: "F?".to_owned(),
            why: "too few values".to_owned(),
            line: Vec::new(),
        };
        let rows = || {
            vec![
                silent("reworded one day", at("F?")),
                silent("nobody answered", at("V?")),
                silent("V? was left alone", at("V?")),
                silent("all is lost", Some(Failed::OutOfStep)),
                silent("cut short", None),
                silent("cut short", None),
            ]
        };
        let question = |text: &str| Some(text.to_owned());
        assert_eq!(told(vec![unread()], rows()), [question("V?"), None]);
        assert_eq!(
            told(Vec::new(), rows()),
            [question("F?"), question("V?"), None]
        );
        let alone = vec![silent("all is lost", Some(Failed::OutOfStep))];
        assert_eq!(told(Vec::new(), alone), [None]);
    }
}

//! `record --dry-run`: a profile against its instrument, and what it got wrong.

use std::time::Duration;

use super::address::Place;
use super::exit::{Failure, INSTRUMENT, Outcome, USAGE};
use super::open::{self, Named};
use super::trial::{Ear, Said, Trial};
use crate::clock::Deadline;
use crate::instrument::{Manner, Place as Field, Profile, Reading, read_answer};
use crate::reading::{Channel, Status};
use crate::units;

/// How often all questions are asked at most, and for how long, to know how long they take.
const ROUNDS: usize = 20;
const ROUNDS_TIME: Duration = Duration::from_secs(3);

/// An instrument that speaks by itself is heard for this many lines, or for the time it may be silent.
const LINES: usize = 40;

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
    .hint("devices/README.md has every key of a profile; sagtrace ports --identify tries all profiles"))
}

fn prove(named: Named) -> Result<Proof, Failure> {
    if let Place::Log(path) = &named.address.place {
        let message = format!("{} is a byte log, not an instrument", path.display());
        return Err(Failure::new(USAGE, message).hint("leave --dry-run out to play it"));
    }
    let mut opener = open::opener(&named.address.place, &named.profile.port);
    let pipe = open::open_patiently(&mut opener).map_err(|error| open::open_failure(&error))?;
    let profile = named.profile;
    let mut trial = Trial::new(pipe, &profile);
    let is_asked = profile.manner == Manner::Asked;
    let mut proof = Proof {
        label: named.address.label,
        profile: profile.name.clone(),
        place: named.address.place.to_string(),
        every_s: is_asked.then_some(named.every.as_secs_f64()),
        identity: None,
        heard: Vec::new(),
        round_trips_s: Vec::new(),
        rows_per_s: None,
        notes: Vec::new(),
        faults: Vec::new(),
    };
    match profile.manner {
        Manner::Asked => ask(&mut trial, &profile, &mut proof),
        Manner::Unasked => listen(&mut trial, &profile, &mut proof),
    }
    Ok(proof)
}

fn seconds(time: Duration) -> String {
    units::rounded(time.as_secs_f64(), units::Unit::Second, 3)
}

fn ask(trial: &mut Trial, profile: &Profile, proof: &mut Proof) {
    trial.drop_all(profile.timing.settle);
    for text in &profile.start {
        if let Err(why) = trial.tell(&profile.to_bytes(text)) {
            return proof
                .faults
                .push(format!("{text} could not be sent: {why}"));
        }
    }
    let patience = profile.timing.timeout;
    if let Some(resync) = &profile.resync {
        let (bytes, answer) = (profile.to_bytes(&resync.ask), resync.answer.as_bytes());
        if !trial.ask_until(&bytes, answer, patience) {
            proof.faults.push(format!(
                "[resync] {} was not answered by {} in {}",
                resync.ask,
                resync.answer,
                seconds(patience)
            ));
        }
    }
    if let Some(question) = &profile.identity {
        match trial.ask(&profile.to_bytes(question), patience).0 {
            Said::Line(line) => {
                proof.identity = Some(String::from_utf8_lossy(&line).trim().to_owned());
            }
            said => proof.faults.push(wrong(question, &said, patience)),
        }
    }
    for question in profile.questions() {
        try_question(trial, profile, question, proof);
    }
    try_waveform(trial, profile, proof);
    if proof.faults.is_empty() {
        time_rounds(trial, profile, proof);
    }
    if trial.has_echo {
        proof
            .notes
            .push("it sends back what it is asked; the echo is passed over".to_owned());
    }
    if let Some(errors) = &profile.errors {
        let left = trial.complaints(profile, errors);
        proof
            .faults
            .extend(left.into_iter().map(|text| format!("it complains: {text}")));
    }
}

fn try_question(trial: &mut Trial, profile: &Profile, question: &str, proof: &mut Proof) {
    let patience = profile.timing.timeout;
    let (said, took) = trial.ask(&profile.to_bytes(question), patience);
    let line = match &said {
        Said::Line(line) => line,
        said => {
            let mut fault = wrong(question, said, patience);
            if let Some(resync) = &profile.resync {
                trial.ask_until(
                    &profile.to_bytes(&resync.ask),
                    resync.answer.as_bytes(),
                    patience,
                );
            }
            if let Some(errors) = &profile.errors {
                for complaint in trial.complaints(profile, errors) {
                    fault = format!("{fault}; it complains: {complaint}");
                }
            }
            return proof.faults.push(fault);
        }
    };
    let mut reading = Reading::default();
    let text = String::from_utf8_lossy(line);
    let outcome = read_answer(question, &text, &profile.values, &mut reading);
    if let Err(why) = outcome {
        let told = match reading.note.strip_prefix(question) {
            Some(_) => reading.note.clone(),
            None if reading.note.is_empty() => format!("{question}: {why}"),
            None => format!("{question}: {}", reading.note),
        };
        proof
            .faults
            .push(format!("{told}: {}", line.escape_ascii()));
    }
    let is_here = |field: &Field| matches!(field, Field::Answer { ask, .. } if ask == question);
    proof.heard.push(Heard {
        question: Some(question.to_owned()),
        text: line.escape_ascii().to_string(),
        round_trip_s: Some(took.as_secs_f64()),
        values: values(profile, &reading, is_here),
    });
}

fn try_waveform(trial: &mut Trial, profile: &Profile, proof: &mut Proof) {
    let Some(rule) = &profile.waveform else {
        return;
    };
    let mut reading = Reading::default();
    let begun_s = trial.elapsed_s();
    match trial.waveform(profile, rule, profile.timing.timeout, &mut reading) {
        Ok(bytes) => proof.heard.push(Heard {
            question: Some(rule.ask.clone()),
            text: format!("a block of {bytes} bytes"),
            round_trip_s: Some(trial.elapsed_s() - begun_s),
            values: values(profile, &reading, |field| {
                matches!(field, Field::Waveform(_))
            }),
        }),
        Err(why) => proof.faults.push(why),
    }
}

/// Why what was said is no answer.
fn wrong(question: &str, said: &Said, patience: Duration) -> String {
    let patience = seconds(patience);
    match said {
        Said::Line(line) => format!("{question}: {}", line.escape_ascii()),
        Said::Overlong(_) => format!("{question}: a line beyond longest_line"),
        Said::Nothing(half) if half.is_empty() => {
            format!("{question} was not answered in {patience}")
        }
        Said::Nothing(half) => format!(
            "{question}: no line end came in {patience} behind {}",
            half.escape_ascii()
        ),
        Said::Gone(why) => format!("{question}: the port failed: {why}"),
    }
}

fn time_rounds(trial: &mut Trial, profile: &Profile, proof: &mut Proof) {
    let deadline = Deadline::after(ROUNDS_TIME);
    let questions = profile.questions();
    let (begun_s, mut rounds) = (trial.elapsed_s(), 0);
    while rounds < ROUNDS && !deadline.is_over() {
        for question in &questions {
            let pause = profile.timing.pause;
            Deadline::after(pause).pause(pause);
            let (said, took) = trial.ask(&profile.to_bytes(question), profile.timing.timeout);
            if !matches!(said, Said::Line(_)) {
                let why = wrong(question, &said, profile.timing.timeout);
                return proof.faults.push(format!("{why}, though it was before"));
            }
            proof.round_trips_s.push(took.as_secs_f64());
        }
        if let Some(rule) = &profile.waveform {
            let asked_s = trial.elapsed_s();
            let patience = profile.timing.timeout;
            if let Err(why) = trial.waveform(profile, rule, patience, &mut Reading::default()) {
                return proof.faults.push(format!("{why}, though it was before"));
            }
            proof.round_trips_s.push(trial.elapsed_s() - asked_s);
        }
        rounds += 1;
    }
    let row_s = (trial.elapsed_s() - begun_s) / f64::from(u32::try_from(rounds).unwrap_or(1));
    proof.rows_per_s = Some(1.0 / row_s.max(1e-6));
    if let Some(every_s) = proof.every_s.filter(|every_s| *every_s < row_s) {
        proof.faults.push(format!(
            "a row takes {}, more than the {} from one to the next",
            seconds(Duration::from_secs_f64(row_s)),
            seconds(Duration::from_secs_f64(every_s))
        ));
    }
}

fn listen(trial: &mut Trial, profile: &Profile, proof: &mut Proof) {
    for text in &profile.start {
        if let Err(why) = trial.tell(&profile.to_bytes(text)) {
            return proof
                .faults
                .push(format!("{text} could not be sent: {why}"));
        }
    }
    let mut ear = Ear::new(profile);
    let (settle, silence) = (profile.timing.settle, profile.timing.silence);
    let deadline = Deadline::after(settle + silence.max(Duration::from_secs(2)));
    let (mut good, mut times_s, mut strange, mut bytes) = (0, Vec::new(), 0, 0);
    let mut refused: Vec<(String, String)> = Vec::new();
    let mut is_first = true;
    while good < LINES {
        let line = match trial.next(deadline) {
            Said::Line(line) | Said::Overlong(line) => line,
            Said::Nothing(_) => break,
            Said::Gone(why) => {
                proof.faults.push(format!("the port failed: {why}"));
                break;
            }
        };
        let is_text = |byte: &&u8| byte.is_ascii_graphic() || byte.is_ascii_whitespace();
        bytes += line.len();
        strange += line.len() - line.iter().filter(is_text).count();
        let may_be_bad = std::mem::take(&mut is_first) || trial.elapsed_s() < settle.as_secs_f64();
        let Some(reading) = ear.hear(&line) else {
            continue;
        };
        if matches!(
            reading.status,
            Status::Ok | Status::NoSignal | Status::Overload
        ) {
            good += 1;
            times_s.push(trial.elapsed_s());
            proof.heard = vec![Heard {
                question: None,
                text: line.escape_ascii().to_string(),
                round_trip_s: None,
                values: values(profile, &reading, |_| true),
            }];
        } else if !may_be_bad && refused.iter().all(|(note, _)| *note != reading.note) {
            refused.push((reading.note, line.escape_ascii().to_string()));
        }
    }
    if let (Some(first_s), Some(last_s)) = (times_s.first(), times_s.last())
        && last_s > first_s
    {
        proof.rows_per_s = Some((times_s.len() - 1) as f64 / (last_s - first_s));
    }
    if bytes > 0 && strange * 2 > bytes {
        let fault = "mostly bytes that are no text: is the speed right?";
        proof.faults.push(fault.to_owned());
    }
    let told = refused.iter().map(|(note, line)| format!("{note}: {line}"));
    proof.faults.extend(told);
    if good == 0 && proof.faults.is_empty() {
        proof.faults.push(format!(
            "no line came in {}",
            seconds(settle + silence.max(Duration::from_secs(2)))
        ));
    }
}

/// The values of a reading with where each stands.
fn values(
    profile: &Profile,
    reading: &Reading,
    is_here: impl Fn(&Field) -> bool,
) -> Vec<(Channel, String, Option<f64>)> {
    let rules = profile.values.iter().filter(|rule| is_here(&rule.place));
    rules
        .map(|rule| {
            let field = match &rule.place {
                Field::Answer { position, of, .. } => {
                    format!("{}, value {position} of {of}", rule.input)
                }
                Field::Named(name) => format!("field {name}"),
                Field::Column(position) => format!("column {position}"),
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

//! Who is on a port: each profile is tried, and proves itself by a reading.
//!
//! A port is opened once for all profiles with the same settings, since each opening may restart a board. Questions come
//! first, because an instrument that answers does so at once; only a port that answers nothing is listened to for as long
//! as a board takes to start.

use std::time::Duration;

use super::exit::Failure;
use super::open::serial_settings;
use super::prove;
use super::trial::{Ear, Said, Trial};
use crate::clock::Deadline;
use crate::instrument::{Catalogue, Manner, Preamble, Profile, Reading, WaveformRule, read_answer};
use crate::reading::Status;
use crate::transport::open_serial;

/// How long a name may take: it needs no measurement.
const NAME_PATIENCE: Duration = Duration::from_millis(400);

/// How long a measurement may take here; a counter's own time-out is often one second.
const PATIENCE: Duration = Duration::from_millis(1500);

/// What a port turned out to be.
#[derive(Debug)]
pub(super) enum Found {
    /// It answers to a profile, and this is what it read.
    Answers {
        profile: String,
        identity: Option<String>,
        reading: String,
    },
    /// It could not be tried.
    Failed { reason: String },
}

/// Tries every profile on a port. Only questions are sent: an instrument in use keeps its settings.
pub(super) fn identify(path: &str, catalogue: &Catalogue) -> Vec<Found> {
    let sound = |name: &String| catalogue.get(name).ok().map(|(profile, _)| profile);
    let mut left: Vec<Profile> = catalogue.names().iter().filter_map(sound).collect();
    let mut found = Vec::new();
    while let Some(first) = left.first().cloned() {
        let (group, others) = left
            .into_iter()
            .partition(|profile| is_alike(profile, &first));
        left = others;
        let pipe = match open_serial(path, &serial_settings(&first.port, None)) {
            Ok(pipe) => pipe,
            Err(error) => {
                let reason = Failure::from_error(0, &error).message;
                return vec![Found::Failed { reason }];
            }
        };
        found.extend(try_group(&mut Trial::new(pipe, &first), &group));
        if !found.is_empty() {
            break;
        }
    }
    found
}

/// Whether two profiles can be tried without opening the port anew.
fn is_alike(one: &Profile, other: &Profile) -> bool {
    serial_settings(&one.port, None) == serial_settings(&other.port, None)
        && one.port.received_end == other.port.received_end
        && one.port.longest_line == other.port.longest_line
}

fn try_group(trial: &mut Trial, group: &[Profile]) -> Vec<Found> {
    let of = |manner| group.iter().filter(move |profile| profile.manner == manner);
    let (asked, unasked): (Vec<&Profile>, Vec<&Profile>) =
        (of(Manner::Asked).collect(), of(Manner::Unasked).collect());
    let mut found = ask_all(trial, &asked);
    if found.is_empty() {
        found = listen(trial, &unasked);
    }
    if found.is_empty() && !unasked.is_empty() {
        // A board that restarted when its port was opened can answer by now.
        found = ask_all(trial, &asked);
    }
    found
}

fn ask_all(trial: &mut Trial, profiles: &[&Profile]) -> Vec<Found> {
    let mut names = Vec::new();
    profiles
        .iter()
        .filter_map(|profile| ask(trial, profile, &mut names))
        .collect()
}

/// The answers to questions for a name so far; none where there was no answer, so that it is waited for once.
type Names = Vec<(Vec<u8>, Option<String>)>;

/// Asks for the name and for one row; `None` when it does not answer as the profile says.
fn ask(trial: &mut Trial, profile: &Profile, names: &mut Names) -> Option<Found> {
    let line = |said: Said| match said {
        Said::Line(line) => String::from_utf8(line).ok(),
        Said::Overlong(_) | Said::Nothing(_) | Said::Gone(_) => None,
    };
    let mut identity = None;
    if let Some(question) = &profile.identity {
        let bytes = profile.to_bytes(question);
        let known = names.iter().find(|(asked, _)| *asked == bytes);
        let answer = if let Some((_, answer)) = known {
            answer.clone()
        } else {
            let answer = line(trial.ask(&bytes, NAME_PATIENCE).0);
            names.push((bytes, answer.clone()));
            answer
        };
        identity = Some(answer?.trim().to_owned());
    }
    let mut reading = Reading::default();
    let patience = PATIENCE.min(profile.timing.timeout);
    for question in profile.questions() {
        let answer = line(trial.ask(&profile.to_bytes(question), patience).0)?;
        read_answer(question, &answer, &profile.values, &mut reading).ok()?;
    }
    let mut words = prove::words(&reading);
    if let Some(rule) = &profile.waveform {
        if let Some(command) = setting(profile, rule) {
            let answer = line(trial.ask(&profile.to_bytes(&rule.preamble), patience).0)?;
            Preamble::read(&answer, &rule.places).ok()?;
            words =
                format!("{words}; its waveform is read only after {command}, which was not sent");
        } else {
            trial.waveform(profile, rule, patience, &mut reading).ok()?;
            words = prove::words(&reading);
        }
    }
    Some(Found::Answers {
        profile: profile.name.clone(),
        identity,
        reading: words,
    })
}

/// The first command that sets something up for a waveform; `*CLS` only clears what was complained of.
fn setting<'p>(profile: &'p Profile, rule: &'p WaveformRule) -> Option<&'p str> {
    let sets = |text: &&String| !text.contains('?') && !text.eq_ignore_ascii_case("*CLS");
    profile
        .start
        .iter()
        .chain(&rule.before)
        .find(sets)
        .map(String::as_str)
}

/// Waits for a line that a profile can read; the first may be a fragment, a board may be starting.
fn listen(trial: &mut Trial, profiles: &[&Profile]) -> Vec<Found> {
    let settle = profiles.iter().map(|profile| profile.timing.settle).max();
    let Some(settle) = settle else {
        return Vec::new();
    };
    let deadline = Deadline::after(settle + PATIENCE);
    let mut ears: Vec<Ear<'_>> = profiles.iter().map(|profile| Ear::new(profile)).collect();
    // A board says the names of its columns once, when it is opened: while others were being asked, perhaps.
    for line in trial.heard() {
        for ear in &mut ears {
            ear.hear(line);
        }
    }
    loop {
        let line = match trial.next(deadline) {
            Said::Line(line) => line,
            Said::Overlong(_) => continue,
            Said::Nothing(_) | Said::Gone(_) => return Vec::new(),
        };
        let mut found = Vec::new();
        for (profile, ear) in profiles.iter().zip(&mut ears) {
            if let Some(reading) = ear.hear(&line)
                && matches!(reading.status, Status::Ok | Status::NoSignal)
            {
                found.push(Found::Answers {
                    profile: profile.name.clone(),
                    identity: None,
                    reading: prove::words(&reading),
                });
            }
        }
        if !found.is_empty() {
            return found;
        }
    }
}

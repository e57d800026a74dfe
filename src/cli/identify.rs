//! Who is on a port: each profile is tried by the code that records, and proves itself by a reading.
//!
//! A port is opened once for all profiles with the same settings, since each opening may restart a board. Questions come
//! first, because an instrument that answers does so at once; only a port that answers nothing is listened to for as long
//! as a board takes to start. What was heard by then is played to each profile of a board.

use std::sync::Arc;
use std::time::Duration;

use super::exit::Failure;
use super::hearing::{self, Hearing};
use super::open::serial_settings;
use super::prove;
use crate::acquire::{Source, line_end};
use crate::clock::{Clock, Deadline};
use crate::instrument::{Catalogue, ChannelRule, Manner, Preamble, Profile, Reading, WaveformRule};
use crate::reading::{Row, Status};
use crate::transport::{
    self, Answer, Cut, Exchange, Keeper, Link, LinkEvent, Request, SharedPipe, Unwritten,
    link_kept, open_serial,
};

/// How long a name may take: it needs no measurement.
const NAME_PATIENCE: Duration = Duration::from_millis(400);

/// How long a measurement may take here; a counter's own time-out is often one second.
const PATIENCE: Duration = Duration::from_millis(1500);

/// So long nothing has come before a question that is not a recording's: what another was answered has ended.
const QUIET: Duration = Duration::from_millis(20);

/// How often what was heard is played to the profiles of boards.
const LOOK_EVERY: Duration = Duration::from_millis(250);

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
    let failed = |failure: Failure| {
        vec![Found::Failed {
            reason: failure.message,
        }]
    };
    match hearing::runtime() {
        Ok(runtime) => runtime
            .block_on(try_all(path, catalogue))
            .unwrap_or_else(failed),
        Err(failure) => failed(failure),
    }
}

async fn try_all(path: &str, catalogue: &Catalogue) -> Result<Vec<Found>, Failure> {
    let sound = |name: &String| catalogue.get(name).ok().map(|(profile, _)| profile);
    let mut left: Vec<Profile> = catalogue.names().iter().filter_map(sound).collect();
    let mut found = Vec::new();
    while let Some(first) = left.first().cloned() {
        let (group, others) = left
            .into_iter()
            .partition(|profile| is_alike(profile, &first));
        left = others;
        let pipe = open_serial(path, &serial_settings(&first.port, None))
            .map_err(|error| Failure::from_error(0, &error))?;
        let (keeper, kept) = transport::keep_bytes();
        let mut port = Port {
            pipe: SharedPipe::new(pipe),
            clock: Clock::real(),
            keeper,
            kept,
            heard: Exchange::default(),
            names: Vec::new(),
        };
        found.extend(port.try_group(&group).await?);
        if !found.is_empty() {
            break;
        }
    }
    Ok(found)
}

/// Whether two profiles can be tried without opening the port anew.
fn is_alike(one: &Profile, other: &Profile) -> bool {
    serial_settings(&one.port, None) == serial_settings(&other.port, None)
}

fn no_thread(error: &std::io::Error) -> Failure {
    Failure::new(0, format!("no thread for the port: {error}"))
}

/// An open port, and all that came of it.
struct Port {
    pipe: SharedPipe,
    clock: Clock,
    keeper: Keeper,
    kept: Unwritten,
    heard: Exchange,
    /// The answers to questions for a name so far; none where there was no answer, so that it is waited for once.
    names: Vec<(Vec<u8>, Option<String>)>,
}

impl Port {
    async fn try_group(&mut self, group: &[Profile]) -> Result<Vec<Found>, Failure> {
        let of = |manner| group.iter().filter(move |profile| profile.manner == manner);
        let (asked, unasked): (Vec<&Profile>, Vec<&Profile>) =
            (of(Manner::Asked).collect(), of(Manner::Unasked).collect());
        let mut found = self.ask_all(&asked).await?;
        if found.is_empty() {
            found = self.listen(&unasked).await?;
        }
        if found.is_empty() && !unasked.is_empty() {
            // A board that restarted when its port was opened can answer by now.
            self.names.clear();
            found = self.ask_all(&asked).await?;
        }
        Ok(found)
    }

    async fn ask_all(&mut self, profiles: &[&Profile]) -> Result<Vec<Found>, Failure> {
        let mut found = Vec::new();
        for profile in profiles {
            found.extend(self.ask(profile).await?);
        }
        Ok(found)
    }

    /// A link to the port for one profile; the one before it must have ended.
    fn link(&self, profile: &Profile) -> Result<Link, Failure> {
        link_kept(
            match profile.manner {
                Manner::Asked => transport::Manner::Asked,
                Manner::Unasked => transport::Manner::Unasked,
            },
            self.pipe.pipe(),
            self.pipe.opener(),
            cut(profile),
            self.clock.clone(),
            self.keeper.clone(),
        )
        .map_err(|error| no_thread(&error))
    }

    /// One question; its line, if one came in time.
    async fn line(
        &mut self,
        profile: &Profile,
        question: &str,
        timeout: Duration,
    ) -> Result<Option<String>, Failure> {
        let mut link = self.link(profile)?;
        link.send(Request::Pass(crate::acquire::passing(&profile.port)));
        link.send(Request::Quiet { quiet: QUIET });
        link.send(Request::Ask {
            questions: vec![profile.to_bytes(question)],
            pause: Duration::ZERO,
            timeout,
        });
        let (mut line, mut has_asked) = (None, false);
        while let Some(event) = link.next().await {
            match event {
                // The quiet before the question.
                LinkEvent::Answers(_) if !std::mem::replace(&mut has_asked, true) => {}
                LinkEvent::Answers(answers) => {
                    if let Some((_, Answer::Line(bytes))) = answers.into_iter().next() {
                        line = String::from_utf8(bytes).ok();
                    }
                    link.send(Request::Finish);
                }
                LinkEvent::Ended => break,
                _ => {}
            }
        }
        Ok(line)
    }

    /// Asks for the name and for rows; `None` when it does not answer as the profile says.
    async fn ask(&mut self, profile: &Profile) -> Result<Option<Found>, Failure> {
        let mut identity = None;
        if let Some(question) = &profile.identity {
            let bytes = profile.to_bytes(question);
            let known = self.names.iter().find(|(asked, _)| *asked == bytes);
            let answer = if let Some((_, answer)) = known {
                answer.clone()
            } else {
                let answer = self.line(profile, question, NAME_PATIENCE).await?;
                self.names.push((bytes, answer.clone()));
                answer
            };
            let Some(answer) = answer else {
                return Ok(None);
            };
            identity = Some(answer.trim().to_owned());
        }
        let mut asked = profile.clone();
        asked.start.clear();
        asked.timing.timeout = PATIENCE.min(profile.timing.timeout);
        asked.timing.settle = Duration::ZERO;
        let mut unread = None;
        if let Some(rule) = &profile.waveform
            && let Some(command) = setting(profile, rule)
        {
            let patience = asked.timing.timeout;
            let mut answers = Vec::new();
            for question in rule.scale.questions() {
                answers.extend(self.line(profile, question, patience).await?);
            }
            if Preamble::read(&answers, None, &rule.scale).is_err() {
                return Ok(None);
            }
            unread = Some(format!(
                "its waveform is read only after {command}, which was not sent"
            ));
            asked.waveform = None;
        }
        let has_nothing = asked.questions().is_empty() && asked.block_questions().is_empty();
        let reading = if has_nothing && asked.waveform.is_none() {
            None
        } else {
            let Some(reading) = self.row(asked).await? else {
                return Ok(None);
            };
            Some(reading)
        };
        let words: Vec<String> = reading.into_iter().chain(unread).collect();
        Ok(Some(Found::Answers {
            profile: profile.name.clone(),
            identity,
            reading: words.join("; "),
        }))
    }

    /// Records until a row proves the profile; its reading in words.
    async fn row(&mut self, profile: Profile) -> Result<Option<String>, Failure> {
        let questions =
            u32::try_from(profile.questions().len() + profile.block_questions().len() + 2)
                .unwrap_or(u32::MAX);
        let limit = profile.timing.timeout * questions;
        let rules = profile.values.clone();
        let source = Source {
            label: Arc::from(&*profile.name),
            link: self.link(&profile)?,
            every: LOOK_EVERY,
            profile,
            clock: self.clock.clone(),
        };
        let hearing = hearing::hear(source, &self.kept, limit, |hearing| {
            let bad = hearing.rows.iter().filter(|(row, _)| is_bad(row)).count();
            proof(hearing, &rules).is_some() || bad > 1
        })
        .await;
        let words = in_words(&hearing, &rules);
        self.heard.append(hearing.exchange);
        Ok(words)
    }

    /// Waits for a line that a profile can read; the first may be a fragment, a board may be starting.
    async fn listen(&mut self, profiles: &[&Profile]) -> Result<Vec<Found>, Failure> {
        let settle = profiles.iter().map(|profile| profile.timing.settle).max();
        let (Some(settle), Some(first)) = (settle, profiles.first()) else {
            return Ok(Vec::new());
        };
        let mut link = self.link(first)?;
        let deadline = Deadline::after(settle + PATIENCE);
        let mut found = Vec::new();
        while found.is_empty() && !deadline.is_over() {
            let look = tokio::time::sleep(LOOK_EVERY.min(deadline.left()));
            tokio::pin!(look);
            loop {
                tokio::select! {
                    () = &mut look => break,
                    event = link.next() => if event.is_none() { break },
                }
            }
            self.heard.take(&self.kept);
            for profile in profiles {
                found.extend(self.play(profile).await?);
            }
        }
        link.send(Request::Finish);
        while !matches!(link.next().await, None | Some(LinkEvent::Ended)) {}
        Ok(found)
    }

    /// Plays what was heard to a profile of a board: it says the names of its columns once, while others were asked, perhaps.
    async fn play(&self, profile: &Profile) -> Result<Option<Found>, Failure> {
        let link = self.heard.play(transport::Manner::Unasked, cut(profile));
        let source = Source {
            label: Arc::from(&*profile.name),
            link: link.map_err(|error| no_thread(&error))?,
            every: profile.timing.every,
            profile: profile.clone(),
            clock: self.clock.clone(),
        };
        let (_, nothing) = transport::keep_bytes();
        let hearing = hearing::hear(source, &nothing, PATIENCE, |_| false).await;
        Ok(
            in_words(&hearing, &profile.values).map(|reading| Found::Answers {
                profile: profile.name.clone(),
                identity: None,
                reading,
            }),
        )
    }
}

fn cut(profile: &Profile) -> Cut {
    Cut {
        end: line_end(&profile.port),
        limit: profile.port.longest_line,
    }
}

const fn is_bad(row: &Row) -> bool {
    matches!(
        row.status,
        Status::Garbled | Status::Refused | Status::Silent | Status::Gap
    )
}

/// The first row whose number could have come by this profile alone: a word for "no signal" is an answer, and proves nothing.
fn proof<'h>(hearing: &'h Hearing, rules: &[ChannelRule]) -> Option<&'h Row> {
    let is_possible = |row: &Row| {
        let read = |rule: &ChannelRule| {
            let value = row.readings.get(rule.channel)?;
            Some(prove::is_possible(rule, value))
        };
        let mut values = rules.iter().filter_map(read).peekable();
        values.peek().is_some() && values.all(|is_possible| is_possible)
    };
    let mut rows = hearing.rows.iter().map(|(row, _)| row);
    rows.find(|row| !is_bad(row) && is_possible(row))
}

/// What a profile read, if it read anything but what is wrong.
fn in_words(hearing: &Hearing, rules: &[ChannelRule]) -> Option<String> {
    let words = |row: &Row| {
        prove::words(&Reading {
            readings: row.readings,
            status: row.status,
            note: String::new(),
        })
    };
    if let Some(row) = proof(hearing, rules) {
        return Some(words(row));
    }
    let is_marked = |row: &&Row| matches!(row.status, Status::NoSignal | Status::Overload);
    let mut rows = hearing.rows.iter().map(|(row, _)| row);
    let marked = rows.find(is_marked)?;
    // The silence may have been before another question.
    let is_wrong = |(row, _): &(Row, Vec<u8>)| is_bad(row) && row.status != Status::Silent;
    (!hearing.rows.iter().any(is_wrong))
        .then(|| format!("{}, and no number that proves it", words(marked)))
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

//! Who is on a port: each profile is tried by the code that records, and proves itself by a reading.
//!
//! A port is opened once for all profiles with the same settings, since each opening may restart a board. Questions come first,
//! because an instrument that answers does so at once. Only a port that answers nothing is listened to for the time that a board
//! takes to start. The bytes heard by then are played to each profile of a board.

use std::io;
use std::sync::Arc;
use std::time::Duration;

use super::belief::is_possible;
use super::hearing::{self, Hearing};
use super::opening::{cut, manner, serial_settings};
use crate::acquire::Source;
use crate::clock::{Clock, Deadline};
use crate::instrument::{Catalogue, ChannelRule, Manner, Preamble, Profile, WaveformRule};
use crate::reading::{Readings, Row, Status};
use crate::transport::{
    self, Answer, Exchange, Keeper, Link, LinkEvent, OpenError, Request, SharedPipe, Unwritten,
    link_kept, open_serial,
};

/// How long a name may take: it needs no measurement.
const NAME_PATIENCE: Duration = Duration::from_millis(400);

/// How long a measurement may take here; a counter's own time-out is often one second.
const PATIENCE: Duration = Duration::from_millis(1500);

/// The quiet time before a question that is not a recording's: an answer to another program has ended by then.
const QUIET: Duration = Duration::from_millis(20);

/// How often the bytes heard are played to the profiles of boards.
const LOOK_EVERY: Duration = Duration::from_millis(250);

/// A profile that a port answers to.
#[derive(Debug)]
pub struct Found {
    /// Its name.
    pub profile: String,
    /// Who the instrument says it is.
    pub identity: Option<String>,
    /// The reading; none where the profile reads nothing but a waveform.
    pub read: Option<Read>,
    /// The command that reading its waveform takes, which was not sent.
    pub withheld: Option<String>,
}

impl Found {
    /// Whether its answer could have come by this profile alone. A profile that reads a waveform alone is proved by the
    /// instrument's name.
    pub const fn is_proved(&self) -> bool {
        match &self.read {
            Some(read) => read.is_proof,
            None => self.identity.is_some(),
        }
    }
}

/// The reading of an instrument.
#[derive(Debug)]
pub struct Read {
    /// The values.
    pub readings: Readings,
    /// The status of the readings.
    pub status: Status,
    /// Whether it could have come by this profile alone: a mark, "no signal" say, is an answer and proves nothing.
    pub is_proof: bool,
}

/// Why a port can't be tried.
#[derive(Debug, thiserror::Error)]
pub enum IdentifyError {
    /// The system gives no runtime.
    #[error("cannot start asking")]
    Runtime(#[source] io::Error),
    /// It does not open.
    #[error(transparent)]
    Open(#[from] OpenError),
    /// The system gives no thread for it.
    #[error("no thread for the port")]
    Thread(#[from] io::Error),
}

/// Tries every profile on a port. Only questions are sent: an instrument in use keeps its settings.
///
/// # Errors
/// [`IdentifyError`] when the port can't be tried.
pub fn identify(path: &str, catalogue: &Catalogue) -> Result<Vec<Found>, IdentifyError> {
    let runtime = hearing::runtime().map_err(IdentifyError::Runtime)?;
    runtime.block_on(try_all(path, catalogue))
}

async fn try_all(path: &str, catalogue: &Catalogue) -> Result<Vec<Found>, IdentifyError> {
    let sound = |name: &String| catalogue.get(name).ok().map(|(profile, _)| profile);
    let mut left: Vec<Profile> = catalogue.names().iter().filter_map(sound).collect();
    let mut found = Vec::new();
    while let Some(first) = left.first().cloned() {
        let (group, others) = left
            .into_iter()
            .partition(|profile| is_alike(profile, &first));
        left = others;
        let pipe = open_serial(path, &serial_settings(&first.port))?;
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
    serial_settings(&one.port) == serial_settings(&other.port)
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
    async fn try_group(&mut self, group: &[Profile]) -> Result<Vec<Found>, IdentifyError> {
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

    async fn ask_all(&mut self, profiles: &[&Profile]) -> Result<Vec<Found>, IdentifyError> {
        let mut found = Vec::new();
        for profile in profiles {
            found.extend(self.ask(profile).await?);
        }
        Ok(found)
    }

    /// A link to the port for one profile; the one before it must have ended.
    fn link(&self, profile: &Profile) -> io::Result<Link> {
        link_kept(
            manner(profile.manner),
            self.pipe.pipe(),
            self.pipe.opener(),
            cut(&profile.port),
            self.clock.clone(),
            self.keeper.clone(),
        )
    }

    /// One question; its line, if one came in time.
    async fn line(
        &mut self,
        profile: &Profile,
        question: &str,
        timeout: Duration,
    ) -> Result<Option<String>, IdentifyError> {
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
    async fn ask(&mut self, profile: &Profile) -> Result<Option<Found>, IdentifyError> {
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
        let mut withheld = None;
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
            withheld = Some(command.to_owned());
            asked.waveform = None;
        }
        let has_nothing = asked.questions().is_empty() && asked.block_questions().is_empty();
        let read = if has_nothing && asked.waveform.is_none() {
            None
        } else {
            let Some(read) = self.row(asked).await? else {
                return Ok(None);
            };
            Some(read)
        };
        Ok(Some(Found {
            profile: profile.name.clone(),
            identity,
            read,
            withheld,
        }))
    }

    /// Records until a row proves the profile.
    async fn row(&mut self, profile: Profile) -> Result<Option<Read>, IdentifyError> {
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
            let bad = hearing
                .rows
                .iter()
                .filter(|heard| is_bad(&heard.row))
                .count();
            proof(hearing, &rules).is_some() || bad > 1
        })
        .await;
        let read = read(&hearing, &rules);
        self.heard.append(hearing.exchange);
        Ok(read)
    }

    /// Waits for a line that a profile can read; the first may be a fragment, a board may be starting.
    async fn listen(&mut self, profiles: &[&Profile]) -> Result<Vec<Found>, IdentifyError> {
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

    /// Plays the bytes heard to a profile of a board: it says the names of its columns once, while others were asked, perhaps.
    async fn play(&self, profile: &Profile) -> Result<Option<Found>, IdentifyError> {
        let cut = cut(&profile.port);
        let link = self.heard.play(transport::Manner::Unasked, cut)?;
        let source = Source {
            label: Arc::from(&*profile.name),
            link,
            every: profile.timing.every,
            profile: profile.clone(),
            clock: self.clock.clone(),
        };
        let (_, nothing) = transport::keep_bytes();
        let hearing = hearing::hear(source, &nothing, PATIENCE, |_| false).await;
        Ok(read(&hearing, &profile.values).map(|read| Found {
            profile: profile.name.clone(),
            identity: None,
            read: Some(read),
            withheld: None,
        }))
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
            Some(is_possible(rule, value))
        };
        let mut values = rules.iter().filter_map(read).peekable();
        values.peek().is_some() && values.all(|is_possible| is_possible)
    };
    let mut rows = hearing.rows.iter().map(|heard| &heard.row);
    rows.find(|row| !is_bad(row) && is_possible(row))
}

/// Returns the reading of a profile, if it read anything but faults.
fn read(hearing: &Hearing, rules: &[ChannelRule]) -> Option<Read> {
    let of = |row: &Row, is_proof| Read {
        readings: row.readings,
        status: row.status,
        is_proof,
    };
    if let Some(row) = proof(hearing, rules) {
        return Some(of(row, true));
    }
    let is_marked = |row: &&Row| matches!(row.status, Status::NoSignal | Status::Overload);
    let mut rows = hearing.rows.iter().map(|heard| &heard.row);
    let marked = rows.find(is_marked)?;
    // The silence may have been before another question.
    let mut rows = hearing.rows.iter().map(|heard| &heard.row);
    (!rows.any(|row| is_bad(row) && row.status != Status::Silent)).then(|| of(marked, false))
}

/// Returns the first command that sets something up for a waveform; `*CLS` only clears the complaints.
fn setting<'p>(profile: &'p Profile, rule: &'p WaveformRule) -> Option<&'p str> {
    let sets = |text: &&String| !text.contains('?') && !text.eq_ignore_ascii_case("*CLS");
    profile
        .start
        .iter()
        .chain(&rule.before)
        .find(sets)
        .map(String::as_str)
}

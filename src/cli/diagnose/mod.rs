//! `diagnose`: why a circuit won't start, and the next check.

mod ask;
mod kept;
mod session;

use std::io::{self, IsTerminal as _};
use std::path::Path;

use kept::Growing;

use super::args::{DiagnoseArgs, Format};
use super::exit::{Failure, Outcome, USAGE};
use super::settings::{origin, read_text};
use super::{output, sheet};
use crate::circuit::verdict::Lamp;
use crate::coil::prediction::Prediction;
use crate::diagnosis::answer::Answer;
use crate::diagnosis::answers;
use crate::diagnosis::build::Build;
use crate::diagnosis::evidence::{Evidence, SoundLed};
use crate::diagnosis::library::Effort;
use crate::diagnosis::priors::{self, Priors};
use crate::report;
use crate::report::diagnose::{Command, Told, arguments};
use crate::report::layout::shell_word;
use crate::sheet::{Sheet, drive::CircuitSets, known::Shown};

pub(super) fn run(args: &DiagnoseArgs) -> Result<Outcome, Failure> {
    if args.priors.as_deref() == Some(Path::new("-")) {
        output::result(priors::SHIPPED)?;
        return Ok(Outcome::DONE);
    }
    let recorded = args.session.as_deref().map(session::read).transpose()?;
    let mut sheet = sheet_of(args, recorded.as_ref())?;
    let other_battery = recorded
        .as_ref()
        .and_then(|recorded| recorded.battery_into(&mut sheet));
    let sheet_sets = sets(&sheet);
    let known_sets = sheet_sets.as_ref().ok();
    let hazards = known_sets.and_then(|(_, sets)| sheet.hazards_of(&sets.specs));
    if args.form {
        output::result(&report::diagnose::form::form(
            &sheet.name,
            has_led(&sheet_sets),
            hazards.as_ref(),
        ))?;
        return Ok(Outcome::DONE);
    }
    let priors = read_priors(args.priors.as_deref())?;
    let known = recorded
        .as_ref()
        .map(|recorded| recorded.evidence(sheet.battery.kind));
    let known = known.unwrap_or_default();
    let mut evidence = evidence(args, known.clone())?;
    evidence.sound_led = sound_led(&sheet);
    let (mut build, is_reversed) = build(&sheet, &sheet_sets?);
    // Only a converter's output steps, whatever the sheet calls the battery.
    build.may_have_converter |= evidence.supply_step_v.is_some();
    let run = recorded
        .as_ref()
        .map(|recorded| recorded.findings(&sheet))
        .transpose()?;
    let effort = effort(args);
    let nothing_read = evidence.observations.is_empty();
    let asks = args.ask || nothing_read && io::stdin().is_terminal();
    let lacks = build.lacks();
    let tell = |evidence: &Evidence, answer: &Answer| {
        let told = Told {
            build: &sheet.name,
            evidence,
            answer,
            is_reversed,
            starts: build.starts(),
            lacks: lacks.as_deref(),
            run: run.as_ref(),
            hazards: hazards.as_ref(),
            battery: Some(&sheet.battery),
            other_battery: other_battery.as_deref(),
        };
        match args.format {
            Format::Text if args.detail => {
                output::result(&output::account(report::diagnose::text(&told)))
            }
            Format::Text => {
                let command = command(args, asks, arguments(evidence, &known));
                output::result(&report::diagnose::answer(&told, &command, output::width()))
            }
            Format::Json => output::result(&output::json(&report::diagnose::Json::new(&told))?),
        }
    };
    if asks {
        for hazard in report::hazards::or_not_computed(hazards.as_ref()) {
            output::note(&output::set(0, &hazard));
        }
        let library = Growing::of(&build, effort, args.quiet);
        let mut bench = ask::Bench::new(library, build.has_led(), &priors, io::stdin().lock());
        bench.ask(&mut evidence);
        let mut answer = bench.answer(&evidence);
        tell(&evidence, &answer)?;
        let is_said = matches!(args.format, Format::Text) && io::stdout().is_terminal();
        while bench.go_on(&answer, &mut evidence, is_said) {
            answer = bench.answer(&evidence);
            tell(&evidence, &answer)?;
        }
    } else {
        let library = kept::library(&build, effort, args.quiet);
        tell(&evidence, &Answer::of(&library, &priors, &evidence))?;
    }
    Ok(Outcome::DONE)
}

/// The sheet that was named, or the one in the session.
fn sheet_of(args: &DiagnoseArgs, recorded: Option<&session::Recorded>) -> Result<Sheet, Failure> {
    match (&args.sheet, recorded) {
        (Some(path), _) => Ok(sheet::read(path)?.0),
        (None, Some(recorded)) => recorded.sheet(),
        (None, None) => Err(Failure::new(
            USAGE,
            "build sheet: missing: expected its file",
        )),
    }
}

const fn effort(args: &DiagnoseArgs) -> Effort {
    if args.quick {
        Effort::QUICK
    } else {
        Effort::USUAL
    }
}

/// The command as it was typed, with all that was read until now.
fn command(args: &DiagnoseArgs, is_asking: bool, readings: Vec<String>) -> Command {
    let mut words = vec!["sagtrace".to_owned(), "diagnose".to_owned()];
    words.extend(args.sheet.as_deref().map(shell_word));
    if let Some(session) = &args.session {
        words.extend(["--session".to_owned(), shell_word(session)]);
    }
    words.extend(readings);
    if let Some(priors) = &args.priors {
        words.extend(["--priors".to_owned(), shell_word(priors)]);
    }
    if args.quick {
        words.push("--quick".to_owned());
    }
    Command { words, is_asking }
}

/// How the sheet has its LED when nothing is wrong.
const fn sound_led(sheet: &Sheet) -> SoundLed {
    match sheet.known.starts {
        None => SoundLed::Usual,
        Some(Shown::Lit) => SoundLed::Lit,
        Some(Shown::Dark) => SoundLed::Dark,
    }
}

/// The coil of a sheet as predicted, with its circuit over the spread of its parts.
fn sets(sheet: &Sheet) -> Result<(Prediction, CircuitSets), Failure> {
    let prediction = sheet.prediction()?;
    let sets = sheet
        .circuit_sets(&prediction)
        .map_err(|why| Failure::no_circuit("circuit", &sheet.name, why))?;
    Ok((prediction, sets))
}

/// Whether the circuit has an LED to look at; so it is where it could not be computed.
fn has_led(sets: &Result<(Prediction, CircuitSets), Failure>) -> bool {
    sets.as_ref().map_or(true, |(_, sets)| {
        let [_, typical, _] = &sets.specs;
        Lamp::of(typical) == Lamp::Led
    })
}

/// The build under test, and whether its own sheet has the primary the wrong way round.
fn build(sheet: &Sheet, (prediction, sets): &(Prediction, CircuitSets)) -> (Build, bool) {
    let [_, typical, _] = &sets.specs;
    let is_reversed = typical.resonator.coupling < 0.0;
    let turns = (sheet.turns(), f64::from(sheet.primary.turns));
    let build = Build::new(
        &sets.specs,
        &sets.drawn,
        prediction,
        sheet.earth.is_floating(),
        turns,
    )
    .with_battery(sheet.battery.kind)
    .with_batteries(sheet.battery.series);
    (build, is_reversed)
}

/// All that was given of readings.
fn evidence(args: &DiagnoseArgs, known: Evidence) -> Result<Evidence, Failure> {
    let mut evidence = known;
    if let Some(path) = &args.answers {
        let answered = answers::parse(&read_text(path)?).map_err(|faults| {
            Failure::new(
                USAGE,
                format!("answers {} have faults:\n{faults}", origin(path)),
            )
            .hint("sagtrace diagnose --help shows how readings are written")
        })?;
        evidence.take(answered);
    }
    for text in &args.readings {
        answers::typed(text, &mut evidence).map_err(|error| {
            Failure::new(USAGE, format!("reading {error}"))
                .hint("write it like -r led=dark, -r current=50mA, -r swapped.led=lit")
        })?;
    }
    if let Some(ran) = args.ran_before {
        evidence.history = ran.into();
    }
    Ok(evidence)
}

fn read_priors(path: Option<&Path>) -> Result<Priors, Failure> {
    let bad = |origin: &str, faults: &dyn std::fmt::Display| {
        Failure::new(USAGE, format!("priors {origin} have faults:\n{faults}"))
            .hint("see the shipped ones with: sagtrace diagnose - --priors -")
    };
    let shipped = Priors::shipped().map_err(|faults| bad("as shipped", &faults))?;
    match path {
        None => Ok(shipped),
        Some(path) => shipped
            .changed_by(&read_text(path)?)
            .map_err(|faults| bad(&origin(path), &faults)),
    }
}

//! `sheet new`: asks for a build in plain words and writes its sheet.

use std::fs::File;
use std::io::{self, BufRead, ErrorKind, Write as _};
use std::path::{Path, PathBuf};

use crate::cli::asked::{Line, Lines, MANNERS};
use crate::cli::exit::{CANNOT_WRITE, Failure, Outcome, USAGE};
use crate::cli::output;
use crate::plain::Shown as _;
use crate::report::interview::{answer, picture, prompt};
use crate::report::layout::fitted;
use crate::session::slug;
use crate::sheet::interview::Interview;

const ABOUT: &str = "Questions about one build, for a coil on a straight former. A cone or a flat spiral begins with: sagtrace sheet template";

pub(super) fn run(file: Option<&Path>) -> Result<Outcome, Failure> {
    if file == Some(Path::new("-")) {
        return Err(Failure::new(
            USAGE,
            "the sheet can't be written to -: expected a file",
        ));
    }
    let say = |words: &str| output::note(&fitted(output::width(), words));
    say(ABOUT);
    say(MANNERS);
    let mut lines = Lines::new(io::stdin().lock());
    let mut interview = Interview::default();
    let (sheet, path) = loop {
        if !ask(&mut interview, &mut lines) {
            output::note("Nothing was written.");
            return Ok(Outcome::DONE);
        }
        // Each answer was judged, so there are none; a faulty sheet is never written.
        let sheet = interview
            .sheet()
            .map_err(|faults| Failure::new(USAGE, format!("the answers have faults:\n{faults}")))?;
        match write(&interview, file, &mut lines)? {
            Some(path) => break (sheet, path),
            None => interview.back(),
        };
    };
    let prediction = sheet.prediction();
    let text = answer(
        &interview,
        &sheet,
        prediction.as_ref(),
        &path,
        output::width(),
    );
    output::result(&text)?;
    Ok(Outcome::DONE)
}

/// Asks all that is open; `false` if somebody ends it.
fn ask<R: BufRead>(interview: &mut Interview, lines: &mut Lines<R>) -> bool {
    let mut part = "";
    let mut drawn = picture(interview);
    while let Some(question) = interview.question() {
        if question.part != part {
            part = question.part;
            output::note(&format!("\n{part}"));
        }
        output::note(&format!(
            "\n{}",
            prompt(interview, question, output::width())
        ));
        loop {
            match lines.answer(question.explains) {
                Line::Over => return false,
                Line::Back if interview.back() => break,
                Line::Back => output::note("This is the first question."),
                Line::Text(line) => match interview.take(&line) {
                    Ok(()) => break,
                    Err(why) => output::note(&fitted(output::width(), &why.to_string())),
                },
            }
        }
        let seen = picture(interview);
        if seen != drawn {
            output::note(&format!("\n{}", seen.as_deref().unwrap_or("").trim_end()));
            drawn = seen;
        }
    }
    true
}

/// Writes the sheet to a file that is not there yet; `None` if somebody goes back.
fn write<R: BufRead>(
    interview: &Interview,
    file: Option<&Path>,
    lines: &mut Lines<R>,
) -> Result<Option<PathBuf>, Failure> {
    let mut path = file.map_or_else(|| named(interview), Path::to_owned);
    let mut was_offered = false;
    loop {
        let written = File::create_new(&path)
            .and_then(|mut file| file.write_all(interview.text().as_bytes()));
        let Err(error) = written else {
            return Ok(Some(path));
        };
        let (code, why) = match error.kind() {
            ErrorKind::AlreadyExists => (USAGE, "it exists and is never overwritten".to_owned()),
            _ => (CANNOT_WRITE, error.to_string()),
        };
        let fault = format!("cannot write {}: {why}", path.shown());
        if was_offered && error.kind() != ErrorKind::AlreadyExists {
            // Nor would the next name in the same folder do.
            return Err(Failure::new(code, fault));
        }
        let free = unused(&path);
        let words = format!("{fault}\nWhich other name?\n  Enter: {}", free.shown());
        output::note(&format!("\n{words}"));
        path = match lines
            .answer("The name of a file that is not there yet, such as my-pillar.toml.")
        {
            Line::Text(line) if line.is_empty() => {
                was_offered = true;
                free
            }
            Line::Text(line) => {
                was_offered = false;
                line.into()
            }
            Line::Back => return Ok(None),
            Line::Over => return Err(Failure::new(code, fault)),
        };
    }
}

/// The build's name as that of a file.
fn named(interview: &Interview) -> PathBuf {
    let sheet = interview.sheet().ok();
    let name = sheet.map_or_else(String::new, |sheet| slug(&sheet.name));
    let name = if name.is_empty() { "build" } else { &name };
    format!("{name}.toml").into()
}

/// The same name with a number behind it that makes it a new one.
fn unused(path: &Path) -> PathBuf {
    let other = |number: u32| {
        let mut name = path.file_stem().unwrap_or_default().to_owned();
        name.push(format!("-{number}.toml"));
        path.with_file_name(name)
    };
    let mut others = (2..).map(other);
    others.find(|other| !other.exists()).unwrap_or_default()
}

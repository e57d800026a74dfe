//! The findings of `record --dry-run`, for people and for programs.

use crate::instrument::Place as Field;
use crate::recording::proof::{Came, Fault, Heard, Note, Proof, Value};
use crate::report::form::{Digits, Form, part};
use crate::transport::Answer;
use crate::units::{self, Unit};

fn seconds(time_s: f64) -> String {
    units::rounded(time_s, Unit::Second, 3)
}

/// The median and the largest.
fn median_and_worst(times_s: &[f64]) -> Option<(f64, f64)> {
    let mut sorted = times_s.to_vec();
    sorted.sort_by(f64::total_cmp);
    let (middle, worst) = (sorted.get(sorted.len() / 2)?, sorted.last()?);
    Some((*middle, *worst))
}

/// Returns the proofs for people.
pub fn proofs_text(proofs: &[Proof]) -> String {
    let lines: Vec<String> = proofs.iter().flat_map(lines).collect();
    lines.join("\n") + "\n"
}

fn lines(proof: &Proof) -> Vec<String> {
    let mut lines = vec![format!(
        "{} by {} at {}",
        proof.label, proof.profile, proof.place
    )];
    if let Some(identity) = &proof.identity {
        lines.push(format!("  identity     {identity}"));
    }
    lines.extend(proof.heard.iter().flat_map(heard_lines));
    if let Some((median_s, worst_s)) = median_and_worst(&proof.round_trips_s) {
        lines.push(format!(
            "  round trip   median {}, worst {}, of {} questions",
            seconds(median_s),
            seconds(worst_s),
            proof.round_trips_s.len()
        ));
    }
    if let Some(rate) = proof.rows_per_s {
        let digits = if rate >= 100.0 { 0 } else { 2 };
        lines.push(match proof.every_s {
            Some(every_s) => format!(
                "  rows         up to {rate:.digits$} a second can be asked for; asked is one every {}",
                units::exact(every_s, Unit::Second)
            ),
            None => format!("  rows         {rate:.digits$} a second came"),
        });
    }
    let notes = proof.notes.iter();
    lines.extend(notes.map(|one| format!("  note         {}", note(one))));
    let faults = proof.faults.iter();
    lines.extend(faults.map(|one| format!("  wrong        {}", fault(one))));
    if proof.faults.is_empty() {
        lines.push("  the profile fits".to_owned());
    }
    lines
}

fn heard_lines(heard: &Heard) -> Vec<String> {
    let came = came(&heard.came);
    let first = match (&heard.question, heard.round_trip_s) {
        (Some(question), Some(time_s)) => {
            format!("  asked        {question}: {came} in {}", seconds(time_s))
        }
        _ => format!("  heard        {came}"),
    };
    let value = |value: &Value| {
        let read = value.value_si.map_or_else(
            || "no number".to_owned(),
            |read| units::exact(read, value.channel.unit()),
        );
        let (column, field) = (value.channel.column(), field(value));
        format!("               {column} ({field}) is {read}")
    };
    std::iter::once(first)
        .chain(heard.values.iter().map(value))
        .collect()
}

/// Returns the bytes that came; those that are no text are escaped.
fn came(came: &Came) -> String {
    match came {
        Came::Line(line) => line.escape_ascii().to_string(),
        Came::Block(bytes) => format!("a block of {bytes} bytes"),
    }
}

/// Where a value stood.
fn field(value: &Value) -> String {
    let input = &value.input;
    match &value.place {
        Field::Answer { position, of, .. } | Field::Block { position, of, .. } => {
            format!("{input}, value {position} of {of}")
        }
        Field::Named(name) => format!("field {name}"),
        Field::Column(position) => format!("column {position}"),
        Field::Shown(_) => "on the display".to_owned(),
        Field::Waveform(_) => format!("{input}, from the waveform"),
    }
}

fn note(note: &Note) -> String {
    match note {
        Note::NamesDiffer(question) => {
            format!("{question} is answered by another name each time")
        }
        Note::Echo => "it sends back what it is asked; the echo is passed over".to_owned(),
    }
}

/// Returns a fault in a sentence.
pub fn fault(fault: &Fault) -> String {
    match fault {
        Fault::NeverInStep {
            ask,
            answer,
            within,
        } => {
            let within = seconds(within.as_secs_f64());
            format!("[resync] {ask} was not answered by {answer} in {within}")
        }
        Fault::NoAnswer {
            question,
            answer,
            within,
            complaints,
            is_answered_else,
        } => {
            let mut text = no_answer(question, answer, within.as_secs_f64());
            for complaint in complaints {
                text = format!("{text}; it complains: {complaint}");
            }
            if *is_answered_else {
                text.push_str(", though it was at another time");
            }
            text
        }
        Fault::Unread {
            question,
            why,
            line,
        } => {
            let line = line.escape_ascii();
            if why.starts_with(question) {
                format!("{why}: {line}")
            } else {
                format!("{question}: {why}: {line}")
            }
        }
        Fault::Complaint(text) => format!("it complains: {text}"),
        Fault::Row { note, .. } => note.to_string(),
        Fault::Slow { row_s, every_s } => format!(
            "a row takes {}, more than the {} from one to the next",
            seconds(*row_s),
            seconds(*every_s)
        ),
        Fault::Impossible {
            value,
            at_least,
            at_most,
        } => {
            let exact = |value_si| units::exact(value_si, value.channel.unit());
            format!(
                "{} ({}) is {}, outside {} to {}",
                value.channel.column(),
                field(value),
                value.value_si.map_or_else(String::new, exact),
                exact(*at_least),
                exact(*at_most)
            )
        }
        Fault::Lost(reason) => reason.clone(),
        Fault::Nothing { is_asked, within } => {
            let what = if *is_asked { "row" } else { "line" };
            format!("no {what} came in {}", seconds(within.as_secs_f64()))
        }
        Fault::NoText => "mostly bytes that are no text: is the speed right?".to_owned(),
        Fault::Garbled { note, line } => format!("{note}: {}", line.escape_ascii()),
        Fault::NoReading { why, line } => {
            format!("no reading came; {why}: {}", line.escape_ascii())
        }
    }
}

/// Returns why the bytes that came are no answer.
fn no_answer(question: &str, answer: &Answer, within_s: f64) -> String {
    let within = seconds(within_s);
    match answer {
        Answer::Overlong(_) => format!("{question}: a line beyond longest_line"),
        Answer::Silence(half) if !half.is_empty() => format!(
            "{question}: no line end came in {within} behind {}",
            half.escape_ascii()
        ),
        Answer::NoLine => format!("{question}: the port failed"),
        _ => format!("{question} was not answered in {within}"),
    }
}

part! {
    /// The proofs for programs.
    pub struct ProofsJson<'p>(proofs: &'p [Proof]) {
        instruments: Vec<ProofPart<'p>> = proofs.iter().map(ProofPart::new).collect(),
    }
}

impl Form for ProofsJson<'_> {
    const DIGITS: Digits = Digits::All;
}

part! {
    struct ProofPart<'p>(proof: &'p Proof) with {
        let times = median_and_worst(&proof.round_trips_s);
    } {
        label: &'p str = &proof.label,
        profile: &'p str = &proof.profile,
        place: String = proof.place.to_string(),
        identity: Option<&'p str> = proof.identity.as_deref(),
        heard: Vec<HeardPart<'p>> = proof.heard.iter().map(HeardPart::new).collect(),
        round_trip_median_s: Option<f64> = times.map(|(median_s, _)| median_s),
        round_trip_worst_s: Option<f64> = times.map(|(_, worst_s)| worst_s),
        rows_per_s: Option<f64> = proof.rows_per_s,
        every_s: Option<f64> = proof.every_s,
        notes: Vec<String> = proof.notes.iter().map(note).collect(),
        faults: Vec<String> = proof.faults.iter().map(fault).collect(),
    }
}

part! {
    struct HeardPart<'p>(heard: &'p Heard) {
        question: Option<&'p str> = heard.question.as_deref(),
        text: String = came(&heard.came),
        round_trip_s: Option<f64> = heard.round_trip_s,
        values: Vec<ValuePart> = heard.values.iter().map(ValuePart::new).collect(),
    }
}

part! {
    struct ValuePart(value: &Value) {
        channel: &'static str = value.channel.column(),
        field: String = field(value),
        value_si: Option<f64> = value.value_si,
    }
}

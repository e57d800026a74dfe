//! The proof from the lines of an instrument that speaks by itself.

use super::found::{Came, Fault, Heard, Proof};
use super::rows::{good_rows, rate, values};
use crate::instrument::Profile;
use crate::reading::{Note, Status};
use crate::recording::hearing::Hearing;

pub(super) fn judge_lines(hearing: &Hearing, profile: &Profile, proof: &mut Proof) {
    let last = good_rows(hearing).last();
    proof.heard.extend(last.map(|last| Heard {
        question: None,
        came: Came::Line(last.text.clone()),
        round_trip_s: None,
        values: values(profile, &last.row.readings, |_| true),
    }));
    proof.rows_per_s = rate(hearing);
    let is_text = |byte: &&u8| byte.is_ascii_graphic() || byte.is_ascii_whitespace();
    let (mut bytes, mut strange) = (0, 0);
    for read in hearing.exchange.received() {
        bytes += read.len();
        strange += read.len() - read.iter().filter(is_text).count();
    }
    if bytes > 0 && strange * 2 > bytes {
        proof.faults.push(Fault::NoText);
    }
    let mut told: Vec<&Note> = Vec::new();
    for heard in &hearing.rows {
        let note = &heard.row.note;
        match heard.row.status {
            Status::Garbled if !told.contains(&note) => {
                told.push(note);
                proof.faults.push(Fault::Garbled {
                    note: note.clone(),
                    line: heard.text.clone(),
                });
            }
            Status::Silent if last.is_none() && proof.faults.is_empty() => {
                proof.faults.push(Fault::Row {
                    question: None,
                    note: note.clone(),
                });
            }
            _ => {}
        }
    }
    // Lines that are none of the profile's make no row.
    if last.is_none()
        && proof.faults.is_empty()
        && let Some((why, line)) = hearing.refused.last().cloned()
    {
        proof.faults.push(Fault::NoReading { why, line });
    }
}

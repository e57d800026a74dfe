//! What the lines of an instrument that speaks by itself prove.

use super::hearing::Hearing;
use super::prove::{Heard, Proof, good_rows, rate, values};
use crate::instrument::{Profile, Reading};
use crate::reading::Status;

pub(super) fn judge_lines(hearing: &Hearing, profile: &Profile, proof: &mut Proof) {
    if let Some((row, text)) = good_rows(hearing).last() {
        let reading = Reading {
            readings: row.readings,
            ..Reading::default()
        };
        proof.heard = vec![Heard {
            question: None,
            text: text.escape_ascii().to_string(),
            round_trip_s: None,
            values: values(profile, &reading, |_| true),
        }];
    }
    proof.rows_per_s = rate(hearing);
    let is_text = |byte: &&u8| byte.is_ascii_graphic() || byte.is_ascii_whitespace();
    let (mut bytes, mut strange) = (0, 0);
    for read in hearing.exchange.received() {
        bytes += read.len();
        strange += read.len() - read.iter().filter(is_text).count();
    }
    if bytes > 0 && strange * 2 > bytes {
        let fault = "mostly bytes that are no text: is the speed right?";
        proof.faults.push(fault.to_owned());
    }
    // Each row that could not be read has its line among the refused, in the same order.
    let unread = hearing.refused.iter();
    let mut unread = unread.filter(|(why, _)| *why == "it could not be read");
    let mut told: Vec<&str> = Vec::new();
    for (row, _) in &hearing.rows {
        match row.status {
            Status::Garbled => {
                let line = unread.next().map_or(&[][..], |(_, line)| line);
                if !told.contains(&&*row.note) {
                    told.push(&row.note);
                    proof
                        .faults
                        .push(format!("{}: {}", row.note, line.escape_ascii()));
                }
            }
            Status::Silent if good_rows(hearing).next().is_none() && proof.faults.is_empty() => {
                proof.faults.push(row.note.clone());
            }
            _ => {}
        }
    }
    // Lines that are none of the profile's make no row.
    if good_rows(hearing).next().is_none()
        && proof.faults.is_empty()
        && let Some((why, line)) = hearing.refused.last()
    {
        proof
            .faults
            .push(format!("no reading came; {why}: {}", line.escape_ascii()));
    }
}

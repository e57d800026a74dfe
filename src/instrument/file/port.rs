//! The `[port]` table of a profile: the line, its levels, where sent and received lines end, and the texts to pass over.

use crate::faults::{Entry, Table};
use crate::instrument::file::keys::{usual, whole};
use crate::instrument::profile::Manner;
use crate::instrument::profile::port::{Handshake, ParityBit, PortRule, SentEnd, WireEnd};

pub(in crate::instrument) fn port(
    table: Option<&Table<'_>>,
    manner: Option<Manner>,
) -> Option<PortRule> {
    let baud = usual(table, "baud", 115_200, |entry| whole(entry, 50, 12_000_000));
    let data_bits = usual(table, "data_bits", 8, |entry| whole(entry, 7, 8));
    let parities = [
        ("none", ParityBit::None),
        ("even", ParityBit::Even),
        ("odd", ParityBit::Odd),
    ];
    let parity = usual(table, "parity", ParityBit::None, |entry| {
        entry.choice(&parities)
    });
    let stop_bits = usual(table, "stop_bits", 1, |entry| whole(entry, 1, 2));
    let handshake = usual(table, "handshake", Handshake::None, handshake);
    let dtr = usual(table, "dtr", true, Entry::flag);
    let rts = usual(table, "rts", true, Entry::flag);
    let sent = [
        ("lf", SentEnd::Lf),
        ("cr", SentEnd::Cr),
        ("crlf", SentEnd::CrLf),
        ("none", SentEnd::None),
    ];
    let sent_end = usual(table, "sent_end", SentEnd::Lf, |entry| entry.choice(&sent));
    let received_end = usual(table, "received_end", WireEnd::Any, received_end);
    let longest_line = usual(table, "longest_line", 4096, |entry| {
        whole(entry, 8, 1_000_000)
    });
    let prompt = usual(table, "prompt", None, |entry| {
        of_asked(entry, manner).and_then(prompt).map(Some)
    });
    let skip = usual(table, "skip", Vec::new(), |entry| {
        of_asked(entry, manner).and_then(skip)
    });
    if let Some(table) = table {
        if handshake == Some(Handshake::Hardware) && rts == Some(false) {
            table.fault(
                "rts = false with handshake = \"hardware\"",
                "the handshake moves RTS itself; leave one of them out",
            );
        }
        table.close();
    }
    Some(PortRule {
        baud: baud?,
        data_bits: data_bits?,
        parity: parity?,
        stop_bits: stop_bits?,
        handshake: handshake?,
        dtr: dtr?,
        rts: rts?,
        sent_end: sent_end?,
        received_end: received_end?,
        longest_line: longest_line?,
        prompt: prompt?,
        skip: skip?,
    })
}

/// An entry that only a profile that asks may have.
fn of_asked<'e, 't>(entry: &'e Entry<'t>, manner: Option<Manner>) -> Option<&'e Entry<'t>> {
    if manner == Some(Manner::Unasked) {
        entry.fault(
            "it is for asked profiles: lines that come unasked have no question before them",
        );
        return None;
    }
    Some(entry)
}

fn handshake(entry: &Entry<'_>) -> Option<Handshake> {
    if entry.says("dtr-dsr") {
        entry.fault(
            "the system's serial drivers have no handshake by DTR and DSR: say \"none\", and DTR, which stays raised, \
             lets the instrument send at any time",
        );
        return None;
    }
    entry.choice(&[
        ("none", Handshake::None),
        ("hardware", Handshake::Hardware),
        ("software", Handshake::Software),
    ])
}

/// A word, or a single byte: itself in quotes, or `"0x03"`.
fn received_end(entry: &Entry<'_>) -> Option<WireEnd> {
    let words = [
        ("any", WireEnd::Any),
        ("lf", WireEnd::Lf),
        ("cr", WireEnd::Cr),
    ];
    if let Some((_, end)) = words.iter().find(|(word, _)| entry.says(word)) {
        return Some(*end);
    }
    let byte = match entry.text()?.as_bytes() {
        [byte] => Some(*byte),
        [b'0', b'x' | b'X', digits @ ..] if digits.len() == 2 => std::str::from_utf8(digits)
            .ok()
            .and_then(|digits| u8::from_str_radix(digits, 16).ok()),
        _ => None,
    };
    match byte {
        Some(b'\n') => Some(WireEnd::Lf),
        Some(b'\r') => Some(WireEnd::Cr),
        Some(byte) if !is_of_number(byte) => Some(WireEnd::Byte(byte)),
        _ => {
            entry.fault(
                "expected one of \"any\", \"lf\", \"cr\", or a single byte that is neither a letter nor in a number, such as \";\" or \"0x03\"",
            );
            None
        }
    }
}

/// Whether a number may hold this byte.
const fn is_of_number(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || matches!(byte, b'+' | b'-' | b'.' | b',' | b' ' | b'#')
}

fn prompt(entry: &Entry<'_>) -> Option<String> {
    let text = entry.text()?;
    let is_plain = text.bytes().all(|byte| !matches!(byte, b'\r' | b'\n'));
    if text.bytes().all(is_of_number) || !is_plain {
        entry.fault(
            "expected a text without line ends, with a sign in it that no number holds, such as \"> \"",
        );
        return None;
    }
    Some(text.to_owned())
}

/// One line or a list of them.
fn skip(entry: &Entry<'_>) -> Option<Vec<String>> {
    let lines = entry.text_or_texts()?;
    if lines.iter().any(|line| line.trim().is_empty()) {
        entry.fault("expected lines with something in them");
        return None;
    }
    Some(lines)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::faults::{self, Faults};

    fn read(text: &str, manner: Manner) -> Result<PortRule, Faults> {
        faults::read(text, |top| port(top.table("port").as_ref(), Some(manner)))
    }

    #[test]
    fn the_ends_levels_and_what_is_passed_over_are_read() {
        let text = "[port]\nrts = false\nsent_end = \"none\"\nreceived_end = \"0x03\"\nprompt = \"CH1> \"\nskip = \"CR:Ack\"\n";
        let port = read(text, Manner::Asked).unwrap();
        assert!(port.dtr && !port.rts);
        assert_eq!(port.sent_end.bytes(), b"");
        assert_eq!(port.received_end, WireEnd::Byte(3));
        assert_eq!(port.prompt.as_deref(), Some("CH1> "));
        assert_eq!(port.skip, ["CR:Ack"]);
        let end = |text: &str| read(&format!("[port]\nreceived_end = {text}\n"), Manner::Asked);
        assert_eq!(end("\";\"").unwrap().received_end, WireEnd::Byte(b';'));
        assert_eq!(end("\"0x0D\"").unwrap().received_end, WireEnd::Cr);
        let usual = read("", Manner::Asked).unwrap();
        assert!(usual.dtr && usual.rts && usual.prompt.is_none() && usual.skip.is_empty());
    }

    #[test]
    fn what_cannot_be_is_refused_with_what_to_do() {
        let text = "[port]\nhandshake = \"dtr-dsr\"\nreceived_end = \"7\"\nprompt = \"+1 \"\nskip = [\"\"]\n";
        insta::assert_snapshot!(read(text, Manner::Asked).unwrap_err(), @r#"
        line 2: port.handshake: found "dtr-dsr": the system's serial drivers have no handshake by DTR and DSR: say "none", and DTR, which stays raised, lets the instrument send at any time
        line 3: port.received_end: found "7": expected one of "any", "lf", "cr", or a single byte that is neither a letter nor in a number, such as ";" or "0x03"
        line 4: port.prompt: found "+1 ": expected a text without line ends, with a sign in it that no number holds, such as "> "
        line 5: port.skip: found [""]: expected lines with something in them
        "#);
        let text = "[port]\nhandshake = \"hardware\"\nrts = false\nreceived_end = \"0xZZ\"\nprompt = \"> \"\n";
        insta::assert_snapshot!(read(text, Manner::Unasked).unwrap_err(), @r#"
        line 1: port: rts = false with handshake = "hardware": the handshake moves RTS itself; leave one of them out
        line 4: port.received_end: found "0xZZ": expected one of "any", "lf", "cr", or a single byte that is neither a letter nor in a number, such as ";" or "0x03"
        line 5: port.prompt: found "> ": it is for asked profiles: lines that come unasked have no question before them
        "#);
    }
}

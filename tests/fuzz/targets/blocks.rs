//! Any bytes as the answer to a question for a block, in pieces of any size, then as a preamble and its samples.
#![no_main]

use libfuzzer_sys::fuzz_target;
use sagtrace::frame::{BlockCut, BlockFrame, BlockReader, LineEnd};
use sagtrace::instrument::{Codes, Origin, Preamble, ScaleRule, ScaleValue, Trace};

const LIMIT: usize = 5000;

fuzz_target!(|data: &[u8]| {
    let [choice, piece, data @ ..] = data else {
        return;
    };
    let cut = BlockCut {
        end: [LineEnd::Lf, LineEnd::Cr, LineEnd::Any][usize::from(*choice) % 3],
        limit: LIMIT,
        known_len: (*choice & 0x40 != 0).then_some(usize::from(*choice & 0x3f)),
        sample_len: 1 + usize::from(*choice >> 7),
        is_text: *piece & 0x80 != 0,
    };
    let read = |pieces: std::slice::Chunks<'_, u8>| {
        let mut reader = BlockReader::new(cut);
        for piece in pieces {
            if let Some((frame, used)) = reader.push(piece) {
                assert!(used <= piece.len());
                return Some(frame);
            }
            reader.announced();
        }
        reader.silence()
    };
    let whole = read(data.chunks(data.len().max(1)));
    let pieces = read(data.chunks(usize::from(*piece) + 1));
    assert_eq!(whole, pieces, "{cut:?}");
    if let Some(BlockFrame::Whole(block)) = whole {
        assert!(block.len() <= LIMIT);
        samples(&block);
    }
    samples(data);
});

/// The first line is a preamble, the rest are samples.
fn samples(data: &[u8]) {
    let at = |position| ScaleValue::at(Origin::Preamble(position));
    let rule = |points| ScaleRule {
        preamble: vec!["P?".to_owned()],
        questions: vec!["Q?".to_owned()],
        points,
        interval: at(2),
        volts_per_code: at(3),
        zero_code: vec![at(4)],
        added_volts: vec![
            at(5),
            ScaleValue::at(Origin::Answer {
                question: 0,
                position: 1,
            }),
        ],
    };
    let (line, block) = match data.iter().position(|byte| *byte == b'\n') {
        Some(at) => (&data[..at], &data[at + 1..]),
        None => (data, &[][..]),
    };
    let text = String::from_utf8_lossy(line);
    let answers = [text.clone().into_owned(), text.into_owned()];
    for points in [Some(at(1)), None] {
        let Ok(preamble) = Preamble::read(&answers, Some(block), &rule(points)) else {
            continue;
        };
        for codes in [
            Codes::Int8,
            Codes::Uint16LowFirst,
            Codes::Real64HighFirst,
            Codes::Ascii,
        ] {
            if let Ok(trace) = Trace::new(preamble, block, codes)
                && !codes.is_text()
            {
                assert_eq!(trace.volts().count(), block.len() / codes.sample_len());
            }
        }
    }
}

//! Bytes in pieces of any size: the lines are those of the same bytes in one piece, and never beyond the limit.
#![no_main]

use libfuzzer_sys::fuzz_target;
use sagtrace::frame::{Frame, LineEnd, Splitter};

const LIMIT: usize = 20;

fuzz_target!(|data: &[u8]| {
    let Some((&choice, data)) = data.split_first() else {
        return;
    };
    let end = [
        LineEnd::Lf,
        LineEnd::Cr,
        LineEnd::Any,
        LineEnd::Counted(14),
    ][usize::from(choice) % 4];
    let piece = usize::from(choice) / 4 + 1;
    let cut = |pieces: std::slice::Chunks<'_, u8>| {
        let mut splitter = Splitter::new(end, LIMIT);
        let mut frames = Vec::new();
        pieces.for_each(|piece| splitter.push(piece, &mut frames));
        (frames, splitter.take_rest())
    };
    let whole = cut(data.chunks(data.len().max(1)));
    assert_eq!(whole, cut(data.chunks(piece)));
    for frame in &whole.0 {
        let (Frame::Line(bytes) | Frame::Overlong(bytes)) = frame;
        assert!((1..=LIMIT).contains(&bytes.len()), "{frame:?}");
        assert!(!bytes.iter().any(|byte| end.ends(*byte)), "{frame:?}");
    }
});

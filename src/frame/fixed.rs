//! Frames of a fixed length without an end, whose bytes say their places: the high nibble counts from 1.

use super::line::Piece;

/// Shows the frames that some bytes complete. `buffer` holds the begin of a frame, or bytes that belong to none if `is_lost`.
/// Those are shown as a line of their own once the next frame begins.
pub(super) fn cut(
    buffer: &mut Vec<u8>,
    is_lost: &mut bool,
    length: u8,
    bytes: &[u8],
    show: &mut impl FnMut(Piece<'_>),
) {
    let length = usize::from(length);
    for &byte in bytes {
        let place = usize::from(byte >> 4);
        let goes_on = !*is_lost && place == buffer.len() + 1;
        if !goes_on && place == 1 {
            flush(buffer, show);
        }
        *is_lost = !goes_on && place != 1;
        buffer.push(byte);
        if buffer.len() >= length {
            flush(buffer, show);
        }
    }
}

fn flush(buffer: &mut Vec<u8>, show: &mut impl FnMut(Piece<'_>)) {
    if !buffer.is_empty() {
        show(Piece::Line(buffer));
        buffer.clear();
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use crate::frame::{Frame, LineEnd, Splitter};

    /// A frame of 14 bytes with these low nibbles.
    fn frame(nibbles: [u8; 14]) -> Vec<u8> {
        (0x10..)
            .step_by(16)
            .zip(nibbles)
            .map(|(place, nibble): (u8, u8)| place | nibble)
            .collect()
    }

    fn split(pieces: &[&[u8]]) -> Vec<Vec<u8>> {
        let mut splitter = Splitter::new(LineEnd::Counted(14), 4096);
        let mut frames = Vec::new();
        for piece in pieces {
            splitter.push(piece, &mut frames);
        }
        let bytes = |frame| match frame {
            Frame::Line(bytes) | Frame::Overlong(bytes) => bytes,
        };
        frames.into_iter().map(bytes).collect()
    }

    #[test]
    fn frames_are_found_again_after_a_lost_byte_and_noise() {
        let one = frame([1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14]);
        let other = frame([0; 14]);
        assert_eq!(
            split(&[&one[6..], &one, &other]),
            [&one[6..], &one[..], &other[..]]
        );
        let torn = [&one[..4], &one[5..], &other[..]].concat();
        assert_eq!(split(&[&torn]), [&torn[..13], &other[..]]);
        // A frame that ends early, and the next, which is whole.
        assert_eq!(split(&[&one[..9], &other]), [&one[..9], &other[..]]);
        // Zeros for ever fill no memory.
        let noise = split(&[&[0; 100]]);
        assert!(noise.iter().all(|piece| piece.len() == 14) && noise.len() == 7);
    }

    proptest! {
        #[test]
        fn every_byte_comes_out_once_whatever_the_pieces(bytes in prop::collection::vec(any::<u8>(), 0..200), cut in 0_usize..200) {
            let (head, tail) = bytes.split_at(cut.min(bytes.len()));
            let whole = split(&[&bytes]);
            prop_assert_eq!(&split(&[head, tail]), &whole);
            let all: Vec<u8> = whole.concat();
            prop_assert!(bytes.starts_with(&all) && bytes.len() - all.len() < 14);
        }
    }
}

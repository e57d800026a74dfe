use super::*;
use proptest::prelude::*;

const CUT: BlockCut = BlockCut {
    end: LineEnd::Any,
    limit: 5000,
    known_len: None,
    sample_len: 1,
    is_text: false,
};

/// Returns the frame that the pieces make, and the number of bytes left behind the answer.
fn read(cut: BlockCut, pieces: &[&[u8]]) -> (Option<BlockFrame>, usize) {
    let mut reader = BlockReader::new(cut);
    let total: usize = pieces.iter().map(|piece| piece.len()).sum();
    let mut before = 0;
    for piece in pieces {
        if let Some((frame, count)) = reader.push(piece) {
            return (Some(frame), total - before - count);
        }
        before += piece.len();
    }
    (reader.silence(), 0)
}

#[expect(
    clippy::unnecessary_wraps,
    reason = "it is compared with what was read"
)]
fn whole(bytes: &[u8]) -> Option<BlockFrame> {
    Some(BlockFrame::Whole(bytes.to_vec()))
}

#[test]
fn a_definite_block_is_as_long_as_it_says_whatever_is_in_it() {
    let data = b"\n\r\n#15\n";
    assert_eq!(read(CUT, &[b"#17\n\r\n#15\n\n"]), (whole(data), 0));
    // `#3512` and zero-padded lengths as instrument guides show them.
    for head in ["#41024", "#501024", "#9000001024"] {
        let answer = [head.as_bytes(), &[b'\n'; 1024], b"\r\n*"].concat();
        assert_eq!(read(CUT, &[&answer]), (whole(&[b'\n'; 1024]), 2), "{head}");
    }
    let lf = BlockCut {
        end: LineEnd::Lf,
        ..CUT
    };
    assert_eq!(read(lf, &[b"#12\r\n\r\nX"]), (whole(b"\r\n"), 1));
    assert_eq!(read(CUT, &[b"#10\n"]), (whole(b""), 0));
}

#[test]
fn a_header_before_the_block_is_passed_over() {
    assert_eq!(read(CUT, &[b":CURVE #12ab\n"]), (whole(b"ab"), 0));
    assert_eq!(read(CUT, &[b" \n#12ab\n"]), (whole(b"ab"), 0));
}

/// The heads as general-purpose instrument libraries' tests have them; the data are short ones of ours.
#[test]
fn a_block_may_stand_behind_a_comma() {
    assert_eq!(read(CUT, &[b"DAT2,#9000000002ab\n"]), (whole(b"ab"), 0));
    assert_eq!(
        read(CUT, &[b"C1:WF ALL,#9000000003a\n", b",\n\n"]),
        (whole(b"a\n,"), 1)
    );
    let text = b"1,#H1F,a#12ab";
    let want = Some(BlockFrame::Line(text.to_vec()));
    assert_eq!(read(CUT, &[&text[..], b"\n"]).0, want);
}

#[test]
fn a_line_of_numbers_may_be_as_long_as_a_block_and_must_have_its_end() {
    let text = BlockCut {
        is_text: true,
        ..CUT
    };
    let line = vec![b'1'; 4990];
    let want = Some(BlockFrame::Line(line.clone()));
    assert_eq!(read(text, &[&line, b"\r\n"]).0, want);
    assert_eq!(read(text, &[&line]).0, None);
    let mut reader = BlockReader::new(text);
    assert_eq!(reader.push(b"{0.1,0.2"), None);
    assert!(reader.is_in_text() && !reader.is_in_block());
    let too_long = vec![b'1'; 5001];
    for cut in [text, CUT] {
        let broken = read(cut, &[&too_long]).0;
        assert!(
            matches!(broken, Some(BlockFrame::Broken(Broken::LongLine, _))),
            "{broken:?}"
        );
    }
    // Numbers may come in a block, too.
    assert_eq!(read(text, &[b"#17{1,2.5}\n"]), (whole(b"{1,2.5}"), 0));
}

#[test]
fn numbers_in_other_bases_and_words_are_lines() {
    for text in [
        "#H1F", "#Q77", "#B101", "#h1f", "1.5", "#", "9.91E37", "a#12bc",
    ] {
        let answer = format!("{text}\r\n");
        let want = Some(BlockFrame::Line(text.as_bytes().to_vec()));
        assert_eq!(read(CUT, &[answer.as_bytes()]).0, want, "{text}");
    }
}

#[test]
fn a_block_without_its_line_end_is_whole_when_nothing_more_comes() {
    assert_eq!(read(CUT, &[b"#12ab"]), (whole(b"ab"), 0));
}

#[test]
fn a_short_block_is_never_whole() {
    assert_eq!(read(CUT, &[b"#210abcdef\n"]), (None, 0));
    let mut reader = BlockReader::new(CUT);
    assert_eq!(reader.push(b"#210abc"), None);
    assert_eq!(reader.announced(), Some(10));
    assert!(reader.is_in_block());
    assert_eq!(reader.take_rest(), b"abc");
    assert!(!reader.is_in_block());
}

#[test]
fn what_can_be_no_block_is_refused_at_once() {
    for (answer, why) in [
        (&b"#9999999999"[..], Broken::LongBlock),
        (b"#4102x", Broken::Length),
        (b"#12abc", Broken::TooMany),
    ] {
        let frame = read(CUT, &[answer]).0;
        assert!(
            matches!(frame, Some(BlockFrame::Broken(found, _)) if found == why),
            "{why}: {frame:?}"
        );
    }
    let endless = [&b"#0"[..], &[7; 6000]].concat();
    assert!(matches!(
        read(CUT, &[&endless]).0,
        Some(BlockFrame::Broken(Broken::LongBlock, _))
    ));
}

#[test]
fn an_indefinite_block_ends_by_its_known_length_or_by_silence() {
    let known = BlockCut {
        known_len: Some(4),
        ..CUT
    };
    assert_eq!(read(known, &[b"#0a\nb\n\nX"]), (whole(b"a\nb\n"), 1));
    assert!(matches!(
        read(known, &[b"#0abcde\n"]).0,
        Some(BlockFrame::Broken(Broken::TooMany, _))
    ));
    assert_eq!(
        read(known, &[b"#0abc\n"]).0,
        whole(b"abc\n"),
        "its end is lost, not its data"
    );
    assert_eq!(read(known, &[b"#0abc"]).0, None);
    assert_eq!(read(CUT, &[b"#0a\nb\n", b"c\n"]), (whole(b"a\nb\nc"), 0));
    assert!(matches!(
        read(CUT, &[b"#0abc"]).0,
        Some(BlockFrame::Broken(..))
    ));
    // At two bytes per sample, a carriage return that fills a sample is data, and one left over is not.
    let pairs = BlockCut {
        sample_len: 2,
        ..CUT
    };
    assert_eq!(read(pairs, &[b"#0abc\r\n"]).0, whole(b"abc\r"));
    assert_eq!(read(pairs, &[b"#0abcd\r\n"]).0, whole(b"abcd"));
}

proptest! {
    #[test]
    fn blocks_do_not_depend_on_how_the_bytes_arrive(
        data in prop::collection::vec(prop_oneof![Just(b'\n'), Just(b'\r'), Just(b'#'), any::<u8>()], 0..300),
        cuts in prop::collection::vec(0_usize..320, 0..8),
        padding in 0_usize..6,
        is_definite in any::<bool>(),
    ) {
        let digits = format!("{:0>width$}", data.len(), width = 3 + padding);
        let head = if is_definite { format!("#{}{digits}", digits.len()) } else { "#0".to_owned() };
        let answer = [head.as_bytes(), &data, b"\r\nnext\n"].concat();
        let cut = BlockCut { known_len: (!is_definite).then_some(data.len()), ..CUT };
        let mut cuts: Vec<usize> = cuts.iter().map(|cut| (*cut).min(answer.len())).collect();
        cuts.sort_unstable();
        let mut pieces = Vec::new();
        let mut at = 0;
        for cut in cuts {
            pieces.push(&answer[at..cut]);
            at = cut;
        }
        pieces.push(&answer[at..]);
        let (frame, left) = read(cut, &pieces);
        prop_assert_eq!(frame, whole(&data));
        // The answer ends at the carriage return; the line feed behind it is an empty line of nobody's.
        prop_assert_eq!(left, "\nnext\n".len());
    }

    #[test]
    fn any_bytes_are_cut_without_a_panic_and_within_bounds(
        bytes in prop::collection::vec(prop_oneof![Just(b'#'), b'0'..=b'9', Just(b'\n'), any::<u8>()], 0..400),
        known_len in prop::option::of(0_usize..300),
        sample_len in 1_usize..3,
    ) {
        let cut = BlockCut { limit: 100, known_len, sample_len, ..CUT };
        let mut reader = BlockReader::new(cut);
        let mut rest = &bytes[..];
        while let Some((frame, count)) = reader.push(rest) {
            prop_assert!(count > 0);
            if let BlockFrame::Whole(data) = frame {
                prop_assert!(data.len() <= 100);
            }
            rest = &rest[count..];
        }
        reader.silence();
    }
}

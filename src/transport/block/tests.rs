use std::time::Duration;

use super::*;
use crate::clock::Deadline;
use crate::frame::{BlockCut, LineEnd};
use crate::transport::way::block_on;
use crate::transport::{Cut, Manner, Request, Speed, keep_bytes, replay};

/// Bytes in pieces, each a read after this time; then silence.
struct Script(Vec<Vec<u8>>, Duration);

fn script(pieces: &[&[u8]], apart: Duration) -> Script {
    Script(pieces.iter().map(|piece| piece.to_vec()).collect(), apart)
}

impl Pipe for Script {
    fn read(&mut self, into: &mut [u8], wait: Duration) -> io::Result<usize> {
        let time = if self.0.is_empty() {
            wait
        } else {
            wait.min(self.1)
        };
        let deadline = Deadline::after(time);
        while !deadline.is_over() {
            deadline.pause(time);
        }
        if self.0.is_empty() {
            return Ok(0);
        }
        let piece = self.0.remove(0);
        into[..piece.len()].copy_from_slice(&piece);
        Ok(piece.len())
    }

    fn write(&mut self, _bytes: &[u8]) -> io::Result<()> {
        Ok(())
    }

    fn waiting(&mut self) -> io::Result<usize> {
        Ok(self.0.len())
    }
}

fn ask() -> BlockAsk {
    BlockAsk {
        bytes: b"CURVE?\n".to_vec(),
        pause: Duration::ZERO,
        timeout: Duration::from_millis(20),
        byte_time: Duration::from_micros(87),
        idle: Duration::from_millis(20),
        cut: BlockCut {
            end: LineEnd::Any,
            limit: 1_000_000,
            known_len: None,
            sample_len: 1,
            is_text: false,
        },
    }
}

fn read_kept(pieces: &[&[u8]], keeper: &Keeper) -> BlockReceived {
    let mut script = script(pieces, Duration::ZERO);
    hear_from(&mut script, &mut ear(b""), keeper)
}

fn hear_from(script: &mut Script, ear: &mut Ear, keeper: &Keeper) -> BlockReceived {
    let (ask, clock) = (ask(), Clock::real());
    block_on(hear_block(script, &ask, ear, &clock, keeper)).unwrap()
}

/// An ear in which this stands when the question is asked.
fn ear(half: &[u8]) -> Ear {
    let mut ear = Ear::new(Cut {
        end: LineEnd::Any,
        limit: 100,
    });
    ear.hear(Clock::real().now(), half);
    ear.question();
    ear
}

fn read_pieces(pieces: &[&[u8]]) -> BlockReceived {
    read_kept(pieces, &Keeper::default())
}

/// Returns the events of a byte log when it is asked for the block.
fn play(path: &std::path::Path) -> Vec<LinkEvent> {
    let cut = Cut {
        end: LineEnd::Any,
        limit: 100,
    };
    let mut link = replay(Manner::Asked, path, cut, Speed::AtOnce)
        .unwrap()
        .link;
    link.send(Request::AskBlock(ask()));
    let runtime = tokio::runtime::Builder::new_current_thread()
        .build()
        .unwrap();
    let mut events = Vec::new();
    loop {
        let event = runtime.block_on(link.next()).unwrap();
        let is_last = matches!(event, LinkEvent::Answers(_) | LinkEvent::Ended);
        events.push(event);
        if is_last {
            return events;
        }
    }
}

#[test]
fn a_kept_answer_is_the_same_at_the_same_moment_when_it_is_played() {
    let dir = tempfile::tempdir().unwrap();
    let answers: [&[&[u8]]; 8] = [
        &[b"CURVE?\r\n#1", b"2a", b"\n\nlate\n"],
        &[b"CURVE?\n#12\x00\xff\n"],
        &[b"#0a\n", b"b\n"],
        &[b"#12ab"],
        &[b"#15abc"],
        &[b"9.91E37\n"],
        &[b"9.9"],
        &[],
    ];
    for (index, pieces) in answers.iter().enumerate() {
        let path = dir.path().join(format!("{index}.log"));
        let (keeper, unwritten) = keep_bytes();
        let kept = unwritten.write_to(&path).unwrap();
        let clock = Clock::real();
        keeper.note(clock.now(), &Entry::Open);
        keeper.sent(clock.now(), &ask().bytes);
        let received = read_kept(pieces, &keeper);
        // Bytes that come after the wait are no part of the answer.
        keeper.received(clock.now(), b"too late\n");
        keeper.sent(clock.now(), b"*OPC?\n");
        drop(keeper);
        kept.finish();
        let mut want = received.aside(&mut ear(b""));
        want.push(LinkEvent::Answers(vec![(received.stamp, received.answer)]));
        assert_eq!(play(&path), want, "{pieces:?}");
    }
}

#[test]
fn the_echo_is_passed_over_and_what_follows_the_block_is_handed_on() {
    let received = read_pieces(&[b"CURVE?\r\n#1", b"2a", b"\n\nlate\n"]);
    assert_eq!(received.answer, Answer::Block(b"a\n".to_vec()));
    assert_eq!(received.rest, b"late\n");
}

#[test]
fn the_end_of_what_began_before_the_question_is_no_part_of_the_block() {
    // From below: a copy of the preamble in packets; its end lost; its end and the block in one read; the end never comes.
    for (pieces, want, begun) in [
        (
            &[&b"2,5"[..], b"\n", b"#12a\n\n"][..],
            Answer::Block(b"a\n".to_vec()),
            &b"1;2,5"[..],
        ),
        (&[b"#12ab\n"], Answer::Block(b"ab".to_vec()), b"1;"),
        (
            &[b"2,5\r\n#12ab\n"],
            Answer::Block(b"ab".to_vec()),
            b"1;2,5",
        ),
        (&[b"2,5"], Answer::Silence(b"1;2,5".to_vec()), b""),
    ] {
        let mut script = script(pieces, Duration::ZERO);
        let mut ear = ear(b"1;");
        let received = hear_from(&mut script, &mut ear, &Keeper::default());
        let aside = received.aside(&mut ear);
        assert_eq!(received.answer, want, "{pieces:?}");
        match aside.as_slice() {
            [LinkEvent::Begun(_, bytes)] => assert_eq!(bytes, begun),
            _ => assert_eq!((aside.len(), begun.len()), (0, 0)),
        }
    }
}

#[test]
fn an_indefinite_block_and_one_without_an_end_are_whole_when_the_line_is_quiet() {
    assert_eq!(
        read_pieces(&[b"#0a\n", b"b\n"]).answer,
        Answer::Block(b"a\nb".to_vec())
    );
    assert_eq!(
        read_pieces(&[b"#12ab"]).answer,
        Answer::Block(b"ab".to_vec())
    );
}

#[test]
fn silence_a_line_and_a_block_that_breaks_off_are_three_things() {
    assert_eq!(read_pieces(&[]).answer, Answer::Silence(Vec::new()));
    assert_eq!(
        read_pieces(&[b"9.91"]).answer,
        Answer::Silence(b"9.91".to_vec())
    );
    assert_eq!(
        read_pieces(&[b"#H1F\n"]).answer,
        Answer::Line(b"#H1F".to_vec())
    );
    assert_eq!(
        read_pieces(&[b"#15abc"]).answer,
        Answer::Broken(Broken::Off, b"abc".to_vec())
    );
}

/// Ten pieces, 100 ms apart, where an answer must begin within 500 ms.
#[test]
fn a_line_of_numbers_is_waited_for_as_long_as_it_goes_on() {
    let mut asked = ask();
    asked.cut.is_text = true;
    asked.timeout = Duration::from_millis(500);
    let read = |pieces: &[&[u8]]| {
        let mut slow = script(pieces, Duration::from_millis(100));
        let (clock, keeper) = (Clock::real(), Keeper::default());
        block_on(hear_block(
            &mut slow,
            &asked,
            &mut ear(b""),
            &clock,
            &keeper,
        ))
        .unwrap()
    };
    let mut pieces = vec![&b"0.1,"[..]; 10];
    assert_eq!(
        read(&pieces).answer,
        Answer::Broken(Broken::Off, b"0.1,".repeat(10))
    );
    pieces.push(b"0.2\n");
    let line = [b"0.1,".repeat(10), b"0.2".to_vec()].concat();
    assert_eq!(read(&pieces).answer, Answer::Line(line));
}

/// 8N1 has ten bits per byte: 100 000 bytes at 115 200 Bd take 8.68 s (own sum). Half as long again and a second is 14.02 s.
#[test]
fn the_time_for_a_block_grows_with_its_length() {
    let ask = BlockAsk {
        byte_time: Duration::from_secs_f64(10.0 / 115_200.0),
        ..ask()
    };
    assert!((ask.patience(100_000).as_secs_f64() - 14.02).abs() < 0.01);
    assert!((ask.patience(0).as_secs_f64() - 1.0).abs() < 1e-9);
}

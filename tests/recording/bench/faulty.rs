//! Instruments with faults that are scripted.

use super::*;

#[test]
fn a_silent_instrument_answers_again_when_the_fault_is_used_up() {
    let device = device(
        Scpi::counter(),
        1.0,
        vec![Fault::first(2, FaultKind::Silent)],
    );
    let mut port = open(&device.path());
    port.write_all(b"*OPC?\n*OPC?\n").unwrap();
    port.set_timeout(SILENCE).unwrap();
    let (error, before) = read_line(&mut port).unwrap_err();
    assert_eq!((error.kind(), before.len()), (io::ErrorKind::TimedOut, 0));
    port.set_timeout(PATIENCE).unwrap();
    assert_eq!(ask(&mut port, "*OPC?"), "1");
}

#[test]
fn a_late_answer_holds_up_the_next_and_stays_in_order() {
    let late = Duration::from_millis(300);
    // The wait is real time, whatever the world's clock does.
    let device = device(
        Scpi::counter(),
        240.0,
        vec![Fault::first(1, FaultKind::Late(late))],
    );
    let mut port = open(&device.path());
    let clock = Clock::real();
    port.write_all(b"MEAS:VOLT?\n*OPC?\n").unwrap();
    assert!((number(&read_line(&mut port).unwrap()) - 9.0).abs() < 0.5);
    let waited_s = clock.elapsed_s();
    assert!(waited_s >= 0.3, "{waited_s} s");
    assert_eq!(read_line(&mut port).unwrap(), "1");
}

#[test]
fn marks_for_no_reading_and_wrong_bytes_are_sent_as_scripted() {
    let said = |word: &str| Fault::first(1, FaultKind::Says(word.to_owned()));
    for (fault, want) in [
        (said("9.9E37"), "9.9E37"),
        (said("9.91E37"), "9.91E37"),
        (said("nan"), "nan"),
    ] {
        let device = device(Scpi::counter(), 1.0, vec![fault]);
        let mut port = open(&device.path());
        assert_eq!(ask(&mut port, "MEAS:FREQ?"), want);
        assert!((number(&ask(&mut port, "MEAS:FREQ?")) - 6_231_234.5).abs() < 50.0);
    }
    let device = device(
        Scpi::counter(),
        1.0,
        vec![Fault::first(1, FaultKind::Garbage)],
    );
    let mut port = open(&device.path());
    let mut garbage = [0; 15];
    port.write_all(b"MEAS:FREQ?\n").unwrap();
    port.read_exact(&mut garbage).unwrap();
    assert!(
        !garbage.is_ascii() && garbage.ends_with(b"\n"),
        "{garbage:?}"
    );
}

#[test]
fn a_board_that_starts_anew_says_its_banner_at_each_opening() {
    let banner = FaultKind::Banner("board 1 ready\r\n".to_owned());
    let device = device(Scpi::counter(), 1.0, vec![Fault::always(banner)]);
    for _ in 0..2 {
        let mut port = open(&device.path());
        assert_eq!(read_line(&mut port).unwrap(), "board 1 ready\r");
        assert_eq!(ask(&mut port, "*OPC?"), "1");
        close(port);
    }
}

#[test]
fn an_echo_comes_before_the_answer() {
    let device = device(Scpi::counter(), 1.0, vec![Fault::always(FaultKind::Echo)]);
    let mut port = open(&device.path());
    assert_eq!(ask(&mut port, "*OPC?"), "*OPC?");
    assert_eq!(read_line(&mut port).unwrap(), "1");
}

#[test]
fn a_line_that_vanishes_breaks_and_comes_back_under_its_link() {
    let dir = tempfile::tempdir().unwrap();
    let link = dir.path().join("counter");
    // From 60 s to 120 s of the world: a quarter of a second.
    let gone = Fault::between(60.0, 120.0, FaultKind::Vanish);
    let device = device(Scpi::counter(), 240.0, vec![gone]);
    device.link(&link).unwrap();
    let mut port = open(&link);
    let mut answers = 0;
    let error = loop {
        if let Err(error) = port.write_all(b"*OPC?\n") {
            break error;
        }
        match read_line(&mut port) {
            Ok(answer) => assert_eq!(answer, "1"),
            Err((error, _)) => break error,
        }
        answers += 1;
        pause(Duration::from_millis(10));
    };
    assert_eq!(error.kind(), io::ErrorKind::BrokenPipe);
    assert!(answers > 0);
    wait_until("the link is gone", || fs::symlink_metadata(&link).is_err());
    drop(port);
    wait_until("the link is back", || link.exists());
    assert_eq!(ask(&mut open(&link), "*OPC?"), "1");
    assert!(device.trouble().is_none());
}

//! A port that is lost and found: under another name, in another socket, with another device in its place.

use std::io;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::time::Duration;

use sagtrace::bench::lines::Lines;
use sagtrace::bench::pty::Device;
use sagtrace::clock::{Clock, Deadline};
use sagtrace::frame::LineEnd;
use sagtrace::transport::{
    Cut, Link, LinkEvent, Manner, OpenError, Pipe, SerialSettings, link, serial_opener,
};
use serialport::{DataBits, FlowControl, Parity, StopBits};

use crate::common::pause;
use crate::line::device;
use crate::machine::{Machine, Usb};

const CUT: Cut = Cut {
    end: LineEnd::Any,
    limit: 4096,
};

/// An adapter with a number of its own.
const NUMBERED: Usb = Usb {
    ids: ("c0de", "0001"),
    serial_number: Some("A17"),
    socket: "1-1",
};

/// An adapter as the cheap ones are.
const PLAIN: Usb = Usb {
    ids: ("c0de", "0002"),
    serial_number: None,
    socket: "1-2",
};

const SETTINGS: SerialSettings = SerialSettings {
    baud: 115_200,
    data_bits: DataBits::Eight,
    parity: Parity::None,
    stop_bits: StopBits::One,
    flow: FlowControl::None,
    dtr: true,
    rts: true,
};

fn board() -> Device {
    device(Lines::plain(0.02).unwrap(), Vec::new())
}

/// A link to a port of a made-up machine, and what it reports.
struct Bench {
    link: Link,
    runtime: tokio::runtime::Runtime,
}

impl Bench {
    fn open(machine: &Machine, path: &Path) -> Self {
        let path = path.to_string_lossy().into_owned();
        let mut opener = serial_opener(path, SETTINGS, machine.places());
        let pipe = opener().unwrap();
        Self::of(link(Manner::Unasked, pipe, opener, CUT, Clock::real()).unwrap())
    }

    fn of(link: Link) -> Self {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .unwrap();
        Self { link, runtime }
    }

    /// The next event that is as wanted; lines before it are passed over, other news is not.
    fn wait_for(&mut self, what: &str, is_it: impl Fn(&LinkEvent) -> bool) -> LinkEvent {
        let patience = Deadline::after(Duration::from_mins(2));
        while !patience.is_over() {
            match self.next(patience.left()) {
                Some(event) if is_it(&event) => return event,
                Some(LinkEvent::Lines(..) | LinkEvent::Open(_)) => {}
                other => panic!("{other:?} instead of {what}"),
            }
        }
        panic!("waited for ever: {what}");
    }

    fn next(&mut self, wait: Duration) -> Option<LinkEvent> {
        self.runtime
            .block_on(async { tokio::time::timeout(wait, self.link.next()).await })
            .ok()
            .flatten()
    }

    fn lines(&mut self) {
        self.wait_for("lines", |event| matches!(event, LinkEvent::Lines(..)));
    }

    fn lost(&mut self) {
        self.wait_for("a loss", |event| matches!(event, LinkEvent::Lost(..)));
    }

    fn back(&mut self) {
        self.wait_for("the return", |event| matches!(event, LinkEvent::Back(_)));
    }

    fn told(&mut self) -> String {
        let event = self.wait_for("news", |event| matches!(event, LinkEvent::Told(_)));
        let LinkEvent::Told(text) = event else {
            unreachable!("it was waited for");
        };
        text
    }

    /// Nothing comes back for long enough that a port that was taken would have spoken.
    fn stays_away(&mut self) {
        let patience = Deadline::after(Duration::from_millis(2500));
        while !patience.is_over() {
            let event = self.next(patience.left());
            assert!(event.is_none(), "{event:?} from a port that is not ours");
        }
    }
}

/// The words with the machine's folder cut off.
fn short(text: &str) -> String {
    text.split(' ')
        .map(|word| word.rsplit('/').next().unwrap_or(""))
        .collect::<Vec<_>>()
        .join(" ")
}

#[test]
fn a_port_that_comes_back_under_another_name_is_found_by_its_number_in_any_socket() {
    let (machine, first) = (Machine::new(), board());
    machine.plug("ttyUSB0", &first.path(), NUMBERED);
    let mut bench = Bench::open(&machine, &machine.dev("ttyUSB0"));
    bench.lines();
    machine.pull("ttyUSB0");
    drop(first);
    bench.lost();
    let (second, other) = (board(), board());
    // Its old name is another's by now, and one like it but for the number is there too.
    machine.plug("ttyUSB0", &other.path(), PLAIN);
    let sister = Usb {
        serial_number: Some("A18"),
        socket: "1-4",
        ..NUMBERED
    };
    machine.plug("ttyUSB1", &other.path(), sister);
    let moved = Usb {
        socket: "1-3",
        ..NUMBERED
    };
    machine.plug("ttyUSB2", &second.path(), moved);
    insta::assert_snapshot!(short(&bench.told()), @"found again as ttyUSB2");
    bench.back();
    bench.lines();
    assert_eq!(other.counts().openings, 0);
    // And home again.
    machine.pull("ttyUSB2");
    machine.pull("ttyUSB0");
    drop(second);
    bench.lost();
    let third = board();
    machine.plug("ttyUSB0", &third.path(), NUMBERED);
    insta::assert_snapshot!(short(&bench.told()), @"found again as ttyUSB0");
    bench.back();
    bench.lines();
}

#[test]
fn a_port_without_a_number_is_found_by_its_socket_alone() {
    let (machine, first) = (Machine::new(), board());
    machine.plug("ttyUSB0", &first.path(), PLAIN);
    let mut bench = Bench::open(&machine, &machine.dev("ttyUSB0"));
    bench.lines();
    machine.pull("ttyUSB0");
    drop(first);
    bench.lost();
    // One of its kind in another socket may be anybody's.
    let (second, other) = (board(), board());
    let elsewhere = Usb {
        socket: "1-9",
        ..PLAIN
    };
    machine.plug("ttyUSB0", &other.path(), elsewhere);
    insta::assert_snapshot!(short(&bench.told()), @"ttyUSB0 is another now: USB device c0de:0002 without serial number in socket 1-9, waiting for USB device c0de:0002 without serial number in socket 1-2");
    bench.stays_away();
    assert_eq!(other.counts().openings, 0);
    machine.plug("ttyUSB1", &second.path(), PLAIN);
    insta::assert_snapshot!(short(&bench.told()), @"found again as ttyUSB1");
    bench.back();
    bench.lines();
}

#[test]
fn another_device_under_the_old_name_is_never_opened() {
    let (machine, first) = (Machine::new(), board());
    machine.plug("ttyACM0", &first.path(), NUMBERED);
    let mut bench = Bench::open(&machine, &machine.dev("ttyACM0"));
    bench.lines();
    machine.pull("ttyACM0");
    drop(first);
    bench.lost();
    let other = board();
    let sister = Usb {
        serial_number: Some("A18"),
        ..NUMBERED
    };
    machine.plug("ttyACM0", &other.path(), sister);
    insta::assert_snapshot!(short(&bench.told()), @"ttyACM0 is another now: USB device c0de:0001 with serial number A18, waiting for USB device c0de:0001 with serial number A17");
    bench.stays_away();
    assert_eq!(other.counts().openings, 0);
}

#[test]
fn of_twins_with_one_number_the_socket_tells_which() {
    let (machine, first, twin) = (Machine::new(), board(), board());
    machine.plug("ttyUSB0", &first.path(), NUMBERED);
    let other = Usb {
        socket: "1-7",
        ..NUMBERED
    };
    machine.plug("ttyUSB1", &twin.path(), other);
    let mut bench = Bench::open(&machine, &machine.dev("ttyUSB0"));
    bench.lines();
    machine.pull("ttyUSB0");
    drop(first);
    bench.lost();
    bench.stays_away();
    assert_eq!(twin.counts().openings, 0);
    let again = board();
    machine.plug("ttyUSB2", &again.path(), NUMBERED);
    insta::assert_snapshot!(short(&bench.told()), @"found again as ttyUSB2");
    bench.back();
    bench.lines();
}

#[test]
fn where_the_system_tells_nothing_of_the_plug_its_link_stands_for_it() {
    let (machine, first) = (Machine::new(), board());
    // Two names without an entry among the terminals.
    std::os::unix::fs::symlink(first.path(), machine.dev("ttyX0")).unwrap();
    machine.link("usb-club_counter_A17-if00", &machine.dev("ttyX0"));
    let mut bench = Bench::open(&machine, &machine.dev("ttyX0"));
    bench.lines();
    machine.unlink("usb-club_counter_A17-if00");
    std::fs::remove_file(machine.dev("ttyX0")).unwrap();
    drop(first);
    bench.lost();
    let (second, other) = (board(), board());
    std::os::unix::fs::symlink(other.path(), machine.dev("ttyX0")).unwrap();
    assert!(bench.told().contains("a device of another kind"));
    bench.stays_away();
    std::os::unix::fs::symlink(second.path(), machine.dev("ttyX1")).unwrap();
    machine.link("usb-club_counter_A17-if00", &machine.dev("ttyX1"));
    insta::assert_snapshot!(short(&bench.told()), @"found again as usb-club_counter_A17-if00");
    bench.back();
    bench.lines();
    assert_eq!(other.counts().openings, 0);
}

#[test]
fn a_port_that_was_named_by_its_link_is_followed_and_checked() {
    let (machine, first) = (Machine::new(), board());
    machine.plug("ttyUSB0", &first.path(), NUMBERED);
    machine.link("usb-A17", Path::new("../../ttyUSB0"));
    let named = machine.places().by_id.join("usb-A17");
    let mut bench = Bench::open(&machine, &named);
    bench.lines();
    machine.pull("ttyUSB0");
    machine.unlink("usb-A17");
    drop(first);
    bench.lost();
    let second = board();
    machine.plug("ttyUSB5", &second.path(), NUMBERED);
    machine.link("usb-A17", Path::new("../../ttyUSB5"));
    // The name it was given leads to it, which is no news; before the link is there, the port's own name is.
    let event = bench.wait_for("the return", |event| {
        matches!(event, LinkEvent::Back(_) | LinkEvent::Told(_))
    });
    if matches!(event, LinkEvent::Told(_)) {
        bench.back();
    }
    bench.lines();
}

#[test]
fn a_port_that_is_busy_when_it_comes_back_is_tried_until_it_is_free() {
    let (machine, first) = (Machine::new(), board());
    machine.plug("ttyUSB0", &first.path(), NUMBERED);
    let mut bench = Bench::open(&machine, &machine.dev("ttyUSB0"));
    bench.lines();
    machine.pull("ttyUSB0");
    drop(first);
    bench.lost();
    let second = board();
    // A modem manager looks at it for some seconds.
    let held = serialport::new(second.path().to_string_lossy(), 57_600)
        .open()
        .unwrap();
    machine.plug("ttyUSB0", &second.path(), NUMBERED);
    bench.stays_away();
    drop(held);
    let clock = Clock::real();
    bench.back();
    // Tried each half second and at most half as long again.
    assert!(clock.elapsed_s() < 3.0, "{} s", clock.elapsed_s());
    bench.lines();
}

/// A line that fails at once and notices when it is closed.
struct Failing(Arc<AtomicBool>);

impl Pipe for Failing {
    fn read(&mut self, _: &mut [u8], _: Duration) -> io::Result<usize> {
        Err(io::ErrorKind::BrokenPipe.into())
    }

    fn write(&mut self, _: &[u8]) -> io::Result<()> {
        Err(io::ErrorKind::BrokenPipe.into())
    }

    fn waiting(&mut self) -> io::Result<usize> {
        Err(io::ErrorKind::BrokenPipe.into())
    }
}

impl Drop for Failing {
    fn drop(&mut self) {
        self.0.store(false, Ordering::SeqCst);
    }
}

#[test]
fn the_old_handle_is_closed_before_the_port_is_looked_for() {
    for manner in [Manner::Asked, Manner::Unasked] {
        let is_open = Arc::new(AtomicBool::new(true));
        let held = Arc::clone(&is_open);
        let (report, seen) = std::sync::mpsc::channel();
        let opener = Box::new(move || {
            report.send(held.load(Ordering::SeqCst)).unwrap();
            Err(OpenError::Busy {
                path: "it".to_owned(),
            })
        });
        let pipe = Box::new(Failing(Arc::clone(&is_open)));
        let near = link(manner, pipe, opener, CUT, Clock::real()).unwrap();
        let was_open = seen.recv_timeout(Duration::from_mins(1));
        assert_eq!(was_open, Ok(false), "{manner:?}");
        drop(near);
    }
}

#[test]
fn a_port_that_flaps_is_tried_less_and_less_often() {
    let opened = Arc::new(AtomicU32::new(0));
    let count = Arc::clone(&opened);
    let failing = || Box::new(Failing(Arc::new(AtomicBool::new(true))));
    let opener = Box::new(move || {
        count.fetch_add(1, Ordering::SeqCst);
        Ok(failing() as Box<dyn Pipe>)
    });
    let near = link(Manner::Unasked, failing(), opener, CUT, Clock::real()).unwrap();
    let mut bench = Bench::of(near);
    let clock = Clock::real();
    while clock.elapsed_s() < 8.0 {
        bench.next(Duration::from_millis(100));
    }
    // Waits of 0.25, 0.5, 1, 2 and 4 s, each by half shorter or longer: five at most in 8 s, and without growth 32.
    let times = opened.load(Ordering::SeqCst);
    assert!((2..=6).contains(&times), "opened {times} times in 8 s");
    drop(bench);
    let before = opened.load(Ordering::SeqCst);
    pause(Duration::from_secs(6));
    assert!(
        opened.load(Ordering::SeqCst) <= before + 1,
        "the thread outlives its link"
    );
}

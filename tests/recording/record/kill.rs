//! What a kill at any moment leaves, and lines as fast as they are taken.

use super::*;

/// A board that says lines as fast as they are taken and loses none. Each says its number twice, so that no two halves
/// make a line.
struct Torrent {
    port: String,
    master: Arc<rustix::fd::OwnedFd>,
    ends: Arc<AtomicBool>,
    thread: Option<std::thread::JoinHandle<()>>,
}

impl Torrent {
    fn new() -> Self {
        let (master, port) = pseudo_terminal();
        rustix::io::ioctl_fionbio(&master, true).unwrap();
        Self {
            port,
            master: Arc::new(master),
            ends: Arc::default(),
            thread: None,
        }
    }

    /// What the line of this number holds, in hertz and volts.
    fn numbers(line: u32) -> (f64, f64) {
        (f64::from(1_000_000 + line), f64::from(line % 977 + 1))
    }

    /// Begins to speak: only once the other side has set the line.
    fn begin(&mut self) {
        let (master, ends) = (Arc::clone(&self.master), Arc::clone(&self.ends));
        self.thread = Some(std::thread::spawn(move || {
            let (mut number, mut left) = (0, Vec::new());
            while !ends.load(Ordering::Relaxed) {
                while left.len() < 16_384 {
                    let (hz, v) = Self::numbers(number);
                    left.extend(format!("f={hz}Hz v={v}V\n").into_bytes());
                    number += 1;
                }
                match rustix::io::write(&*master, &left) {
                    Ok(count) => drop(left.drain(..count)),
                    Err(_) => pause(std::time::Duration::from_millis(1)),
                }
            }
        }));
    }
}

impl Drop for Torrent {
    fn drop(&mut self) {
        self.ends.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            thread.join().unwrap();
        }
    }
}

/// Kills a recording of lines as fast as they come, and holds what was printed against what is there. Every other time the
/// lines come in blocks whose rows fill several pages of the file in one write.
fn kill_at_random(times: u64) {
    let mut chance = fastrand::Rng::with_seed(20261125);
    let (mut largest, mut torn) = (0, 0);
    for round in 0..times {
        let is_in_blocks = round % 2 == 1;
        let desk = Desk::new();
        let board = device(Lines::plain(0.002).unwrap(), Vec::new());
        let mut torrent = Torrent::new();
        let address = if is_in_blocks {
            format!("quick-plain-lines@serial:{}", torrent.port)
        } else {
            address("quick-plain-lines", &board)
        };
        let mut running = desk.start(&["-i", &address]);
        running.wait_for("the header", |line| line.starts_with("timestamp,"));
        if is_in_blocks {
            torrent.begin();
        }
        pause(std::time::Duration::from_micros(chance.u64(0..60_000)));
        running.signal(Signal::KILL);
        let ended = running.end();
        assert_eq!(ended.code, None);
        let file = desk.read("out/samples.csv");
        // The last line may be torn: it was printed after it was written.
        let printed = ended.stdout.trim_end_matches('\n');
        assert!(
            file.starts_with(printed),
            "round {round}: a row that was shown is not there"
        );
        assert_eq!(session(&desk).meta.state, State::Recording);
        if !is_in_blocks {
            // The reader of the desk refuses a torn or spoilt line.
            assert_eq!(desk.rows().len(), file.lines().count() - 1, "round {round}");
            continue;
        }
        // A write of several pages can be cut within a row, and that row is not to be taken.
        let whole = file.rsplit_once('\n').map_or("", |(whole, _)| whole);
        torn += u32::from(!file.ends_with('\n'));
        let mut reader = session(&desk).rows().unwrap();
        let (mut rows, mut chunk) = (Vec::new(), Vec::new());
        while reader.next_chunk(&mut chunk).unwrap() {
            rows.append(&mut chunk);
        }
        assert_eq!(rows.len(), whole.lines().count() - 1, "round {round}");
        assert_eq!(reader.skipped().bad_lines, 0, "round {round}");
        assert_eq!(reader.skipped().torn_end, !file.ends_with('\n'));
        // The first line is dropped, as it may be a fragment; from then on every line is a row, in order.
        for (number, row) in (1..).zip(&rows) {
            // A counting line of numbers may be doubted, and is kept all the same.
            let value = |channel| row.readings.get(channel).unwrap();
            let read = (value(Channel::FrequencyHz), value(Channel::BatteryV));
            assert_eq!(read, Torrent::numbers(number), "round {round}");
        }
        // Rows of one read stand a microsecond apart.
        let one_read = |pair: &[Row]| pair[1].stamp.elapsed_us - pair[0].stamp.elapsed_us == 1;
        let (mut run, mut lines) = (0, file.lines().skip(1).map(|line| line.len() + 1));
        for pair in rows.windows(2) {
            let bytes = lines.next().unwrap();
            run = if one_read(pair) { run + bytes } else { 0 };
            largest = largest.max(run);
        }
    }
    assert!(largest > 8192, "the largest write was of {largest} bytes");
    eprintln!("{times} kills: {torn} left a torn row, the largest write had {largest} bytes");
}

#[test]
fn a_killed_recording_keeps_every_row_that_was_shown() {
    kill_at_random(20);
}

#[test]
#[cfg(feature = "long")]
fn a_recording_killed_a_thousand_times_keeps_every_row_that_was_shown() {
    kill_at_random(1000);
}

#[test]
fn a_torrent_that_is_faster_than_the_recording_is_recorded_whole() {
    let desk = Desk::new();
    let mut torrent = Torrent::new();
    let address = format!("plain-lines@serial:{}", torrent.port);
    let args = ["record", "--quiet", "-o", "out", "-i", &address];
    let running = Running::start(&mut desk.command(&args));
    let table = desk.path().join("out/samples.csv");
    let has_grown_to = |bytes| std::fs::metadata(&table).is_ok_and(|file| file.len() > bytes);
    wait_until("the header", || has_grown_to(10));
    torrent.begin();
    // A row of these, with the note of its doubtful voltage, is about 107 bytes.
    wait_until("many rows", || has_grown_to(7_000_000));
    assert_eq!(running.interrupt().code, Some(0));
    let rows = desk.rows();
    assert!(rows.len() > 60_000, "{} rows", rows.len());
    // A machine that held the recording up for long makes it say that lines may be missing, which these never are.
    let lines = rows.iter().filter(|row| row.status != Status::Gap);
    // The first line is dropped, as it may be a fragment; no other is.
    for (number, row) in (1..).zip(lines) {
        let value = |channel| row.readings.get(channel).unwrap();
        let read = (value(Channel::FrequencyHz), value(Channel::BatteryV));
        assert_eq!(read, Torrent::numbers(number));
    }
}

//! Marks: a line that the person types while recording, stamped when Enter is pressed.

use std::io::{self, BufRead};
use std::time::Duration;

use tokio::sync::mpsc;

use crate::clock::{Clock, Deadline};
use crate::reading::Stamp;

/// Bytes of a mark that are kept; a stream that is no text at all may come without any end.
const LONGEST_MARK: usize = 2000;

/// How late a scripted mark may notice that the recording has ended.
const LONGEST_WAIT: Duration = Duration::from_mins(1);

/// The person's notes meanwhile, each with its moment.
pub type Marks = mpsc::Receiver<(Stamp, String)>;

/// Reads marks, a line each, on a thread of its own, which is never joined: a read from a terminal can't be interrupted.
///
/// The end of the input ends marking, not recording.
pub fn read_marks(mut input: impl BufRead + Send + 'static, clock: Clock) -> Marks {
    let (sender, receiver) = mpsc::channel(16);
    on_thread(move || {
        let mut line = Vec::new();
        while read_line(&mut input, &mut line).unwrap_or(false) {
            let stamp = clock.now();
            let text = words(&line);
            if !text.is_empty() && sender.blocking_send((stamp, text)).is_err() {
                return;
            }
        }
    });
    receiver
}

/// Without the thread there are no marks, and the recording is worth more than they are.
fn on_thread(work: impl FnOnce() + Send + 'static) {
    std::thread::Builder::new()
        .name("marks".to_owned())
        .stack_size(64 * 1024)
        .spawn(work)
        .ok();
}

/// Reads up to the end of a line or of the input, keeping a little more than a mark may have. It returns whether anything came.
fn read_line(input: &mut impl BufRead, line: &mut Vec<u8>) -> io::Result<bool> {
    line.clear();
    let mut came = false;
    loop {
        let bytes = match input.fill_buf() {
            Ok(bytes) => bytes,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
            Err(error) => return Err(error),
        };
        if bytes.is_empty() {
            return Ok(came);
        }
        came = true;
        let end = bytes.iter().position(|byte| *byte == b'\n');
        let text = bytes.get(..end.unwrap_or(bytes.len())).unwrap_or(bytes);
        let room = (LONGEST_MARK + 1).saturating_sub(line.len());
        line.extend(text.iter().take(room));
        let used = text.len() + usize::from(end.is_some());
        input.consume(used);
        if end.is_some() {
            return Ok(true);
        }
    }
}

/// A mark's text; of one that is too long, the beginning.
fn words(line: &[u8]) -> String {
    let kept = line.get(..LONGEST_MARK).unwrap_or(line);
    let text = String::from_utf8_lossy(kept).trim().to_owned();
    if kept.len() < line.len() {
        text + " …"
    } else {
        text
    }
}

/// Marks of an invented helper: each at its second of the clock.
pub fn scripted(clock: Clock, script: Vec<(f64, String)>) -> Marks {
    let (sender, receiver) = mpsc::channel(16);
    on_thread(move || {
        for (at_s, text) in script {
            while clock.elapsed_s() < at_s {
                let left =
                    Duration::from_secs_f64((at_s - clock.elapsed_s()).max(0.0)).min(LONGEST_WAIT);
                Deadline::after(clock.real_duration(left)).pause(LONGEST_WAIT);
                if sender.is_closed() {
                    return;
                }
            }
            if sender.blocking_send((clock.now(), text)).is_err() {
                return;
            }
        }
    });
    receiver
}

#[cfg(test)]
mod tests {
    use std::io::{BufReader, Read as _};

    use super::*;

    fn all(input: &mut impl BufRead) -> (Vec<String>, usize) {
        let (mut line, mut texts) = (Vec::new(), Vec::new());
        while read_line(input, &mut line).unwrap() {
            texts.push(words(&line));
        }
        (texts, line.capacity())
    }

    #[test]
    fn each_line_is_a_mark_and_so_is_the_last_without_an_end() {
        let mut input = BufReader::with_capacity(3, "one\n\n two \r\nthree".as_bytes());
        assert_eq!(all(&mut input).0, ["one", "", "two", "three"]);
        assert_eq!(all(&mut "".as_bytes()).0, [""; 0]);
    }

    #[test]
    fn a_line_without_end_takes_no_more_room_than_a_mark() {
        let endless = io::repeat(b'x').take(50_000_000);
        let mut input = BufReader::new(endless.chain("\nnext\n".as_bytes()));
        let (texts, capacity) = all(&mut input);
        assert_eq!(texts, ["x".repeat(LONGEST_MARK) + " …", "next".to_owned()]);
        assert!(capacity < 4 * LONGEST_MARK, "{capacity} bytes are held");
    }

    #[test]
    fn a_mark_of_just_the_longest_length_is_whole() {
        let text = "y".repeat(LONGEST_MARK);
        assert_eq!(all(&mut format!("{text}\n").as_bytes()).0, [text]);
    }
}

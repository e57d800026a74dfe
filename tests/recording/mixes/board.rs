//! A board that speaks by itself, on a bad day.

use std::fmt::Write as _;
use std::time::Duration;

use fastrand::Rng;
use sagtrace::clock::Clock;
use tokio::time::sleep;

use super::truth::{Mark, Run, Said, Truth};
use super::wire::Wire;

/// How a board of one mix behaves.
pub(crate) struct Board<'a, W> {
    pub(crate) wire: &'a mut W,
    pub(crate) clock: &'a Clock,
    pub(crate) chance: Rng,
    /// Lines and troubles.
    pub(crate) items: usize,
    /// The mean time between them.
    pub(crate) pace: Duration,
    /// The number of items in a hundred that go wrong.
    pub(crate) trouble: u32,
    pub(crate) truth: Truth,
    /// Bytes to be sent.
    pending: Vec<u8>,
    serial: u64,
    checksums: bool,
    ends: &'static [&'static str],
}

impl<'a, W: Wire> Board<'a, W> {
    pub(crate) fn new(wire: &'a mut W, clock: &'a Clock, seed: u64, items: usize) -> Self {
        let mut chance = Rng::with_seed(seed);
        let ends: [&'static [&'static str]; 4] = [
            &["\n"],
            &["\r\n"],
            &["\r"],
            &["\n", "\r\n", "\r", "\n\r", "\n\n"],
        ];
        Self {
            wire,
            clock,
            items,
            pace: Duration::from_millis(chance.u64(2..15)),
            trouble: chance.u32(10..45),
            truth: Truth::default(),
            pending: Vec::new(),
            serial: 0,
            checksums: chance.u8(0..4) > 0,
            ends: ends[chance.usize(0..4)],
            chance,
        }
    }

    pub(crate) async fn speak(mut self) -> Truth {
        self.truth.run();
        if self.chance.bool() {
            self.opening();
        }
        for _ in 0..self.items {
            if self.chance.u32(0..100) < self.trouble {
                self.go_wrong().await;
            } else {
                let line = self.line();
                self.put(&line.0, Some(line.1));
                self.end();
            }
            if self.chance.u8(0..3) > 0 {
                self.flush().await;
            }
        }
        self.end();
        self.flush().await;
        self.truth
    }

    /// A thousand lines a second, ten at a time, and one trouble in five hundred.
    pub(crate) async fn at_full_pace(mut self, lasts: Duration) -> Truth {
        self.truth.run();
        self.pace = Duration::ZERO;
        let deadline = self.clock.deadline(lasts);
        let mut ticks = tokio::time::interval(Duration::from_millis(10));
        while !deadline.is_over() {
            ticks.tick().await;
            for _ in 0..10 {
                if self.chance.u16(0..500) == 0 {
                    self.go_wrong().await;
                } else {
                    let line = self.line();
                    self.put(&line.0, Some(line.1));
                    self.end();
                }
            }
            self.flush().await;
        }
        self.end();
        self.flush().await;
        self.truth
    }

    /// A good line and what a row must say of it.
    fn line(&mut self) -> (String, Said) {
        self.serial += 1;
        // Millihertz that grow with each line, so that no two say the same.
        let millihertz = 6_200_000_000 + self.serial * 1_003;
        let millivolts = 9_999 - self.serial % 5_000;
        let mut says = Said {
            frequency: decimals(millihertz, 3),
            battery: decimals(millivolts, 3),
        };
        let frequency = match self.chance.u8(0..8) {
            0 => format!(
                "{}.{:06}kHz",
                millihertz / 1_000_000,
                millihertz % 1_000_000
            ),
            1 => format!("{}.{:03}Hz", millihertz / 1000, millihertz % 1000),
            2 => format!(
                "+{}.{:09}E+06Hz",
                millihertz / 1_000_000_000,
                millihertz % 1_000_000_000
            ),
            3 if self.chance.bool() => {
                says.frequency.clear();
                self.truth.count("no signal");
                "none".to_owned()
            }
            4 if self.chance.bool() => {
                says.frequency.clear();
                self.truth.count("9.9E37");
                "9.9E37Hz".to_owned()
            }
            _ => format!(
                "{}.{:09}MHz",
                millihertz / 1_000_000_000,
                millihertz % 1_000_000_000
            ),
        };
        let battery = if self.chance.bool() {
            format!("{millivolts}mV")
        } else {
            format!("{}.{:03}V", millivolts / 1000, millivolts % 1000)
        };
        let mut text = format!("f={frequency} v={battery}");
        if self.checksums {
            let sum = text.bytes().fold(0_u8, |sum, byte| sum ^ byte);
            write!(text, " *{sum:02X}").unwrap();
        }
        (text, says)
    }

    fn put(&mut self, text: &str, says: Option<Said>) {
        let from = self.truth.run().bytes.len() + self.pending.len();
        self.pending.extend_from_slice(text.as_bytes());
        if let Some(says) = says {
            self.truth.run().marks.push(Mark {
                from,
                to: from + text.len(),
                says,
                asked_us: 0,
                calm: true,
            });
        }
    }

    fn end(&mut self) {
        let end = self.ends[self.chance.usize(0..self.ends.len())];
        self.put(end, None);
    }

    /// Sends what is pending: whole, or in pieces that come apart.
    async fn flush(&mut self) {
        let mut bytes = std::mem::take(&mut self.pending);
        while !bytes.is_empty() {
            let rest = if self.chance.u8(0..3) == 0 && bytes.len() > 1 {
                self.truth.count("split read");
                bytes.split_off(self.chance.usize(1..bytes.len()))
            } else {
                Vec::new()
            };
            let now_us = self.clock.now().elapsed_us;
            self.wire.send(&bytes).await;
            self.truth.run().sent(&bytes, now_us);
            if !self.pace.is_zero() {
                sleep(self.pace.mul_f64(2.0 * self.chance.f64())).await;
            }
            bytes = rest;
        }
    }

    /// What a board may say when its port is opened.
    fn opening(&mut self) {
        match self.chance.u8(0..3) {
            0 => {
                // The end of a line that began before.
                let (line, _) = self.line();
                let cut = self.chance.usize(1..line.len());
                self.truth.count("fragment");
                self.put(&line[cut..], None);
                self.end();
            }
            1 => {
                self.truth.count("banner");
                for text in ["glow pillar board 3", "clock 16 MHz, f=auto", "ready"] {
                    self.put(text, None);
                    self.end();
                }
            }
            _ => {
                self.truth.count("garbage");
                let bytes = self.garbage(30);
                self.pending.extend_from_slice(&bytes);
                self.end();
            }
        }
    }

    fn garbage(&mut self, most: usize) -> Vec<u8> {
        let count = self.chance.usize(1..=most);
        std::iter::repeat_with(|| self.chance.u8(..))
            .take(count)
            .collect()
    }

    async fn go_wrong(&mut self) {
        let kind = self.chance.u8(0..14);
        let (line, says) = self.line();
        match kind {
            0 => {
                self.truth.count("flipped byte");
                let mut bytes = line.into_bytes();
                let place = self.chance.usize(0..bytes.len());
                // Without a checksum only a byte that is no text shows.
                bytes[place] = if self.checksums {
                    bytes[place] ^ (1 << self.chance.u8(0..8))
                } else {
                    0xff
                };
                self.pending.extend_from_slice(&bytes);
                self.end();
            }
            1 => {
                self.truth.count("lost bytes");
                let (from, count) = (self.chance.usize(0..line.len()), self.chance.usize(1..6));
                let to = (from + count).min(line.len());
                self.pending.extend_from_slice(&line.as_bytes()[..from]);
                self.pending.extend_from_slice(&line.as_bytes()[to..]);
                self.end();
            }
            2 => {
                self.truth.count("glued lines");
                self.put(&line, None);
            }
            3 => {
                self.truth.count("garbage");
                let bytes = self.garbage(40);
                self.pending.extend_from_slice(&bytes);
                if self.chance.bool() {
                    self.end();
                }
            }
            4 => {
                self.truth.count("NUL and 0xFF");
                let byte = if self.chance.bool() { 0 } else { 0xff };
                let count = self.chance.usize(1..20);
                self.pending.extend(std::iter::repeat_n(byte, count));
                if self.chance.bool() {
                    self.end();
                }
            }
            5 => {
                self.truth.count("overlong line");
                let count = self.chance.usize(4097..9000);
                self.pending.extend(std::iter::repeat_n(b'7', count));
                self.end();
            }
            6 => {
                self.truth.count("doubled line");
                self.put(&line, Some(says.clone()));
                self.end();
                self.put(&line, Some(says));
                self.end();
            }
            7 => {
                self.truth.count("error answer");
                self.put("-113,\"Undefined header;f=6.1MHz\"", None);
                self.end();
            }
            8 => {
                self.truth.count("echo");
                self.put("MEAS:FREQ?", None);
                self.end();
            }
            9 => self.opening(),
            10 | 11 => {
                self.flush().await;
                self.truth.count("silence");
                let time = self.chance.u64(100..1400);
                if time > 600 {
                    self.truth.silences += 1;
                }
                sleep(Duration::from_millis(time)).await;
            }
            12 if self.chance.u8(0..3) == 0 => {
                self.truth.count("disconnect");
                // In mid-line as often as not.
                if self.chance.bool() {
                    let cut = self.chance.usize(1..line.len());
                    self.put(&line[..cut], None);
                }
                self.flush().await;
                self.wire.unplug().await;
                sleep(Duration::from_millis(self.chance.u64(1..1500))).await;
                self.wire.plug().await;
                self.truth.runs.push(Run::default());
                self.opening();
            }
            _ => {
                self.truth.count("split line");
                let cut = self.chance.usize(1..line.len());
                let from = self.truth.run().bytes.len() + self.pending.len();
                self.put(&line[..cut], None);
                self.flush().await;
                sleep(Duration::from_millis(self.chance.u64(0..300))).await;
                self.put(&line[cut..], None);
                self.truth.run().marks.push(Mark {
                    from,
                    to: from + line.len(),
                    says,
                    asked_us: 0,
                    calm: true,
                });
                self.end();
            }
        }
    }
}

/// A whole number of thousandths as the shortest decimal.
pub(crate) fn decimals(thousandths: u64, places: usize) -> String {
    let text = format!("{}.{:0places$}", thousandths / 1000, thousandths % 1000);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

//! A counter that answers when it is asked, on a bad day.

use std::collections::VecDeque;
use std::time::Duration;

use fastrand::Rng;
use sagtrace::clock::Clock;
use tokio::time::sleep;

use super::board::decimals;
use super::truth::{Mark, PROMPT, Run, Said, Truth};
use super::wire::Wire;

/// Storms come at the start of each period and last this long, in microseconds.
const PERIOD_US: i64 = 4_000_000;
const STORM_US: i64 = 1_500_000;

/// This time after the last trouble nothing excuses the loss of an answer.
const CALM_AFTER_US: i64 = 1_500_000;

/// How late the answer to a synchronising question may be: later than the recorder's time-out.
const SYNC_LATEST_MS: u64 = 900;

/// How a counter of one mix behaves.
pub(crate) struct Counter<'a, W> {
    pub(crate) wire: &'a mut W,
    pub(crate) clock: &'a Clock,
    pub(crate) chance: Rng,
    pub(crate) lasts: Duration,
    /// The number of answers in a hundred that go wrong in a storm.
    pub(crate) trouble: u32,
    /// How late an answer may be, in milliseconds: without a synchronising question one that comes after time-out and
    /// quiet can't be told from the next.
    pub(crate) latest_ms: u64,
    pub(crate) truth: Truth,
    heard: Vec<u8>,
    serial: u64,
    echo: bool,
    /// A prompt follows each answer.
    has_prompt: bool,
    end: &'static str,
    complaints: VecDeque<&'static str>,
    troubled_us: i64,
    is_gone: bool,
}

impl<'a, W: Wire> Counter<'a, W> {
    pub(crate) fn new(wire: &'a mut W, clock: &'a Clock, seed: u64, lasts: Duration) -> Self {
        let mut chance = Rng::with_seed(seed);
        Self {
            wire,
            clock,
            lasts,
            trouble: chance.u32(20..80),
            latest_ms: 1200,
            truth: Truth::default(),
            heard: Vec::new(),
            serial: 0,
            echo: chance.u8(0..4) == 0,
            has_prompt: seed % 4 == 2,
            end: ["\n", "\r\n", "\r"][chance.usize(0..3)],
            complaints: VecDeque::new(),
            troubled_us: 0,
            is_gone: false,
            chance,
        }
    }

    pub(crate) async fn answer(mut self) -> Truth {
        let deadline = self.clock.deadline(self.lasts);
        self.truth.run();
        while !deadline.is_over() {
            let Some(bytes) = self.wire.heard(deadline.left()).await else {
                continue;
            };
            self.heard.extend_from_slice(&bytes);
            while let Some(end) = self.heard.iter().position(|byte| *byte == b'\n') {
                let line: Vec<u8> = self.heard.drain(..=end).collect();
                let question = String::from_utf8_lossy(&line).trim().to_owned();
                self.take(&question).await;
            }
        }
        self.truth
    }

    fn now_us(&self) -> i64 {
        self.clock.now().elapsed_us
    }

    async fn send(&mut self, bytes: &[u8]) {
        if self.is_gone {
            return;
        }
        let now_us = self.now_us();
        self.wire.send(bytes).await;
        self.truth.run().sent(bytes, now_us);
    }

    async fn say(&mut self, text: &str) {
        let line = format!("{text}{}", self.end);
        self.send(line.as_bytes()).await;
    }

    fn trouble(&mut self, kind: &'static str) {
        self.truth.count(kind);
        self.troubled_us = self.now_us();
    }

    async fn take(&mut self, question: &str) {
        let asked_us = self.now_us();
        self.is_gone = false;
        if self.echo {
            self.truth.count("echo");
            self.say(question).await;
        }
        // A measurement takes its time.
        sleep(Duration::from_micros(self.chance.u64(500..5000))).await;
        self.reply(question, asked_us).await;
        if self.has_prompt && !self.is_gone {
            self.truth.count("prompt");
            self.send(PROMPT.as_bytes()).await;
        }
        if self.is_gone {
            self.heard.clear();
            sleep(Duration::from_millis(self.chance.u64(1..2500))).await;
            self.wire.plug().await;
            self.truth.runs.push(Run::default());
            self.troubled_us = self.now_us();
        }
    }

    async fn reply(&mut self, question: &str, asked_us: i64) {
        match question {
            "*CLS" => self.complaints.clear(),
            "*IDN?" => self.say("glow pillar,counter,0,1").await,
            "*OPC?" => match self.bad(12) {
                true if self.chance.bool() => self.trouble("silence"),
                true => {
                    self.trouble("late answer");
                    sleep(Duration::from_millis(self.chance.u64(100..SYNC_LATEST_MS))).await;
                    self.say("1").await;
                }
                false => self.say("1").await,
            },
            "SYST:ERR?" => {
                let text = self.complaints.pop_front().unwrap_or("0,\"No error\"");
                self.say(text).await;
            }
            "MEAS:FREQ?" | "MEAS:VOLT:DC?" => {
                self.serial += 1;
                let (text, says) = self.measured(question);
                if self.bad(100) {
                    self.go_wrong(&text, says, asked_us).await;
                } else {
                    self.clean(&text, says, asked_us).await;
                }
            }
            _ => self.complaints.push_back("-113,\"Undefined header;what?\""),
        }
    }

    /// Whether this goes wrong: in a storm alone, so that there is something to be recorded between.
    fn bad(&mut self, share: u32) -> bool {
        let is_storm = self.now_us() % PERIOD_US < STORM_US;
        is_storm && self.chance.u32(0..10_000) < self.trouble * share
    }

    fn measured(&self, question: &str) -> (String, Said) {
        let mut says = Said::default();
        let text = if question == "MEAS:FREQ?" {
            let millihertz = 6_200_000_000 + self.serial * 1_003;
            says.frequency = decimals(millihertz, 3);
            format!(
                "+{}.{:09}E+06",
                millihertz / 1_000_000_000,
                millihertz % 1_000_000_000
            )
        } else {
            let microvolts = 9_000_000 - self.serial;
            let text = format!("{}.{:06}", microvolts / 1_000_000, microvolts % 1_000_000);
            let shortest = text.trim_end_matches('0').trim_end_matches('.');
            shortest.clone_into(&mut says.battery);
            text
        };
        (text, says)
    }

    /// Marks what is sent next as what is meant.
    fn mark(&mut self, text: &str, says: Said, asked_us: i64) {
        let calm = asked_us - self.troubled_us > CALM_AFTER_US;
        let from = self.truth.run().bytes.len();
        let to = from + text.len();
        self.truth.run().marks.push(Mark {
            from,
            to,
            says,
            asked_us,
            calm,
        });
    }

    async fn clean(&mut self, text: &str, says: Said, asked_us: i64) {
        self.mark(text, says, asked_us);
        if self.chance.u8(0..4) == 0 && text.len() > 1 {
            self.truth.count("split read");
            let cut = self.chance.usize(1..text.len());
            self.send(&text.as_bytes()[..cut]).await;
            sleep(Duration::from_millis(self.chance.u64(0..20))).await;
            let rest = format!("{}{}", &text[cut..], self.end);
            self.send(rest.as_bytes()).await;
        } else {
            self.say(text).await;
        }
    }

    async fn go_wrong(&mut self, text: &str, says: Said, asked_us: i64) {
        match self.chance.u8(0..17) {
            0 => {
                self.trouble("silence");
                if self.chance.bool() {
                    self.complaints
                        .push_back("-222,\"Data out of range;too much\"");
                }
            }
            1 | 2 => {
                self.trouble("late answer");
                sleep(Duration::from_millis(self.chance.u64(50..self.latest_ms))).await;
                self.clean(text, says, asked_us).await;
            }
            3 => {
                self.trouble("garbage before the answer");
                let bytes = self.garbage(30);
                self.send(&bytes).await;
                if self.chance.bool() {
                    self.send(b"\r\n").await;
                }
                self.clean(text, says, asked_us).await;
            }
            4 => {
                self.trouble("garbage");
                let mut bytes = self.garbage(60);
                bytes.extend_from_slice(self.end.as_bytes());
                self.send(&bytes).await;
            }
            5 => {
                self.trouble("NUL and 0xFF");
                let byte = if self.chance.bool() { 0 } else { 0xff };
                let count = self.chance.usize(1..20);
                self.send(&vec![byte; count]).await;
                self.clean(text, says, asked_us).await;
            }
            6 => {
                self.trouble("banner");
                self.say("glow pillar counter, ready").await;
                if self.chance.bool() {
                    self.clean(text, says, asked_us).await;
                }
            }
            15 => self.twice_in_packets(text, says, asked_us).await,
            16 => {
                self.trouble("cut off");
                let cut = self.chance.usize(1..text.len());
                self.send(&text.as_bytes()[..cut]).await;
            }
            7 => {
                self.trouble("doubled line");
                // In one piece: a copy that comes after the next question is one to it, and nobody could tell.
                self.mark(text, says, asked_us);
                let twice = format!("{text}{}{text}{}", self.end, self.end);
                self.send(twice.as_bytes()).await;
            }
            8 => {
                self.trouble("error answer");
                self.say("-113,\"Undefined header;no\"").await;
            }
            9 => {
                self.trouble("9.9E37");
                let word = ["9.9E37", "-9.9E37", "+9.91000000E+37", "nan"][self.chance.usize(0..4)];
                self.say(word).await;
            }
            10 => {
                self.trouble("overlong line");
                let count = self.chance.usize(4097..9000);
                let mut bytes = vec![b'7'; count];
                bytes.extend_from_slice(self.end.as_bytes());
                self.send(&bytes).await;
            }
            11 => {
                self.trouble("glued lines");
                // Its end is lost, and the next answer comes right behind it.
                self.send(text.as_bytes()).await;
            }
            12 => {
                self.trouble("lost bytes");
                let (from, count) = (self.chance.usize(0..text.len()), self.chance.usize(1..6));
                let to = (from + count).min(text.len());
                let rest = format!("{}{}", &text[..from], &text[to..]);
                self.say(&rest).await;
            }
            13 => {
                self.trouble("fragment");
                let cut = self.chance.usize(1..text.len());
                self.send(&text.as_bytes()[..cut]).await;
                sleep(Duration::from_millis(self.chance.u64(100..self.latest_ms))).await;
                let rest = format!("{}{}", &text[cut..], self.end);
                self.send(rest.as_bytes()).await;
            }
            _ => {
                self.trouble("disconnect");
                match self.chance.u8(0..3) {
                    0 => self.clean(text, says, asked_us).await,
                    1 => self.send(&text.as_bytes()[..text.len() / 2]).await,
                    _ => {}
                }
                self.wire.unplug().await;
                self.is_gone = true;
            }
        }
        self.troubled_us = self.now_us();
    }

    /// The answer and a copy of it, in packets of five bytes as some adapters hand them on.
    async fn twice_in_packets(&mut self, text: &str, says: Said, asked_us: i64) {
        const PACKET: usize = 5;
        let once = format!("{text}{}", self.end);
        if once.len().is_multiple_of(PACKET) {
            // The copy would begin in a packet of its own, after the next question: nobody could tell.
            return self.clean(text, says, asked_us).await;
        }
        self.trouble("doubled in packets");
        self.mark(text, says, asked_us);
        let from = self.truth.run().bytes.len() + once.len();
        self.truth.run().copies.push((from, from + once.len()));
        let gap = Duration::from_micros(self.chance.u64(0..4000));
        for packet in once.repeat(2).as_bytes().chunks(PACKET) {
            self.send(packet).await;
            sleep(gap).await;
        }
    }

    fn garbage(&mut self, most: usize) -> Vec<u8> {
        let count = self.chance.usize(1..=most);
        std::iter::repeat_with(|| self.chance.u8(..))
            .take(count)
            .collect()
    }
}

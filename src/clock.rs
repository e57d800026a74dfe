//! The only place where time is read.
//!
//! Elapsed time counts through suspend where the system can measure it (`CLOCK_BOOTTIME` on Linux) and never runs backwards; wall
//! time is for people. A scaled clock runs both faster by a factor, for the virtual bench.

use std::sync::Arc;
use std::time::Duration;

use crate::reading::Stamp;

/// A source of stamps, cheap to copy to every thread that needs one.
#[derive(Debug, Clone)]
pub struct Clock(Arc<Inner>);

#[derive(Debug)]
struct Inner {
    /// Where elapsed time comes from.
    ticks: Ticks,
    /// Raw monotonic time when the clock was made.
    origin: Duration,
    /// Wall time then, in milliseconds.
    origin_wall_ms: i64,
    /// How many seconds this clock shows for one that passes.
    scale: f64,
}

/// Where elapsed time comes from.
#[derive(Debug, Clone, Copy)]
enum Ticks {
    /// The system's monotonic time.
    System,
    /// The asynchronous runtime's, since this moment.
    Runtime(tokio::time::Instant),
}

impl Ticks {
    fn passed(self) -> Duration {
        match self {
            Self::System => monotonic(),
            Self::Runtime(since) => tokio::time::Instant::now().saturating_duration_since(since),
        }
    }
}

impl Clock {
    /// Returns the real time, elapsed from now.
    pub fn real() -> Self {
        Self::scaled(1.0)
    }

    /// Creates a clock on which `scale` seconds pass in each real one, elapsed from now.
    pub fn scaled(scale: f64) -> Self {
        Self(Arc::new(Inner {
            ticks: Ticks::System,
            origin: monotonic(),
            origin_wall_ms: wall_ms(),
            scale,
        }))
    }

    /// Returns the time of the asynchronous runtime this is called in, elapsed from now; a test may pause that.
    pub fn of_runtime() -> Self {
        Self(Arc::new(Inner {
            ticks: Ticks::Runtime(tokio::time::Instant::now()),
            origin: Duration::ZERO,
            origin_wall_ms: wall_ms(),
            scale: 1.0,
        }))
    }

    /// Returns how many seconds this clock shows for one that passes.
    pub fn scale(&self) -> f64 {
        self.0.scale
    }

    /// Returns the moment.
    pub fn now(&self) -> Stamp {
        let elapsed_us = self.elapsed_us();
        // Other clocks show a wall time of their own: that of their start plus the time elapsed on them.
        let wall_ms = if self.is_real() && matches!(self.0.ticks, Ticks::System) {
            wall_ms()
        } else {
            self.0.origin_wall_ms + elapsed_us.div_euclid(1000)
        };
        Stamp {
            elapsed_us,
            wall_ms,
        }
    }

    /// Returns the seconds elapsed on this clock.
    pub fn elapsed_s(&self) -> f64 {
        self.elapsed_us() as f64 / 1e6
    }

    /// Returns the real time that passes while this clock shows `shown` seconds.
    pub fn real_duration(&self, shown: Duration) -> Duration {
        if self.is_real() {
            shown
        } else {
            shown.div_f64(self.0.scale)
        }
    }

    /// Returns the moment this far from now, in real time or the clock's substitute for it.
    pub fn deadline(&self, wait: Duration) -> Deadline {
        let ticks = self.0.ticks;
        Deadline {
            ticks,
            at: ticks.passed() + wait,
        }
    }

    fn is_real(&self) -> bool {
        self.0.scale.to_bits() == 1.0_f64.to_bits()
    }

    fn elapsed_us(&self) -> i64 {
        let passed = self.0.ticks.passed().saturating_sub(self.0.origin);
        let shown = if self.is_real() {
            passed
        } else {
            passed.mul_f64(self.0.scale)
        };
        i64::try_from(shown.as_micros()).unwrap_or(i64::MAX)
    }
}

/// A moment of real time to wait for, whatever a scaled clock shows.
#[derive(Debug, Clone, Copy)]
pub struct Deadline {
    ticks: Ticks,
    at: Duration,
}

impl Deadline {
    /// Returns the moment this far from now.
    pub fn after(wait: Duration) -> Self {
        Self {
            ticks: Ticks::System,
            at: monotonic() + wait,
        }
    }

    /// Returns the time left until then; zero once it has passed.
    pub fn left(self) -> Duration {
        self.at.saturating_sub(self.ticks.passed())
    }

    /// Returns the later of two moments.
    #[must_use]
    pub fn later(self, other: Self) -> Self {
        if other.at > self.at { other } else { self }
    }

    /// Whether it has passed.
    pub fn is_over(self) -> bool {
        self.left().is_zero()
    }

    /// Waits, at most until then. For threads that have nothing else to wait for.
    pub fn pause(self, wait: Duration) {
        std::thread::park_timeout(wait.min(self.left()));
    }
}

/// Returns the time since an arbitrary fixed moment, counting through suspend.
#[cfg(target_os = "linux")]
fn monotonic() -> Duration {
    let time = rustix::time::clock_gettime(rustix::time::ClockId::Boottime);
    Duration::new(
        u64::try_from(time.tv_sec).unwrap_or(0),
        u32::try_from(time.tv_nsec).unwrap_or(0),
    )
}

/// Returns the time since the program first asked; suspend counts or not as the system has it.
#[cfg(not(target_os = "linux"))]
fn monotonic() -> Duration {
    use std::sync::OnceLock;
    use std::time::Instant;
    static START: OnceLock<Instant> = OnceLock::new();
    #[expect(clippy::disallowed_methods, reason = "this file is where time is read")]
    START.get_or_init(Instant::now).elapsed()
}

#[expect(clippy::disallowed_methods, reason = "this file is where time is read")]
fn wall_ms() -> i64 {
    chrono::Utc::now().timestamp_millis()
}

/// Writes RFC 3339 in UTC with milliseconds, `2026-01-31T19:04:05.678Z`.
pub fn rfc3339_ms(wall_ms: i64) -> String {
    chrono::DateTime::from_timestamp_millis(wall_ms)
        .unwrap_or_default()
        .to_rfc3339_opts(chrono::SecondsFormat::Millis, true)
}

/// Reads an RFC 3339 time as milliseconds since 1970-01-01 UTC; `None` if it is not one.
pub fn parse_rfc3339_ms(text: &str) -> Option<i64> {
    chrono::DateTime::parse_from_rfc3339(text)
        .ok()
        .map(|time| time.timestamp_millis())
}

/// Returns a UTC time fit for a folder's name, `20260131T190405Z`.
pub fn folder_time(wall_ms: i64) -> String {
    chrono::DateTime::from_timestamp_millis(wall_ms)
        .unwrap_or_default()
        .format("%Y%m%dT%H%M%SZ")
        .to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 3339, section 5.8: the examples, with the instants they name.
    #[test]
    fn the_examples_of_rfc_3339_are_read() {
        // The first two are the same file's own statement of equal instants.
        assert_eq!(
            parse_rfc3339_ms("1985-04-12T23:20:50.52Z")
                .map(rfc3339_ms)
                .as_deref(),
            Some("1985-04-12T23:20:50.520Z")
        );
        assert_eq!(
            parse_rfc3339_ms("1996-12-19T16:39:57-08:00"),
            parse_rfc3339_ms("1996-12-20T00:39:57Z")
        );
        assert_eq!(
            parse_rfc3339_ms("1937-01-01T12:00:27.87+00:20"),
            parse_rfc3339_ms("1937-01-01T11:40:27.87Z")
        );
        assert!(
            parse_rfc3339_ms("1990-12-31T23:59:60Z").is_some(),
            "a leap second is a legal time"
        );
        assert_eq!(parse_rfc3339_ms("1985-04-12 23:20"), None);
    }

    #[test]
    fn a_scaled_clock_runs_wall_and_elapsed_alike() {
        let clock = Clock::scaled(1000.0);
        let first = clock.now();
        while clock.now().elapsed_us - first.elapsed_us < 2_000_000 {
            std::hint::spin_loop();
        }
        let second = clock.now();
        let elapsed_ms = second.elapsed_us / 1000 - first.elapsed_us / 1000;
        assert!((second.wall_ms - first.wall_ms - elapsed_ms).abs() <= 1);
        assert_eq!(
            clock.real_duration(Duration::from_secs(1)),
            Duration::from_millis(1)
        );
    }
}

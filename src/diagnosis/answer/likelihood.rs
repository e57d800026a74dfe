//! How probable a reading is on a computed circuit.
//!
//! Every reading is a mixture. Mostly it is the circuit's own value, blurred by the reading's tolerance and by the model's
//! distance from real coils; with [`WRONG`] it is anything at all. So one wrong reading can't rule a cause out. A frequency may
//! also be read as a multiple ([`MULTIPLES`]).

use std::f64::consts::TAU;

use crate::diagnosis::quantity::{
    NEAR, NOTHING, OPEN_READ_OHM, OPEN_TEST_V, Quantity, Reading, Row, Seen, blur,
};
use crate::units::Span;

/// Probability that a reading is simply wrong: misread, wrong range, wrong point (assumed).
pub const WRONG: f64 = 0.02;

/// The scale on which a quantity is compared, the model's possible error on it, and the width of the range of wrong readings.
#[derive(Debug, Clone, Copy)]
struct Scale {
    to: fn(f64) -> f64,
    /// One standard deviation of model and smoothing, on the scale.
    doubt: f64,
    /// Tolerance of a reading given without one, as a share of its value.
    tolerance: f64,
    /// The same, in the quantity's unit.
    least: f64,
    /// Width of the range of readings, on the scale.
    width: f64,
}

/// Currents from microamperes to amperes of either sign.
fn signed(value: f64) -> f64 {
    (value / 0.2e-3).asinh()
}

fn ohms(value: f64) -> f64 {
    (value.clamp(0.0, OPEN_READ_OHM) + 0.2).ln()
}

fn plain(value: f64) -> f64 {
    value
}

fn test(value: f64) -> f64 {
    value.min(OPEN_TEST_V)
}

fn logarithm(value: f64) -> f64 {
    value.max(1e-12).ln()
}

/// A running circuit's current and amplitude are within 30 % of the model at best (estimate of ours), two deviations of 15 %.
#[rustfmt::skip]
const fn scale(quantity: Quantity) -> Scale {
    const fn of(to: fn(f64) -> f64, doubt: f64, tolerance: f64, least: f64, width: f64) -> Scale {
        Scale { to, doubt, tolerance, least, width }
    }
    match quantity {
        Quantity::Current => of(signed, 0.08, 0.02, 0.1e-3, 20.0),
        Quantity::Battery | Quantity::Collector => of(plain, 0.12, 0.005, 0.02, 20.0),
        Quantity::BatteryOpen | Quantity::WeakestBattery => of(plain, 0.08, 0.005, 0.02, 20.0),
        Quantity::BatteryOhm => of(logarithm, 0.15, 0.1, 0.1, 9.0),
        Quantity::Base => of(plain, 0.025, 0.01, 0.01, 12.0),
        Quantity::Frequency | Quantity::RingFrequency => of(logarithm, 0.006, 0.001, 0.0, 4.0),
        Quantity::FrequencyRatio => of(logarithm, 0.002, 0.001, 0.0, 2.0),
        Quantity::AmplitudeRatio => of(logarithm, 0.25, 0.1, 0.02, 6.0),
        Quantity::FootToTop | Quantity::WireToTop | Quantity::Bias => of(ohms, 0.06, 0.02, 0.2, 16.0),
        Quantity::Primary => of(ohms, 0.5, 0.02, 0.3, 16.0),
        Quantity::BaseTest | Quantity::BaseTestBack | Quantity::CollectorTest | Quantity::AcrossTest | Quantity::LedTest =>
            of(test, 0.07, 0.02, 0.02, 2.5),
        // Times are counted by eye, and no model knows a converter's own: half as long or twice as long is the same.
        Quantity::Blinking => of(logarithm, 0.7, 0.2, 0.1, 8.0),
        Quantity::RingQ => of(logarithm, 0.2, 0.05, 0.0, 6.0),
        Quantity::Led | Quantity::Lamp | Quantity::Heat | Quantity::Bursts | Quantity::Near => of(plain, 1.0, 0.0, 0.0, 1.0),
    }
}

/// The place where one word gives way to the next: the middle, and the ratio over which it does.
#[derive(Debug, Clone, Copy)]
struct Edge {
    at: f64,
    /// Logarithm of the ratio over which opinions differ.
    over: f64,
}

/// An LED is seen above 0.3 mA and called faint below some 2 mA; a lamp needs about 100 V to glow touching and 300 V beside the
/// top; a transistor is felt warm above 0.3 W and hot above 1.2 W without a heat sink (all assumed).
const fn edges(quantity: Quantity) -> (Edge, Edge) {
    const fn edge(at: f64, over: f64) -> Edge {
        Edge { at, over }
    }
    match quantity {
        Quantity::Lamp => (edge(80.0, 0.25), edge(350.0, 0.25)),
        Quantity::Heat => (edge(0.3, 0.35), edge(1.3, 0.35)),
        _ => (edge(0.2e-3, 0.3), edge(1.5e-3, 0.4)),
    }
}

/// Returns how surely a value is above an edge.
fn above(value: f64, edge: Edge) -> f64 {
    1.0 / (1.0 + ((edge.at.ln() - value.max(1e-12).ln()) / edge.over).exp())
}

/// Returns how surely an LED is seen to light at an average current, in amperes.
pub(in crate::diagnosis) fn seen_to_light(led_a: f64) -> f64 {
    above(led_a, edges(Quantity::Led).0)
}

/// Scale of a logistic step over the standard deviation of the normal one it stands for (`sqrt(3)/pi`).
const LOGISTIC: f64 = 0.55;
/// Top voltage from which a loop and a counter find the signal, in volts.
const HEARD: Edge = Edge { at: 8.0, over: 0.5 };
/// Envelope's swing over its mean from which bursts are noticed.
const BURSTS: Edge = Edge { at: 0.4, over: 0.3 };
/// A voltage read on a base that oscillates is not to be trusted, in volts.
const BASE_RUNNING_V: f64 = 0.4;
/// How far the model's running current may be off, one deviation on its scale.
const RUNNING_DOUBT: f64 = 0.15;

/// How often a fully running circuit's LED differs from the model (chosen). Its current goes as the exponential of the base's
/// swing over some 50 mV. A swing of two volts is known within 30 % at best, so all three words are as likely then.
const SWING_UNKNOWN: f64 = 0.2;

/// Multiples of its frequency that a counter may read on a running circuit, and how often it does each (chosen). The pick-up of a
/// clipped wave, or a level set on its shoulder, makes a counter see two or three edges per cycle.
pub const MULTIPLES: [(f64, f64); 2] = [(2.0, 0.03), (3.0, 0.01)];

/// Returns the density of a frequency reading as each multiple of a running circuit's frequency, weighed by how often that
/// multiple is read.
pub fn as_multiples(value: f64, tolerance: Option<f64>, row: &Row) -> [f64; 2] {
    MULTIPLES.map(|(times, share)| {
        let tolerance = tolerance.map(|tolerance| tolerance / times);
        share * number(Quantity::Frequency, value / times, tolerance, row).0
    })
}

/// Returns the density, or the probability, of a reading that is simply wrong.
pub(super) fn flat(quantity: Quantity, reading: Reading) -> f64 {
    match reading {
        Reading::Value { .. } | Reading::Seen(Seen::Open) => 1.0 / scale(quantity).width,
        Reading::Seen(seen) => word(quantity, seen, &NOTHING).1,
    }
}

/// Returns the probability, or its density on the quantity's scale, of a reading on a computed circuit.
pub fn likelihood(quantity: Quantity, reading: Reading, row: &Row) -> f64 {
    let (core, flat) = match reading {
        Reading::Value { value, tolerance } if quantity == Quantity::Frequency => {
            let (itself, flat) = number(quantity, value, tolerance, row);
            let multiples: f64 = as_multiples(value, tolerance, row).iter().sum();
            let share: f64 = MULTIPLES.iter().map(|(_, share)| share).sum();
            ((1.0 - share) * itself + multiples, flat)
        }
        Reading::Value { value, tolerance } => number(quantity, value, tolerance, row),
        Reading::Seen(seen) => word(quantity, seen, row),
    };
    (1.0 - WRONG) * core + WRONG * flat
}

fn of(row: &Row, quantity: Quantity) -> f64 {
    f64::from(row[quantity.index()])
}

/// A number beside a computed one, on the quantity's scale.
#[derive(Debug, Clone, Copy)]
pub(super) struct Compared {
    /// The number read.
    pub(super) read: f64,
    /// The number computed; not a number where the circuit shows none.
    pub(super) shown: f64,
    /// How far the model may be off, one standard deviation.
    pub(super) doubt: f64,
    /// How far the reading may be off, one standard deviation: a tolerance stands for two.
    pub(super) noise: f64,
}

/// Returns the normal density at a distance.
pub(super) fn normal(off: f64, deviation: f64) -> f64 {
    let off = off / deviation;
    (-0.5 * off * off).exp() / (deviation * TAU.sqrt())
}

fn number(quantity: Quantity, value: f64, tolerance: Option<f64>, row: &Row) -> (f64, f64) {
    let flat = 1.0 / scale(quantity).width;
    if quantity == Quantity::Blinking && blinks(row) <= 0.0 {
        // Whether it blinks at all is the LED's reading: a period adds nothing against a circuit that does not.
        return (flat, flat);
    }
    let Compared {
        read,
        shown,
        doubt,
        noise,
    } = compared(quantity, value, tolerance, row);
    if shown.is_nan() {
        return (0.0, flat);
    }
    (normal(read - shown, doubt.hypot(noise)), flat)
}

/// Compares a number with the value of a row.
pub(super) fn compared(
    quantity: Quantity,
    value: f64,
    tolerance: Option<f64>,
    row: &Row,
) -> Compared {
    let scale = scale(quantity);
    let shown = of(row, quantity);
    let runs = of(row, Quantity::Lamp) > 1.0;
    let running = RUNNING_DOUBT.hypot(blur(row, Quantity::Current));
    let doubt = match quantity {
        Quantity::Current if runs => running,
        // A battery's loss is its resistance times a current that is no better known.
        Quantity::Battery | Quantity::Collector if runs => {
            let lost_v = of(row, Quantity::BatteryOpen) - shown;
            scale.doubt.hypot(running * f64::max(lost_v, 0.0))
        }
        Quantity::AmplitudeRatio => scale.doubt.hypot(blur(row, Quantity::Lamp)),
        Quantity::Base if runs => BASE_RUNNING_V,
        Quantity::Frequency => scale.doubt.hypot(blur(row, quantity)),
        _ => scale.doubt,
    };
    let tolerance = tolerance.unwrap_or_else(|| scale.tolerance * value.abs() + scale.least);
    let (read, below) = ((scale.to)(value), (scale.to)(value - tolerance));
    let shown = if shown.is_nan() {
        shown
    } else {
        (scale.to)(shown)
    };
    Compared {
        read,
        shown,
        doubt,
        noise: 0.5 * (read - below),
    }
}

fn word(quantity: Quantity, seen: Seen, row: &Row) -> (f64, f64) {
    let steady_flat = match quantity {
        Quantity::Led => (1.0 - BLINKS_WRONGLY) / 3.0,
        _ => 1.0 / 3.0,
    };
    let flat = match seen {
        Seen::Open => return number(quantity, open_value(quantity), Some(0.0), row),
        Seen::Blinking => BLINKS_WRONGLY,
        Seen::NoSignal | Seen::Yes | Seen::No => 0.5,
        _ => steady_flat,
    };
    match span(quantity, seen, row) {
        Some(span) => (span.width(), flat),
        None => near(seen, of(row, quantity)),
    }
}

/// Returns the part of an opinion, from 0 to 1, in which somebody says this word of a computed circuit. The words of a quantity
/// lie side by side, the strongest first. `None` for objects nearby, which have no order, and for an open circuit, which is a
/// number.
pub(super) fn span(quantity: Quantity, seen: Seen, row: &Row) -> Option<Span> {
    let shown = of(row, quantity);
    let wide = LOGISTIC * blur(row, quantity);
    let (low, high) = edges(quantity);
    let [low, high] = [low, high].map(|edge| Edge {
        over: edge.over.hypot(wide),
        ..edge
    });
    // A diode that is not there does not glow.
    let level = if shown.is_nan() { 0.0 } else { shown };
    let (mut first, mut second) = (above(level, low), above(level, high));
    let blinks = match quantity {
        Quantity::Led => blinks(row),
        _ => 0.0,
    };
    if quantity == Quantity::Led && !shown.is_nan() {
        let unknown = SWING_UNKNOWN * above(of(row, Quantity::Lamp), edges(Quantity::Lamp).1);
        first += unknown * (2.0 / 3.0 - first);
        second += unknown * (1.0 / 3.0 - second);
    }
    let steady = |share: f64| blinks + (1.0 - blinks) * share;
    let (low, high) = match seen {
        Seen::Blinking => (0.0, blinks),
        Seen::Lit | Seen::Near | Seen::Hot => (blinks, steady(second)),
        Seen::Faint | Seen::Touching | Seen::Warm => (steady(second), steady(first)),
        Seen::Dark | Seen::Cold => (steady(first), 1.0),
        Seen::NoSignal if quantity == Quantity::RingFrequency => {
            (0.0, f64::from(u8::from(shown.is_nan())))
        }
        Seen::NoSignal => (above(of(row, Quantity::Lamp), HEARD), 1.0),
        Seen::Yes => (0.0, above(level, BURSTS)),
        Seen::No => (above(level, BURSTS), 1.0),
        Seen::Open
        | Seen::Nothing
        | Seen::OnCase
        | Seen::OnWire
        | Seen::Body
        | Seen::AtTop
        | Seen::Lamp
        | Seen::Metal
        | Seen::Probe => return None,
    };
    Some(Span { low, high })
}

/// Of wrong words for an LED, how many are that it blinks: nobody says so of a steady one by mistake (assumed).
const BLINKS_WRONGLY: f64 = 0.1;
/// How surely somebody who sees it blink says so, and does not name the light alone (assumed).
const BLINKING_SAID: f64 = 0.9;
/// Shortest period that an eye sees as blinking, in seconds (from memory: light fuses somewhere between 15 and 60 flashes a
/// second).
const SEEN_BLINKING: Edge = Edge {
    at: 0.05,
    over: 0.3,
};

/// Returns how surely the LED of a computed circuit is called blinking.
fn blinks(row: &Row) -> f64 {
    let period_s = of(row, Quantity::Blinking);
    if period_s > 0.0 {
        BLINKING_SAID * above(period_s, SEEN_BLINKING)
    } else {
        0.0
    }
}

/// How surely somebody asked about objects nearby names the one that makes the trouble, and names none where none does (assumed).
/// The rest are objects that happen to be held or to stand there.
const NAMED: (f64, f64) = (0.86, 0.65);

/// Returns the same for an object that is said to be near.
fn near(said: Seen, is_near: f64) -> (f64, f64) {
    let place = NEAR.iter().position(|near| *near == said);
    let others = (NEAR.len() - 1) as f64;
    let nothing = is_near.is_nan() || is_near < 0.5;
    let is_it = place.is_some_and(|place| (place as f64 - is_near).abs() < 0.5)
        || nothing && said == Seen::Nothing;
    let named = if nothing { NAMED.1 } else { NAMED.0 };
    let core = if is_it { named } else { (1.0 - named) / others };
    (core, 1.0 / NEAR.len() as f64)
}

/// Returns the value that stands for an open circuit on a quantity's scale.
pub(super) const fn open_value(quantity: Quantity) -> f64 {
    match quantity {
        Quantity::BaseTest
        | Quantity::BaseTestBack
        | Quantity::CollectorTest
        | Quantity::AcrossTest
        | Quantity::LedTest => OPEN_TEST_V,
        _ => OPEN_READ_OHM,
    }
}

/// Returns the reading a person would most probably bring from a computed circuit; `None` where there is nothing to read.
pub fn most_probable(quantity: Quantity, row: &Row) -> Option<Reading> {
    let shown = of(row, quantity);
    let words = quantity.form().seen;
    let best = words.iter().copied().max_by(|a, b| {
        let p = |seen: Seen| word(quantity, seen, row).0;
        p(*a).total_cmp(&p(*b))
    });
    match quantity {
        Quantity::Led | Quantity::Lamp | Quantity::Heat | Quantity::Bursts | Quantity::Near => {
            best.map(Reading::Seen)
        }
        Quantity::Frequency if of(row, Quantity::Lamp) < HEARD.at => {
            Some(Reading::Seen(Seen::NoSignal))
        }
        Quantity::Blinking if blinks(row) < 0.5 => None,
        _ if shown.is_nan() => None,
        _ => Some(Reading::value(shown)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(pairs: &[(Quantity, f32)]) -> Row {
        let mut row = NOTHING;
        for (quantity, value) in pairs {
            row[quantity.index()] = *value;
        }
        row
    }

    #[test]
    fn a_reading_is_most_probable_where_it_is_what_the_circuit_shows_and_never_impossible() {
        let shows = row(&[(Quantity::Current, 0.3), (Quantity::Lamp, 900.0)]);
        let at = |value| likelihood(Quantity::Current, Reading::value(value), &shows);
        assert!(at(0.3) > at(0.35) && at(0.35) > at(0.45));
        // By hand: a wrong reading falls anywhere on a scale 20 wide, two times in a hundred.
        assert!((at(5e-3) - WRONG / 20.0).abs() < 1e-9, "{}", at(5e-3));
    }

    #[test]
    fn the_words_of_a_lamp_share_all_probability_between_them() {
        for volt in [0.0, 50.0, 100.0, 300.0, 2000.0] {
            let shows = row(&[(Quantity::Lamp, volt)]);
            let sum: f64 = Quantity::Lamp
                .form()
                .seen
                .iter()
                .map(|seen| likelihood(Quantity::Lamp, Reading::Seen(*seen), &shows))
                .sum();
            assert!((sum - 1.0).abs() < 1e-9, "{volt}: {sum}");
        }
    }

    #[test]
    fn an_led_blinks_where_its_circuit_does_and_all_its_words_share_one_probability() {
        let of = |row: &Row, seen| likelihood(Quantity::Led, Reading::Seen(seen), row);
        let lit = [(Quantity::Led, 5e-3), (Quantity::Lamp, 900.0)];
        let steady = row(&lit);
        let tripping = row(&[lit[0], lit[1], (Quantity::Blinking, 2.0)]);
        let bursts = row(&[lit[0], lit[1], (Quantity::Blinking, 1e-4)]);
        for shows in [steady, tripping, bursts] {
            let words = Quantity::Led.form().seen.iter();
            let sum: f64 = words.map(|seen| of(&shows, *seen)).sum();
            assert!((sum - 1.0).abs() < 1e-9, "{sum}");
        }
        assert!(of(&tripping, Seen::Blinking) > 100.0 * of(&steady, Seen::Blinking));
        assert!(of(&tripping, Seen::Lit) < 0.2 * of(&steady, Seen::Lit));
        assert!(
            of(&bursts, Seen::Blinking) < 0.01,
            "no eye sees ten thousand a second"
        );
        // The period says which blinking it is, and nothing where nothing blinks.
        let period = |row: &Row, value| likelihood(Quantity::Blinking, Reading::value(value), row);
        assert!(period(&tripping, 2.0) > 3.0 * period(&tripping, 20.0));
        assert!((period(&steady, 2.0) - period(&steady, 20.0)).abs() < 1e-12);
        assert_eq!(
            most_probable(Quantity::Led, &tripping),
            Some(Reading::Seen(Seen::Blinking))
        );
        assert_eq!(most_probable(Quantity::Blinking, &steady), None);
    }

    #[test]
    fn an_open_wire_reads_open_and_a_coil_does_not() {
        let open = Reading::Seen(Seen::Open);
        let at = |ohm: f32| {
            likelihood(
                Quantity::FootToTop,
                open,
                &row(&[(Quantity::FootToTop, ohm)]),
            )
        };
        assert!(at(1e9) > 100.0 * at(12.6), "{} {}", at(1e9), at(12.6));
    }
}

//! What a running circuit does as its battery drains: the frequency over the voltage, and where it goes dark.

use super::running::{Follower, Running, Until};
use super::stepper::{Accuracy, TransientError};
use super::verdict::{Judged, State};

/// How fast the voltage is turned, in second: slow against a cycle, as fast as the envelope follows.
const TURNED_OVER_S: f64 = 20e-6;
/// How long each voltage is followed at most, in second.
const FOLLOWED_S: f64 = 400e-6;

/// A running circuit at one voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pushed {
    /// The battery's open voltage, in volt.
    pub open_v: f64,
    /// What it shows.
    pub running: Running,
    /// How it runs, coming from a higher voltage.
    pub state: State,
}

/// Runs a set out of a running start at the first voltage and turns it down through the others, in the order given; ends
/// after the first at which nothing oscillates.
///
/// # Errors
/// [`TransientError`] where it can't be followed.
pub fn pushed(judged: &Judged, open_v: &[f64]) -> Result<Vec<Pushed>, TransientError> {
    let wired = &judged.rest.wired;
    let accuracy = Accuracy::usual(judged.rest.startup.frequency_hz);
    let charged = judged.charged();
    let mut follower = Follower::new(&wired.network, &wired.probes, &charged, accuracy)?;
    let mut points = Vec::new();
    for &open_v in open_v {
        follower.turn_supply(open_v, TURNED_OVER_S);
        let running = follower.follow(Until::Settled {
            at_most_s: FOLLOWED_S,
        })?;
        let state = judged.state_of(&running);
        points.push(Pushed {
            open_v,
            running,
            state,
        });
        if state == State::Dead {
            break;
        }
    }
    Ok(points)
}

/// The lowest voltage of a course at which it still ran fully, in volt.
pub fn keeps_running_v(points: &[Pushed]) -> Option<f64> {
    let full = points.iter().filter(|point| point.state == State::Full);
    full.map(|point| point.open_v).min_by(f64::total_cmp)
}

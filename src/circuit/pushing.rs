//! What a running circuit does as its battery drains: the frequency over the voltage, and where it goes dark.

use super::running::{Follower, Running, Until};
use super::stepper::{Accuracy, TransientError};
use super::verdict::{Judged, State};

/// How fast the voltage is turned, in second: slow against a cycle, as fast as the envelope follows.
const TURNED_OVER_S: f64 = 20e-6;
/// How long each voltage is followed at most, in second.
const FOLLOWED_S: f64 = 400e-6;
/// How often the last step down is halved to find where it ends: an eighth of the step is left.
const HALVINGS: u32 = 3;

/// A running circuit at one voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pushed {
    /// The battery's open voltage, in volt.
    pub open_v: f64,
    /// What it shows.
    pub running: Running,
}

/// A running circuit on its way down.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Descent {
    /// The voltages at which it ran fully, in their order.
    pub points: Vec<Pushed>,
    /// The lowest open voltage at which it was seen to run fully, in volt; `None` if it never did.
    pub keeps_running_v: Option<f64>,
}

impl Descent {
    /// Runs a set out of a running start at the first open voltage and turns it down through the others until it no longer
    /// runs fully; where between two of them that happens is halved three times.
    ///
    /// # Errors
    /// [`TransientError`] where it can't be followed.
    pub fn of(judged: &Judged, open_v: &[f64]) -> Result<Self, TransientError> {
        let wired = &judged.rest.wired;
        let accuracy = Accuracy::usual(judged.rest.startup.frequency_hz);
        let charged = judged.charged();
        let mut follower = Follower::new(&wired.network, &wired.probes, &charged, accuracy)?;
        let mut descent = Self::default();
        for &open_v in open_v {
            let before = follower.clone();
            let running = turned(&mut follower, open_v)?;
            if judged.state_of(&running) != State::Full {
                descent.halve(judged, before, open_v)?;
                break;
            }
            descent.points.push(Pushed { open_v, running });
            descent.keeps_running_v = Some(open_v);
        }
        Ok(descent)
    }

    /// Finds where a circuit that ran fully at the last voltage does not, down to `dark_v`.
    fn halve(
        &mut self,
        judged: &Judged,
        mut lit: Follower,
        mut dark_v: f64,
    ) -> Result<(), TransientError> {
        let Some(mut lit_v) = self.keeps_running_v else {
            return Ok(());
        };
        for _ in 0..HALVINGS {
            let between_v = 0.5 * (lit_v + dark_v);
            let mut follower = lit.clone();
            let running = turned(&mut follower, between_v)?;
            if judged.state_of(&running) == State::Full {
                (lit, lit_v) = (follower, between_v);
            } else {
                dark_v = between_v;
            }
        }
        self.keeps_running_v = Some(lit_v);
        Ok(())
    }

    /// How much the frequency rises with the voltage at the battery's clips, from the first point to the last at or above
    /// `down_to` of the first open voltage, in hertz a volt.
    pub fn slope_hz_per_v(&self, down_to: f64) -> Option<f64> {
        let first = self.points.first()?;
        let last = self
            .points
            .iter()
            .rfind(|point| point.open_v >= down_to * first.open_v)?;
        let rise_v = first.running.battery_v - last.running.battery_v;
        let rise_hz = first.running.frequency_hz - last.running.frequency_hz;
        (rise_v > 0.0).then(|| rise_hz / rise_v)
    }
}

fn turned(follower: &mut Follower, open_v: f64) -> Result<Running, TransientError> {
    follower.turn_supply(open_v, TURNED_OVER_S);
    follower.follow(Until::Settled {
        at_most_s: FOLLOWED_S,
    })
}

//! When the coil runs and when it is stopped, worked out once from the battery's curve.

use super::spec::{Restart, WorldSpec};

/// How closely the moment of a stop is looked for, in seconds (chosen: below any instrument's gate time).
const STEP_S: f64 = 0.25;

/// Runs looked for at most; a world that chatters more than this stays as it is in the last.
const MOST_RUNS: usize = 10_000;

/// A stretch of time in one state, up to the start of the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Run {
    /// When it begins, in elapsed seconds.
    pub(super) start_s: f64,
    /// Seconds the battery has been under load by then; the battery's curve is counted in these.
    pub(super) loaded_s: f64,
    /// Whether the coil oscillates.
    pub(super) state: State,
    /// Voltage above the curve that a rest gave back and that the load now uses up.
    pub(super) recovered_v: f64,
    /// How warm the circuit is, from 0 (cold) to 1 (as warm as it gets).
    pub(super) warmth: f64,
}

/// Whether the coil oscillates.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum State {
    Running,
    Stopped,
}

impl Run {
    /// Returns the seconds under load at a moment of this run.
    pub(super) fn loaded_at(&self, elapsed_s: f64) -> f64 {
        match self.state {
            State::Running => self.loaded_s + (elapsed_s - self.start_s),
            State::Stopped => self.loaded_s,
        }
    }

    /// Returns the battery voltage at a moment of this run, without noise.
    pub(super) fn battery_v(&self, spec: &WorldSpec, elapsed_s: f64) -> f64 {
        let curve_v = curve_v(&spec.battery, self.loaded_at(elapsed_s));
        let rest = &spec.rebound;
        let fade = (-(elapsed_s - self.start_s) / rest.time_constant_s).exp();
        match self.state {
            State::Running => curve_v + self.recovered_v * fade,
            State::Stopped => {
                let step_v = rest.resistance_ohm * spec.current_at(curve_v);
                curve_v
                    + self.recovered_v
                    + step_v
                    + (rest.slow_v - self.recovered_v) * (1.0 - fade)
            }
        }
    }

    /// Returns the warmth at a moment of this run.
    pub(super) fn warmth_at(&self, spec: &WorldSpec, elapsed_s: f64) -> f64 {
        let fade = (-(elapsed_s - self.start_s) / spec.warming.time_constant_s).exp();
        let settled = match self.state {
            State::Running => 1.0,
            State::Stopped => 0.0,
        };
        settled + (self.warmth - settled) * fade
    }

    /// Returns the part of the slow rebound that is there at a moment of this run.
    fn recovered_at(&self, spec: &WorldSpec, elapsed_s: f64) -> f64 {
        let fade = (-(elapsed_s - self.start_s) / spec.rebound.time_constant_s).exp();
        match self.state {
            State::Running => self.recovered_v * fade,
            State::Stopped => {
                self.recovered_v + (spec.rebound.slow_v - self.recovered_v) * (1.0 - fade)
            }
        }
    }

    /// Returns the run that follows at this moment.
    fn next(&self, spec: &WorldSpec, start_s: f64, state: State) -> Self {
        Self {
            start_s,
            loaded_s: self.loaded_at(start_s),
            state,
            recovered_v: self.recovered_at(spec, start_s),
            warmth: self.warmth_at(spec, start_s),
        }
    }
}

/// Returns the battery's voltage after a time under load, in seconds: straight between the table's rows, level beyond its ends.
pub(super) fn curve_v(table: &[(f64, f64)], loaded_s: f64) -> f64 {
    let after = table.partition_point(|&(row_s, _)| row_s <= loaded_s);
    match (
        after.checked_sub(1).and_then(|i| table.get(i)),
        table.get(after),
    ) {
        (Some(&(s0, v0)), Some(&(s1, v1))) => v0 + (v1 - v0) * (loaded_s - s0) / (s1 - s0),
        (Some(&(_, volts)), None) | (None, Some(&(_, volts))) => volts,
        (None, None) => f64::NAN,
    }
}

/// Returns all runs of a world in order; the first begins at 0 s.
pub(super) fn plan(spec: &WorldSpec) -> Vec<Run> {
    let mut run = Run {
        start_s: 0.0,
        loaded_s: 0.0,
        state: State::Running,
        recovered_v: 0.0,
        warmth: 0.0,
    };
    let mut runs = vec![run];
    let Some(stop) = spec.stop else {
        return runs;
    };
    while runs.len() < MOST_RUNS {
        let change = match run.state {
            State::Running => stop_s(spec, &run, stop.below_v).map(|at_s| (at_s, State::Stopped)),
            State::Stopped => {
                restart_s(spec, &run, stop.restart).map(|at_s| (at_s, State::Running))
            }
        };
        let Some((at_s, state)) = change else {
            break;
        };
        run = run.next(spec, at_s, state);
        runs.push(run);
    }
    runs
}

/// Returns when a run falls below the voltage at which the coil stops; `None` if it never does.
fn stop_s(spec: &WorldSpec, run: &Run, below_v: f64) -> Option<f64> {
    let table_end_s = spec.battery.last().map_or(0.0, |&(row_s, _)| row_s);
    // Past the table only the rest's gift still fades; after 40 time constants there is none left in an f64.
    let longest_s = (table_end_s - run.loaded_s).max(0.0)
        + if run.recovered_v > 0.0 {
            40.0 * spec.rebound.time_constant_s
        } else {
            STEP_S
        };
    // At least one step, so that a coil which can't hold its oscillation still tries.
    let mut low_s = run.start_s + STEP_S;
    let mut high_s = low_s;
    while run.battery_v(spec, high_s) >= below_v {
        low_s = high_s;
        high_s += STEP_S;
        if high_s > run.start_s + longest_s + STEP_S {
            return None;
        }
    }
    while high_s - low_s > 1e-6 {
        let middle_s = f64::midpoint(low_s, high_s);
        if run.battery_v(spec, middle_s) >= below_v {
            low_s = middle_s;
        } else {
            high_s = middle_s;
        }
    }
    Some(high_s)
}

/// Returns when a stopped coil starts again; `None` if it never does.
fn restart_s(spec: &WorldSpec, run: &Run, restart: Restart) -> Option<f64> {
    match restart {
        Restart::Never => None,
        Restart::AfterS(rest_s) => Some(run.start_s + rest_s),
        Restart::AtV(volts) => {
            // v(t) = full - missing · exp(-t/τ), solved for t.
            let now_v = run.battery_v(spec, run.start_s);
            let missing_v = spec.rebound.slow_v - run.recovered_v;
            let full_v = now_v + missing_v;
            if now_v >= volts {
                Some(run.start_s + STEP_S)
            } else if volts < full_v {
                let rest_s = -spec.rebound.time_constant_s * ((full_v - volts) / missing_v).ln();
                Some(run.start_s + rest_s)
            } else {
                None
            }
        }
    }
}

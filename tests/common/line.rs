//! Instruments of the bench on lines of their own.

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use sagtrace::bench::Instrument;
use sagtrace::bench::faults::{Fault, Script};
use sagtrace::bench::pty::Device;
use sagtrace::bench::world::{World, WorldSpec};
use sagtrace::clock::Clock;

/// How the links to lines begin.
pub(crate) const LINE: &str = "/tmp/sagtrace-line-";

/// How many lines this process has opened.
static LINES: AtomicUsize = AtomicUsize::new(0);

/// An instrument of the bench on its line, on a battery that falls from 9 V by 1 mV a second.
pub(crate) fn device(instrument: impl Instrument + 'static, faults: Vec<Fault>) -> Device {
    let mut spec = WorldSpec::steady(6_231_234.5, 9.0);
    spec.battery.push((3600.0, 5.4));
    spec.pushing_hz_per_v = 1500.0;
    device_in(spec, Clock::real(), instrument, faults)
}

/// An instrument on its line in a world of its own.
pub(crate) fn device_in(
    spec: WorldSpec,
    clock: Clock,
    instrument: impl Instrument + 'static,
    faults: Vec<Fault>,
) -> Device {
    let world = Arc::new(World::new(spec).unwrap());
    let script = Script::new(1, faults);
    let device = Device::open(Box::new(instrument), world, clock, script).unwrap();
    // A path of its own: the system gives the number of a line that is gone to the next one, and a recorder that waits for
    // the one would find the other.
    let number = LINES.fetch_add(1, Ordering::Relaxed);
    device
        .link(Path::new(&format!("{LINE}{}-{number}", std::process::id())))
        .unwrap();
    device
}

//! The build of a sheet, as `diagnose` has it, and work on two threads.

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use sagtrace::coil::predict::predict;
use sagtrace::diagnosis::build::Build;
use sagtrace::sheet::Sheet;

/// The build of a sheet.
pub(crate) fn build_of(sheet: &Sheet) -> Build {
    let prediction = predict(&sheet.coil_spec()).unwrap();
    let sets = sheet.circuit_sets(&prediction).unwrap();
    let turns = (sheet.turns(), f64::from(sheet.primary.turns));
    Build::new(
        &sets.specs,
        &sets.drawn,
        &prediction,
        sheet.earth.is_floating(),
        turns,
    )
    .with_battery(sheet.battery.kind)
    .with_batteries(sheet.battery.series)
}

/// Each item's answer, worked out on two threads, in the items' order.
pub(crate) fn on_two<A: Sync, B: Send>(items: &[A], of: impl Fn(&A) -> B + Sync) -> Vec<B> {
    let (next, done) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                loop {
                    let index = next.fetch_add(1, Ordering::Relaxed);
                    let Some(item) = items.get(index) else { break };
                    let answer = of(item);
                    done.lock().unwrap().push((index, answer));
                }
            });
        }
    });
    let mut done = done.into_inner().unwrap();
    done.sort_by_key(|(index, _)| *index);
    done.into_iter().map(|(_, answer)| answer).collect()
}

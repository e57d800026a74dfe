//! Whole curves that a run is laid on, and which of them began full.

use crate::battery::curve::Curve;
use crate::battery::finished::{Finished, Start};

/// Whole curves, all to the same end voltage.
#[derive(Debug, Clone, Default)]
pub struct Library {
    /// The curves.
    pub curves: Vec<Curve>,
    /// Those that began full, by the battery or cell they come from: places in `curves`.
    pub(super) full: Vec<Vec<usize>>,
}

impl Library {
    /// Creates a library from runs and their curves; runs of one group come from one battery or cell.
    pub fn new(known: Vec<(&Finished, Curve)>) -> Self {
        let mut made = Self::default();
        let mut groups: Vec<&str> = Vec::new();
        for (run, curve) in known {
            let place = made.curves.len();
            made.curves.push(curve);
            if run.start == Start::Unknown {
                continue;
            }
            if let Some(of_group) = groups
                .iter()
                .position(|group| *group == run.group)
                .and_then(|at| made.full.get_mut(at))
            {
                of_group.push(place);
            } else {
                groups.push(&run.group);
                made.full.push(vec![place]);
            }
        }
        made
    }
}

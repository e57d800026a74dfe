//! The equations `dq(x)/dt + f(x, t) = 0`, where they rest, and how they go on in time.

pub mod bias;
pub(super) mod elimination;
pub(super) mod point;
mod slots;
pub mod stepper;
pub(super) mod system;

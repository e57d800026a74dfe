//! What the project holds itself to: which room may import which, and what it is built from.

mod dependencies;
mod layering;

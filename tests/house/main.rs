//! What the project holds itself to: which room may import which, how large its files are, and what it is built from.

mod dependencies;
mod files;
mod layering;

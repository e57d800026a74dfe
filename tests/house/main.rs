//! What the project holds itself to: which room may import which, how large its files are, what it is built from, and what README warns of.

mod cautions;
mod dependencies;
mod files;
mod layering;
mod phrases;

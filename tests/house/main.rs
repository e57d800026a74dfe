//! What the project holds itself to: which room may import which, how large its files are, what it is built from, and what its pages warn of.

mod cautions;
mod dependencies;
mod files;
mod guide;
mod layering;
mod phrases;

//! Elements between nodes, and a build's circuit as one, sound or with something wrong.

pub mod flaws;
pub mod netlist;
pub mod network;
pub mod wiring;

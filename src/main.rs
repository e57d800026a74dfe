//! The `sagtrace` command.

fn main() {}

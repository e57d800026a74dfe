//! What needs another program on the machine (Python, an AVR compiler and simulator, ngspice): feature `live`.
#![cfg(unix)]

#[path = "../common/mod.rs"]
mod common;
#[path = "../common/page.rs"]
mod page;
#[path = "../common/player.rs"]
mod player;
#[path = "../netlists/reader.rs"]
mod reader;
#[path = "../common/recorded.rs"]
mod recorded;
#[path = "../netlists/reference.rs"]
mod reference;
#[path = "../netlists/suite.rs"]
mod suite;

mod asked_python;
mod bench_python;
mod board_avr;
mod circuit_ngspice;
mod forms_python;
mod schemas_python;

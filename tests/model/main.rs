//! The models and what is made of sessions, from the library: coil, field, circuit, battery, hazards, statistics, diagnosis, pictures.

#[path = "../common/build.rs"]
mod build;
#[path = "../common/noise.rs"]
mod noise;
#[path = "../ranking/mod.rs"]
mod ranking;
#[path = "../netlists/reader.rs"]
mod reader;
#[path = "../netlists/reference.rs"]
mod reference;
#[path = "../netlists/suite.rs"]
mod suite;

mod battery_references;
mod battery_unseen;
mod circuit;
mod circuit_changes;
mod circuit_start;
mod circuit_verdict;
mod diagnosis;
mod drift;
mod excursions;
mod hazards;
mod plots;
mod practice;
mod steps;
mod tone;
mod validation;

//! The program's other commands, driven from outside: what they print, refuse and write.

#[cfg(unix)]
#[path = "../common/mod.rs"]
mod common;
#[cfg(unix)]
#[path = "../common/line.rs"]
mod line;
#[path = "../common/page.rs"]
mod page;

mod answers;
mod battery;
mod battery_answers;
mod check;
mod field;
mod good_day;
mod help;
mod interview;
#[cfg(target_os = "linux")]
mod odd_files;
#[cfg(unix)]
mod pages;
mod plan;
mod profiles;
#[cfg(unix)]
mod steering;
mod stretches;
mod wrong;

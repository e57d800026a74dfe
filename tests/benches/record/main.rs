//! How fast `record` is, and how little it takes, as ratios against a baseline named with each:
//!
//! - `lines`: a board that says lines as fast as they are taken, against a Python script that reads blocks; every line must
//!   be a row with the same digits, and memory must not grow from one million lines to ten million.
//! - `polling`: an instrument that answers after a set time, against a bare loop that asks and reads; and how near the time
//!   of a row is to the first byte of the answer, by the instrument's own log.
//! - `idle`: ten rows a second, as share of a core and in memory, against a bare loop from the line to a table.
//!
//! `cargo bench --bench record -- lines` runs one of them, without a name all. The program itself records, on a real
//! pseudo-terminal.

mod bare;
mod child;
mod idle;
mod line;
mod lines;
mod polling;

fn main() {
    let args: Vec<String> = std::env::args().collect();
    if let [_, name, manner, port, table] = args.as_slice()
        && name == bare::NAME
    {
        return bare::run(manner, port, table);
    }
    let named: Vec<String> = std::env::args()
        .skip(1)
        .filter(|arg| !arg.starts_with('-'))
        .collect();
    let all: [(&str, fn()); 3] = [
        ("lines", lines::run),
        ("polling", polling::run),
        ("idle", idle::run),
    ];
    for name in &named {
        assert!(
            all.iter().any(|(known, _)| known == name),
            "no part {name}: there are lines, polling, idle"
        );
    }
    for (name, run) in all {
        if named.is_empty() || named.iter().any(|wanted| wanted == name) {
            println!("== {name}");
            run();
        }
    }
}

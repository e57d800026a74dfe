//! What tests of recordings share: `record` started at a desk, and what it wrote.

use sagtrace::reading::Row;
use sagtrace::session::RowReader;

use crate::common::{Desk, Running};

impl Desk {
    /// Starts `record` into the folder `out`, showing rows.
    pub(crate) fn start(&self, args: &[&str]) -> Running {
        let common = ["record", "--show", "rows", "--out", "out"];
        Running::start(&mut self.command(&[&common, args].concat()))
    }

    /// The rows of the session in `out`, which must have no torn or spoilt line.
    pub(crate) fn rows(&self) -> Vec<Row> {
        let mut reader = RowReader::open(&self.path().join("out/samples.csv")).unwrap();
        let (mut all, mut chunk) = (Vec::new(), Vec::new());
        while reader.next_chunk(&mut chunk).unwrap() {
            all.append(&mut chunk);
        }
        assert_eq!(
            (reader.skipped().bad_lines, reader.skipped().torn_end),
            (0, false)
        );
        all
    }
}

impl Running {
    /// Waits for this number of good rows from now on.
    pub(crate) fn wait_for_rows(&mut self, count: usize) {
        for _ in 0..count {
            self.wait_for("a good row", |line| line.ends_with(",ok,"));
        }
    }
}

//! The short answers of `sagtrace battery`, as they are printed. All their data are invented.

use crate::battery::{said, season};

/// The short answers fit on half a screen and end with a command that can be pasted.
#[test]
fn short_answers_about_batteries_fit_on_half_a_screen() {
    let dir = season();
    let empty = tempfile::tempdir().unwrap();
    let readings = ["--open", "9.42V", "--loaded", "8.60V", "--current", "0.3A"];
    let kind = ["--kind", "alkaline"];
    let texts = [
        ("list", said(dir.path(), &[])),
        ("one", said(dir.path(), &["N2", "--no-plots"])),
        ("none", said(empty.path(), &[])),
        ("test", said(dir.path(), &[&readings[..], &kind].concat())),
        ("backtest", said(empty.path(), &["--backtest"])),
    ];
    for (name, text) in texts {
        assert!(text.lines().count() <= 12, "{text}");
        for line in text.lines().filter(|line| !line.contains("sagtrace ")) {
            assert!(line.chars().count() <= 80, "{line}");
        }
        let text = text.replace(&empty.path().display().to_string(), "DIR");
        insta::assert_snapshot!(format!("battery-short-{name}"), text);
    }
}

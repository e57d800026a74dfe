//! The name that was meant by one that is nobody's.

use strsim::levenshtein;

/// The known name that is most like another, if one is near: at most a third of its letters differ (chosen).
pub fn nearest<'k>(name: &str, known: impl IntoIterator<Item = &'k str>) -> Option<&'k str> {
    let allowed = name.chars().count().div_ceil(3);
    known
        .into_iter()
        .map(|other| (levenshtein(name, other), other))
        .filter(|(edits, _)| *edits <= allowed)
        .min_by_key(|(edits, _)| *edits)
        .map(|(_, other)| other)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_is_nearly_right_is_found_and_another_is_not() {
        let known = ["columns", "plain-lines", "scpi-counter", "scpi-scope"];
        for (name, want) in [
            ("scpi-conter", Some("scpi-counter")),
            ("column", Some("columns")),
            ("plain_lines", Some("plain-lines")),
            ("spci-scope", Some("scpi-scope")),
            ("yours", None),
            ("", None),
        ] {
            assert_eq!(nearest(name, known), want, "{name}");
        }
    }
}

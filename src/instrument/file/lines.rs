//! The `[lines]` table of a profile: how lines that come unasked are laid out.

use crate::faults::{Entry, Table};
use crate::instrument::file::keys::{usual, whole};
use crate::instrument::file::places;
use crate::instrument::file::stream::{SpotKind, stream};
use crate::instrument::line::stream::Stream;
use crate::instrument::profile::layout::ColumnLayout;
use crate::instrument::profile::seal::{Checksum, Seal, Sum};
use crate::instrument::profile::{Form, Manner};

#[derive(Debug, Clone, Copy)]
enum Layout {
    Fields,
    Columns,
    Places,
}

/// Reads `[lines]`, which an unasked profile has and an asked one has not.
pub(in crate::instrument) fn form(
    table: Option<&Table<'_>>,
    manner: Option<Manner>,
    decimal_sign: Option<char>,
    top: &Table<'_>,
) -> Option<(Form, Stream)> {
    let Some(table) = table else {
        if manner == Some(Manner::Unasked) {
            top.fault(
                "no [lines]",
                "expected it in an unasked profile, with the layout of its lines",
            );
        }
        return (manner == Some(Manner::Asked)).then(|| (Form::Answers, Stream::default()));
    };
    let words = [
        ("fields", Layout::Fields),
        ("columns", Layout::Columns),
        ("places", Layout::Places),
    ];
    let layout = table
        .need("layout", "expected \"fields\", \"columns\" or \"places\"")
        .and_then(|entry| entry.choice(&words));
    let form = match layout {
        Some(Layout::Fields) => {
            let form = seal(table, Some(Checksum::Optional))
                .flatten()
                .map(Form::Fields);
            let stream = stream(table, SpotKind::Name);
            form.map(|form| (form, stream))
        }
        Some(Layout::Columns) => {
            let columns = columns(table, decimal_sign);
            let kind = match &columns {
                Some(layout) if !layout.header => SpotKind::Column,
                _ => SpotKind::Name,
            };
            let stream = stream(table, kind);
            columns.map(|layout| (Form::Columns(layout), stream))
        }
        Some(Layout::Places) => {
            places::layout(table).map(|layout| (Form::Places(layout), Stream::default()))
        }
        None => None,
    };
    if layout.is_some() {
        table.close();
    }
    if manner == Some(Manner::Asked) {
        table.fault(
            "[lines] in an asked profile",
            "expected none: each [[value]] has its own question",
        );
        return None;
    }
    form
}

/// The proof of a line: `checksum` says whether there is one, `sum` which. Lines of columns have none unless the profile says so.
#[expect(
    clippy::option_option,
    reason = "none after a fault, and none where the lines have no checksum"
)]
fn seal(table: &Table<'_>, usually: Option<Checksum>) -> Option<Option<Seal>> {
    let needs = [
        ("optional", Checksum::Optional),
        ("required", Checksum::Required),
    ];
    let need = usual(Some(table), "checksum", usually, |entry| {
        entry.choice(&needs).map(Some)
    });
    let sum = usual(Some(table), "sum", Sum::Xor, |entry| {
        entry.choice(&[
            ("xor", Sum::Xor),
            ("crc-8", Sum::Crc8),
            ("add-8", Sum::Add8),
        ])
    });
    let after = usual(Some(table), "sum_after", None, |entry| {
        let mut signs = entry.text()?.chars();
        let sign = signs.next().filter(|_| signs.next().is_none());
        if sign.is_none() {
            entry.fault("expected a single character, such as \"$\"");
        }
        sign.map(Some)
    });
    let (need, sum, after) = (need?, sum?, after?);
    Some(need.map(|need| Seal { need, sum, after }))
}

fn columns(table: &Table<'_>, decimal_sign: Option<char>) -> Option<ColumnLayout> {
    let delimiters = [
        ("comma", ','),
        ("semicolon", ';'),
        ("tab", '\t'),
        ("blank", ' '),
    ];
    let delimiter = usual(Some(table), "delimiter", ',', |entry| {
        entry.choice(&delimiters)
    });
    let header = usual(Some(table), "header", false, Entry::flag);
    let count = usual(Some(table), "columns", None, |entry| {
        whole(entry, 1, 1000).map(Some)
    });
    let seal = seal(table, None);
    if delimiter == decimal_sign && delimiter.is_some() {
        table.fault(
            "a comma between columns and in numbers",
            "expected delimiter = \"semicolon\", \"tab\" or \"blank\" where decimal_sign = \",\"",
        );
        return None;
    }
    Some(ColumnLayout {
        delimiter: delimiter?,
        header: header?,
        count: count?,
        seal: seal?,
    })
}

#[cfg(test)]
mod tests {
    use crate::instrument::{Checksum, Form, Profile, Seal, Sum};

    fn profile(lines: &str) -> Result<Profile, crate::faults::Faults> {
        let text = format!(
            "schema = 1\nname = \"m\"\nabout = \"a meter\"\nmanner = \"unasked\"\n{lines}\n[[value]]\nchannel = \"battery_v\"\nposition = 2\nunit = \"V\"\n"
        );
        Profile::parse("m", &text)
    }

    #[test]
    fn the_keys_of_columns_are_read() {
        let lines =
            "[lines]\nlayout = \"columns\"\ncolumns = 5\nchecksum = \"required\"\nsum = \"crc-8\"";
        let form = profile(lines).unwrap().form;
        let Form::Columns(layout) = form else {
            panic!("{form:?}")
        };
        assert_eq!(layout.count, Some(5));
        let want = Seal {
            need: Checksum::Required,
            sum: Sum::Crc8,
            after: None,
        };
        assert_eq!(layout.seal, Some(want));
    }

    #[test]
    fn a_comma_cannot_be_both_delimiter_and_decimal_sign() {
        let lines = "decimal_sign = \",\"\n[lines]\nlayout = \"columns\"\nsum = \"md5\"";
        insta::assert_snapshot!(profile(lines).unwrap_err(), @r#"
        line 6: lines: a comma between columns and in numbers: expected delimiter = "semicolon", "tab" or "blank" where decimal_sign = ","
        line 8: lines.sum: found "md5": expected one of "xor", "crc-8", "add-8"
        "#);
        let lines = "[lines]\nlayout = \"columns\"\nsum = \"md5\"\nchecksums = \"required\"";
        insta::assert_snapshot!(profile(lines).unwrap_err(), @r#"
        line 7: lines.sum: found "md5": expected one of "xor", "crc-8", "add-8"
        line 8: lines.checksums: unknown key: did you mean checksum?
        "#);
    }
}

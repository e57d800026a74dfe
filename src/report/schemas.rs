//! The schema of each form, kept in `tests/snapshots/schemas`: the keys that other programs may rely on.

use std::path::Path;

use schemars::{JsonSchema, generate::SchemaSettings};

use super::form::Whole;

/// Holds the form's schema against the kept one, or writes it if snapshots are to be written.
fn hold<F: JsonSchema>(name: &str) {
    let mut schema = SchemaSettings::draft2020_12()
        .for_serialize()
        .into_generator()
        .into_root_schema_for::<Whole<F>>();
    schema.remove("description");
    schema.insert("title".to_owned(), format!("sagtrace {name}").into());
    let found = serde_json::to_string_pretty(&schema).unwrap() + "\n";
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/snapshots/schemas")
        .join(name)
        .with_extension("json");
    if std::env::var("INSTA_UPDATE").is_ok_and(|how| how == "always") {
        std::fs::write(&path, &found).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        found == kept,
        "{} is not the schema of its form: a key was added, renamed or dropped. Raise SCHEMA where a reader would \
         misread it, then write the snapshots with INSTA_UPDATE=always",
        path.display()
    );
}

#[test]
fn every_form_has_the_schema_that_is_kept() {
    hold::<super::battery::backtest::Json<'_>>("battery-backtest");
    hold::<super::battery::json::List<'_>>("battery-list");
    hold::<super::battery::json::One<'_>>("battery");
    hold::<super::battery::plan::Json<'_>>("predict-evening");
    hold::<super::battery::test::Json>("battery-test");
    hold::<super::cautions::Json>("cautions");
    hold::<super::check::Json<'_>>("check");
    hold::<super::compare::Json<'_>>("compare");
    hold::<super::diagnose::Json<'_>>("diagnose");
    hold::<super::ports::PortsJson>("ports");
    hold::<super::ports::ProofsJson<'_>>("record-dry-run");
    hold::<super::predict::json::Json<'_>>("predict");
    hold::<super::predict::wanted::Json<'_>>("predict-wanted");
    hold::<super::record::Json<'_>>("record");
    hold::<super::sheets::Json<'_>>("compare-sheets");
}

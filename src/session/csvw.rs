//! `samples.csv-metadata.json`: the columns described for other programs (W3C CSV on the Web, 2015).

use serde_json::{Value, json};

use super::forecast_columns::{COLUMNS, Form};
use super::meta::Meta;
use crate::reading::{Channel, Status};

/// The metadata of `samples.csv` as JSON text.
pub(super) fn metadata(meta: &Meta, channels: &[Channel]) -> String {
    let mut columns = vec![
        column(
            "timestamp",
            "wall time in UTC",
            &json!({"base": "dateTimeStamp"}),
            true,
        ),
        column(
            "elapsed_s",
            "seconds since the session began, rising from row to row of each source",
            &json!({"base": "decimal"}),
            true,
        ),
        column(
            "source",
            "the label of the instrument",
            &json!({"base": "string"}),
            true,
        ),
    ];
    for channel in channels {
        let title = format!("{} in {}", describe(*channel), channel.unit().symbol());
        columns.push(column(
            channel.column(),
            &title,
            &json!({"base": "double"}),
            false,
        ));
    }
    let words = Status::ALL.map(Status::word).join("|");
    let status = json!({"base": "string", "format": format!("^({words})$")});
    columns.push(column(
        "status",
        "what the row is worth; a battery voltage counts whatever befell the frequency, the note names what is doubted",
        &status,
        true,
    ));
    columns.push(column(
        "note",
        "why, in a few words",
        &json!({"base": "string"}),
        false,
    ));
    let origin = if meta.simulated {
        "simulated: invented by a virtual bench, not measured"
    } else {
        "measured"
    };
    table(
        meta,
        &json!(["source", "elapsed_s"]),
        "samples.csv",
        "readings of one session",
        origin,
        &columns,
    )
}

/// The metadata of `forecast.csv` as JSON text.
pub(super) fn forecast_metadata(meta: &Meta) -> String {
    let columns: Vec<Value> = COLUMNS
        .iter()
        .map(|(name, description, form)| {
            let datatype = match form {
                Form::Time => json!({"base": "dateTimeStamp"}),
                Form::Decimal => json!({"base": "decimal"}),
                Form::Number => json!({"base": "double"}),
                Form::Text => json!({"base": "string"}),
                Form::Words(words) => {
                    json!({"base": "string", "format": format!("^({})$", words.join("|"))})
                }
            };
            let required = matches!(*name, "timestamp" | "elapsed_s" | "running_s" | "said");
            column(name, description, &datatype, required)
        })
        .collect();
    let origin = if meta.simulated {
        "computed from readings that a virtual bench invented"
    } else {
        "computed from the readings up to each moment; none is measured"
    };
    let title = "time left of the battery as predicted";
    table(
        meta,
        &json!("elapsed_s"),
        "forecast.csv",
        title,
        origin,
        &columns,
    )
}

fn table(
    meta: &Meta,
    key: &Value,
    file: &str,
    title: &str,
    origin: &str,
    columns: &[Value],
) -> String {
    let table = json!({
        "@context": "http://www.w3.org/ns/csvw",
        "url": file,
        "dc:title": format!("{}: {title}", meta.build),
        "dc:created": meta.started,
        "dc:description": origin,
        "dc:creator": meta.program,
        "dialect": {"encoding": "utf-8", "lineTerminators": ["\n"], "header": true, "delimiter": ","},
        "tableSchema": {"columns": columns, "primaryKey": key},
    });
    format!("{table:#}\n")
}

fn column(name: &str, description: &str, datatype: &Value, required: bool) -> Value {
    json!({
        "name": name,
        "titles": name,
        "dc:description": description,
        "datatype": datatype,
        "required": required,
    })
}

const fn describe(channel: Channel) -> &'static str {
    match channel {
        Channel::FrequencyHz => "frequency of the oscillation",
        Channel::BatteryV => "battery voltage at the circuit",
        Channel::CurrentA => "supply current",
        Channel::AmplitudeV => "peak-to-peak voltage at the pick-up",
        Channel::TemperatureC => "temperature",
    }
}

//! The description that can still be read from a damaged `session.toml`, so that the rows beside it are not lost with it.

use std::path::Path;

use crate::input;
use crate::session::error::SessionError;
use crate::session::meta::{InstrumentMeta, Meta};
use crate::session::opened::sheet_beside;
use crate::session::reader::RowReader;
use crate::session::text::line_of;

/// Lines that are left out before the rest is given up. Chosen: more than a description has.
const MOST_LINES: usize = 1000;

/// The description of a session, rebuilt from its readable parts; it says so itself.
pub(super) struct Salvaged {
    /// The description.
    pub(super) meta: Meta,
    /// The parts it lacks.
    pub(super) lost: String,
}

/// Makes a description of a session whose own cannot be read, from the rest of it, the rows and the sheet.
pub(super) fn salvage(dir: &Path) -> Result<Salvaged, SessionError> {
    let text = input::read_text(&dir.join("session.toml")).unwrap_or_default();
    let (mut began_ms, mut labels) = (None, Vec::new());
    let mut reader = RowReader::open(&dir.join("samples.csv"))?;
    let header = String::from_utf8_lossy(reader.line()).into_owned();
    while let Some(row) = reader.next_row()? {
        began_ms.get_or_insert(row.stamp.wall_ms);
        if !labels.contains(&row.source) {
            labels.push(row.source);
        }
    }
    let sheet = sheet_beside(dir)?.map(|text| readable(&text));
    let name = sheet.and_then(|sheet| Some(sheet.get("name")?.as_str()?.to_owned()));
    let build = name.unwrap_or_else(|| "unknown".to_owned());
    let mut meta = Meta::new(began_ms.unwrap_or(0), build);
    meta.columns = header.split(',').map(str::to_owned).collect();
    meta.instruments = labels.iter().map(|label| unknown(label)).collect();
    // An invented session must not pass for a measured one because a line was lost.
    meta.simulated = true;
    let (kept, has_simulated) = overlay(&meta, &readable(&text));
    let lost = if has_simulated {
        "what its damaged lines said is lost".to_owned()
    } else {
        "what its damaged lines said is lost; whether it was simulated is unknown, so simulated = true until you correct it"
            .to_owned()
    };
    Ok(Salvaged { meta: kept, lost })
}

fn unknown(label: &str) -> InstrumentMeta {
    let unknown = || "unknown".to_owned();
    InstrumentMeta {
        label: label.to_owned(),
        profile: unknown(),
        address: unknown(),
        identity: None,
        every_s: None,
        gate_time: unknown(),
        averaging: unknown(),
        clock: None,
    }
}

/// Returns the keys that can be read once the lines that cannot are left out.
fn readable(text: &str) -> toml::Table {
    let mut lines: Vec<&str> = text.lines().collect();
    for _ in 0..MOST_LINES {
        let text = lines.join("\n");
        match toml::from_str::<toml::Table>(&text) {
            Ok(table) => return table,
            Err(error) => {
                let at = error.span().map_or(0, |span| span.start);
                match lines.get_mut(line_of(&text, at) - 1) {
                    Some(line) if !line.is_empty() => *line = "",
                    _ => break,
                }
            }
        }
    }
    toml::Table::new()
}

/// Lays each key that fits over a description, and returns it with whether a key says if the session was simulated.
fn overlay(meta: &Meta, read: &toml::Table) -> (Meta, bool) {
    let mut kept = meta.clone();
    let mut has_simulated = false;
    for (key, value) in read {
        let Ok(mut table) = toml::Table::try_from(&kept) else {
            break;
        };
        table.insert(key.clone(), value.clone());
        if let Ok(next) = table.try_into() {
            kept = next;
            has_simulated |= key == "simulated";
        }
    }
    (kept, has_simulated)
}

//! The beginning of a recording: its folder, with all that stands there from the start.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::error::RecordingError;
use super::news::{Listener, News};
use crate::acquire::Source;
use crate::reading::Channel;
use crate::session::{self, Contents, InstrumentMeta, Meta, SessionError, Writer};
use crate::transport::{KeptBytes, Unwritten};

/// An instrument that is open and ready.
#[derive(Debug)]
pub struct Ready {
    /// Its entry in `session.toml`.
    pub meta: InstrumentMeta,
    /// The text of its profile.
    pub profile_text: String,
    /// The line to it.
    pub source: Source,
    /// Its byte log, if one is kept.
    pub bytes: Option<Unwritten>,
}

/// The subject of a session.
#[derive(Debug)]
pub struct About {
    /// When it began, in milliseconds since 1970-01-01 UTC: for byte logs, when they did.
    pub began_ms: i64,
    /// The text of the build's sheet.
    pub build_sheet: Option<String>,
    /// Its entry in `session.toml`; the instruments are added.
    pub meta: Meta,
}

/// Where the session goes.
#[derive(Debug)]
pub struct Folder {
    /// Its folder; `None` for a new one, named by time and build.
    pub out: Option<PathBuf>,
    /// The folder that a new one is made in; `None` for the current one.
    pub parent: Option<PathBuf>,
    /// Whether a folder that is there is moved aside.
    pub replace: bool,
}

impl Folder {
    /// Returns where earlier sessions are: beside this one.
    pub fn earlier(&self) -> PathBuf {
        let beside = self.out.as_deref().and_then(Path::parent);
        let dir = self
            .parent
            .as_deref()
            .or(beside)
            .unwrap_or_else(|| ".".as_ref());
        if dir.as_os_str().is_empty() {
            PathBuf::from(".")
        } else {
            dir.to_owned()
        }
    }

    /// Makes the folder.
    fn make(
        &self,
        began_ms: i64,
        build: &str,
        hear: &mut Listener,
    ) -> Result<PathBuf, SessionError> {
        let dir = self.out.clone().unwrap_or_else(|| {
            let name = session::folder_name(began_ms, build);
            // Two recordings can begin in one second.
            session::unused(&self.parent.clone().unwrap_or_default().join(name))
        });
        if let Some(aside) = session::prepare_folder(&dir, self.replace, began_ms)? {
            hear(News::MovedAside(aside));
        }
        Ok(dir)
    }
}

/// A recording whose folder is made.
#[derive(Debug)]
pub struct Begun {
    pub(super) sources: Vec<Source>,
    pub(super) writer: Writer,
    pub(super) kept: KeptLogs,
}

/// The byte logs of a recording, each with the label of its instrument.
pub(super) type KeptLogs = Vec<(Arc<str>, KeptBytes)>;

/// Makes the folder of a recording, and in it all that stands there from the start.
///
/// The instruments are open already: a port that can't be opened leaves no half-made folder.
///
/// # Errors
/// [`RecordingError::NoFolder`], [`RecordingError::ByteLog`].
pub fn begin(
    instruments: Vec<Ready>,
    about: About,
    folder: &Folder,
    hear: &mut Listener,
) -> Result<Begun, RecordingError> {
    let values = instruments
        .iter()
        .flat_map(|one| &one.source.profile.values);
    let mut channels: Vec<Channel> = values.map(|rule| rule.channel).collect();
    channels.sort_unstable();
    channels.dedup();
    let (mut sources, mut unwritten) = (Vec::new(), Vec::new());
    let mut profiles = Vec::new();
    let mut meta = about.meta;
    for one in instruments {
        unwritten.extend(one.bytes.map(|log| (Arc::clone(&one.source.label), log)));
        profiles.push((one.meta.label.clone(), one.profile_text));
        meta.instruments.push(one.meta);
        sources.push(one.source);
    }
    let dir = folder
        .make(about.began_ms, &meta.build, hear)
        .map_err(RecordingError::NoFolder)?;
    let contents = Contents {
        build_sheet: about.build_sheet,
        profiles,
    };
    let writer =
        Writer::create(&dir, meta, &channels, &contents).map_err(RecordingError::NoFolder)?;
    let kept = write_bytes(unwritten, writer.dir())?;
    Ok(Begun {
        sources,
        writer,
        kept,
    })
}

/// Gives each byte log its file, `bytes/LABEL.log` in the session folder.
fn write_bytes(
    unwritten: Vec<(Arc<str>, Unwritten)>,
    dir: &Path,
) -> Result<KeptLogs, RecordingError> {
    let dir = dir.join("bytes");
    let cannot = |path: &Path| {
        let path = path.to_owned();
        move |source| RecordingError::ByteLog { path, source }
    };
    if !unwritten.is_empty() {
        std::fs::create_dir_all(&dir).map_err(cannot(&dir))?;
    }
    let mut kept = Vec::new();
    for (label, log) in unwritten {
        let path = dir.join(format!("{label}.log"));
        let log = log.write_to(&path).map_err(cannot(&path))?;
        kept.push((label, log));
    }
    Ok(kept)
}

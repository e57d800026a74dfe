//! Opens the instruments that were named: port, network or byte log.

use std::io;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use serialport::{DataBits, FlowControl, Parity, StopBits};

use super::address::Place;
use super::naming::Named;
use crate::acquire::{Source, line_end};
use crate::clock::{Clock, Deadline};
use crate::instrument::{Handshake, Manner, ParityBit, PortRule, Profile};
use crate::plain::with_causes;
use crate::transport::{
    self, Cut, Keeper, Link, OpenError, Opener, Pipe, Places, ReplayError, SerialSettings, Speed,
};

/// A port that is busy may be so for the seconds in which a modem manager looks at it.
const BUSY_PATIENCE: Duration = Duration::from_secs(10);

/// How often a port that is busy is tried again.
const BUSY_PAUSE: Duration = Duration::from_millis(500);

/// Why an instrument can't be opened.
#[derive(Debug, thiserror::Error)]
pub enum OpeningError {
    /// Its port or its network address does not open.
    #[error("{}", with_causes(error))]
    Port {
        /// Why.
        error: OpenError,
        /// The group whose members may use a port that this user may not.
        group: Option<String>,
    },
    /// Its byte log can't be played.
    #[error(transparent)]
    Log(#[from] ReplayError),
    /// The system gives no thread for it.
    #[error("no thread for the port")]
    Thread(#[from] io::Error),
}

/// News while an instrument is opened, which stops nobody.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum OpeningNews {
    /// A byte log ends in half a line, which is left out.
    TornLog(PathBuf),
    /// Another program has the port; it is tried again for a while.
    Busy {
        /// The port.
        path: String,
        /// That while.
        patience: Duration,
    },
}

impl Named {
    /// Opens the port or log; its bytes go to the keeper, and news meanwhile goes to `hear`.
    ///
    /// # Errors
    /// [`OpeningError`] when it does not open.
    pub fn open(
        mut self,
        clock: &Clock,
        speed: Speed,
        keeper: Keeper,
        hear: &mut dyn FnMut(&OpeningNews),
    ) -> Result<Source, OpeningError> {
        let link = match self.address.place {
            Place::Log(path) => {
                let (manner, cut) = (manner(self.profile.manner), cut(&self.profile.port));
                let replay = transport::replay(manner, &path, cut, speed)?;
                if replay.is_torn {
                    hear(&OpeningNews::TornLog(path));
                }
                replay.link
            }
            Place::Serial { path, baud } => {
                let port = &mut self.profile.port;
                // How long a block may take goes by the speed that is in force.
                port.baud = baud.unwrap_or(port.baud);
                let places = Places::of_this_machine();
                let opener = transport::serial_opener(path, serial_settings(port), places);
                live(&self.profile, opener, clock, keeper, hear)?
            }
            Place::Tcp(address) => {
                let opener: Opener = Box::new(move || transport::open_tcp(&address));
                live(&self.profile, opener, clock, keeper, hear)?
            }
        };
        Ok(Source {
            label: Arc::from(self.address.label),
            profile: self.profile,
            link,
            every: self.every,
            clock: clock.clone(),
        })
    }
}

/// Opens a port and gives it its thread.
fn live(
    profile: &Profile,
    mut opener: Opener,
    clock: &Clock,
    keeper: Keeper,
    hear: &mut dyn FnMut(&OpeningNews),
) -> Result<Link, OpeningError> {
    let pipe = open_patiently(&mut opener, hear).map_err(|error| {
        let group = match &error {
            OpenError::Permission { path } => group_of(path),
            _ => None,
        };
        OpeningError::Port { error, group }
    })?;
    let (manner, cut) = (manner(profile.manner), cut(&profile.port));
    let link = transport::link_kept(manner, pipe, opener, cut, clock.clone(), keeper)?;
    Ok(link)
}

/// Opens a port, waiting a while for one that is busy.
fn open_patiently(
    opener: &mut Opener,
    hear: &mut dyn FnMut(&OpeningNews),
) -> Result<Box<dyn Pipe>, OpenError> {
    let deadline = Deadline::after(BUSY_PATIENCE);
    let mut is_told = false;
    loop {
        match opener() {
            Err(OpenError::Busy { path }) if !deadline.is_over() => {
                if !std::mem::replace(&mut is_told, true) {
                    let patience = BUSY_PATIENCE;
                    hear(&OpeningNews::Busy { path, patience });
                }
                deadline.pause(BUSY_PAUSE);
            }
            other => return other,
        }
    }
}

/// A link's manner for an instrument's.
pub(super) const fn manner(manner: Manner) -> transport::Manner {
    match manner {
        Manner::Asked => transport::Manner::Asked,
        Manner::Unasked => transport::Manner::Unasked,
    }
}

/// How the lines of a port are cut.
pub(super) const fn cut(port: &PortRule) -> Cut {
    Cut {
        end: line_end(port),
        limit: port.longest_line,
    }
}

/// The serial settings of a profile.
pub(super) const fn serial_settings(port: &PortRule) -> SerialSettings {
    SerialSettings {
        baud: port.baud,
        data_bits: if port.data_bits == 7 {
            DataBits::Seven
        } else {
            DataBits::Eight
        },
        parity: match port.parity {
            ParityBit::None => Parity::None,
            ParityBit::Even => Parity::Even,
            ParityBit::Odd => Parity::Odd,
        },
        stop_bits: if port.stop_bits == 2 {
            StopBits::Two
        } else {
            StopBits::One
        },
        flow: match port.handshake {
            Handshake::None => FlowControl::None,
            Handshake::Hardware => FlowControl::Hardware,
            Handshake::Software => FlowControl::Software,
        },
        dtr: port.dtr,
        rts: port.rts,
    }
}

/// The group whose members may use a port; `None` where there is none, or it is the administrator's.
#[cfg(unix)]
fn group_of(path: &str) -> Option<String> {
    use std::os::unix::fs::MetadataExt as _;
    const READ_AND_WRITE: u32 = 0o060;
    let meta = std::fs::metadata(path).ok()?;
    if meta.gid() == 0 || meta.mode() & READ_AND_WRITE != READ_AND_WRITE {
        return None;
    }
    group_name(&std::fs::read_to_string("/etc/group").ok()?, meta.gid())
}

#[cfg(not(unix))]
const fn group_of(_: &str) -> Option<String> {
    None
}

/// The name of a group in the text of `/etc/group`, whose lines are `name:password:number:members`, group(5).
#[cfg(unix)]
fn group_name(groups: &str, number: u32) -> Option<String> {
    groups.lines().find_map(|line| {
        let mut fields = line.split(':');
        let name = fields.next()?;
        (fields.nth(1)?.parse() == Ok(number)).then(|| name.to_owned())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// No wire of a pseudo-terminal shows the levels; that the port is asked for them is all that can be held.
    #[test]
    fn the_serial_port_is_asked_for_what_the_profile_says() {
        let shipped = include_str!("../../devices/scpi-counter.toml");
        let keys = "[port]\ndata_bits = 7\nparity = \"even\"\nstop_bits = 2\nrts = false\n";
        let text = shipped.replacen("[port]\n", keys, 1);
        let profile = Profile::parse("scpi-counter", &text).unwrap();
        let settings = serial_settings(&profile.port);
        assert_eq!(settings.baud, profile.port.baud);
        assert_eq!(
            (settings.data_bits, settings.parity, settings.stop_bits),
            (DataBits::Seven, Parity::Even, StopBits::Two)
        );
        assert!(settings.dtr && !settings.rts);
    }
}

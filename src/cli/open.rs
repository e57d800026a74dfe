//! Opens the instruments that were named: profile, connection, port.

use std::sync::Arc;
use std::time::Duration;

use serialport::{DataBits, FlowControl, Parity, StopBits};

use super::address::{Address, Place};
use super::exit::{Failure, INSTRUMENT, USAGE};
use super::output;
use crate::acquire::{Source, line_end};
use crate::clock::{Clock, Deadline};
use crate::instrument::{
    Catalogue, CatalogueError, Handshake, Manner, Multiplier, ParityBit, PortRule, Profile,
};
use crate::plain::Shown as _;
use crate::reading::Channel;
use crate::session::{Clause, Connection, InstrumentMeta, LinkMeta};
use crate::transport::{
    self, Cut, Keeper, OpenError, Opener, Places, ReplayError, SerialSettings, Speed,
};

/// A port that is busy may be so for the seconds in which a modem manager looks at it.
const BUSY_PATIENCE: Duration = Duration::from_secs(10);

/// An instrument with its profile, not yet open.
#[derive(Debug)]
pub(super) struct Named {
    pub(super) address: Address,
    pub(super) profile: Profile,
    pub(super) profile_text: String,
    pub(super) every: Duration,
}

/// Looks the profiles up and gives each its part of the connection.
pub(super) fn name_all(
    addresses: Vec<Address>,
    catalogue: &Catalogue,
    connection: &Connection,
    every: Option<Duration>,
) -> Result<(Vec<Named>, Vec<LinkMeta>), Failure> {
    let mut named: Vec<Named> = Vec::new();
    for address in addresses {
        if named
            .iter()
            .any(|other| other.address.label == address.label)
        {
            let message = format!("two instruments have the label \"{}\"", address.label);
            return Err(Failure::new(USAGE, message)
                .hint("give each a label of its own, like f=PROFILE@… and v=PROFILE@…"));
        }
        let is_same_port = |other: &Named| match (&other.address.place, &address.place) {
            (Place::Serial { path, .. }, Place::Serial { path: other, .. }) => path == other,
            _ => false,
        };
        if named.iter().any(is_same_port) {
            let message = format!("two instruments at one port: {}", address.place);
            return Err(Failure::new(USAGE, message)
                .hint("one profile reads all values of a port: give it one more [[value]]"));
        }
        let (profile, text) = catalogue
            .get(&address.profile)
            .map_err(|error| profile_failure(&error))?;
        let every = every.unwrap_or(profile.timing.every);
        named.push(Named {
            profile_text: text.to_owned(),
            profile,
            every,
            address,
        });
    }
    let mut links = Vec::new();
    for clause in &connection.clauses {
        links.push(join(clause, &mut named)?);
    }
    Ok((named, links))
}

/// A profile that can't be had, with the name that may be meant.
fn profile_failure(error: &CatalogueError) -> Failure {
    let failure = Failure::from_error(USAGE, error);
    match error {
        CatalogueError::Unknown { near, .. } => match near {
            Some(near) => failure.hint(format!("did you mean {near}?")),
            None => failure.hint(
                "a profile of your own goes to ~/.config/sagtrace/devices/NAME.toml; see devices/README.md",
            ),
        },
        CatalogueError::Faulty { .. } => failure.hint("devices/README.md has every key"),
        CatalogueError::Unreadable { .. } => {
            failure.hint("mend it, or take it out of the folder of your profiles")
        }
    }
}

/// Puts a clause's factor into the profile of the instrument that has the input.
fn join(clause: &Clause, named: &mut [Named]) -> Result<LinkMeta, Failure> {
    let mut inputs = Vec::new();
    let mut found = Vec::new();
    for (index, instrument) in named.iter().enumerate() {
        for rule in &instrument.profile.values {
            let name = format!("{}:{}", instrument.address.label, rule.input);
            if !inputs.contains(&name) {
                inputs.push(name);
            }
        }
        let is_label = clause
            .label
            .as_ref()
            .is_none_or(|label| *label == instrument.address.label);
        if is_label
            && instrument
                .profile
                .values
                .iter()
                .any(|rule| rule.input == clause.input)
        {
            found.push(index);
        }
    }
    let message = match found.as_slice() {
        [_] => None,
        [] => Some(format!(
            "no instrument has the input {}: there are {}",
            clause.input,
            inputs.join(", ")
        )),
        _ => Some(format!(
            "several instruments have an input {}",
            clause.input
        )),
    };
    if let Some(message) = message {
        return Err(Failure::new(USAGE, message)
            .hint(format!("name one of {} in --connected", inputs.join(", "))));
    }
    let Some(instrument) = found.first().and_then(|index| named.get_mut(*index)) else {
        return Err(Failure::new(USAGE, "no instrument"));
    };
    let mut scaled_columns = Vec::new();
    for rule in instrument
        .profile
        .values
        .iter_mut()
        .filter(|rule| rule.input == clause.input)
    {
        // A divider changes a voltage; it leaves a frequency as it is.
        if matches!(
            rule.channel,
            Channel::BatteryV | Channel::AmplitudeV | Channel::CurrentA
        ) {
            rule.number.multiplier = rule.number.multiplier.and(Multiplier::new(clause.factor));
            scaled_columns.push(rule.channel.column().to_owned());
        }
    }
    if scaled_columns.is_empty() && clause.factor.to_bits() != 1.0_f64.to_bits() {
        let message = format!(
            "input {} gives no voltage or current that a factor could apply to",
            clause.input
        );
        return Err(Failure::new(USAGE, message));
    }
    Ok(LinkMeta {
        instrument: instrument.address.label.clone(),
        input: clause.input.clone(),
        sees: clause.sees.clone(),
        factor: clause.factor,
        scaled_columns,
    })
}

impl Named {
    /// What `session.toml` says of it.
    pub(super) fn meta(&self) -> InstrumentMeta {
        let asked = self.profile.manner == Manner::Asked;
        InstrumentMeta {
            label: self.address.label.clone(),
            profile: self.profile.name.clone(),
            address: self.address.place.to_string(),
            identity: None,
            every_s: asked.then_some(self.every.as_secs_f64()),
            gate_time: self.profile.gate_time.clone(),
            averaging: self.profile.averaging.clone(),
            clock: None,
        }
    }

    /// Opens the port or log; its bytes go to the keeper.
    pub(super) fn open(
        mut self,
        clock: &Clock,
        speed: Speed,
        keeper: Keeper,
    ) -> Result<Source, Failure> {
        if let Place::Serial {
            baud: Some(baud), ..
        } = &self.address.place
        {
            // How long a block may take goes by the speed that is in force.
            self.profile.port.baud = *baud;
        }
        let cut = Cut {
            end: line_end(&self.profile.port),
            limit: self.profile.port.longest_line,
        };
        let manner = match self.profile.manner {
            Manner::Asked => transport::Manner::Asked,
            Manner::Unasked => transport::Manner::Unasked,
        };
        let link = if let Place::Log(path) = &self.address.place {
            let replay = transport::replay(manner, path, cut, speed)
                .map_err(|error| replay_failure(&error))?;
            if replay.is_torn {
                let path = path.shown();
                output::note(&format!(
                    "the last line of {path} is half a line and left out"
                ));
            }
            replay.link
        } else {
            let mut opener = opener(&self.address.place, &self.profile.port);
            let pipe = open_patiently(&mut opener).map_err(|error| open_failure(&error))?;
            transport::link_kept(manner, pipe, opener, cut, clock.clone(), keeper).map_err(
                |error| Failure::new(INSTRUMENT, format!("no thread for the port: {error}")),
            )?
        };
        Ok(Source {
            label: Arc::from(self.address.label.as_str()),
            profile: self.profile,
            link,
            every: self.every,
            clock: clock.clone(),
        })
    }
}

/// The serial settings of a profile.
pub(super) const fn serial_settings(port: &PortRule, baud: Option<u32>) -> SerialSettings {
    SerialSettings {
        baud: match baud {
            Some(baud) => baud,
            None => port.baud,
        },
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

/// A byte log that can't be played, with what to do about it.
fn replay_failure(error: &ReplayError) -> Failure {
    let failure = Failure::from_error(USAGE, error);
    failure.hint(match error {
        ReplayError::Unreadable { .. } => {
            "record --keep-bytes makes byte logs, as bytes/LABEL.log in the session folder"
        }
        ReplayError::BadEntry { .. } => "README.md describes the byte log, line by line",
    })
}

pub(super) fn opener(place: &Place, port: &PortRule) -> Opener {
    match place {
        Place::Serial { path, baud } => {
            let (path, settings) = (path.clone(), serial_settings(port, *baud));
            transport::serial_opener(path, settings, Places::of_this_machine())
        }
        Place::Tcp(address) => {
            let address = address.clone();
            Box::new(move || transport::open_tcp(&address))
        }
        Place::Log(_) => Box::new(|| {
            Err(OpenError::NotFound {
                path: "log".to_owned(),
                found: Vec::new(),
            })
        }),
    }
}

/// Opens a port, waiting a while for one that is busy.
pub(super) fn open_patiently(opener: &mut Opener) -> Result<Box<dyn transport::Pipe>, OpenError> {
    let deadline = Deadline::after(BUSY_PATIENCE);
    let mut told = false;
    loop {
        match opener() {
            Err(OpenError::Busy { path }) if !deadline.is_over() => {
                if !told {
                    let seconds = BUSY_PATIENCE.as_secs();
                    output::note(&format!(
                        "{path} is in use by another program, trying again for {seconds} s"
                    ));
                    told = true;
                }
                deadline.pause(Duration::from_millis(500));
            }
            other => return other,
        }
    }
}

/// A port that can't be opened, with what to do about it.
pub(super) fn open_failure(error: &OpenError) -> Failure {
    let failure = Failure::from_error(INSTRUMENT, error);
    match error {
        OpenError::NotFound { .. } => failure.hint("plug it in and look with: sagtrace ports"),
        OpenError::Permission { path } => failure.hint(match group_of(path) {
            Some(group) => format!("{path} belongs to the group {group}: sudo usermod -aG {group} $USER, then log in again"),
            None => format!("serial ports belong to a group (see: ls -l {path}); on Debian: sudo usermod -aG dialout $USER, then log in again"),
        }),
        OpenError::Another { .. } => failure.hint("plug the one in that was recorded from"),
        OpenError::Busy { path } => failure.hint(format!("see who has it with: fuser {path}")),
        OpenError::NotSerial { .. } => failure.hint("see the serial ports with: sagtrace ports"),
        OpenError::Settings { .. } => failure.hint("set another speed with ,baud=N behind the port, or in the profile"),
        OpenError::Network { .. } => failure.hint("is the instrument on, and does its manual name this port for raw commands?"),
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
        let settings = serial_settings(&profile.port, Some(9600));
        assert_eq!(settings.baud, 9600);
        assert_eq!(
            (settings.data_bits, settings.parity, settings.stop_bits),
            (DataBits::Seven, Parity::Even, StopBits::Two)
        );
        assert!(settings.dtr && !settings.rts);
    }
}

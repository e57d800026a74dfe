//! The advice about instruments that can't be had, or not together.

use crate::instrument::CatalogueError;
use crate::recording::{NamingError, OpeningError};
use crate::transport::{OpenError, ReplayError};

/// Returns the advice about instruments that do not go together, or a profile that can't be had.
pub fn naming_hint(error: &NamingError) -> Option<String> {
    let hint = match error {
        NamingError::OneLabel(_) => {
            "give each a label of its own, like f=PROFILE@… and v=PROFILE@…".to_owned()
        }
        NamingError::OnePort(_) => {
            "one profile reads all values of a port: give it one more [[value]]".to_owned()
        }
        NamingError::Profile(error) => catalogue_hint(error),
        NamingError::NoInput { inputs, .. } | NamingError::SeveralInputs { inputs, .. } => {
            format!("name one of {} in --connected", inputs.join(", "))
        }
        NamingError::NoFactor(_) => return None,
    };
    Some(hint)
}

fn catalogue_hint(error: &CatalogueError) -> String {
    let hint = match error {
        CatalogueError::Unknown {
            near: Some(near), ..
        } => return format!("did you mean {near}?"),
        CatalogueError::Unknown { near: None, .. } => {
            "a profile of your own goes to ~/.config/sagtrace/devices/NAME.toml; see devices/README.md"
        }
        CatalogueError::Faulty { .. } => "devices/README.md has every key",
        CatalogueError::Unreadable { .. } => {
            "mend it, or take it out of the folder of your profiles"
        }
    };
    hint.to_owned()
}

/// Returns the advice about an instrument that does not open.
pub fn opening_hint(error: &OpeningError) -> Option<String> {
    let hint = match error {
        OpeningError::Port { error, group } => return Some(port_hint(error, group.as_deref())),
        OpeningError::Log(ReplayError::Unreadable { .. }) => {
            "record --keep-bytes makes byte logs, as bytes/LABEL.log in the session folder"
        }
        OpeningError::Log(ReplayError::BadEntry { .. }) => {
            "sagtrace guide files describes the byte log, line by line"
        }
        OpeningError::Thread(_) => return None,
    };
    Some(hint.to_owned())
}

fn port_hint(error: &OpenError, group: Option<&str>) -> String {
    let hint = match error {
        OpenError::NotFound { .. } => "plug it in and look with: sagtrace ports",
        OpenError::Permission { path } => {
            return match group {
                Some(group) => format!(
                    "{path} belongs to the group {group}: sudo usermod -aG {group} $USER, then log in again"
                ),
                None => format!(
                    "serial ports belong to a group (see: ls -l {path}); on Debian: sudo usermod -aG dialout $USER, then log in again"
                ),
            };
        }
        OpenError::Another { .. } => "plug the one in that was recorded from",
        OpenError::Busy { path } => return format!("see who has it with: fuser {path}"),
        OpenError::NotSerial { .. } => "see the serial ports with: sagtrace ports",
        OpenError::Settings { .. } => {
            "set another speed with ,baud=N behind the port, or in the profile"
        }
        OpenError::Network { .. } => {
            "is the instrument on, and does its manual name this port for raw commands?"
        }
    };
    hint.to_owned()
}

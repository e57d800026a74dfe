//! Where an instrument is: `[LABEL=]PROFILE@serial:PATH[,baud=N]`, `@tcp:HOST:PORT`, `@log:FILE`.

use std::fmt;
use std::path::PathBuf;
use std::str::FromStr;

/// The place of an instrument.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// A serial port; its speed where it is not the profile's.
    Serial {
        /// Its path.
        path: String,
        /// Its speed.
        baud: Option<u32>,
    },
    /// Host and port.
    Tcp(String),
    /// A byte log.
    Log(PathBuf),
}

/// An instrument as it was named on the command line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Address {
    /// Its name in the session.
    pub label: String,
    /// The name of its profile.
    pub profile: String,
    /// Where it is.
    pub place: Place,
}

/// How an address is written.
const WANTED: &str = "write it like scpi-counter@serial:/dev/ttyUSB0, @tcp:HOST:PORT or @log:FILE";

/// Why a text is no address.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum AddressError {
    /// Nothing parts profile and place.
    #[error("no @ between profile and place, {}", WANTED)]
    NoAt,
    /// The label could not name a file.
    #[error("the label \"{0}\" is made of other than letters, digits, - _ .")]
    Label(String),
    /// No profile is named.
    #[error("no profile before the @, {}", WANTED)]
    NoProfile,
    /// Host and port of a network address are not both there.
    #[error("tcp wants host and port, like tcp:192.168.1.20:5025")]
    Tcp,
    /// The place is of no known form.
    #[error("the place \"{0}\" is not one of serial:, tcp:, log:, {wanted}", wanted = WANTED)]
    Place(String),
    /// The text behind a serial port is not its speed.
    #[error("\"{0}\" is not baud=N with N above 0")]
    Baud(String),
}

impl FromStr for Address {
    type Err = AddressError;

    fn from_str(text: &str) -> Result<Self, AddressError> {
        let (name, place) = text.split_once('@').ok_or(AddressError::NoAt)?;
        let (label, profile) = name.split_once('=').unwrap_or((name, name));
        let is_label = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.');
        if label.is_empty() || !label.chars().all(is_label) || label.starts_with('.') {
            return Err(AddressError::Label(label.to_owned()));
        }
        if profile.is_empty() {
            return Err(AddressError::NoProfile);
        }
        let place = match place.split_once(':') {
            Some(("serial", rest)) if !rest.is_empty() => serial(rest)?,
            Some(("tcp", rest))
                if rest.rsplit_once(':').is_some_and(|(host, port)| {
                    !host.is_empty() && port.parse::<u16>().is_ok()
                }) =>
            {
                Place::Tcp(rest.to_owned())
            }
            Some(("tcp", _)) => return Err(AddressError::Tcp),
            Some(("log", rest)) if !rest.is_empty() => Place::Log(PathBuf::from(rest)),
            _ => return Err(AddressError::Place(place.to_owned())),
        };
        Ok(Self {
            label: label.to_owned(),
            profile: profile.to_owned(),
            place,
        })
    }
}

fn serial(rest: &str) -> Result<Place, AddressError> {
    let (path, option) = match rest.split_once(',') {
        Some((path, option)) => (path, Some(option)),
        None => (rest, None),
    };
    let baud = match option {
        None => None,
        Some(option) => {
            let number = option
                .strip_prefix("baud=")
                .and_then(|number| number.parse().ok())
                .filter(|baud| *baud > 0);
            Some(number.ok_or_else(|| AddressError::Baud(option.to_owned()))?)
        }
    };
    Ok(Place::Serial {
        path: path.to_owned(),
        baud,
    })
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.label != self.profile {
            write!(f, "{}=", self.label)?;
        }
        write!(f, "{}@{}", self.profile, self.place)
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Serial { path, baud: None } => write!(f, "serial:{path}"),
            Self::Serial {
                path,
                baud: Some(baud),
            } => write!(f, "serial:{path},baud={baud}"),
            Self::Tcp(address) => write!(f, "tcp:{address}"),
            Self::Log(path) => write!(f, "log:{}", path.display()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_form_of_an_address_is_read() {
        let read = |text: &str| text.parse::<Address>().unwrap();
        let address = read("f=scpi-counter@serial:/dev/ttyUSB0,baud=9600");
        assert_eq!(
            (address.label.as_str(), address.profile.as_str()),
            ("f", "scpi-counter")
        );
        assert_eq!(
            address.place,
            Place::Serial {
                path: "/dev/ttyUSB0".to_owned(),
                baud: Some(9600)
            }
        );
        assert_eq!(read("plain-lines@serial:COM3").label, "plain-lines");
        assert_eq!(
            read("scpi-scope@tcp:192.168.1.20:5025").place.to_string(),
            "tcp:192.168.1.20:5025"
        );
        assert_eq!(
            read("columns@log:bytes.log").place,
            Place::Log(PathBuf::from("bytes.log"))
        );
    }

    #[test]
    fn what_is_no_address_is_refused_with_what_to_write() {
        for text in [
            "/dev/ttyUSB0",
            "@serial:x",
            "a/b=p@serial:x",
            "p@usb:x",
            "p@serial:",
            "p@tcp:host",
            "p@serial:x,9600",
            "p@serial:x,baud=0",
        ] {
            assert!(text.parse::<Address>().is_err(), "{text}");
        }
    }
}

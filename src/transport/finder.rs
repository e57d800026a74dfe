//! Finds a serial port again that came back under another name, and notices when another device has taken its name.
//!
//! A port is known by its plug: USB vendor, product and serial number. Cheap adapters have no number, and then it is the socket
//! they are in. Where the system knows nothing of the plug, the link in `by-id` that leads to the port stands for it.

use std::fmt;
use std::fs;
use std::path::{Path, PathBuf};

use super::pipe::OpenError;
use super::plugged::port_names;
use crate::plain::Shown as _;

/// Links are followed so far and no further.
const LINKS: usize = 8;

/// Where a machine lists its serial ports: arguments, so that a made-up machine can stand in for it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Places {
    /// A folder for each terminal, with a link `device` to the place it is plugged into.
    pub terminals: PathBuf,
    /// Links named for the device that they lead to.
    pub by_id: PathBuf,
    /// Where the ports are opened.
    pub dev: PathBuf,
}

impl Places {
    /// The places of the machine that this runs on. Where there are none, a port is known by its path alone.
    pub fn of_this_machine() -> Self {
        Self {
            terminals: PathBuf::from("/sys/class/tty"),
            by_id: PathBuf::from("/dev/serial/by-id"),
            dev: PathBuf::from("/dev"),
        }
    }
}

/// The plug of a port, whatever the port is called.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Plug {
    vendor: String,
    product: String,
    serial_number: Option<String>,
    /// Some makers give every device the same number, which then means nothing.
    has_twin: bool,
    /// Devices with several ports number them by these.
    interface: Option<String>,
    port: Option<String>,
    /// The socket, like `1-2.3`.
    socket: String,
}

impl Plug {
    /// Reads the plug of the terminal of this name; `None` for one that is not on USB.
    fn of(terminals: &Path, name: &str) -> Option<Self> {
        let device = terminals.join(name).join("device").canonicalize().ok()?;
        let above = |file: &str| device.ancestors().find(|dir| dir.join(file).is_file());
        let usb = above("idVendor")?;
        Some(Self {
            vendor: word(&usb.join("idVendor"))?,
            product: word(&usb.join("idProduct"))?,
            serial_number: word(&usb.join("serial")),
            has_twin: false,
            interface: above("bInterfaceNumber")
                .and_then(|dir| word(&dir.join("bInterfaceNumber"))),
            port: word(&device.join("port_number")),
            socket: usb.file_name()?.to_string_lossy().into_owned(),
        })
    }

    /// Whether it is the same device, as far as USB shows.
    fn is(&self, other: &Self) -> bool {
        let kind = |plug: &Self| {
            let Self {
                vendor,
                product,
                serial_number,
                interface,
                port,
                ..
            } = plug.clone();
            (vendor, product, serial_number, interface, port)
        };
        let has_name = self.serial_number.is_some() && !self.has_twin;
        kind(self) == kind(other) && (has_name || self.socket == other.socket)
    }
}

impl fmt::Display for Plug {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "USB device {}:{} ", self.vendor, self.product)?;
        match &self.serial_number {
            Some(number) if self.has_twin => write!(f, "{number} in socket {}", self.socket),
            Some(number) => write!(f, "with serial number {number}"),
            None => write!(f, "without serial number in socket {}", self.socket),
        }
    }
}

/// A word that stands alone in a file; `None` for a file that is missing or empty.
fn word(path: &Path) -> Option<String> {
    let text = fs::read_to_string(path).ok()?;
    let text = text.trim();
    (!text.is_empty()).then(|| text.to_owned())
}

/// A port as it was named, and as it was when it was first open.
#[derive(Debug)]
pub(super) struct Finder {
    path: String,
    places: Places,
    known: Known,
}

/// The mark that a port is known by.
#[derive(Debug)]
enum Known {
    /// It has not been open yet.
    Nothing,
    /// The system knows nothing of it.
    Path,
    Link(PathBuf),
    Plug(Plug),
}

impl Finder {
    pub(super) const fn new(path: String, places: Places) -> Self {
        Self {
            path,
            places,
            known: Known::Nothing,
        }
    }

    /// Notes the mark that the port is known by. It is called when the port is first open.
    pub(super) fn learn(&mut self) {
        if matches!(self.known, Known::Nothing) {
            self.known = match (self.plug_at(&self.path), self.link_to_it()) {
                (Some(plug), _) => Known::Plug(Plug {
                    has_twin: self.alike(&plug).len() > 1,
                    ..plug
                }),
                (None, Some(link)) => Known::Link(link),
                (None, None) => Known::Path,
            };
        }
    }

    /// The path that leads to the port now.
    ///
    /// # Errors
    /// [`OpenError::Another`] when another device has its name and it is nowhere else, [`OpenError::NotFound`] when it is
    /// not plugged in.
    pub(super) fn find(&self) -> Result<String, OpenError> {
        match &self.known {
            Known::Nothing | Known::Path => Ok(self.path.clone()),
            Known::Link(link) if link.exists() => Ok(self.shortest(link)),
            Known::Link(link) => Err(self.missing(None, &format!("the one of {}", link.shown()))),
            Known::Plug(plug) => self.find_plug(plug),
        }
    }

    fn find_plug(&self, plug: &Plug) -> Result<String, OpenError> {
        let here = self.plug_at(&self.path);
        let alike = self.alike(plug);
        let in_socket = alike.iter().find(|(_, other)| other.socket == plug.socket);
        match (alike.as_slice(), in_socket) {
            (_, Some((name, found))) | ([(name, found)], None) => {
                Ok(if here.as_ref() == Some(found) {
                    self.path.clone()
                } else {
                    self.places.dev.join(name).to_string_lossy().into_owned()
                })
            }
            ([], None) => Err(self.missing(here.as_ref(), &plug.to_string())),
            _ => Err(OpenError::Another {
                path: self.path.clone(),
                found: format!("{} devices alike are plugged in", alike.len()),
                wanted: plug.to_string(),
            }),
        }
    }

    /// Returns the terminals that may be this device, with their plugs.
    fn alike(&self, plug: &Plug) -> Vec<(String, Plug)> {
        let read = |path: PathBuf| {
            let name = path.file_name()?.to_string_lossy().into_owned();
            let plug = Plug::of(&self.places.terminals, &name)?;
            Some((name, plug))
        };
        list(&self.places.terminals)
            .into_iter()
            .filter_map(read)
            .filter(|(_, other)| plug.is(other))
            .collect()
    }

    /// Why the port is not there: its name is gone, or is another's.
    fn missing(&self, here: Option<&Plug>, wanted: &str) -> OpenError {
        if Path::new(&self.path).exists() {
            OpenError::Another {
                path: self.path.clone(),
                found: here.map_or_else(|| "a device of another kind".to_owned(), Plug::to_string),
                wanted: wanted.to_owned(),
            }
        } else {
            OpenError::NotFound {
                path: self.path.clone(),
                found: port_names(),
            }
        }
    }

    fn plug_at(&self, path: &str) -> Option<Plug> {
        let terminal = self.terminal(Path::new(path))?;
        let name = terminal.file_name()?.to_string_lossy().into_owned();
        Plug::of(&self.places.terminals, &name)
    }

    /// The port itself that a path leads to, where that is one of the machine's.
    fn terminal(&self, path: &Path) -> Option<PathBuf> {
        let dev = self.places.dev.canonicalize().ok()?;
        let mut path = std::path::absolute(path).ok()?;
        for _ in 0..LINKS {
            let folder = path.parent()?.canonicalize().ok()?;
            path = folder.join(path.file_name()?);
            if folder == dev && self.places.terminals.join(path.file_name()?).exists() {
                return Some(path);
            }
            path = folder.join(fs::read_link(&path).ok()?);
        }
        None
    }

    /// The link in `by-id` that leads to the port.
    fn link_to_it(&self) -> Option<PathBuf> {
        let target = Path::new(&self.path).canonicalize().ok()?;
        list(&self.places.by_id)
            .into_iter()
            .find(|link| link.canonicalize().is_ok_and(|other| other == target))
    }

    /// The path as it was named, where it leads to the same port as the link.
    fn shortest(&self, link: &Path) -> String {
        match (link.canonicalize(), Path::new(&self.path).canonicalize()) {
            (Ok(one), Ok(other)) if one == other => self.path.clone(),
            _ => link.to_string_lossy().into_owned(),
        }
    }
}

/// Returns the entries of a folder, by name; nothing where it is missing.
fn list(dir: &Path) -> Vec<PathBuf> {
    let mut paths: Vec<PathBuf> = fs::read_dir(dir)
        .into_iter()
        .flatten()
        .filter_map(|entry| Some(entry.ok()?.path()))
        .collect();
    paths.sort();
    paths
}

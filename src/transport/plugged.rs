//! The ports that are plugged in.

use serialport::{SerialPortInfo, SerialPortType};

/// Why the machine's ports could not be listed.
#[derive(Debug, thiserror::Error)]
pub enum ListError {
    /// There is nothing to ask: a container or sandbox.
    #[error("this machine does not list its serial ports: {folder} is not there")]
    NoListing {
        /// The folder that is missing.
        folder: &'static str,
    },
    /// The system refused.
    #[error("the serial ports could not be listed")]
    System(#[from] serialport::Error),
}

/// The ports that the machine lists, by name.
///
/// # Errors
/// [`ListError`] where the system can't list them; a port can still be named by its path.
pub fn list_ports() -> Result<Vec<SerialPortInfo>, ListError> {
    #[cfg(target_os = "linux")]
    {
        // The library panics where this folder is missing.
        const FOLDER: &str = "/sys/class/tty";
        if std::fs::read_dir(FOLDER).is_err() {
            return Err(ListError::NoListing { folder: FOLDER });
        }
    }
    let mut ports = serialport::available_ports()?;
    ports.sort_by(|one, other| one.port_name.cmp(&other.port_name));
    Ok(ports)
}

/// The names of the ports that are plugged in by USB, none where the machine can't list them. A built-in port may lead anywhere.
pub fn usb_names() -> Vec<String> {
    let ports = list_ports().unwrap_or_default().into_iter();
    let usb = ports.filter(|port| matches!(port.port_type, SerialPortType::UsbPort(_)));
    usb.map(|port| port.port_name).collect()
}

/// The names of the ports that the machine lists; none where it can't list them.
pub fn port_names() -> Vec<String> {
    list_ports()
        .map(|ports| ports.into_iter().map(|port| port.port_name).collect())
        .unwrap_or_default()
}

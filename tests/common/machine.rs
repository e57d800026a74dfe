//! A made-up machine: the folders in which Linux lists its serial ports, laid out as the kernel's documentation of
//! sysfs has them (`/sys/class/tty/NAME/device` leads into the USB device's interface, the attributes `idVendor`,
//! `idProduct` and `serial` stand in the device's folder above it), with links to pseudo-terminals for ports.

use std::fs;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};

use sagtrace::transport::Places;

/// What a port is plugged in as. Names and numbers are invented.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Usb {
    pub(crate) ids: (&'static str, &'static str),
    pub(crate) serial_number: Option<&'static str>,
    pub(crate) socket: &'static str,
}

#[derive(Debug)]
pub(crate) struct Machine(tempfile::TempDir);

impl Machine {
    pub(crate) fn new() -> Self {
        let machine = Self(tempfile::tempdir().unwrap());
        for dir in ["sys/class/tty", "sys/devices", "dev/serial/by-id"] {
            fs::create_dir_all(machine.0.path().join(dir)).unwrap();
        }
        machine
    }

    pub(crate) fn places(&self) -> Places {
        Places {
            terminals: self.0.path().join("sys/class/tty"),
            by_id: self.0.path().join("dev/serial/by-id"),
            dev: self.0.path().join("dev"),
        }
    }

    /// The path of a port, whether it is there or not.
    pub(crate) fn dev(&self, name: &str) -> PathBuf {
        self.0.path().join("dev").join(name)
    }

    /// Plugs a line in under a name.
    pub(crate) fn plug(&self, name: &str, line: &Path, usb: Usb) {
        let device = self.0.path().join("sys/devices").join(usb.socket);
        let port = device.join(format!("{}:1.0/{name}", usb.socket));
        fs::create_dir_all(&port).unwrap();
        let put = |path: PathBuf, text: &str| fs::write(path, format!("{text}\n")).unwrap();
        put(device.join("idVendor"), usb.ids.0);
        put(device.join("idProduct"), usb.ids.1);
        if let Some(number) = usb.serial_number {
            put(device.join("serial"), number);
        }
        put(port.with_file_name("bInterfaceNumber"), "00");
        let class = self.places().terminals.join(name);
        fs::create_dir_all(&class).unwrap();
        symlink(&port, class.join("device")).unwrap();
        symlink(line, self.dev(name)).unwrap();
    }

    /// Adds a link named for the device, which leads to a name or a line.
    pub(crate) fn link(&self, id: &str, target: &Path) {
        symlink(target, self.places().by_id.join(id)).unwrap();
    }

    pub(crate) fn unlink(&self, id: &str) {
        fs::remove_file(self.places().by_id.join(id)).unwrap();
    }

    /// Pulls the plug of a name.
    pub(crate) fn pull(&self, name: &str) {
        let class = self.places().terminals.join(name);
        let port = fs::read_link(class.join("device")).unwrap();
        // The device's folder, two above that of its port.
        fs::remove_dir_all(port.ancestors().nth(2).unwrap()).unwrap();
        fs::remove_dir_all(class).unwrap();
        fs::remove_file(self.dev(name)).unwrap();
    }
}

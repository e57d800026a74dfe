//! `ports`: what is plugged in, and who answers to which profile.

use serde_json::json;
use serialport::{SerialPortInfo, SerialPortType};

use super::args::{Format, PortsArgs};
use super::exit::{Failure, Outcome};
use super::identify::{Found, identify};
use super::output;
use super::settings::Settings;
use crate::plain;
use crate::transport::list_ports;

/// One port as it is shown.
struct Shown {
    name: String,
    kind: String,
    usb: Option<(u16, u16)>,
    serial_number: Option<String>,
    found: Vec<Found>,
}

pub(super) fn run(args: &PortsArgs, settings: &Settings) -> Result<Outcome, Failure> {
    let mut shown = match list_ports() {
        Ok(ports) => ports.into_iter().map(show).collect(),
        Err(error) => {
            output::note(&format!(
                "{}; a port can still be named by its path",
                Failure::from_error(0, &error).message
            ));
            Vec::new()
        }
    };
    for path in &args.paths {
        if shown.iter().all(|port: &Shown| port.name != *path) {
            let (name, kind) = (path.clone(), "named by you".to_owned());
            shown.push(Shown {
                name,
                kind,
                usb: None,
                serial_number: None,
                found: Vec::new(),
            });
        }
    }
    if args.identify {
        for name in settings.catalogue.names() {
            if let Err(error) = settings.catalogue.get(&name) {
                let message = Failure::from_error(0, &error).message;
                output::note(&format!("not tried: {message}"));
            }
        }
        for port in &shown {
            output::note(&format!("asking {}…", port.name));
        }
        // Each port takes some seconds, most of them waiting.
        std::thread::scope(|scope| {
            for port in &mut shown {
                scope.spawn(|| port.found = identify(&port.name, &settings.catalogue));
            }
        });
    }
    let text = match args.format {
        Format::Text => text(&shown, args.identify),
        Format::Json => format!("{:#}\n", json(&shown, args.identify)),
    };
    output::result(&text)?;
    Ok(Outcome::DONE)
}

fn show(port: SerialPortInfo) -> Shown {
    let (kind, usb, serial_number) = match port.port_type {
        SerialPortType::UsbPort(usb) => {
            let product = usb.product.unwrap_or_else(|| "USB".to_owned());
            (product, Some((usb.vid, usb.pid)), usb.serial_number)
        }
        SerialPortType::PciPort => ("built in".to_owned(), None, None),
        SerialPortType::BluetoothPort => ("Bluetooth".to_owned(), None, None),
        SerialPortType::Unknown => ("unknown kind".to_owned(), None, None),
    };
    // What a plug says of itself is its maker's, or anybody's.
    let line = |text: String| plain::line(&text).into_owned();
    Shown {
        name: port.port_name,
        kind: line(kind),
        usb,
        serial_number: serial_number.map(line),
        found: Vec::new(),
    }
}

fn text(ports: &[Shown], identified: bool) -> String {
    if ports.is_empty() {
        return "no serial port is plugged in\n".to_owned();
    }
    let mut lines = Vec::new();
    for port in ports {
        let mut parts = vec![port.name.clone(), port.kind.clone()];
        parts.extend(
            port.usb
                .map(|(vendor, product)| format!("{vendor:04x}:{product:04x}")),
        );
        match &port.serial_number {
            Some(number) => parts.push(format!("serial {number}")),
            None if port.usb.is_some() => parts.push("no serial number".to_owned()),
            None => {}
        }
        lines.push(parts.join("  "));
        lines.extend(port.found.iter().map(|found| match found {
            Found::Answers {
                profile,
                identity,
                reading,
            } => {
                let who = identity
                    .as_ref()
                    .map_or_else(String::new, |who| format!(" as {}", plain::line(who)));
                format!("  answers to {profile}{who}: {reading}")
            }
            Found::Failed { reason } => format!("  {reason}"),
        }));
        if identified && port.found.is_empty() {
            lines.push("  answers to no profile".to_owned());
        }
    }
    lines.join("\n") + "\n"
}

fn json(ports: &[Shown], identified: bool) -> serde_json::Value {
    let found = |found: &Found| match found {
        Found::Answers {
            profile,
            identity,
            reading,
        } => {
            json!({"profile": profile, "identity": identity, "reading": reading})
        }
        Found::Failed { reason } => json!({"fault": reason}),
    };
    let ports: Vec<_> = ports
        .iter()
        .map(|port| {
            json!({
                "name": port.name,
                "kind": port.kind,
                "usb_vendor_id": port.usb.map(|(vendor, _)| vendor),
                "usb_product_id": port.usb.map(|(_, product)| product),
                "serial_number": port.serial_number,
                "found": identified.then(|| port.found.iter().map(found).collect::<Vec<_>>()),
            })
        })
        .collect();
    json!({"schema": 1, "ports": ports})
}

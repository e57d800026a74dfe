//! The devices that are plugged in, and the profile each one answers to.

use serde::Serialize;
use serialport::{SerialPortType, UsbPortInfo};

use super::reading::words;
use crate::plain::{self, with_causes};
use crate::recording::{Found, IdentifyError};
use crate::report::form::{Form, part};
use crate::report::layout::shell_word;

/// One port.
#[derive(Debug)]
pub struct Port {
    /// Its name.
    pub name: String,
    /// How it is joined to the machine; none for a port that the person named.
    pub plug: Option<SerialPortType>,
    /// Who answers on it, if that was asked.
    pub found: Option<Result<Vec<Found>, IdentifyError>>,
}

impl Port {
    fn usb(&self) -> Option<&UsbPortInfo> {
        match &self.plug {
            Some(SerialPortType::UsbPort(usb)) => Some(usb),
            _ => None,
        }
    }

    /// Returns its kind. A plug's own description is its maker's, or anybody's.
    fn kind(&self) -> String {
        let kind = match &self.plug {
            Some(SerialPortType::UsbPort(usb)) => usb.product.as_deref().unwrap_or("USB"),
            Some(SerialPortType::PciPort) => "built in",
            Some(SerialPortType::BluetoothPort) => "Bluetooth",
            Some(SerialPortType::Unknown) => "unknown kind",
            None => "named by you",
        };
        plain::line(kind).into_owned()
    }

    fn serial_number(&self) -> Option<String> {
        let number = self.usb()?.serial_number.as_ref()?;
        Some(plain::line(number).into_owned())
    }
}

/// Returns the ports for people.
pub fn ports_text(ports: &[Port]) -> String {
    if ports.is_empty() {
        return "no serial port is plugged in\n".to_owned();
    }
    let mut all = answer(ports);
    all.extend(ports.iter().flat_map(lines));
    all.join("\n") + "\n"
}

/// Who was found and how to record it, or how to find out.
fn answer(ports: &[Port]) -> Vec<String> {
    let count = match ports.len() {
        1 => "1 serial port".to_owned(),
        count => format!("{count} serial ports"),
    };
    if ports.iter().all(|port| port.found.is_none()) {
        return vec![format!(
            "{count}; see who answers with: sagtrace ports --identify"
        )];
    }
    let answering: Vec<(&Port, &Found)> = ports
        .iter()
        .filter_map(|port| {
            let found = port.found.as_ref()?.as_ref().ok()?;
            // An instrument that proves itself comes before one that only speaks.
            let proved = found.iter().find(|one| one.is_proved());
            Some((port, proved?))
        })
        .collect();
    let mut said = match answering.as_slice() {
        [] => vec![format!(
            "no instrument found on {count}; is it switched on and connected?"
        )],
        [(port, one)] => vec![format!(
            "1 instrument found: {} on {}; record with:",
            one.profile, port.name
        )],
        all => vec![format!("{} instruments found; record with:", all.len())],
    };
    if !answering.is_empty() {
        let each = answering.iter().map(|(port, one)| {
            let address = format!("{}@serial:{}", one.profile, port.name);
            format!(" -i {}", shell_word(address.as_ref()))
        });
        said.push(format!("  sagtrace record{}", each.collect::<String>()));
    }
    said.push(String::new());
    said
}

fn lines(port: &Port) -> Vec<String> {
    let mut parts = vec![port.name.clone(), port.kind()];
    if let Some(usb) = port.usb() {
        parts.push(format!("{:04x}:{:04x}", usb.vid, usb.pid));
        parts.push(match port.serial_number() {
            Some(number) => format!("serial {number}"),
            None => "no serial number".to_owned(),
        });
    }
    let mut lines = vec![parts.join("  ")];
    match &port.found {
        None => {}
        Some(Ok(found)) if found.is_empty() => lines.push("  answers to no profile".to_owned()),
        Some(Ok(found)) => lines.extend(found.iter().map(|found| {
            let who = found.identity.as_ref();
            let who = who.map_or_else(String::new, |who| format!(" as {}", plain::line(who)));
            format!("  answers to {}{who}: {}", found.profile, words(found))
        })),
        Some(Err(error)) => lines.push(format!("  {}", with_causes(error))),
    }
    lines
}

part! {
    /// The ports for programs.
    pub struct PortsJson(all: &[Port]) {
        ports: Vec<PortPart> = all.iter().map(PortPart::new).collect(),
    }
}

impl Form for PortsJson {}

part! {
    struct PortPart(port: &Port) {
        name: String = port.name.clone(),
        kind: String = port.kind(),
        usb_vendor_id: Option<u16> = port.usb().map(|usb| usb.vid),
        usb_product_id: Option<u16> = port.usb().map(|usb| usb.pid),
        serial_number: Option<String> = port.serial_number(),
        found: Option<Vec<FoundPart>> = port.found.as_ref().map(|all| match all {
            Ok(all) => all.iter().map(|found| FoundPart::Answers(AnswersPart::new(found))).collect(),
            Err(error) => vec![FoundPart::Failed { fault: with_causes(error) }],
        }),
    }
}

#[derive(Debug, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(untagged)]
enum FoundPart {
    Answers(AnswersPart),
    Failed { fault: String },
}

part! {
    struct AnswersPart(found: &Found) {
        profile: String = found.profile.clone(),
        identity: Option<String> = found.identity.clone(),
        reading: String = words(found),
    }
}

//! `ports`: the ports that are plugged in, and the profile each one answers to.

use super::args::{Format, PortsArgs};
use super::exit::{Failure, Outcome};
use super::output;
use super::settings::Settings;
use crate::recording::identify;
use crate::report::ports::{Port, PortsJson, ports_text};
use crate::transport::list_ports;

pub(super) fn run(args: &PortsArgs, settings: &Settings) -> Result<Outcome, Failure> {
    let mut ports: Vec<Port> = match list_ports() {
        Ok(found) => found
            .into_iter()
            .map(|port| Port {
                name: port.port_name,
                plug: Some(port.port_type),
                found: None,
            })
            .collect(),
        Err(error) => {
            let message = Failure::from_error(0, &error).message;
            output::note(&format!("{message}; a port can still be named by its path"));
            Vec::new()
        }
    };
    for path in &args.paths {
        if ports.iter().all(|port| port.name != *path) {
            ports.push(Port {
                name: path.clone(),
                plug: None,
                found: None,
            });
        }
    }
    if args.identify {
        ask(&mut ports, settings);
    }
    let text = match args.format {
        Format::Text => ports_text(&ports),
        Format::Json => output::json(&PortsJson::new(&ports))?,
    };
    output::result(&text)?;
    Ok(Outcome::DONE)
}

/// Tries all profiles on all ports at once: each takes some seconds, most of them waiting.
fn ask(ports: &mut [Port], settings: &Settings) {
    for name in settings.catalogue.names() {
        if let Err(error) = settings.catalogue.get(&name) {
            let message = Failure::from_error(0, &error).message;
            output::note(&format!("not tried: {message}"));
        }
    }
    for port in ports.iter() {
        output::note(&format!("asking {}…", port.name));
    }
    std::thread::scope(|scope| {
        for port in ports {
            scope.spawn(|| port.found = Some(identify(&port.name, &settings.catalogue)));
        }
    });
}

//! `ports`: what is on the serial ports of this computer, and what it reads now.

use super::args::PortsArgs;
use super::output::{self, CommandError, Done};
use super::ports_text::{BoxSeen, ChannelSeen, PortSeen, State, text};
use firmware_protocol::Form;
use ingest::assemble::{CalibratedSensor, calibrated, columns_of, kind_name};
use ingest::discovery::{DiscoveryError, ProbeConfig, ProbeResult, SampleStatistics, SeenBox, probe_all};
use ingest::plow::read_plow;
use ingest::port::{NO_PORT_HERE, PortError, ports_here};
use ingest::session::NotABox;
use std::path::PathBuf;

pub(super) fn ports(args: &PortsArgs) -> Result<Done, CommandError> {
    let plow = args.plow.as_deref().map(read_plow).transpose()?;
    let sensors = calibrated(plow.as_ref().map_or(&[][..], |plow| &plow.sensors))?;
    let here = ports_here();
    let mut wanted: Vec<(PathBuf, bool)> = args.ports.iter().map(|port| (port.clone(), true)).collect();
    for port in &here {
        let path = PathBuf::from(&port.name);
        if !wanted.iter().any(|(named, _)| *named == path) {
            wanted.push((path, false));
        }
    }
    let probes = probe_all(&wanted, ProbeConfig::at(args.baud))?;
    let ports: Vec<PortSeen> = wanted
        .iter()
        .zip(probes)
        .map(|((path, _), probed)| {
            let name = path.display().to_string();
            let device = here.iter().find(|port| port.name == name).and_then(|port| port.device.clone());
            let (state, says, seen) = judged(probed, &sensors);
            PortSeen { port: name, device, state, says, seen }
        })
        .collect();
    let report = if args.report.json { output::json(&ports)? } else { text(&ports, args.report.units) };
    let mut done = Done::report(report);
    if wanted.is_empty() {
        done.remarks.push(NO_PORT_HERE.to_owned());
    }
    Ok(done)
}

fn judged(
    probed: Result<ProbeResult, DiscoveryError>,
    sensors: &[CalibratedSensor],
) -> (State, Option<String>, Option<BoxSeen>) {
    match probed {
        Ok(Ok(seen)) => (State::Box, None, Some(box_seen(&seen, sensors))),
        Ok(Err(found)) => {
            let state = match &found {
                NotABox::Refused(_) => State::Refused,
                NotABox::NoHello => State::NoHello,
                NotABox::Other { is_gnss: true, .. } => State::GnssReceiver,
                NotABox::Other { .. } => State::Other,
                // A kind that is added later is at least named by its sentence.
                _ => State::Silent,
            };
            (state, Some(found.to_string()), None)
        }
        Err(error) => {
            let state = match &error {
                DiscoveryError::Port(PortError::Busy { .. }) => State::Busy,
                DiscoveryError::Port(PortError::NotPermitted { .. }) => State::NotPermitted,
                _ => State::Failed,
            };
            (state, Some(error.to_string()), None)
        }
    }
}

fn box_seen(seen: &SeenBox, sensors: &[CalibratedSensor]) -> BoxSeen {
    let SeenBox { hello, form, status, sample } = seen;
    let (columns, unfit) = match columns_of(hello, sensors) {
        _ if sensors.is_empty() => (Vec::new(), None),
        Ok(columns) => (columns, None),
        Err(refusal) => (Vec::new(), Some(refusal.to_string())),
    };
    let channels = hello.channels().iter().enumerate().map(|(index, channel)| {
        let column = columns.iter().find(|column| column.index == index);
        let readings = column.and_then(|column| {
            let counts = sample.counts.get(index)?.iter();
            SampleStatistics::of(counts.map(|count| column.curve.reading(f64::from(*count))))
        });
        ChannelSeen {
            name: channel.name.as_str().to_owned(),
            kind: kind_name(channel.kind),
            adc_bits: channel.adc_bits,
            rate_hz: f64::from(channel.rate_mhz) / 1e3,
            counts: sample.statistics(index),
            column: column.map(|column| column.role.column()),
            readings,
            role: column.map(|column| column.role),
        }
    });
    let (major, minor) = hello.version;
    let (firmware_major, firmware_minor, patch) = hello.firmware;
    BoxSeen {
        name: hello.name.as_str().to_owned(),
        serial: hello.serial.as_str().to_owned(),
        firmware: format!("{firmware_major}.{firmware_minor}.{patch}"),
        protocol: format!("{major}.{minor}"),
        form: if *form == Some(Form::Text) { "text" } else { "binary" },
        boot: hello.boot,
        row_rate_hz: f64::from(hello.row_rate_mhz) / 1e3,
        rows: sample.rows(),
        rows_lost: sample.rows_lost,
        frames_damaged: sample.frames_damaged,
        supply_v: status.map(|status| f64::from(status.supply_mv) / 1e3),
        temperature_c: status.map(|status| f64::from(status.temperature_centi_c) / 1e2),
        channels: channels.collect(),
        unfit,
    }
}

//! `ports`: what is on the serial ports of this computer, and what it reads now: as JSON, and as a listing for someone with a
//! laptop on a mudguard.

use super::args::PortsArgs;
use super::output::{self, CommandError, Done};
use super::port_seen::{BoxSeen, ChannelSeen, PortSeen, State};
use crate::report::units::Units;
use firmware_protocol::Form;
use ingest::assemble::{CalibratedSensor, Fills, calibrated, columns_of, kind_name};
use ingest::discovery::{
    DiscoveryError, NotABox, ProbeConfig, ProbeResult, SampleStatistics, SeenBox, probe_all,
};
use ingest::plow::{OwnColumn, read_plow};
use ingest::port::{NO_PORT_HERE, PortError, ports_here};
use std::fmt::Write;
use std::path::PathBuf;

pub(super) fn ports(args: &PortsArgs) -> Result<Done, CommandError> {
    let plow = args.plow.as_deref().map(read_plow).transpose()?;
    let sensors = plow.as_ref().map(|plow| calibrated(&plow.sensors, &plow.own_sensors)).transpose()?;
    let sensors = sensors.unwrap_or_default();
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
    let report = if args.report.json {
        output::json(&ports)?
    } else {
        text(&ports, args.report.units(plow.as_ref())?)
    };
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
            column: column.map(|column| column.fills.column().to_owned()),
            unit: column.map(|column| match &column.fills {
                Fills::Role(role) => role.column_unit().symbol.to_owned(),
                Fills::Own(own) => own.unit().to_owned(),
            }),
            readings,
            fills: column.map(|column| column.fills.clone()),
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

/// One block a port, boxes first.
fn text(ports: &[PortSeen], units: Units) -> String {
    let mut text = String::new();
    let (boxes, others): (Vec<_>, Vec<_>) = ports.iter().partition(|port| port.seen.is_some());
    for port in boxes.iter().chain(&others) {
        let device = port.device.as_ref().map(|device| format!("  ({device})")).unwrap_or_default();
        let _ = writeln!(text, "{}{device}", port.port);
        match (&port.seen, &port.says) {
            (Some(seen), _) => push_box(&mut text, seen, units),
            (None, says) => {
                let _ = writeln!(text, "  {}: {}", word(port.state), says.as_deref().unwrap_or("-"));
            }
        }
        text.push('\n');
    }
    let found = boxes.len();
    let _ = match (ports.len(), found) {
        (0, _) => Ok(()),
        (_, 0) => writeln!(
            text,
            "No sensor box was found. It must be switched on and sending; name its port with --port if \
             the system does not list it."
        ),
        (_, 1) => writeln!(text, "1 sensor box was found."),
        (_, found) => writeln!(text, "{found} sensor boxes were found."),
    };
    text
}

const fn word(state: State) -> &'static str {
    match state {
        State::Box => "sensor box",
        State::Refused => "sensor box that cannot be used",
        State::NoHello => "sensor box?",
        State::GnssReceiver => "GNSS receiver",
        State::Other => "something else",
        State::Silent => "silent",
        State::Busy => "busy",
        State::NotPermitted => "not permitted",
        State::Failed => "failed",
    }
}

fn push_box(text: &mut String, seen: &BoxSeen, units: Units) {
    let BoxSeen { name, serial, firmware, protocol, form, boot, row_rate_hz, rows, rows_lost, .. } = seen;
    let serial = if serial.is_empty() { String::new() } else { format!(", serial no. {serial}") };
    let form = if *form == "text" { ", prints text: for trying out, not for runs" } else { "" };
    let _ = writeln!(text, "  sensor box \"{name}\"{serial}{form}");
    let _ = writeln!(
        text,
        "  firmware {firmware}, protocol {protocol}, boot {boot}, {} rows a second",
        plain(*row_rate_hz)
    );
    if let (Some(volts), Some(degrees)) = (seen.supply_v, seen.temperature_c) {
        let _ = writeln!(text, "  supply {volts:.1} V, {degrees:.0} °C inside");
    }
    let _ = match (rows, rows_lost, seen.frames_damaged) {
        (0, ..) => writeln!(text, "  NO READINGS came in the second that it was listened to"),
        (rows, 0, 0) => writeln!(text, "  one second of readings: {rows} rows, none lost"),
        (rows, lost, damaged) => writeln!(
            text,
            "  one second of readings: {rows} rows, {lost} LOST, damaged frames: {damaged}; check the cable"
        ),
    };
    let table: Vec<_> = seen.channels.iter().map(|channel| cells(channel, units)).collect();
    push_table(text, &table);
    if let Some(unfit) = &seen.unfit {
        let _ = writeln!(text, "  does not fit the plow description: {unfit}");
    }
}

const HEADER: [&str; 7] = ["channel", "measures", "bits", "mean", "SD", "lowest", "highest"];

/// One line of counts, and one of readings if they are known.
fn cells(channel: &ChannelSeen, units: Units) -> Vec<[String; 7]> {
    let bits = format!("{}", channel.adc_bits);
    let line = |first: [String; 3], numbers: Option<[String; 4]>| {
        let [a, b, c] = first;
        let [d, e, f, g] = numbers.unwrap_or_else(|| std::array::from_fn(|_| "-".to_owned()));
        [a, b, c, d, e, f, g]
    };
    let counts = channel.counts.as_ref().map(|s| {
        [format!("{:.1}", s.mean), format!("{:.1}", s.sd), format!("{:.0}", s.min), format!("{:.0}", s.max)]
    });
    let mut lines = vec![line([channel.name.clone(), channel.kind.to_owned(), bits], counts)];
    if let (Some(fills), Some(SampleStatistics { mean, sd, min, max, .. })) =
        (&channel.fills, channel.readings)
    {
        let readings = [mean, sd, min, max];
        let (symbol, numbers) = match fills {
            Fills::Role(role) => {
                let (symbol, factor, decimals) = units.of_column(*role);
                let shown = |value: f64| {
                    let rounded = value / factor;
                    let is_zero = rounded.abs() < 0.5 * 10f64.powi(-(decimals as i32));
                    format!("{:.decimals$}", if is_zero { 0.0 } else { rounded })
                };
                (symbol, readings.map(shown))
            }
            Fills::Own(own) => (own.unit(), readings.map(OwnColumn::shown)),
        };
        lines.push(line([String::new(), format!("in {symbol}"), String::new()], Some(numbers)));
    }
    lines
}

fn push_table(text: &mut String, channels: &[Vec<[String; 7]>]) {
    let header = HEADER.map(str::to_owned);
    let all: Vec<&[String; 7]> = std::iter::once(&header).chain(channels.iter().flatten()).collect();
    let width = |column: usize| {
        all.iter().filter_map(|line| line.get(column)).map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    for line in &all {
        text.push_str("   ");
        for (column, cell) in line.iter().enumerate() {
            // Words stand left, numbers right.
            let _ = match column {
                0 | 1 => write!(text, " {cell:<width$}", width = width(column)),
                _ => write!(text, "  {cell:>width$}", width = width(column)),
            };
        }
        while text.ends_with(' ') {
            text.pop();
        }
        text.push('\n');
    }
}

/// A rate without needless decimals.
fn plain(number: f64) -> String {
    let text = format!("{number:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use ingest::plow::ChannelRole;

    fn spread(mean: f64) -> SampleStatistics {
        SampleStatistics { n: 200, mean, sd: 2.54, min: mean - 5.0, max: mean + 5.0, drift: 0.0 }
    }

    #[test]
    fn a_box_is_listed_with_counts_and_readings_and_losses_stand_out() {
        let channel = |name: &str, fills, readings| ChannelSeen {
            name: name.to_owned(),
            kind: "depth",
            adc_bits: 16,
            rate_hz: 200.0,
            counts: Some(spread(1000.0)),
            column: None,
            unit: None,
            readings,
            fills,
        };
        let seen = BoxSeen {
            name: "b".to_owned(),
            serial: String::new(),
            firmware: "1.2.3".to_owned(),
            protocol: "1.0".to_owned(),
            form: "binary",
            boot: 7,
            row_rate_hz: 200.0,
            rows: 190,
            rows_lost: 8,
            frames_damaged: 1,
            supply_v: None,
            temperature_c: None,
            channels: vec![
                channel("depth", Some(Fills::Role(ChannelRole::Depth)), Some(spread(254.0))),
                channel("spare", None, None),
            ],
            unfit: None,
        };
        let port = |seen, state, says: Option<&str>| PortSeen {
            port: "P".to_owned(),
            device: None,
            state,
            says: says.map(str::to_owned),
            seen,
        };
        let listed = text(
            &[port(None, State::Silent, Some("nothing")), port(Some(seen), State::Box, None)],
            Units::Us,
        );
        let wanted = "P\n  sensor box \"b\"\n  firmware 1.2.3, protocol 1.0, boot 7, 200 rows a second\n  \
    one second of readings: 190 rows, 8 LOST, damaged frames: 1; check the cable\n    \
    channel measures  bits    mean     SD  lowest  highest\n    \
    depth   depth       16  1000.0    2.5     995     1005\n            \
    in in           10.000  0.100   9.803   10.197\n    \
    spare   depth       16  1000.0    2.5     995     1005\n\n\
    P\n  silent: nothing\n\n1 sensor box was found.\n";
        assert_eq!(listed, wanted);
    }
}

//! Everything that must be right before a run begins, and the making of its folder.

use super::config::Begin;
use super::connection::Connection;
use super::host::Host;
use super::receiver_connection::ReceiverConnection;
use super::{Destination, GnssPort, RecordConfig, RecordError};
use crate::assemble::{CalibratedSensor, calibrated, missing, names_of, quoted};
use crate::passes::still::ZeroBefore;
use crate::plow::{ChannelRole, OWN_PREFIX, Plow, Setting};
use crate::port::{OpenPort, PortError, PortLock, others};
use crate::run_folder::{RowsFile, run_name, slug};
use crate::run_toml::{BoxInfo, RunDescription, RunInfo, RunState};
use crate::tables::{GNSS_FILE, Tables};
use crate::writer::{Described, Pace, Writer};
use firmware_protocol::Hello;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Files of a run that boxes must not be named like.
const RESERVED: [&str; 3] = ["plow", "events", GNSS_FILE];

/// What is settled before any port is opened.
pub struct Prepared {
    pub sensors: Vec<CalibratedSensor>,
    pub ports: Vec<(PathBuf, Opened)>,
    pub gnss: Option<(GnssPort, Opened)>,
    /// Held for the whole run: the names of the ports are ours while a cable is out.
    _locks: Vec<PortLock>,
}

/// A port that is open, or why it is not yet.
pub type Opened = Result<OpenPort, PortError>;

/// The setting of this name.
pub fn setting_of(plow: &Plow, name: Option<&str>) -> Result<(String, Setting), RecordError> {
    let known = || {
        let known: Vec<_> = plow.settings.keys().map(|name| format!("\"{name}\"")).collect();
        known.join(", ")
    };
    let Some(name) = name else {
        return Err(RecordError::NoSetting { plow: plow.name.clone(), known: known() });
    };
    let no_such =
        || RecordError::NoSuchSetting { plow: plow.name.clone(), name: name.to_owned(), known: known() };
    plow.settings.get(name).map(|setting| (name.to_owned(), setting.clone())).ok_or_else(no_such)
}

/// Checks all that can be checked without a box, and opens the ports.
pub fn prepare(config: &RecordConfig, host: &dyn Host) -> Result<Prepared, RecordError> {
    let plow = &config.plow;
    if config.begin == Begin::AtOnce || config.setting_name.is_some() {
        setting_of(plow, config.setting_name.as_deref())?;
    }
    if plow.sensors.is_empty() && plow.own_sensors.is_empty() {
        return Err(RecordError::NoSensors(plow.name.clone()));
    }
    let sensors = calibrated(&plow.sensors, &plow.own_sensors)?;
    if let Destination::Folder(folder) = &config.destination
        && std::fs::symlink_metadata(folder).is_ok()
    {
        return Err(RecordError::FolderExists(folder.clone()));
    }
    if config.ports.is_empty() {
        return Err(RecordError::NoPort(others()));
    }
    each_once(config)?;
    let mut locks = Vec::new();
    let mut open = |port: &PathBuf, baud| {
        // The run keeps the name that was typed; of one that cannot be opened its task takes the lock when it can.
        let lock = host.claim(port)?;
        let open = host.open(port, baud)?;
        locks.extend(lock);
        Ok(open)
    };
    // One that stands by waits for its ports, and goes on without its receiver, whatever keeps it away.
    let stands_by = config.begin != Begin::AtOnce;
    let mut ports = Vec::new();
    for port in &config.ports {
        let opened = match open(port, config.baud) {
            Err(error @ (PortError::Missing { .. } | PortError::Other { .. })) if stands_by => Err(error),
            opened => Ok(opened?),
        };
        ports.push((port.clone(), opened));
    }
    let gnss = match &config.gnss {
        Some(gnss) => {
            let opened = open(&gnss.port, gnss.baud);
            let opened = if stands_by { opened } else { Ok(opened?) };
            Some((gnss.clone(), opened))
        }
        None => None,
    };
    Ok(Prepared { sensors, ports, gnss, _locks: locks })
}

/// A port that is named twice would be busy by our own hand.
fn each_once(config: &RecordConfig) -> Result<(), RecordError> {
    let mut devices = Vec::new();
    for port in config.ports.iter().chain(config.gnss.as_ref().map(|gnss| &gnss.port)) {
        let device = port.canonicalize().unwrap_or_else(|_| port.clone());
        if devices.contains(&device) {
            return Err(RecordError::SamePort(port.clone()));
        }
        devices.push(device);
    }
    Ok(())
}

/// Each channel that the plow's sensors need must be on one of the boxes.
pub fn check_channels(connections: &[Connection], hellos: &[Hello]) -> Result<(), RecordError> {
    let (Some(first), Some(hello)) = (connections.first(), hellos.first()) else { return Ok(()) };
    let on_a_box = |channel: &str| {
        hellos.iter().any(|hello| hello.channels().iter().any(|there| there.name.as_str() == channel))
    };
    let wanted = first.live.wanted().map(|(channel, _)| channel);
    let nowhere: Vec<_> = wanted.filter(|channel| !on_a_box(channel)).collect();
    if nowhere.is_empty() {
        return Ok(());
    }
    if hellos.len() == 1 {
        let port = first.watch.port.clone();
        return Err(RecordError::Refused { port, refusal: missing(hello, &nowhere) });
    }
    let has = |hello: &Hello| format!("\"{}\" has {}", hello.name.as_str(), quoted(&names_of(hello)));
    let boxes: Vec<_> = hellos.iter().map(has).collect();
    Err(RecordError::OnNoBox { missing: quoted(&nowhere), boxes: boxes.join("; ") })
}

/// Names of the boxes' files: `plow` for the first, then from the boxes' names, each once.
pub fn name_files(connections: &mut [Connection], hellos: &[Hello]) {
    let mut taken: Vec<String> = Vec::new();
    for (number, (connection, hello)) in connections.iter_mut().zip(hellos).enumerate() {
        let wanted = if number == 0 { "plow".to_owned() } else { slug(hello.name.as_str()) };
        let is_free =
            |name: &String| !taken.contains(name) && (number == 0 || !RESERVED.contains(&name.as_str()));
        let numbered = (2u32..).map(|k| format!("{wanted}-{k}"));
        // There are more numbers than boxes.
        let file = std::iter::once(wanted.clone()).chain(numbered).find(is_free).unwrap_or(wanted);
        taken.push(file.clone());
        connection.file = file;
    }
}

/// Says which ports show boxes of the same name or serial number: each is recorded into a file of its own, but
/// the person may have named one box twice, or forgotten to number them.
pub fn look_alikes(connections: &[Connection], hellos: &[Hello]) -> Vec<String> {
    let mut said = Vec::new();
    let boxes = || connections.iter().zip(hellos);
    for (number, (connection, hello)) in boxes().enumerate() {
        let alike = |(_, its): &(&Connection, &Hello)| {
            its.name == hello.name || (its.serial == hello.serial && !hello.serial.as_str().is_empty())
        };
        if let Some((other, _)) = boxes().take(number).find(alike) {
            said.push(format!(
                "the boxes on {} and {} have the same name or serial number; they are kept apart by port: {}.csv and {}.csv",
                other.watch.port.display(),
                connection.watch.port.display(),
                other.file,
                connection.file
            ));
        }
    }
    said
}

/// Says which columns several boxes fill, and which box's the analysis takes: that of the box named first.
pub fn doubled(connections: &[Connection], hellos: &[Hello]) -> Vec<String> {
    let boxes: Vec<_> = connections.iter().zip(hellos).collect();
    let names_of = |at: usize| boxes.get(at).into_iter().flat_map(|(one, _)| one.live.columns().names());
    let roles = ChannelRole::ALL.iter().map(|role| role.column());
    let mut own: Vec<&str> =
        (0..boxes.len()).flat_map(names_of).filter(|name| name.starts_with(OWN_PREFIX)).collect();
    own.sort_unstable();
    own.dedup();
    let mut columns_of: BTreeMap<Vec<usize>, Vec<&str>> = BTreeMap::new();
    for column in roles.chain(own) {
        let with: Vec<usize> =
            (0..boxes.len()).filter(|at| names_of(*at).any(|name| name == column)).collect();
        if with.len() > 1 {
            columns_of.entry(with).or_default().push(column);
        }
    }
    let file = |at: &usize| {
        boxes.get(*at).map(|(one, hello)| {
            let (file, name, port) = (&one.file, hello.name.as_str(), one.watch.port.display());
            format!("{file}.csv (box \"{name}\" on {port})")
        })
    };
    let said = |(with, columns): (Vec<usize>, Vec<&str>)| {
        let files: Vec<String> = with.iter().filter_map(file).collect();
        let first = with.first().and_then(|at| boxes.get(*at)).map(|(one, _)| one.file.as_str());
        format!(
            "{} on {} boxes: in {}; the analysis takes {}.csv's: name the port of the box that is to count first",
            columns.join(", "),
            with.len(),
            files.join(" and in "),
            first.unwrap_or_default()
        )
    };
    columns_of.into_iter().map(said).collect()
}

/// Says which boxes' clocks were seen to run apart from the computer's.
pub fn clocks_apart(connections: &[Connection], hellos: &[Hello]) -> Vec<String> {
    let boxes = connections.iter().zip(hellos);
    boxes
        .filter_map(|(connection, hello)| {
            let ratio = connection.live.clock().apart?;
            Some(format!(
                "the clock of box \"{}\" on {} runs apart from the computer's ({ratio:.4} s in each of its seconds): \
                 the times in {}.csv follow that box alone, and its rows are not to be joined with those of other boxes \
                 or of a GNSS receiver",
                hello.name.as_str(),
                connection.watch.port.display(),
                connection.file
            ))
        })
        .collect()
}

/// Bytes a second that the ports will bring to the disk, roughly and rather too many: raw bytes, and rows
/// of text.
fn bytes_per_s(config: &RecordConfig, connections: &[Connection], hellos: &[Hello]) -> f64 {
    let of_box = |(connection, hello): (&Connection, &Hello)| {
        let row_bytes = 12 + 12 * connection.live.columns().count() + 5 * hello.channels().len();
        f64::from(hello.row_rate_mhz) / 1e3 * row_bytes as f64
    };
    // Ten bits a byte, and rows that are shorter than the sentences that they are from.
    let of_receiver = config.gnss.as_ref().map_or(0.0, |gnss| 2.0 * f64::from(gnss.baud) / 10.0);
    connections.iter().zip(hellos).map(of_box).sum::<f64>() + of_receiver
}

/// What a run begins with.
pub struct Beginning<'a> {
    /// What to record and how.
    pub config: &'a RecordConfig,
    /// Time 0 by the wall clock.
    pub started: jiff::ZonedDateTime,
    /// The number of the pass, where the plow begins the runs.
    pub pass: Option<u32>,
    /// What the forces read when the plow last stood still.
    pub zero: Vec<ZeroBefore>,
}

/// Makes the run folder with everything in it: what writes the run. If anything fails, nothing of it is left.
pub fn begin(
    beginning: &Beginning<'_>,
    host: &dyn Host,
    prepared: &Prepared,
    connections: &[Connection],
    hellos: &[Hello],
    gnss: Option<&ReceiverConnection>,
) -> Result<Writer, RecordError> {
    let Beginning { config, started, pass, zero } = beginning;
    let (setting_name, setting) = setting_of(&config.plow, config.setting_name.as_deref())?;
    let name = run_name(started, &setting_name, *pass);
    let lasts_s = config.duration.map_or(0.0, |duration| duration.as_secs_f64());
    let bytes = 2.0 * bytes_per_s(config, connections, hellos) * lasts_s;
    let disk = host.make_folder(&config.destination, &name, bytes)?;
    let boxes = connections.iter().zip(hellos).map(|(connection, hello)| connection.info(hello)).collect();
    let mut description = describe(config, (setting_name, setting), boxes, gnss, started, name);
    description.zero.clone_from(zero);
    let rows_file = |connection: &Connection| RowsFile {
        name: format!("{}.csv", connection.file),
        columns: connection.live.columns().clone(),
    };
    let described = Described { description, files: connections.iter().map(rows_file).collect() };
    let names: Vec<_> = connections.iter().map(|connection| connection.file.clone()).collect();
    let tables = Tables::new(&names, &prepared.sensors, gnss.is_some());
    let path = disk.folder().to_owned();
    Writer::create(disk, described, tables, Pace::RECORDING)
        .map_err(|cause| RecordError::CannotMake { path, cause })
}

fn describe(
    config: &RecordConfig,
    (setting_name, setting): (String, Setting),
    boxes: Vec<BoxInfo>,
    gnss: Option<&ReceiverConnection>,
    started: &jiff::ZonedDateTime,
    id: String,
) -> RunDescription {
    let plow = &config.plow;
    RunDescription {
        run: RunInfo {
            id,
            started: started.strftime("%Y-%m-%dT%H:%M:%S%:z").to_string(),
            setting_name,
            setting_assumed: config.setting_assumed,
            field: config.field.clone(),
            soil: config.soil.clone(),
            soil_class: config.soil_class,
            note: config.note.clone(),
            share: config.share.unwrap_or(plow.bottoms.share),
            software: config.software.clone(),
            state: RunState::Recording,
            ended: None,
            lasted_s: None,
        },
        setting,
        plow: plow.clone(),
        boxes,
        gnss: gnss.map(ReceiverConnection::info),
        zero: Vec::new(),
    }
}

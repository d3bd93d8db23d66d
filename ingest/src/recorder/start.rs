//! Everything that must be right before a run begins, and the making of its folder.

use super::connection::Connection;
use super::receiver_connection::ReceiverConnection;
use super::{Destination, GnssPort, RecordConfig, RecordError};
use crate::assemble::{CalibratedSensor, calibrated, missing, names_of, quoted};
use crate::plow::Setting;
use crate::port::{OpenPort, PortLock, lock_name, open_port, others};
use crate::run_folder::{
    RowsFile, create_run_folder, datapackage, folder_of, run_name, slug, sync_folder, write_whole,
};
use crate::run_toml::{BoxInfo, RunDescription, RunInfo, RunState};
use crate::tables::{GNSS_FILE, Tables};
use crate::writer::{FolderDisk, Pace, Writer};
use firmware_protocol::Hello;
use std::io;
use std::path::{Path, PathBuf};

/// Least free space that a run begins with, in MB.
const FREE_MB_MIN: u64 = 64;
/// Files of a run that boxes must not be named like.
const RESERVED: [&str; 3] = ["plow", "events", GNSS_FILE];

/// What is settled before any port is opened.
pub struct Prepared {
    pub sensors: Vec<CalibratedSensor>,
    pub setting: Setting,
    pub ports: Vec<(PathBuf, OpenPort)>,
    pub gnss: Option<(GnssPort, OpenPort)>,
    /// Held for the whole run: the names of the ports are ours while a cable is out.
    _locks: Vec<PortLock>,
}

/// Checks all that can be checked without a box, and opens the ports.
pub fn prepare(config: &RecordConfig) -> Result<Prepared, RecordError> {
    let plow = &config.plow;
    let Some(setting) = plow.settings.get(&config.setting_name).cloned() else {
        let known: Vec<_> = plow.settings.keys().map(|name| format!("\"{name}\"")).collect();
        return Err(RecordError::NoSuchSetting {
            plow: plow.name.clone(),
            name: config.setting_name.clone(),
            known: known.join(", "),
        });
    };
    if plow.sensors.is_empty() {
        return Err(RecordError::NoSensors(plow.name.clone()));
    }
    let sensors = calibrated(&plow.sensors)?;
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
        // The run keeps the name that was typed.
        locks.extend(lock_name(port)?);
        open_port(port, baud)
    };
    let mut ports = Vec::new();
    for port in &config.ports {
        ports.push((port.clone(), open(port, config.baud)?));
    }
    let gnss = match &config.gnss {
        Some(gnss) => Some((gnss.clone(), open(&gnss.port, gnss.baud)?)),
        None => None,
    };
    Ok(Prepared { sensors, setting, ports, gnss, _locks: locks })
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
    let roles = first.live.channel_roles();
    let nowhere: Vec<_> = roles.iter().map(|(channel, _)| *channel).filter(|c| !on_a_box(c)).collect();
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

/// Bytes a second that the ports will bring to the disk, roughly and rather too many: raw bytes, and rows
/// of text.
fn bytes_per_s(config: &RecordConfig, connections: &[Connection], hellos: &[Hello]) -> f64 {
    let of_box = |(connection, hello): (&Connection, &Hello)| {
        let row_bytes = 12 + 12 * connection.live.columns().len() + 5 * hello.channels().len();
        f64::from(hello.row_rate_mhz) / 1e3 * row_bytes as f64
    };
    // Ten bits a byte, and rows that are shorter than the sentences that they are from.
    let of_receiver = config.gnss.as_ref().map_or(0.0, |gnss| 2.0 * f64::from(gnss.baud) / 10.0);
    connections.iter().zip(hellos).map(of_box).sum::<f64>() + of_receiver
}

/// There must be room for the run, or for a good part of an hour if its end is not known.
fn check_space(config: &RecordConfig, parent: &Path, bytes_per_s: f64) -> Result<(), RecordError> {
    let lasts_s = config.duration.map_or(0.0, |duration| duration.as_secs_f64());
    let needed_mb = FREE_MB_MIN.max((2.0 * bytes_per_s * lasts_s / 1e6).ceil() as u64);
    // The folder may not be there yet; what counts is the file system that it will be on.
    let there = parent.ancestors().find(|folder| folder.exists()).unwrap_or(Path::new("."));
    match fs4::available_space(there) {
        Ok(free) if free / 1_000_000 < needed_mb => {
            Err(RecordError::NoSpace { folder: parent.to_owned(), free_mb: free / 1_000_000, needed_mb })
        }
        // A file system that does not say how much is free is no reason not to record.
        _ => Ok(()),
    }
}

/// A run that can begin.
pub struct Begun {
    pub folder: PathBuf,
    pub description: RunDescription,
    pub writer: Writer,
}

/// Makes the run folder with everything in it. If anything fails, nothing of it is left.
pub fn begin(
    config: &RecordConfig,
    prepared: &Prepared,
    connections: &[Connection],
    hellos: &[Hello],
    gnss: Option<&ReceiverConnection>,
) -> Result<Begun, RecordError> {
    let cannot = |path: &Path| {
        let path = path.to_owned();
        move |cause: io::Error| RecordError::CannotMake { path, cause }
    };
    let started = jiff::ZonedDateTime::now();
    let name = run_name(&started, &config.setting_name);
    let parent = match &config.destination {
        Destination::In(parent) => parent,
        Destination::Folder(folder) => folder_of(folder),
    };
    check_space(config, parent, bytes_per_s(config, connections, hellos))?;
    std::fs::create_dir_all(parent).map_err(cannot(parent))?;
    let folder = match &config.destination {
        Destination::In(_) => create_run_folder(parent, &name).map_err(cannot(&parent.join(&name)))?,
        Destination::Folder(folder) => {
            std::fs::create_dir(folder).map_err(|cause| match cause.kind() {
                io::ErrorKind::AlreadyExists => RecordError::FolderExists(folder.clone()),
                _ => RecordError::CannotMake { path: folder.clone(), cause },
            })?;
            folder.clone()
        }
    };
    let boxes = connections.iter().zip(hellos).map(|(connection, hello)| connection.info(hello)).collect();
    let description = describe(config, &prepared.setting, boxes, gnss, &started, &folder, name);
    match make_files(&folder, &description, &prepared.sensors, connections) {
        Ok(writer) => Ok(Begun { folder, description, writer }),
        Err(cause) => {
            // The folder is ours: it was made exclusively a moment ago.
            let _ = std::fs::remove_dir_all(&folder);
            Err(RecordError::CannotMake { path: folder, cause })
        }
    }
}

fn describe(
    config: &RecordConfig,
    setting: &Setting,
    boxes: Vec<BoxInfo>,
    gnss: Option<&ReceiverConnection>,
    started: &jiff::ZonedDateTime,
    folder: &Path,
    name: String,
) -> RunDescription {
    let plow = &config.plow;
    RunDescription {
        run: RunInfo {
            id: folder.file_name().map_or(name, |name| name.to_string_lossy().into_owned()),
            started: started.strftime("%Y-%m-%dT%H:%M:%S%:z").to_string(),
            setting_name: config.setting_name.clone(),
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
        setting: setting.clone(),
        plow: plow.clone(),
        boxes,
        gnss: gnss.map(ReceiverConnection::info),
    }
}

fn make_files(
    folder: &Path,
    description: &RunDescription,
    sensors: &[CalibratedSensor],
    connections: &[Connection],
) -> io::Result<Writer> {
    write_whole(&folder.join("run.toml"), description.to_toml().map_err(io::Error::other)?.as_bytes())?;
    let rows_files: Vec<_> = connections
        .iter()
        .map(|connection| RowsFile {
            name: format!("{}.csv", connection.file),
            columns: connection.live.columns().to_vec(),
        })
        .collect();
    let has_gnss = description.gnss.is_some();
    write_whole(
        &folder.join("datapackage.json"),
        datapackage(&description.run.id, &rows_files, has_gnss).as_bytes(),
    )?;
    let names: Vec<_> = connections.iter().map(|connection| connection.file.clone()).collect();
    let mut disk = FolderDisk { folder: folder.to_owned() };
    let writer = Writer::create(&mut disk, Tables::new(&names, sensors, has_gnss), Pace::RECORDING)?;
    sync_folder(folder)?;
    sync_folder(folder_of(folder))?;
    Ok(writer)
}

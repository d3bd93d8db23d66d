//! The run folder: its name, its making, and the files that are written once.

use crate::plow::{ChannelRole, OwnColumn};
use crate::row_columns::RowColumns;
use std::io;
use std::path::{Path, PathBuf};

/// Longest slug in a folder or file name, in bytes.
const SLUG_BYTES_MAX: usize = 48;
/// How many runs of one setting may begin in one minute.
const SAME_MINUTE_MAX: u32 = 99;

/// A name for a file or folder from any text: `a-z`, `0-9` and `-`, at most 48 bytes, never empty and
/// never a name that some system reserves for a device. The text itself belongs in `run.toml`.
#[must_use]
pub fn slug(text: &str) -> String {
    let mut slug = String::new();
    for c in text.chars().flat_map(char::to_lowercase) {
        if c.is_ascii_alphanumeric() {
            slug.push(c);
        } else if !slug.is_empty() && !slug.ends_with('-') {
            slug.push('-');
        }
        if slug.len() == SLUG_BYTES_MAX {
            break;
        }
    }
    let slug = slug.trim_end_matches('-');
    let device = |name: &str| {
        ["con", "prn", "aux", "nul"].contains(&name)
            || (name.len() == 4 && (name.starts_with("com") || name.starts_with("lpt")))
    };
    match slug {
        "" => "unnamed".to_owned(),
        name if device(name) => format!("{name}-"),
        name => name.to_owned(),
    }
}

/// Before the number of a pass in the name of its run.
const PASS: &str = "_pass-";

/// Name of a run: start to the minute, local time, the setting, and the number of the pass where the plow begins the
/// runs: `2027-04-11T0914_flat_pass-3`.
#[must_use]
pub fn run_name(started: &jiff::ZonedDateTime, setting_name: &str, pass: Option<u32>) -> String {
    let pass = pass.map_or_else(String::new, |number| format!("{PASS}{number}"));
    format!("{}_{}{pass}", started.strftime("%Y-%m-%dT%H%M"), slug(setting_name))
}

/// The highest number of a pass of this day (`2027-04-11`) among the runs of a folder; 0 where there is none, or the
/// folder cannot be read.
#[must_use]
pub fn last_pass_of(runs: &Path, day: &str) -> u32 {
    let number = |name: &str| {
        let (_, pass) = name.strip_prefix(day)?.rsplit_once(PASS)?;
        // A name that was taken has a number more behind it.
        pass.split('_').next()?.parse::<u32>().ok()
    };
    let entries = std::fs::read_dir(runs).into_iter().flatten().flatten();
    entries.filter_map(|entry| number(entry.file_name().to_str()?)).max().unwrap_or(0)
}

/// Makes the folder that runs are put in, if it is not there.
///
/// # Errors
/// A sentence that names it: what the system said, or the file that stands in the way.
pub fn create_parent(folder: &Path) -> Result<(), String> {
    std::fs::create_dir_all(folder).map_err(|cause| match folder.ancestors().find(|above| above.is_file()) {
        Some(file) => format!("{} is a file: give another folder with --out", file.display()),
        None => format!("{}: {cause}", folder.display()),
    })
}

/// Makes the folder `parent/name`, or `parent/name_2`, `_3`, … if runs of that minute are there:
/// never one that exists. Returns its path.
///
/// # Errors
/// What the system said; `AlreadyExists` after 99 of them.
pub fn create_run_folder(parent: &Path, name: &str) -> io::Result<PathBuf> {
    let path = parent.join(name);
    match std::fs::create_dir(&path) {
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
            create_numbered(parent, name, 2).map(|(path, _)| path)
        }
        done => done.map(|()| path),
    }
}

/// Makes the first folder `parent/name_N` that is not there, from a number on. Gives its path and number.
pub(crate) fn create_numbered(parent: &Path, name: &str, from: u32) -> io::Result<(PathBuf, u32)> {
    for number in from..=SAME_MINUTE_MAX {
        let path = parent.join(format!("{name}_{number}"));
        // Creating is exclusive: of two recorders that begin at once, one gets the next number.
        match std::fs::create_dir(&path) {
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            done => return done.map(|()| (path, number)),
        }
    }
    Err(io::Error::new(io::ErrorKind::AlreadyExists, "too many runs of this minute are there"))
}

/// Fills a folder that was made a moment ago; one that cannot be finished is taken away again, with all that is in it.
///
/// # Errors
/// What filling it came to.
pub fn fill_new_folder<E>(folder: &Path, fill: impl FnOnce() -> Result<(), E>) -> Result<(), E> {
    fill().inspect_err(|_| {
        // What the disk said first is what counts.
        let _ = std::fs::remove_dir_all(folder);
    })
}

/// Writes a file whole or not at all: to a temporary name, synced, then renamed over the old one.
///
/// # Errors
/// What the system said; the old file is then untouched.
pub fn write_whole(path: &Path, bytes: &[u8]) -> io::Result<()> {
    use std::io::Write;
    let Some(name) = path.file_name() else {
        return Err(io::Error::new(io::ErrorKind::InvalidInput, "the path names no file"));
    };
    let mut name = name.to_owned();
    name.push(".new");
    let temporary = path.with_file_name(name);
    let written = std::fs::File::create(&temporary).and_then(|mut file| {
        file.write_all(bytes)?;
        file.sync_all()
    });
    let renamed = written.and_then(|()| std::fs::rename(&temporary, path));
    if renamed.is_err() {
        // What could not be finished is not left lying about; the error that counts is the first.
        let _ = std::fs::remove_file(&temporary);
        return renamed;
    }
    sync_folder(folder_of(path))
}

/// The folder that a path is in.
#[must_use]
pub fn folder_of(path: &Path) -> &Path {
    // The parent of a bare name is the empty path, which no system can open.
    path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Makes new names in a folder survive a power cut.
pub fn sync_folder(folder: &Path) -> io::Result<()> {
    // Opening a folder is possible on Unix only; elsewhere names are safe with the file's own sync.
    if cfg!(unix) { std::fs::File::open(folder)?.sync_all() } else { Ok(()) }
}

/// Rows of a GNSS receiver.
pub const GNSS_CSV: &str = "gnss.csv";
/// The columns of `gnss.csv` after `t_s`: name, unit, meaning.
const GNSS_COLUMNS: [(&str, &str, &str); 4] = [
    ("lat_deg", "deg", "latitude, north +"),
    ("lon_deg", "deg", "longitude, east +"),
    ("speed_mps", "m/s", "speed over ground"),
    (
        "course_deg",
        "deg",
        "course over ground, clockwise from true north; while the receiver gives none, as when it stands, \
         the last known one, and 0 before the first",
    ),
];

/// One CSV file of a run, for its description.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RowsFile {
    /// Its name, such as `plow.csv`.
    pub name: String,
    /// Its columns after `t_s`.
    pub columns: RowColumns,
}

/// The text of `datapackage.json`: a Frictionless Data Package (specs.frictionlessdata.io) with types
/// and units of all columns; `gnss.csv` is among them if there is a receiver.
#[must_use]
pub fn datapackage(run_id: &str, files: &[RowsFile], has_gnss: bool) -> String {
    use serde_json::json;
    let number = |name: &str, unit: &str, description: &str| json!({"name": name, "type": "number", "unit": unit, "description": description});
    let time = || number("t_s", "s", "run time");
    let resource = |path: &str, fields: Vec<serde_json::Value>| {
        json!({
            "name": path.trim_end_matches(".csv"),
            "path": path,
            // The standard asks it of every resource of a tabular data package.
            "profile": "tabular-data-resource",
            "format": "csv",
            "mediatype": "text/csv",
            "encoding": "utf-8",
            "dialect": {"delimiter": ",", "lineTerminator": "\n", "quoteChar": "\"", "header": true},
            "schema": {"fields": fields},
        })
    };
    let mut resources: Vec<_> = files
        .iter()
        .map(|file| {
            let column =
                |role: &ChannelRole| number(role.column(), role.column_unit().symbol, meaning(*role));
            let own = |own: &OwnColumn| number(own.column(), own.unit(), own.name());
            let RowColumns { roles, own: owns } = &file.columns;
            let columns = roles.iter().map(column).chain(owns.iter().map(own));
            resource(&file.name, std::iter::once(time()).chain(columns).collect())
        })
        .collect();
    if has_gnss {
        let columns = GNSS_COLUMNS.map(|(name, unit, description)| number(name, unit, description));
        resources.push(resource(GNSS_CSV, std::iter::once(time()).chain(columns).collect()));
    }
    let text =
        |name: &str, description: &str| json!({"name": name, "type": "string", "description": description});
    resources.push(resource(
        "events.csv",
        vec![time(), text("kind", "kind of event"), text("detail", "more about it, key=value")],
    ));
    let package = json!({
        "name": slug(run_id),
        "profile": "tabular-data-package",
        "title": run_id,
        "resources": resources,
    });
    format!("{package:#}\n")
}

const fn meaning(role: ChannelRole) -> &'static str {
    match role {
        ChannelRole::Pull => "force along the drawbar",
        ChannelRole::Tail => "deflection of the tail-wheel spring",
        ChannelRole::Depth => "working depth",
        ChannelRole::FrontLoad => {
            "vertical load that carries the front: on the front wheels together, or what the lower links hold up"
        }
        ChannelRole::Side => "side force, left +",
        ChannelRole::Speed => "forward speed",
        ChannelRole::Pitch => "pitch of the frame, nose up +",
        ChannelRole::TailLoad => "vertical load on what carries the tail, measured directly",
        ChannelRole::LowerLinks => "force along the lower links together, pulling +",
        ChannelRole::TopLink => "force along the top link, pulling +",
        ChannelRole::FrontHeight => {
            "height of the frame over the land at the front, over that on the level floor, up +"
        }
        ChannelRole::DrawbarAngle => "inclination of the drawbar, rising toward the tractor +",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn names_from_outside_become_harmless() {
        for (text, expected) in [
            ("Low hole 4", "low-hole-4"),
            ("../../etc/passwd", "etc-passwd"),
            ("C:\\x", "c-x"),
            ("NUL", "nul-"),
            ("com1", "com1-"),
            ("a.", "a"),
            ("", "unnamed"),
            ("🚜", "unnamed"),
            ("=1+1", "1-1"),
            ("\u{1b}[31m\n", "31m"),
        ] {
            assert_eq!(slug(text), expected, "{text:?}");
        }
    }

    #[test]
    fn numbers_of_passes_go_on_within_a_day() {
        let runs = tempfile::tempdir().unwrap();
        let last = || last_pass_of(runs.path(), "2027-04-11");
        assert_eq!((last(), last_pass_of(&runs.path().join("none"), "2027-04-11")), (0, 0));
        for name in [
            "2027-04-10T0914_flat_pass-31",
            "2027-04-11T0914_flat_pass-9",
            "2027-04-11T0915_flat_pass-10_2",
            "2027-04-11T0916_flat",
            "2027-04-11T0917_flat_pass-x",
            ".deleting-2027-04-11T0917_flat_pass-40",
        ] {
            std::fs::create_dir(runs.path().join(name)).unwrap();
        }
        assert_eq!(last(), 10);
        let started = "2027-04-11T09:20[UTC]".parse().unwrap();
        std::fs::create_dir(runs.path().join(run_name(&started, "steep", Some(11)))).unwrap();
        assert_eq!(last(), 11);
    }

    proptest! {
        #[test]
        fn a_slug_is_short_plain_and_never_empty(text in "\\PC{0,400}") {
            let slug = slug(&text);
            prop_assert!((1..=SLUG_BYTES_MAX + 1).contains(&slug.len()));
            let plain = slug.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-');
            prop_assert!(plain);
        }
    }

    #[test]
    fn runs_of_one_minute_get_folders_of_their_own() {
        let parent = tempfile::tempdir().unwrap();
        let names: Vec<_> = (0..3)
            .map(|_| create_run_folder(parent.path(), "2027-04-11T0914_low").unwrap())
            .map(|path| path.file_name().unwrap().to_string_lossy().into_owned())
            .collect();
        assert_eq!(names, ["2027-04-11T0914_low", "2027-04-11T0914_low_2", "2027-04-11T0914_low_3"]);
    }

    #[test]
    fn the_package_names_columns_types_and_units() {
        let files =
            [RowsFile { name: "plow.csv".into(), columns: [ChannelRole::Pull, ChannelRole::Depth].into() }];
        let text = datapackage("2027-04-11T0914_low", &files, true);
        let package: serde_json::Value = serde_json::from_str(&text).unwrap();
        let field = &package["resources"][0]["schema"]["fields"][2];
        assert_eq!((field["name"].as_str(), field["unit"].as_str()), (Some("depth_mm"), Some("mm")));
        assert_eq!(package["resources"][1]["path"], "gnss.csv");
        // Found by the standard's own validator: a tabular data package needs tabular data resources.
        let resources = package["resources"].as_array().unwrap();
        assert!(resources.iter().all(|one| one["profile"] == "tabular-data-resource"), "{package}");
        let names: Vec<_> =
            (0..5).map(|k| package["resources"][1]["schema"]["fields"][k]["name"].as_str()).collect();
        let header = names.into_iter().flatten().collect::<Vec<_>>().join(",") + "\n";
        assert_eq!(header, crate::csv_text::FIXES_HEADER);
        assert_eq!(package["resources"][2]["path"], "events.csv");
        let without = datapackage("2027-04-11T0914_low", &files, false);
        assert!(!without.contains("gnss"));
    }

    /// Found when a page was written to a bare name in the current folder.
    #[test]
    fn a_bare_name_is_written_into_the_current_folder() {
        let name = format!("bare-name-{}.txt", std::process::id());
        write_whole(Path::new(&name), b"x").unwrap();
        std::fs::remove_file(&name).unwrap();
    }

    #[test]
    fn a_file_is_replaced_whole_and_nothing_is_left_beside_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("run.toml");
        write_whole(&path, b"one").unwrap();
        write_whole(&path, b"two").unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"two");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    /// Never into a folder that is there, and not for ever.
    #[test]
    fn the_hundredth_run_of_a_minute_is_refused_and_a_folder_that_is_not_there_is_none() {
        let folder = tempfile::tempdir().unwrap();
        for number in 1..=SAME_MINUTE_MAX {
            let made = create_run_folder(folder.path(), "run").unwrap();
            let name = if number == 1 { "run".to_owned() } else { format!("run_{number}") };
            assert_eq!(made, folder.path().join(name));
        }
        let refused = create_run_folder(folder.path(), "run").unwrap_err();
        assert_eq!(refused.kind(), io::ErrorKind::AlreadyExists);
        assert!(refused.to_string().contains("too many runs of this minute"), "{refused}");
        let none = create_run_folder(&folder.path().join("none"), "run").unwrap_err();
        assert_eq!(none.kind(), io::ErrorKind::NotFound);
        assert_eq!(create_numbered(&folder.path().join("none"), "run", 2).unwrap_err().kind(), none.kind());
    }

    /// What cannot be finished leaves the old one, and nothing of the new one.
    #[test]
    fn a_file_that_cannot_be_replaced_leaves_nothing_beside_it() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(
            write_whole(&folder.path().join(".."), b"x").unwrap_err().kind(),
            io::ErrorKind::InvalidInput
        );
        let taken = folder.path().join("run.toml");
        std::fs::create_dir(&taken).unwrap();
        std::fs::write(taken.join("inside"), b"x").unwrap();
        assert!(write_whole(&taken, b"new").is_err());
        let names: Vec<_> =
            std::fs::read_dir(folder.path()).unwrap().map(|file| file.unwrap().file_name()).collect();
        assert_eq!(names, ["run.toml"]);
        assert!(taken.join("inside").exists());
    }

    #[test]
    fn a_folder_that_cannot_be_filled_is_taken_away_with_what_was_in_it() {
        let parent = tempfile::tempdir().unwrap();
        let folder = parent.path().join("run");
        let filled = |done: Result<(), &'static str>| {
            std::fs::create_dir(&folder).unwrap();
            fill_new_folder(&folder, || {
                std::fs::write(folder.join("plow.csv"), b"half").unwrap();
                done
            })
        };
        assert_eq!(filled(Err("no space left")), Err("no space left"));
        assert!(!folder.exists());
        assert_eq!(filled(Ok(())), Ok(()));
        assert!(folder.join("plow.csv").exists());
    }
}

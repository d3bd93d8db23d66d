//! How `recorder.toml` names a port: by its path, or by the serial number of what is plugged in there.

use ingest::description_file::KeyFault;
use std::path::{Path, PathBuf};

/// Where the udev rule of the package puts a link for each serial port, named from its USB serial number.
pub const PORTS_BY_SERIAL_NUMBER: &str = "/dev/hitchwright";
/// Names of ports that go by the order in which the cables were put in.
const UNSTABLE: [&str; 4] = ["/dev/ttyACM", "/dev/ttyUSB", "/dev/ttyS", "/dev/ttyAMA"];

/// Whether the name of this port changes with the order in which the cables were put in.
pub(super) fn is_unstable(port: &Path) -> bool {
    port.to_str().is_some_and(|name| UNSTABLE.iter().any(|unstable| name.starts_with(unstable)))
}

/// The port that is named by its path, or by the serial number of what is plugged in there.
pub(super) fn port_of(
    key: &str,
    port: Option<PathBuf>,
    serial_number: Option<String>,
    folder: &Path,
) -> Result<PathBuf, KeyFault> {
    match (port, serial_number) {
        (Some(port), None) if !port.as_os_str().is_empty() => Ok(folder.join(port)),
        (None, Some(number)) => {
            let link = link_name(&number).ok_or_else(|| {
                KeyFault::at(
                    format!("{key}.serial_number"),
                    format!("{number:?} is no serial number: `ls {PORTS_BY_SERIAL_NUMBER}` lists those that are plugged in"),
                )
            })?;
            Ok(Path::new(PORTS_BY_SERIAL_NUMBER).join(link))
        }
        _ => Err(KeyFault::at(
            key,
            "one of port and serial_number is wanted: port = \"/dev/serial/by-id/...\", or serial_number as \
             `hitchwright ports` shows it",
        )),
    }
}

/// Name of the link that udev makes from a serial number: what is not plain in a file name becomes `_`.
fn link_name(serial_number: &str) -> Option<String> {
    let is_plain = |c: char| c.is_ascii_alphanumeric() || "#+-.:=@_".contains(c);
    let name: String = serial_number.trim().chars().map(|c| if is_plain(c) { c } else { '_' }).collect();
    let says_something = name.chars().any(|c| c.is_ascii_alphanumeric());
    (says_something && name.len() <= 128 && !serial_number.chars().any(char::is_control)).then_some(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_serial_number_never_leads_out_of_the_folder_of_links() {
        for wrong in ["", " ", ".", "..", "/", "a\nb", "\u{1b}[2J", "___"] {
            assert_eq!(link_name(wrong), None, "{wrong:?}");
        }
        assert_eq!(link_name("../../etc").as_deref(), Some(".._.._etc"));
        assert_eq!(link_name("85036 3134").as_deref(), Some("85036_3134"));
    }
}

//! Writes the man pages and the shell completions of both programs, made from their command lines, into a folder: for the
//! Debian package (`ingest/seat/debian/package`).

use clap::CommandFactory;
use clap_complete::Shell;
use ingest::safety::CAUTIONS;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// What the service adds to the page of its program.
const SERVICE: &str = "\
Unattended, by --config: /etc/hitchwright/recorder.toml explains each of its keys. SIGTERM and Ctrl-C end it, and the run \
in it, properly and with status 0; SIGHUP changes nothing. The plow description is read again by itself when it changes. \
Status 2 is a description that cannot be used. The level of the log may be set by HITCHWRIGHT_LOG (error, warn, info, debug). \
NOTIFY_SOCKET, WATCHDOG_USEC and JOURNAL_STREAM are taken from systemd. Where it serves its page to others, sudo \
hitchwright-recorder links prints the links, over ssh as well. The status file goes when the recorder ends properly.

The service of the package: systemctl enable --now hitchwright-recorder. The runs are in /var/lib/hitchwright/runs; members \
of the group hitchwright read them, and mark them as copied.";

fn main() -> ExitCode {
    match write_all() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            // Nobody may be reading any more.
            let _ = writeln!(io::stderr(), "manual: {error}");
            ExitCode::FAILURE
        }
    }
}

fn write_all() -> io::Result<()> {
    let out = std::env::args_os().nth(1).map(PathBuf::from);
    let out = out.ok_or_else(|| io::Error::other("give the folder that they are to be written into"))?;
    if out.as_os_str().as_encoded_bytes().starts_with(b"-") {
        return Err(io::Error::other(
            "there are no options: give the folder that they are to be written into",
        ));
    }
    let cautions = CAUTIONS.join("\n\n");
    let analysis = analysis::command::args::Cli::command().after_long_help(cautions.clone());
    let recorder = seat::cli::Command::command().after_long_help(format!("{SERVICE}\n\n{cautions}"));
    for command in [analysis, recorder] {
        write(command, &out)?;
    }
    Ok(())
}

fn write(mut command: clap::Command, out: &Path) -> io::Result<()> {
    let name = command.get_name().to_owned();
    let folder = |name: &str| -> io::Result<PathBuf> {
        let folder = out.join(name);
        std::fs::create_dir_all(&folder)?;
        Ok(folder)
    };
    clap_mangen::generate_to(command.clone().disable_help_subcommand(true), folder("man")?)?;
    for shell in [Shell::Bash, Shell::Zsh, Shell::Fish] {
        clap_complete::generate_to(shell, &mut command, &name, folder(&shell.to_string())?)?;
    }
    Ok(())
}

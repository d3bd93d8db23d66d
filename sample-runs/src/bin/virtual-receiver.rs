//! A virtual GNSS receiver on a pseudo-terminal, for demos and for tests of a recorder.

use std::io::Write;
use std::process::ExitCode;

use clap::Parser;
use sample_runs::virtual_receiver::{ReceiverConfig, ReceiverError, ReceiverReport, ReceiverSession};

fn run() -> Result<ReceiverReport, ReceiverError> {
    let session = ReceiverSession::open(ReceiverConfig::parse())?;
    let mut out = std::io::stdout();
    // Whoever reads the path may be gone again: that is no reason not to be a receiver.
    let _ = writeln!(out, "{}", session.path().display()).and_then(|()| out.flush());
    session.run()
}

fn main() -> ExitCode {
    match run() {
        Ok(ReceiverReport { epochs_sent, sentences, damaged, bytes_from_host }) => {
            eprintln!(
                "virtual-receiver: {epochs_sent} epochs in {sentences} sentences sent, {damaged} of them \
                 damaged; {bytes_from_host} bytes from the host"
            );
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("virtual-receiver: {}", error.to_string().trim_start_matches("virtual box: "));
            ExitCode::FAILURE
        }
    }
}

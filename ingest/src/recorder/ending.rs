//! The end of a run: boxes that stop, and what `run.toml` says of it.

use super::connection::clock_info;
use super::port_watch::PortWatch;
use super::receiver_connection::sentence_names;
use super::state::Recorder;
use super::{RecordError, RecordedRun, RunEnd};
use crate::gnss::Receiver;
use crate::port::ToPort;
use crate::run_toml::RunState;
use crate::writer::WrittenRun;
use std::time::Duration;

/// Rows on their way after the stop are waited for this long.
const DRAIN: Duration = Duration::from_millis(150);

impl Recorder<'_> {
    /// Tells the boxes to stop, takes what is still on its way, and has the ports' tasks end: one that went on
    /// would take bytes from the line that nobody writes down.
    pub(super) async fn stop_boxes(&mut self) {
        for connection in &self.connections {
            connection.watch.order(ToPort::Stop);
        }
        self.take_messages_for(DRAIN).await;
        self.watches().for_each(PortWatch::let_go);
        self.take_messages_for(DRAIN).await;
    }

    /// Takes messages for a while, or until there can be no more.
    async fn take_messages_for(&mut self, at_most: Duration) {
        let until = tokio::time::Instant::now() + at_most;
        while let Ok(Some(message)) = tokio::time::timeout_at(until, self.messages.recv()).await {
            self.on_message(message);
        }
    }
}

/// Rewrites `run.toml` with how the run ended.
pub fn finish(end: RunEnd, mut written: WrittenRun) -> Result<RecordedRun, RecordError> {
    let description = &mut written.description;
    // A run has at least one box; one of which no row came has lasted for nothing.
    let lasted_us = written.assemblers.iter().map(|box_| box_.clock().last_run_us()).max().unwrap_or(0);
    let lasted_s = lasted_us as f64 / 1e6;
    for (info, assembler) in description.boxes.iter_mut().zip(&written.assemblers) {
        info.clock = clock_info(assembler.clock());
        info.counters = Some(assembler.counters());
    }
    if let (Some(info), Some(receiver)) = (&mut description.gnss, &written.receiver) {
        info.talkers = receiver.talkers();
        info.sentences = sentence_names(receiver);
        info.residual_ms = receiver.clock.residual_ms().map(|ms| (ms * 1e3).round() / 1e3);
        info.counters = Some(receiver.counters());
    }
    description.run.state = RunState::Ended;
    description.run.ended = Some(end.to_string());
    description.run.lasted_s = Some(lasted_s);
    let folder = written.disk.folder().to_owned();
    let unwritten = |cause: String| RecordError::Unwritten { folder: folder.clone(), cause };
    if let Some(cause) = &written.unwritten {
        return Err(unwritten(cause.clone()));
    }
    let text = description.to_toml().map_err(|error| unwritten(error.to_string()))?;
    written.disk.replace("run.toml", text.as_bytes()).map_err(|error| unwritten(error.to_string()))?;
    let counters = written.assemblers.iter().map(|assembler| assembler.counters()).collect();
    Ok(RecordedRun {
        folder,
        end,
        lasted_s,
        counters,
        gnss: written.receiver.as_ref().map(Receiver::counters),
    })
}

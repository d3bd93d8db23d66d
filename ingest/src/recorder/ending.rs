//! The end of a run: boxes that stop, and what `run.toml` says of it.

use super::connection::clock_info;
use super::port_watch::PortWatch;
use super::receiver_connection::sentence_names;
use super::state::Recorder;
use super::{RecordError, RecordedRun, RunEnd};
use crate::assemble::{Assembler, RunCounters};
use crate::gnss::Receiver;
use crate::port::ToPort;
use crate::run_toml::{RunDescription, RunState};
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

    /// Takes what is still on its way.
    pub(super) async fn take_what_is_on_its_way(&mut self) {
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

/// Puts into the description of a run how it ended, with counters and clocks; gives how long it lasted, in s.
pub(crate) fn put_end(
    description: &mut RunDescription,
    state: RunState,
    ended: String,
    ended_us: u64,
    assemblers: &[Assembler],
    receiver: Option<&Receiver>,
) -> f64 {
    // The last rows may have come after the end was asked for.
    let rows_us = assemblers.iter().map(|box_| box_.clock().last_run_us());
    let lasted_s = rows_us.fold(ended_us, u64::max) as f64 / 1e6;
    for (info, assembler) in description.boxes.iter_mut().zip(assemblers) {
        info.clock = clock_info(assembler.clock());
        info.counters = Some(assembler.counters());
    }
    if let (Some(info), Some(receiver)) = (&mut description.gnss, receiver) {
        info.talkers = receiver.talkers();
        info.sentences = sentence_names(receiver);
        info.residual_ms = receiver.clock.residual_ms().map(|ms| (ms * 1e3).round() / 1e3);
        info.counters = Some(receiver.counters());
    }
    description.run.state = state;
    description.run.ended = Some(ended);
    description.run.lasted_s = Some(lasted_s);
    lasted_s
}

/// Rewrites `run.toml` with how the run ended.
pub fn finish(end: RunEnd, ended_us: u64, mut written: WrittenRun) -> Result<RecordedRun, RecordError> {
    let description = &mut written.description;
    let lasted_s = put_end(
        description,
        RunState::Ended,
        end.to_string(),
        ended_us,
        &written.assemblers,
        written.receiver.as_ref(),
    );
    let folder = written.disk.folder().to_owned();
    let unwritten = |cause: String| RecordError::Unwritten { folder: folder.clone(), cause };
    if let Some(cause) = &written.unwritten {
        return Err(unwritten(cause.clone()));
    }
    let text = description.to_toml().map_err(|error| unwritten(error.to_string()))?;
    written.disk.replace("run.toml", text.as_bytes()).map_err(|error| unwritten(error.to_string()))?;
    let counters: Vec<_> = written.assemblers.iter().map(|assembler| assembler.counters()).collect();
    if counters.iter().all(|counters| counters.rows == 0) {
        let why = why_no_rows(&counters);
        return Err(RecordError::NoRows { folder, lasted_s, why });
    }
    Ok(RecordedRun {
        folder,
        end,
        lasted_s,
        counters,
        gnss: written.receiver.as_ref().map(Receiver::counters),
    })
}

/// What came instead of rows, for a sentence.
fn why_no_rows(counters: &[RunCounters]) -> String {
    let sum = |count: fn(&RunCounters) -> u64| counters.iter().map(count).sum::<u64>();
    match (sum(|counters| counters.rows_refused), sum(|counters| counters.frames)) {
        (0, 0) => "nothing came that a box says: look at the cable and the box's supply".to_owned(),
        (0, _) => "the box answered, but sent none: look at its program".to_owned(),
        (refused, _) => format!(
            "{refused} came and were refused, as they have other channels than the box's hello says, or counts that \
             its converters cannot give: correct its program"
        ),
    }
}

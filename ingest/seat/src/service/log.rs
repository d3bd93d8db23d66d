//! The log of the service: one line an event on stderr, `what happened key=value key="text"`, with the priority in
//! front of it where journald reads along.

use super::config::LogLevel;
use std::fmt::{Debug, Write as _};
use std::io::Write as _;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::time::{Duration, Instant};
use tracing::field::{Field, Visit};
use tracing::span::{Attributes, Id, Record};
use tracing::{Event, Level, Metadata, Subscriber};

/// Lines that wait for stderr; what comes on top of them is counted and not kept: a terminal or a journal that hangs
/// must not hold up the recorder.
const LINES_MAX: usize = 1024;
/// At the end, they are waited for at most this long.
const LAST_LINES: Duration = Duration::from_millis(200);
/// Only what this program itself says.
const OWN_TARGETS: [&str; 2] = ["seat", "hitchwright_recorder"];

impl LogLevel {
    fn level(self) -> Level {
        match self {
            Self::Error => Level::ERROR,
            Self::Warn => Level::WARN,
            Self::Info => Level::INFO,
            Self::Debug => Level::DEBUG,
        }
    }
}

/// What stands before a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Front {
    /// `<4>`, as sd-daemon(3) of systemd has it: the journal takes it for the priority.
    Priority,
    /// Time and level, for a terminal or a file.
    Time,
}

/// Writes events as lines.
#[derive(Debug)]
struct Lines {
    level: Level,
    front: Front,
    out: SyncSender<String>,
    count: Arc<Count>,
}

/// Lines between an event and stderr.
#[derive(Debug, Default)]
struct Count {
    waiting: AtomicU64,
    dropped: AtomicU64,
}

/// The log at work; [`Log::finish`] has its last lines written.
#[derive(Debug)]
pub struct Log {
    count: Arc<Count>,
}

impl Log {
    /// Begins to log, for the whole process, at `HITCHWRIGHT_LOG` (error, warn, info, debug) or else at this level.
    #[must_use]
    pub fn begin(level: LogLevel) -> Self {
        let level = std::env::var("HITCHWRIGHT_LOG").ok().and_then(|text| text.parse().ok()).unwrap_or(level);
        let front = if std::env::var_os("JOURNAL_STREAM").is_some() { Front::Priority } else { Front::Time };
        let (out, lines) = sync_channel(LINES_MAX);
        let count = Arc::new(Count::default());
        let subscriber = Lines { level: level.level(), front, out, count: Arc::clone(&count) };
        let counted = Arc::clone(&count);
        // A log that cannot be written is no reason not to record; nor is one that has begun already.
        let _ =
            std::thread::Builder::new().name("log".to_owned()).spawn(move || write(&lines, &counted, front));
        let _ = tracing::subscriber::set_global_default(subscriber);
        Self { count }
    }

    /// Waits a moment for the lines that are still to be written.
    pub fn finish(self) {
        let until = Instant::now() + LAST_LINES;
        while self.count.waiting.load(Ordering::Acquire) > 0 && Instant::now() < until {
            std::thread::sleep(Duration::from_millis(2));
        }
    }
}

fn write(lines: &Receiver<String>, count: &Count, front: Front) {
    for line in lines {
        // Nobody reads it any more: the recorder goes on.
        let _ = std::io::stderr().write_all(line.as_bytes());
        let lost = count.dropped.swap(0, Ordering::Relaxed);
        if lost > 0 {
            let said =
                text_line(front, Level::WARN, "lines of the log were dropped", &format!(" lines={lost}"));
            let _ = std::io::stderr().write_all(said.as_bytes());
        }
        count.waiting.fetch_sub(1, Ordering::Release);
    }
}

impl Subscriber for Lines {
    fn enabled(&self, metadata: &Metadata<'_>) -> bool {
        let target = metadata.target().split("::").next().unwrap_or_default();
        *metadata.level() <= self.level && metadata.is_event() && OWN_TARGETS.contains(&target)
    }

    fn event(&self, event: &Event<'_>) {
        let mut fields = Fields::default();
        event.record(&mut fields);
        let line = text_line(self.front, *event.metadata().level(), &fields.message, &fields.rest);
        self.count.waiting.fetch_add(1, Ordering::Acquire);
        if self.out.try_send(line).is_err() {
            self.count.waiting.fetch_sub(1, Ordering::Release);
            self.count.dropped.fetch_add(1, Ordering::Relaxed);
        }
    }

    // There are no spans here.
    fn new_span(&self, _span: &Attributes<'_>) -> Id {
        Id::from_u64(1)
    }
    fn record(&self, _span: &Id, _values: &Record<'_>) {}
    fn record_follows_from(&self, _span: &Id, _follows: &Id) {}
    fn enter(&self, _span: &Id) {}
    fn exit(&self, _span: &Id) {}
}

#[derive(Default)]
struct Fields {
    message: String,
    rest: String,
}

impl Fields {
    fn put(&mut self, field: &Field, text: &str) {
        if field.name() == "message" {
            self.message = plain_or_quoted(text, |c| c == ' ' || is_plain(c) || ",;()'".contains(c));
        } else {
            // Writing into a String cannot fail.
            let _ = write!(self.rest, " {}={}", field.name(), plain_or_quoted(text, is_plain));
        }
    }
}

impl Visit for Fields {
    fn record_str(&mut self, field: &Field, value: &str) {
        self.put(field, value);
    }

    fn record_debug(&mut self, field: &Field, value: &dyn Debug) {
        self.put(field, &format!("{value:?}"));
    }
}

fn is_plain(c: char) -> bool {
    c.is_ascii_alphanumeric() || "._:/+-@%".contains(c)
}

/// The text as it is, or quoted with everything escaped that could end the quotes, the line, or turn a terminal.
fn plain_or_quoted(text: &str, is_plain: impl Fn(char) -> bool) -> String {
    if !text.is_empty() && text.chars().all(is_plain) {
        return text.to_owned();
    }
    let mut quoted = String::from('"');
    for c in text.chars() {
        // An apostrophe need not be escaped between double quotes.
        if c == '\'' { quoted.push(c) } else { quoted.extend(c.escape_debug()) }
    }
    quoted.push('"');
    quoted
}

fn text_line(front: Front, level: Level, message: &str, fields: &str) -> String {
    match front {
        Front::Priority => {
            let priority = match level {
                Level::ERROR => 3,
                Level::WARN => 4,
                Level::INFO => 6,
                _ => 7,
            };
            format!("<{priority}>{message}{fields}\n")
        }
        Front::Time => {
            let now = jiff::Timestamp::now();
            format!("{} {level} {message}{fields}\n", now.strftime("%Y-%m-%dT%H:%M:%SZ"))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines_of(level: Level, front: Front, events: impl FnOnce()) -> Vec<String> {
        let (out, lines) = sync_channel(3);
        let subscriber = Lines { level, front, out, count: Arc::default() };
        tracing::subscriber::with_default(subscriber, events);
        lines.try_iter().collect()
    }

    #[test]
    fn a_line_carries_its_priority_and_nothing_from_outside_can_forge_one() {
        let forged = "box\n<0>all is well state=fine \u{1b}[2J \u{202e}\"";
        let lines = lines_of(Level::INFO, Front::Priority, || {
            tracing::warn!(port = %"/dev/x", text = forged, rows = 12u64, "port away");
            tracing::debug!("not to be seen");
            tracing::error!(target: "other_crate", "not ours");
            tracing::info!("{}", forged);
        });
        let quoted = "\"box\\n<0>all is well state=fine \\u{1b}[2J \\u{202e}\\\"\"";
        assert_eq!(
            lines,
            [format!("<4>port away port=/dev/x text={quoted} rows=12\n"), format!("<6>{quoted}\n")]
        );
        let lines = lines_of(Level::ERROR, Front::Time, || {
            tracing::warn!("no");
            tracing::error!(empty = "", "disk fails");
        });
        assert_eq!(lines.len(), 1);
        assert!(lines[0].ends_with("Z ERROR disk fails empty=\"\"\n"), "{lines:?}");
    }

    #[test]
    fn a_reader_that_hangs_holds_nobody_up() {
        let (out, _never_read) = sync_channel(3);
        let count = Arc::new(Count::default());
        let subscriber = Lines { level: Level::INFO, front: Front::Priority, out, count: Arc::clone(&count) };
        tracing::subscriber::with_default(subscriber, || (0..10).for_each(|_| tracing::info!("x")));
        assert_eq!((count.dropped.load(Ordering::Relaxed), count.waiting.load(Ordering::Relaxed)), (7, 3));
    }
}
